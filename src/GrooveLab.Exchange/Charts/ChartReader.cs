using System.Globalization;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads charts: a TOML file becomes a chart or a list of all its problems. Invalid content never throws; only a file that
/// cannot be opened does.</summary>
public sealed class ChartReader
{
    /// <summary>Maximum file size, in bytes.</summary>
    public const int LargestFile = TextFile.LargestFile;

    /// <summary>The newest supported format; all earlier ones are read too.</summary>
    public const int Format = 2;

    private const int LongestTrains = 200;

    /// <summary>Creates the tree of a text; null when it is too broken to continue.</summary>
    internal delegate TomlTable? Parser(SourceText source, Problems problems);

    private static readonly HashSet<string> ManyTables = new(StringComparer.Ordinal) { "part", "section" };

    private readonly Problems _problems;
    private readonly Problems _remarks;
    private readonly InstrumentCatalogue _catalogue;
    private int _format = Format;
    private string? _title;

    private ChartReader(SourceText source, string name, InstrumentCatalogue catalogue)
    {
        _problems = new Problems(source, name);
        _remarks = new Problems(source, name);
        _catalogue = catalogue;
    }

    /// <summary>Reads a file.</summary>
    /// <param name="path">Its path; problems name it as given.</param>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    /// <exception cref="IOException">The file cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">Access to the file is denied.</exception>
    public static ChartReadResult Read(string path, InstrumentCatalogue? catalogue = null)
    {
        var problem = TextFile.Read(path, out var text);
        return text is null ? new ChartReadResult([problem!], []) : ReadText(text, path, catalogue);
    }

    /// <summary>Reads the bytes of a file, which are UTF-8.</summary>
    /// <param name="bytes">The bytes.</param>
    /// <param name="name">The file's name in problem messages.</param>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    public static ChartReadResult ReadBytes(ReadOnlySpan<byte> bytes, string name, InstrumentCatalogue? catalogue = null)
    {
        var problem = TextFile.Decode(bytes, name, out var text);
        return text is null ? new ChartReadResult([problem!], []) : ReadText(text, name, catalogue);
    }

    /// <summary>Reads a text.</summary>
    /// <param name="text">The text.</param>
    /// <param name="name">Its name in problem messages.</param>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    public static ChartReadResult ReadText(string text, string name, InstrumentCatalogue? catalogue = null)
    {
        var body = text.StartsWith('\uFEFF') ? text[1..] : text;
        return text.Length > LargestFile
            ? new ChartReadResult([TextFile.TooLarge(name)], [])
            : ReadTree(new SourceText(body), name, catalogue ?? InstrumentFile.BuiltIn, Parse, out _);
    }

    /// <summary>Reads a text that is parsed once, and returns its tree for editing.</summary>
    internal static ChartReadResult ReadTree(SourceText source, string name, InstrumentCatalogue catalogue, Parser parse, out TomlTable? root)
    {
        var reader = new ChartReader(source, name, catalogue);
        root = parse(source, reader._problems);
        var chart = reader.Read(root);
        return chart is not null && reader._problems.Count == 0
            ? new ChartReadResult(chart, reader._remarks.Sorted())
            : new ChartReadResult(reader._problems.Sorted(), reader._remarks.Sorted(), reader._title);
    }

    /// <summary>Parses a text.</summary>
    internal static TomlTable? Parse(SourceText source, Problems problems) => TomlTreeReader.Read(source, problems, ManyTables);

    private static IReadOnlyList<TomlTable> Tables(TableKeys keys, string name, Problems problems)
    {
        switch (keys.Entry(name)?.Value)
        {
            case null:
                return [];
            case TomlList { Items.Count: > 0 } list when list.Items.TrueForAll(item => item is TomlTable):
                return [.. list.Items.Cast<TomlTable>()];
            case var other:
                problems.Add(other.Start, $"{name} must be a separate table", $"write [[{name}]] on a line, with its keys below");
                return [];
        }
    }

