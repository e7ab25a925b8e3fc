using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>A section as read, with places for later problems.</summary>
/// <param name="Section">The section; null if it has a problem.</param>
/// <param name="Name">Its name.</param>
/// <param name="Repeat">How often it is played per step of the form.</param>
/// <param name="Place">The place of its header.</param>
/// <param name="TempoPlace">The place of its tempo; its header if it has none.</param>
/// <param name="BarPlaces">The places of its bars.</param>
/// <param name="Timing">The section with only its meters and tempo, to check timing despite other problems; null if its meters are
/// unknown.</param>
/// <param name="Tempo">Its change of tempo as far as it could be read.</param>
/// <param name="TempoWell">True when its tempo has no problem.</param>
internal sealed record ReadSection(
    Section? Section,
    string Name,
    int Repeat,
    int Place,
    int TempoPlace,
    IReadOnlyList<int> BarPlaces,
    Section? Timing,
    TempoChange? Tempo,
    bool TempoWell);

/// <summary>Reads the sections.</summary>
/// <param name="chartMeters">The chart's meters; null for none.</param>
/// <param name="chartMeterWrong">True when the chart's meter had a problem, so that a missing one is not reported too.</param>
/// <param name="chartBarGroups">The chart's bar groups.</param>
/// <param name="parts">The band, for the instruments of the tune; null if unknown.</param>
/// <param name="format">The format of the chart.</param>
/// <param name="problems">Receives the problems.</param>
internal sealed class SectionReader(
    IReadOnlyList<BarMeter>? chartMeters, bool chartMeterWrong, BarGroups chartBarGroups, IReadOnlyList<Part>? parts, int format, Problems problems)
{
    private const int MostSecondsHeld = 60;
    private const string AcceptedFeel = "write feel = \"unit\", \"group\", \"bar\" or \"bar-group\"";
    private const string AcceptedChords = "write chords = \"| Am | % | F | G |\" (N.C. for no chord)";

    public ReadSection Read(TomlTable table, string name)
    {
        var before = problems.Count;
        var keys = new TableKeys(table, problems);
        keys.TellUnknown("a section", ChartKeys.Section, ChartKeys.Home);
        var repeat = keys.Integer("repeat", 1, 1000) ?? 1;
        var meters = MeterText.Read(keys, chartMeters, problems, out var meterWrong);
        if (meters is null && !meterWrong && !chartMeterWrong && !table.Damaged)
        {
            problems.Add(
                table.Start,
                $"neither the chart nor the section {Words.Quote(name)} has a meter",
                "write meter = \"5/8 3+2\" at the top of the file, or here");
        }

        var barGroups = MeterText.BarGroups(keys, problems) ?? chartBarGroups;
        var beforeTempo = problems.Count;
        var (tempo, ramps) = Tempo(keys);
        var join = keys.Text("join", "write join = \"eighth = eighth\" or \"bar = bar\"") is { } joinText
            ? TempoText.Join(joinText, problems)
            : null;
        if (join is not null && tempo?.From is not null)
        {
            problems.Add(
                keys.Entry("join")!.KeyStart,
                "join and tempo both set the speed at the start of the section",
                "keep one of the two; a ramp may follow a join: tempo = \"to eighth = 320\"");
        }

        var tempoWell = problems.Count == beforeTempo;
        var feel = Feel(keys, problems);
        var counted = Counted(keys);
        var key = Key(keys, problems);
        var playing = Playing(keys);
        var orders = OrderKeys.Read(keys, parts, playing, Named, problems);
        var stopTime = keys.Flag("stop-time") ?? false;
        var vamp = keys.Flag("vamp") ?? false;
        var hold = keys.Integer("hold", 0, MostSecondsHeld) ?? 0;
        var breakBars = keys.Integer("break", 0, FormPlan.MostBars) ?? 0;
        var read = Bars(keys, table, meters, out var count);
        var tune = Tune(keys, read?.Meters ?? [], count, playing);
        var bars = read?.Bars;
        var (endings, endingLayouts) = Endings(keys, meters, playing, tune, name);
        var shortest = count + (endingLayouts.Count > 0 ? endingLayouts.Min(ending => ending.Count) : 0);
        if (breakBars > shortest)
        {
            problems.Add(
                keys.Entry("break")!.Value.Start,
                $"the break takes {breakBars} bars, but the section has {shortest}",
                $"write break = {shortest} at most");
        }

        if (tempo?.OverBars > shortest)
        {
            problems.Add(
                keys.Entry("tempo")!.Value.Start,
                $"the ramp takes {tempo.OverBars} bars, but the section has {shortest}",
                $"write over {Words.Count(shortest.Value, "bar")} at most, or leave it out for the whole section");
            tempo = tempo with { OverBars = null };
        }
        var well = problems.Count == before && !problems.Full && bars is not null;
        var section = !well ? null : new Section
        {
            Name = name,
            Bars = bars!,
            HasOwnMeter = keys.Has("meter") || keys.Has("grouping"),
            BarGroups = barGroups,
            Endings = endings,
            Tempo = tempo,
            Ramps = ramps,
            Join = join,
            Feel = feel,
            Counted = counted,
            Key = key,
            Tune = tune,
            Playing = playing,
            StopTime = stopTime,
            BreakBars = breakBars,
            HoldSeconds = hold,
            Vamp = vamp,
            Orders = orders,
        };
        var tempoPlace = (keys.Entry("tempo") ?? keys.Entry("join"))?.Value.Start ?? table.Start;
        if (well && tune is not null)
        {
            CheckPickups(keys, section!);
        }

        var timing = count is null || read?.Layout is not { } layout || layout.Concat(endingLayouts.SelectMany(ending => ending)).Any(bar => bar.Meter is null) ? null : new Section
        {
            Name = name,
            Bars = Silent(layout),
            BarGroups = barGroups,
            Endings = [.. endingLayouts.Select(ending => new SectionEnding(Silent(ending), null))],
            Tempo = tempo,
            Ramps = ramps,
            Join = join,
            HoldSeconds = hold,
        };
        return new ReadSection(section, name, repeat, table.Start, tempoPlace, read?.Places ?? [], timing, tempo, tempoWell);

        static IReadOnlyList<ChartBar> Silent(IReadOnlyList<(BarMeter? Meter, bool Inserted)> bars) =>
            [.. bars.Select(bar => new ChartBar(bar.Meter!, [], bar.Inserted))];
    }

    // One text, or several in a list, of which one may be for the section's start.
    private (TempoChange? Change, IReadOnlyList<TempoRise> Ramps) Tempo(TableKeys keys)
    {
        const string newer = "write format = 2 as the first line";
        IReadOnlyList<TomlString> texts;
        switch (keys.Entry("tempo")?.Value)
        {
            case TomlList { OfTables: false, Items.Count: > 0 } list when list.Items.TrueForAll(item => item is TomlString):
                texts = [.. list.Items.Cast<TomlString>()];
                if (format == 1)
                {
                    problems.Add(list.Start, "a list of tempi belongs to format 2", newer);
                }

                break;
            default:
                texts = keys.Text("tempo", TempoText.Accepted) is { } one ? [one] : [];
                break;
        }

        TempoChange? change = null;
        var ramps = new List<TempoRise>();
        foreach (var text in texts)
        {
            if (format == 1 && TempoText.IsNew(text.Value))
            {
                problems.Add(text.PlaceOf(0), "tempo changes over named or last bars, and what follows them, belong to format 2", newer);
            }

            if (TempoText.IsRise(text.Value))
            {
                ramps.AddRange(TempoText.Rise(text, problems) is { } rise ? [rise] : []);
            }
            else if (change is null)
            {
                change = TempoText.Change(text, problems);
            }
            else
            {
                problems.Add(
                    text.PlaceOf(0),
                    "the section has two tempi for its start",
                    "keep one; give the others bars: \"to quarter = 80 over the last 2 bars\"");
            }
        }

        return (change, ramps.Count == 0 ? [] : ramps);
    }

    private (IReadOnlyList<SectionEnding> Endings, IReadOnlyList<IReadOnlyList<(BarMeter? Meter, bool Inserted)>> Layouts) Endings(
        TableKeys section, IReadOnlyList<BarMeter>? meters, IReadOnlyList<int>? playing, Tune? tune, string name)
    {
        const string accepted = "write [[section.ending]] and below it chords = \"| Am | G |\"";
        switch (section.Entry("ending")?.Value)
        {
            case null:
                return ([], []);
            case TomlList { Items.Count: > 0 } list when list.Items.TrueForAll(item => item is TomlTable):
                if (format == 1)
                {
                    problems.Add(list.Items[0].Start, "endings belong to format 2", "write format = 2 as the first line");
                }

                // Also of a tune with problems, so that its endings are not taken for tunes of one line.
                var lines = NamesOfLines(section);
                var endings = new List<SectionEnding>();
                var known = new List<IReadOnlyList<(BarMeter? Meter, bool Inserted)>>();
                foreach (var table in list.Items.Cast<TomlTable>())
                {
                    var keys = new TableKeys(table, problems);
                    keys.TellUnknown("an ending", ChartKeys.Ending, ChartKeys.Home);
                    var read = Bars(keys, table, meters, out var count, "ending");
                    var written = Tune(keys, read?.Meters ?? [], count, playing, lines);
                    if (written is not null && tune is null && !section.Has("tune"))
                    {
                        problems.Add(table.Start, "this ending has a tune, but its section has none", "write [section.tune] with notes = \"z\" for a section that rests");
                    }

                    known.Add(read?.Layout ?? [(null, false)]);
                    endings.AddRange(read?.Bars is { } bars ? [new SectionEnding(bars, written)] : []);
                    foreach (var line in tune is null ? [] : written?.Lines.Select(line => line.Name).Except(tune.Lines.Select(line => line.Name)).ToList() ?? [])
                    {
                        problems.Add(table.Start, $"this ending has the line {Words.Quote(line)}, but its section has not", $"give the section {Words.Quote(name)} that line too");
                    }
                }

                return (endings, known);
            case var other:
                problems.Add(other.Start, "ending must be a separate table", accepted);
                return ([], []);
        }
    }

    private void CheckPickups(TableKeys keys, Section section)
    {
        for (var ending = 1; ending <= section.Endings.Count; ending++)
        {
            try
            {
                _ = section.WithEnding(ending);
            }
            catch (ChartProblemException problem)
            {
                var (what, accepted) = Words.Split(problem.Message, "write z at the end of the section's notes");
                problems.Add(((TomlList)keys.Entry("ending")!.Value).Items[ending - 1].Start, what, accepted);
            }
        }
    }

    public static FeltLevel? Feel(TableKeys keys, Problems problems)
    {
        if (keys.Text("feel", AcceptedFeel) is not { } text)
        {
            return null;
        }

        if (FeltLevels.TryParse(text.Value, out var level))
        {
            return level;
        }

        problems.Add(text.PlaceOf(0), $"feel cannot be {Words.Quote(text.Value)}", AcceptedFeel);
        return null;
    }

    public static Counted? Counted(TableKeys keys) =>
        keys.Choice("counted", ("units", Music.Charts.Counted.Units), ("groups", Music.Charts.Counted.Groups));

    public static Key? Key(TableKeys keys, Problems problems)
    {
        const string accepted = "write key = \"D dorian\", \"Am\", \"Bb major\"";
        if (keys.Text("key", accepted) is not { } text)
        {
            return null;
        }

        if (Music.Harmony.Key.TryParse(text.Value, out var key, out var problem))
        {
            return key;
        }

        var (what, remedy) = Words.Split(problem, accepted);
        problems.Add(text.PlaceOf(0), what, remedy);
        return null;
    }

    // A name means its part, a role all its parts; part names win.
    private IReadOnlyList<int>? Playing(TableKeys keys)
    {
        const string accepted = "write play = [\"bass\", \"tune\"] with the names of parts or roles";
        IReadOnlyList<TomlNode> names;
        switch (keys.Entry("play")?.Value)
        {
            case null:
                return null;
            case TomlString one:
                names = [one];
                break;
            case TomlList { OfTables: false } list when list.Items.TrueForAll(item => item is TomlString):
                names = list.Items;
                break;
            case var other:
                problems.Add(other.Start, "play must be a list of names in quotes", accepted);
                return null;
        }

        if (parts is null)
        {
            return null;
        }

        var playing = new SortedSet<int>();
        foreach (var name in names.Cast<TomlString>())
        {
            var wanted = name.Value.Trim();
            var found = Named(wanted, parts);
            if (found.Count == 0)
            {
                var known = parts.Select(part => part.Name).Concat(parts.Select(part => part.Role.Name())).Distinct(StringComparer.OrdinalIgnoreCase).ToList();
                var near = Words.Nearest(wanted, known);
                var list = $"parts and roles: {Words.And([.. known.Select(other => Words.Quote(other))])}";
                problems.Add(
                    name.PlaceOf(0),
                    $"no part called {Words.Quote(wanted)}",
                    near is null ? list : $"did you mean {Words.Quote(near)}? {list}");
            }

            playing.UnionWith(found);
        }

        return [.. playing];
    }

    /// <summary>The parts with a name; those of a role if no part has that name.</summary>
    internal static List<int> Named(string name, IReadOnlyList<Part> parts)
    {
        var wanted = name.Trim();
        var found = Indices(part => string.Equals(part.Name, wanted, StringComparison.OrdinalIgnoreCase));
        return found.Count == 0 && Roles.TryParse(wanted, out var role) ? Indices(part => part.Role == role) : found;

        List<int> Indices(Func<Part, bool> isMeant) => [.. Enumerable.Range(0, parts.Count).Where(index => isMeant(parts[index]))];
    }

    // The count is null if the number of bars is uncertain.
    private ChordMarks.Result? Bars(TableKeys keys, TomlTable table, IReadOnlyList<BarMeter>? meters, out int? count, string what = "section")
    {
        count = null;
        var said = keys.Integer("bars", 1, FormPlan.MostBars);
        var text = Joined(keys);
        if (text is null)
        {
            if (!keys.Has("chords") && !table.Damaged)
            {
                problems.Add(table.Start, $"this {what} has no chords", AcceptedChords);
            }

            return null;
        }

        var read = ChordBars.Read(text, meters, said is { } number ? (number, keys.Entry("bars")!.Value.Start) : null, problems);
        if (said is not null || !keys.Has("bars"))
        {
            count = read.Meters?.Count;
        }

        return read;
    }

    // A list of lines is read as one text.
    private TomlString? Joined(TableKeys keys)
    {
        if (keys.Entry("chords")?.Value is not TomlList { Items.Count: > 0 } list || list.Items.Exists(item => item is not TomlString))
        {
            return keys.Text("chords", AcceptedChords);
        }

        return TomlString.Lines([.. list.Items.Cast<TomlString>()]);
    }

    private Tune? Tune(TableKeys keys, IReadOnlyList<BarMeter?> meters, int? count, IReadOnlyList<int>? playing, IReadOnlyList<string?>? bodyLines = null)
    {
        try
        {
            return ReadTune(keys, meters, count, playing, bodyLines);
        }
        catch (OverflowException)
        {
            problems.Add(
                keys.Entry("tune")!.Value.Start,
                "the lengths in this tune cannot be combined exactly",
                "use fewer different denominators");
            return null;
        }
    }

    // The tune of a section; or, with the names of the section's further lines, of one of its endings.
    private Tune? ReadTune(TableKeys section, IReadOnlyList<BarMeter?> meters, int? count, IReadOnlyList<int>? playing, IReadOnlyList<string?>? bodyLines)
    {
        var isEnding = bodyLines is not null;
        var leadsOn = !isEnding && section.Has("ending");
        const string accepted = "write [section.tune] and below it notes = \"| G4:3 A4:2 | B4:5 |\"";
        var lines = Lines(section);
        var entry = section.Entry("tune");
        if (entry is null)
        {
            if (lines.Count > 0)
            {
                problems.Add(lines[0].Start, "this line has no tune", accepted);
            }

            return null;
        }

        if (entry.Value is not TomlTable table)
        {
            problems.Add(entry.Value.Start, "tune must be a table with keys", accepted);
            return null;
        }

        var builder = new TuneBuilder([.. meters.OfType<BarMeter>().Select(meter => meter.Length)]);
        var melody = ReadLine(table, "a tune", ChartKeys.Tune, meters, count, isEnding, leadsOn, out var heard);
        var well = melody is not null;
        if (well)
        {
            builder.Add("tune", melody!.Value.Music, melody.Value.Verses);
        }

        var all = bodyLines?.Count ?? lines.Count;
        CheckRange(heard, 0, null, all, playing);
        for (var i = 0; i < lines.Count; i++)
        {
            var name = NameOf(lines[i], lines.Take(i));
            var line = ReadLine(lines[i], "a line", ChartKeys.Line, meters, count, isEnding, leadsOn, out heard);
            CheckRange(heard, NumberOf(name, i), name, all, playing);
            well &= line is not null && name is not null;
            if (well)
            {
                builder.Add(name!, line!.Value.Music, line.Value.Verses);
            }
        }

        return well ? builder.Made() : null;

        // The lines of an ending are those of its section with the same name.
        int NumberOf(string? name, int index) => 1 + (bodyLines?.ToList().IndexOf(name) is >= 0 and var found ? found : index);
    }

    private List<TomlTable> Lines(TableKeys section)
    {
        const string accepted = "write [[section.line]] and below it name = \"second voice\" and notes = \"| E4:3 F4:2 |\"";
        switch (section.Entry("line")?.Value)
        {
            case null:
                return [];
            case TomlList { Items.Count: > 0 } list when list.Items.TrueForAll(item => item is TomlTable):
                if (format == 1)
                {
                    problems.Add(list.Items[0].Start, "further lines belong to format 2", "write format = 2 as the first line");
                }

                return [.. list.Items.Cast<TomlTable>()];
            case var other:
                problems.Add(other.Start, "line must be a separate table", accepted);
                return [];
        }
    }

    private static List<string?> NamesOfLines(TableKeys section) =>
        [.. ((section.Entry("line")?.Value as TomlList)?.Items ?? []).OfType<TomlTable>().Select(line => (line.Find("name")?.Value as TomlString)?.Value.Trim())];

    private string? NameOf(TomlTable line, IEnumerable<TomlTable> before)
    {
        const string accepted = "write name = \"second voice\"";
        var name = new TableKeys(line, problems).Text("name", accepted);
        if (name is null)
        {
            if (line.Find("name") is null && !line.Damaged)
            {
                problems.Add(line.Start, "this line has no name", accepted);
            }

            return null;
        }

        var taken = before.Select(other => (other.Find("name")?.Value as TomlString)?.Value.Trim());
        if (taken.Contains(name.Value.Trim(), StringComparer.OrdinalIgnoreCase))
        {
            problems.Add(name.PlaceOf(0), $"two lines of this section are named {Words.Quote(name.Value.Trim())}", "give each line a different name");
            return null;
        }

        return name.Value.Trim();
    }

    private (TuneMeasures Music, IReadOnlyList<IReadOnlyList<Syllable?>> Verses)? ReadLine(
        TomlTable table,
        string what,
        IReadOnlyList<string> known,
        IReadOnlyList<BarMeter?> meters,
        int? count,
        bool isEnding,
        bool leadsOn,
        out IReadOnlyList<(Pitch Pitch, int Place)> heard)
    {
        const string accepted = "write notes = \"| G4:3 A4:2 | B4:5 |\"";
        var keys = new TableKeys(table, problems);
        keys.TellUnknown(what, known, ChartKeys.Home);
        var pickup = keys.Text("pickup", "write pickup = \"E4:1/8 F#4\", or leave it out");
        var text = keys.Text("notes", accepted);
        var wordsWell = WordTexts(keys, out var texts);
        heard = [];
        if (text is null)
        {
            if (!keys.Has("notes") && !table.Damaged)
            {
                problems.Add(table.Start, $"this {what[2..]} has no notes", accepted);
            }

            return null;
        }

        var read = TuneNotes.Read(pickup, text, meters, count, format, problems, leadsOn);
        heard = read.Heard;
        var verses = new List<IReadOnlyList<Syllable?>>();
        foreach (var words in texts)
        {
            if (TuneWords.Read(words, read, format, problems, isEnding) is { } verse)
            {
                verses.Add(verse);
            }
        }

        return read.Notes is { } notes && wordsWell && verses.Count == texts.Count ? (notes, verses) : null;
    }

    private bool WordTexts(TableKeys keys, out IReadOnlyList<TomlString> texts)
    {
        const int most = 100;
        const string accepted = "write one text for each verse: words = [\"Lan-terns on the wa-ter\", \"…\"]";
        texts = [];
        switch (keys.Entry("words")?.Value)
        {
            case null:
                return true;
            case TomlString one:
                texts = [one];
                return true;
            case TomlList { OfTables: false, Items.Count: <= most } list when list.Items.TrueForAll(item => item is TomlString):
                texts = [.. list.Items.Cast<TomlString>()];
                return true;
            case var other:
                problems.Add(other.Start, $"words must be a text in quotes or a list of at most {most}", accepted);
                return false;
        }
    }

    // Pitches that no tune part can reach are reported here, where their place is known: each once.
    private void CheckRange(IReadOnlyList<(Pitch Pitch, int Place)> heard, int line, string? name, int lines, IReadOnlyList<int>? playing)
    {
        foreach (var index in parts is null ? [] : TunePlayers.PlayersOf(parts, lines == 0 ? null : playing, line, lines))
        {
            var part = parts![index];
            var shift = part.Settings is TuneSettings settings ? 12 * settings.Octaves : 0;
            var range = $"{Pitch.FromMidi(part.Instrument.Lowest)} to {Pitch.FromMidi(part.Instrument.Highest)}";
            var moved = shift == 0 ? string.Empty : $" moved by {Words.Count(shift / 12, "octave")}";
            foreach (var (pitch, place) in heard.DistinctBy(note => note.Pitch))
            {
                if (pitch.Midi + shift < part.Instrument.Lowest || pitch.Midi + shift > part.Instrument.Highest)
                {
                    problems.Add(
                        place,
                        $"{pitch}{moved} is outside the range of the {part.Instrument.Name} that plays {(line == 0 ? "the tune" : name is null ? "this line" : $"the line {Words.Quote(name)}")} ({range})",
                        $"write it in another octave, or give {(line == 0 ? "the tune part" : Words.Quote(part.Name))} another instrument or octaves = 1 or -1");
                }
            }
        }
    }
}