    private Chart? Read(TomlTable? root)
    {
        if (root is null)
        {
            return null;
        }

        var keys = new TableKeys(root, _problems);
        if (!IsThisFormat(keys))
        {
            return null;
        }

        keys.TellUnknown("a chart", ChartKeys.Chart, ChartKeys.Home);
        _title = keys.Text("title", "write title = \"Ferry Lanterns\"")?.Value.Trim();
        var title = _title ?? "Untitled";
        var key = SectionReader.Key(keys, _problems);
        Require(keys, "key", "the chart has no key", "write key = \"D dorian\", \"Am\" or \"Bb major\"");
        var tempo = keys.Text("tempo", TempoText.Accepted) is { } tempoText ? TempoText.Mark(tempoText, _problems) : null;
        Require(keys, "tempo", "the chart has no tempo", "write tempo = \"eighth = 300\" or \"bar = 60\"");
        var learnerTempo = keys.Text("learner-tempo", TempoText.Accepted) is { } learnerText ? TempoText.Mark(learnerText, _problems) : null;
        var trains = Trains(keys);
        var meters = MeterText.Read(keys, null, _problems, out var meterWrong);
        var barGroups = MeterText.BarGroups(keys, _problems) ?? new BarGroups(4);
        var counted = SectionReader.Counted(keys);
        var feel = SectionReader.Feel(keys, _problems);
        var swing = SwingText.Read(keys, _problems) ?? Rational.One;
        var drone = keys.Integer("drone", 0, 60) ?? 0;
        var looseness = keys.Number("looseness", 0, 2) ?? 1;
        var groupRatio = keys.Number("group-ratio", GroupTiming.Least, GroupTiming.Even) ?? GroupTiming.Even;
        var arranged = OrderKeys.ReadArranged(keys);
        var times = keys.Integer("times", 1, 1000) ?? 1;
        var seed = Seed(keys);
        var (ending, endingChord) = Ending(keys);

        var partTables = Tables(keys, "part", _problems);
        var parts = partTables.Count == 0 ? HouseBand.Parts(_catalogue) : new PartsReader(_catalogue, _format, _problems, _remarks).Read(partTables);
        var sections = Sections(keys, meters, meterWrong || root.Damaged && meters is null, barGroups, parts, out var cut);
        var order = new FormReader(sections, root.Damaged || cut, _format, _problems);
        var form = order.Read(keys);
        var recast = RecastKeys.Read(keys, [.. sections.Where(section => section.Section is not null).Select(section => (section.Name, section.Section!.Bars.Count))], _problems);
        var tag = order.ReadTag(keys);
        CheckTime(sections, tempo, keys.Entry("tempo")?.Value.Start ?? 0, form, times, tag);
        if (_problems.Count == 0 && learnerTempo is not null)
        {
            CheckTime(sections, learnerTempo, keys.Entry("learner-tempo")!.Value.Start, form, times, tag);
        }

        foreach (var section in Enumerable.Range(0, form is null || tag is null ? 0 : sections.Count)
            .Where(index => form!.Concat(tag!).All(step => step.Section != index)))
        {
            _remarks.Add(sections[section].Place, $"the section {Words.Quote(sections[section].Name)} is never played", "name it in form or tag");
        }

        if (_problems.Count > 0 || key is null || tempo is null || parts is null || form is null || tag is null)
        {
            return null;
        }

        foreach (var section in sections)
        {
            RemarkOnLines(section, parts);
            RemarkOnOrders(section, parts);
        }

        CheckMoved(keys, form.Concat(tag), [.. sections.Select(section => section.Section!)], key, parts);
        if (_problems.Count > 0)
        {
            return null;
        }

        return new Chart
        {
            Title = title,
            Key = key,
            Tempo = tempo.Value,
            Counted = counted,
            Feel = feel,
            Parts = parts,
            Sections = [.. sections.Select(section => section.Section!)],
            Form = form,
            Times = times,
            Tag = tag,
            Ending = ending,
            EndingChord = endingChord,
            Seed = seed,
            Looseness = looseness,
            GroupRatio = groupRatio,
            IsArranged = arranged,
            Swing = swing,
            DroneSeconds = drone,
            Trains = trains,
            LearnerTempo = learnerTempo,
            Recast = recast,
        };
    }

    // Pitches in the written key were checked where they are written.
    private void CheckMoved(TableKeys keys, IEnumerable<FormStep> steps, IReadOnlyList<Section> sections, Key key, IReadOnlyList<Part> parts)
    {
        foreach (var step in steps.Where(step => step.Up != 0).DistinctBy(step => (step.Section, step.Up)))
        {
            var section = sections[step.Section];
            var up = (section.Key ?? key).IntervalUp(step.Up).Semitones;
            foreach (var (part, line) in Enumerable.Range(0, parts.Count)
                .SelectMany(part => section.LinesBeyond(parts, part, up).Except(section.LinesBeyond(parts, part, 0)).Select(line => (parts[part], line))).Take(1))
            {
                _problems.Add(
                    (keys.Entry("form") ?? keys.Entry("tag"))?.Value.Start ?? 0,
                    $"{Words.Quote(section.Name)} {(step.Up > 0 ? "up" : "down")} {Math.Abs(step.Up)} leaves the range of the {part.Instrument.Name} that plays {TunePlayers.NameOf(section, line)}",
                    $"move it by fewer half steps or the other way, or give {(line == 0 ? "the tune part" : Words.Quote(part.Name))} another instrument or octaves = 1 or -1");
            }
        }
    }

    private void RemarkOnOrders(ReadSection section, IReadOnlyList<Part> parts)
    {
        if (section.Section is not { Playing: { } playing, Orders: { } orders })
        {
            return;
        }

        // The name of a role may mean several parts: one of them that plays is enough.
        var asked = orders.Tasks.Select(one => one.Part).ToList();
        var absent = asked.Where(part => !playing.Contains(part) && !asked.Exists(other => playing.Contains(other) && parts[other].Role == parts[part].Role));
        foreach (var part in absent.Append(orders.Fill is { } fill and >= 0 && !playing.Contains(fill) ? fill : SectionOrders.NoFill).Where(part => part >= 0).Distinct())
        {
            _remarks.Add(
                section.Place,
                $"{parts[part].Name} does not play in the section {Words.Quote(section.Name)}, which gives it a task or a fill",
                "name it in play, or another part in tasks and fill");
        }
    }

    private void RemarkOnLines(ReadSection section, IReadOnlyList<Part> parts)
    {
        var tune = section.Section!.Tune;
        for (var line = 0; section.Section.Endings.Count > 0 && tune?.Voice(line) is not null; line++)
        {
            if (section.Section.EndsInAnOpenTie(line))
            {
                _remarks.Add(
                    section.Place,
                    $"the last note of {TunePlayers.NameOf(section.Section, line)} in the section {Words.Quote(section.Name)} is tied to nothing",
                    "begin an ending with the same note, or leave out its -");
            }
        }

        for (var line = 1; tune?.Voice(line) is { } voice; line++)
        {
            if (TunePlayers.PlayersOf(parts, section.Section.Playing, line, tune.Lines.Count).Count == 0)
            {
                _remarks.Add(
                    section.Place,
                    $"no part plays the line {Words.Quote(voice.Name)} of the section {Words.Quote(section.Name)}",
                    "add a part with the role tune, or give the tune part an instrument that plays several notes at once");
            }
        }
    }

    private bool IsThisFormat(TableKeys keys)
    {
        const string accepted = "write format = 2 as the first line";
        switch (keys.Entry("format")?.Value)
        {
            case TomlInteger { Value: >= 1 and <= Format } known:
                _format = (int)known.Value;
                return true;
            case null:
                Require(keys, "format", "the file has no chart format", accepted);
                return true;
            case TomlInteger other:
                _problems.Add(
                    other.Start, $"this is a chart of format {other.Value}, but this version reads formats 1 to {Format}", accepted);
                return false;
            case var other:
                _problems.Add(other.Start, "format must be a number", accepted);
                return true;
        }
    }

    private void Require(TableKeys keys, string key, string what, string accepted)
    {
        if (!keys.Has(key) && !keys.Table.Damaged)
        {
            _problems.Add(0, what, accepted);
        }
    }

    private string? Trains(TableKeys keys)
    {
        const string accepted = "write one line: trains = \"hearing five as three and two\"";
        if (keys.Text("trains", accepted) is not { } text)
        {
            return null;
        }

        var line = text.Value.Trim();
        if (line.Any(char.IsControl) || line.Length > LongestTrains)
        {
            _problems.Add(text.PlaceOf(0), $"trains must be one line of at most {LongestTrains} characters", accepted);
            return null;
        }

        return line;
    }

    private ulong Seed(TableKeys keys)
    {
        switch (keys.Entry("seed")?.Value)
        {
            case null:
                return 1;
            case TomlInteger { Value: >= 0 } number:
                return (ulong)number.Value;
            case TomlString text when ulong.TryParse(text.Value, NumberStyles.None, CultureInfo.InvariantCulture, out var large):
                return large;
            case var other:
                _problems.Add(other.Start, "seed must be a whole number of at least 0", "write seed = 7");
                return 1;
        }
    }

    private (bool Ending, ChordSymbol? Chord) Ending(TableKeys keys)
    {
        const string accepted = "write ending = true, false, or the last chord: ending = \"Dm\"";
        switch (keys.Entry("ending")?.Value)
        {
            case null:
                return (true, null);
            case TomlBoolean flag:
                return (flag.Value, null);
            case TomlString text when ChordSymbol.TryParse(text.Value.Trim(), out var chord, out _) && !chord.IsNoChord:
                return (true, chord);
            case TomlString text:
                _problems.Add(text.PlaceOf(0), $"{Words.Quote(text.Value)} cannot be the last chord", accepted);
                return (true, null);
            case var other:
                _problems.Add(other.Start, "ending must be true, false or a chord in quotes", accepted);
                return (true, null);
        }
    }

    private List<ReadSection> Sections(
        TableKeys keys, IReadOnlyList<BarMeter>? meters, bool meterWrong, BarGroups barGroups, IReadOnlyList<Part>? parts, out bool cut)
    {
        cut = false;
        var tables = Tables(keys, "section", _problems);

        // Tables with an unknown name were probably meant as sections.
        if (!keys.Table.Entries.Exists(entry => entry.Value is TomlList { OfTables: true } && !ManyTables.Contains(entry.Key)))
        {
            Require(keys, "section", "the chart has no section", "write [[section]] and below it chords = \"| Am | G |\"");
        }

        var reader = new SectionReader(meters, meterWrong, barGroups, parts, _format, _problems);
        var read = new List<ReadSection>();
        var names = new HashSet<string>(StringComparer.OrdinalIgnoreCase);
        var said = tables
            .Select(table => (table.Find("name")?.Value as TomlString)?.Value.Trim() ?? string.Empty)
            .ToHashSet(StringComparer.OrdinalIgnoreCase);
        var bars = 0;
        foreach (var table in tables)
        {
            if (_problems.Full)
            {
                cut = true;
                break;
            }

            var text = new TableKeys(table, _problems).Text("name", "write name = \"verse\", or leave it out");
            var name = text?.Value.Trim() ?? FreeName(read.Count, names, said);
            if (!names.Add(name))
            {
                _problems.Add(
                    text?.PlaceOf(0) ?? table.Start,
                    $"two sections are named {Words.Quote(name)}",
                    "give each section a different name");
            }

            read.Add(reader.Read(table, name));
            bars += read[^1].BarPlaces.Count;
            if (bars > FormPlan.MostBars)
            {
                _problems.Add(
                    table.Start,
                    $"the sections up to here have more than {FormPlan.MostBars} bars",
                    "write fewer bars, and repeat them with form and times");
                cut = true;
                break;
            }
        }

        return read;
    }

    // A section without a name gets a letter, like a rehearsal mark.
    internal static string FreeName(int index, HashSet<string> taken, HashSet<string> said)
    {
        var name = index < 26 ? ((char)('A' + index)).ToString() : $"section {index + 1}";
        while (said.Contains(name) || taken.Contains(name))
        {
            name += "'";
        }

        return name;
    }

    // Each section is tried alone first, so that a problem in one does not hide the next; then the chart's tempo; then all together.
    // Unknown meters do not matter to a tempo that counts notes.
    private void CheckTime(IReadOnlyList<ReadSection> sections, TempoMark? tempo, int tempoPlace, IReadOnlyList<FormStep>? form, int times, IReadOnlyList<FormStep>? tag)
    {
        var before = _problems.Count;
        var plain = new TempoMark(TempoLevel.Note, Span.Of(1, 4), 120);
        var common = new Section
        {
            Name = string.Empty,
            Bars = [new ChartBar(BarMeter.TryParse("4/4", out var four, out _) ? four : throw new InvalidOperationException(), [], Inserted: false)],
            BarGroups = new BarGroups(1),
        };
        foreach (var read in sections)
        {
            if (read.Timing is { } timing)
            {
                Try(plain, [timing with { Join = null }], [new FormStep(0, 1)], 1, read.TempoPlace);
            }
            else if (read.Tempo is { } change && change.From is null or { Level: TempoLevel.Note } && change.To is null or { Level: TempoLevel.Note })
            {
                Try(plain, [common with { Name = read.Name, Tempo = change with { OverBars = null } }], [new FormStep(0, 1)], 1, read.TempoPlace);
            }
        }

        var sectionsWell = _problems.Count == before;
        if (tempo is not { } mark)
        {
            return;
        }

        if (sections is [{ Timing: { } first }, ..])
        {
            if (sectionsWell)
            {
                Try(mark, [first with { Join = null, Tempo = null }], [new FormStep(0, 1)], 1, tempoPlace);
            }
        }
        else if (mark.Level == TempoLevel.Note)
        {
            Try(mark, [common], [new FormStep(0, 1)], 1, tempoPlace);
        }

        if (_problems.Count == before && form is not null && sections.All(read => read is { Timing: not null, TempoWell: true }))
        {
            Try(mark, [.. sections.Select(read => read.Timing!)], form, times, tempoPlace, tag);
        }

        void Try(TempoMark start, IReadOnlyList<Section> played, IReadOnlyList<FormStep> order, int laps, int place, IReadOnlyList<FormStep>? tagged = null)
        {
            try
            {
                _ = new FormPlan(new Chart
                {
                    Title = string.Empty,
                    Key = Key.Parse("C"),
                    Tempo = start,
                    Parts = [],
                    Sections = played,
                    Form = order,
                    Times = laps,
                    Tag = tagged ?? [],
                });
            }
            catch (ChartProblemException problem)
            {
                var read = sections.FirstOrDefault(section => section.Name == problem.Section);
                var at = read?.Timing is not { } timing || (timing.Tempo is null && timing.Join is null) ? place
                    : problem.Bar is { } bar && bar < read.BarPlaces.Count ? read.BarPlaces[bar]
                    : read.TempoPlace;
                var (what, accepted) = Words.Split(problem.Message, "change the tempo or the meter");
                _problems.Add(at, what, accepted);
            }
            catch (OverflowException)
            {
                _problems.Add(place, "these bars and tempi cannot be combined exactly", "use simpler numbers");
            }
        }
    }
}
