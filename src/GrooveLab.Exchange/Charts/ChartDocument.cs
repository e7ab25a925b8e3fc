using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>
/// The text of a chart as someone wrote it, for changing single things in it: everything else, remarks and layout too, stays as it
/// is, byte for byte. Immutable: a change makes a new document.
/// </summary>
/// <remarks>
/// A change may leave a chart that has problems (chords that do not fit a new meter): <see cref="Read"/> tells. A text that is not
/// TOML cannot be changed here, only in an editor: then every change throws <see cref="ChartProblemException"/>.
/// </remarks>
public sealed class ChartDocument
{
    private readonly InstrumentCatalogue _catalogue;
    private readonly bool _byteOrderMark;
    private readonly string _newLine;

    private ChartDocument(string body, bool byteOrderMark, string name, InstrumentCatalogue catalogue)
    {
        Body = body;
        _byteOrderMark = byteOrderMark;
        _newLine = body.Contains("\r\n", StringComparison.Ordinal) ? "\r\n" : "\n";
        Name = name;
        _catalogue = catalogue;
    }

    /// <summary>The name that problems give it.</summary>
    public string Name { get; }

    /// <summary>The text.</summary>
    public string Text => _byteOrderMark ? '\uFEFF' + Body : Body;

    private string Body { get; }

    /// <summary>Takes a text.</summary>
    public static ChartDocument FromText(string text, string name, InstrumentCatalogue? catalogue = null)
    {
        var mark = text.StartsWith('\uFEFF');
        return new ChartDocument(mark ? text[1..] : text, mark, name, catalogue ?? InstrumentFile.BuiltIn);
    }

    /// <summary>Takes a chart that has no text yet.</summary>
    public static ChartDocument FromChart(Chart chart, string name, InstrumentCatalogue? catalogue = null) =>
        FromText(ChartWriter.Write(chart, catalogue), name, catalogue);

    /// <summary>Opens a file.</summary>
    /// <exception cref="IOException">It cannot be read, is larger than a chart, or is not UTF-8.</exception>
    public static ChartDocument Open(string path, InstrumentCatalogue? catalogue = null)
    {
        var result = TextFile.Read(path, out var text);
        return text is null ? throw new IOException(result!.ToString()) : FromText(text, path, catalogue);
    }

    /// <summary>Reads the chart, or its problems.</summary>
    public ChartReadResult Read() => ChartReader.ReadText(Text, Name, _catalogue);

    /// <summary>Sets the title.</summary>
    public ChartDocument WithTitle(string title) => SetAtTop("title", TomlLiteral.Text(title));

    /// <summary>Sets the key of the chart, or of a section.</summary>
    public ChartDocument WithKey(Key key, string? section = null) => Set(section, "key", TomlLiteral.Text(key.ToString()));

    /// <summary>Sets the chart's tempo.</summary>
    public ChartDocument WithTempo(TempoMark tempo) => SetAtTop("tempo", TomlLiteral.Text(TempoText.Write(tempo)));

    /// <summary>Sets a section's change of tempo; null takes it away.</summary>
    public ChartDocument WithTempo(string section, TempoChange? tempo) =>
        Set(section, "tempo", tempo is null ? null : TomlLiteral.Text(TempoText.Write(tempo)));

    /// <summary>Sets how a section joins the one before; null takes it away.</summary>
    public ChartDocument WithJoin(string section, TempoJoin? join) =>
        Set(section, "join", join is null ? null : TomlLiteral.Text(TempoText.Write(join)));

    /// <summary>Sets the meters that go round bar by bar, of the chart or of a section; one for the same meter throughout.</summary>
    public ChartDocument WithMeters(IReadOnlyList<BarMeter> meters, string? section = null)
    {
        // What is written here says the grouping too.
        var literal = meters.Count == 1
            ? TomlLiteral.Text(meters[0].ToString())
            : TomlLiteral.List(meters.Select(meter => meter.ToString()));
        return Set(section, "meter", literal).Set(section, "grouping", null);
    }

    /// <summary>Sets the meter of the chart, or of a section.</summary>
    public ChartDocument WithMeter(BarMeter meter, string? section = null) => WithMeters([meter], section);

    /// <summary>Groups the units of the chart's one meter, or of a section's, in another way.</summary>
    /// <exception cref="ChartProblemException">The meters alternate, or no meter is said.</exception>
    public ChartDocument WithGrouping(Grouping grouping, string? section = null)
    {
        var table = Table(section);
        if (table.Find("grouping") is not null)
        {
            return Set(section, "grouping", TomlLiteral.Text(grouping.ToString()));
        }

        switch (table.Find("meter")?.Value)
        {
            case TomlString text:
                var signature = text.Value.Trim().Split(' ')[0];
                return Set(section, "meter", TomlLiteral.Text($"{signature} {grouping}"));
            case null when section is not null:
                return Set(section, "grouping", TomlLiteral.Text(grouping.ToString()));
            default:
                throw new ChartProblemException(
                    "there is not one meter here that could be grouped; set the meters, each with its grouping",
                    section ?? string.Empty,
                    null);
        }
    }

    /// <summary>Sets how bars group, in the chart or in a section.</summary>
    public ChartDocument WithBarGroups(BarGroups groups, string? section = null) =>
        Set(section, "bar-groups", ChartWriter.BarGroupsLiteral(groups));

    /// <summary>Sets the felt level of the chart or of a section; null leaves it open.</summary>
    public ChartDocument WithFeel(FeltLevel? feel, string? section = null) =>
        Set(section, "feel", feel is { } level ? TomlLiteral.Text(level.Name()) : null);

    /// <summary>Sets what is counted in the chart or in a section; null leaves it open.</summary>
    public ChartDocument WithCounted(Counted? counted, string? section = null) =>
        Set(section, "counted", counted is { } what ? TomlLiteral.Text(ChartWriter.Word(what)) : null);

    /// <summary>Sets where chance starts from.</summary>
    public ChartDocument WithSeed(ulong seed) => SetAtTop("seed", ChartWriter.Seed(seed));

    /// <summary>Sets the human feel, 0 to 2.</summary>
    public ChartDocument WithLooseness(double looseness) => SetAtTop("looseness", TomlLiteral.Number(looseness));

    /// <summary>Sets how often the form is played.</summary>
    public ChartDocument WithTimes(int times) => SetAtTop("times", TomlLiteral.Number(times));

    /// <summary>Sets whether a ringing bar ends the piece.</summary>
    public ChartDocument WithEnding(bool ending) => SetAtTop("ending", TomlLiteral.Flag(ending));

    /// <summary>Sets the chord of the ringing bar at the end.</summary>
    public ChartDocument WithEnding(ChordSymbol chord) => SetAtTop("ending", TomlLiteral.Text(chord.Text));

    /// <summary>Sets the order in which sections are played, each so many times.</summary>
    public ChartDocument WithForm(IReadOnlyList<(string Section, int Times)> steps) =>
        SetAtTop("form", TomlLiteral.List(steps.Select(step => ChartWriter.Step(step.Section, step.Times))));

    /// <summary>Sets all chords of a section, in the chart's notation: "| Am | G |".</summary>
    public ChartDocument WithChords(string section, string bars)
    {
        var lines = bars.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        return Set(section, "chords", lines.Length > 1 ? TomlLiteral.Lines(lines) : TomlLiteral.Text(bars.Trim()));
    }

    /// <summary>Sets the chords of one bar; the others stay as they are written.</summary>
    /// <param name="section">The section.</param>
    /// <param name="bar">The bar, from 0.</param>
    /// <param name="marks">Its chords in the chart's notation: "Am", "F C", "G / / D / / /".</param>
    /// <exception cref="ChartProblemException">There is no such section or written bar.</exception>
    public ChartDocument WithBarChords(string section, int bar, string marks)
    {
        var table = Table(section);
        if (table.Find("chords")?.Value is not TomlString text || ChordMarks.MarkSpans(text.Value) is not { } bars || bar < 0 || bar >= bars.Count)
        {
            throw new ChartProblemException(
                "there is no such bar in the section's chords; name one of those that are written",
                section,
                bar);
        }

        var edits = new List<(int Start, int End, string Text)>
        {
            (text.PlaceOf(bars[bar].Start), text.PlaceOf(bars[bar].End), TomlLiteral.Escape(marks.Trim())),
        };

        // A bar that repeats this one goes on sounding as it did.
        if (bar + 1 < bars.Count && text.Value[bars[bar + 1].Start..bars[bar + 1].End] == "%")
        {
            var source = bar;
            while (source > 0 && text.Value[bars[source].Start..bars[source].End] == "%")
            {
                source--;
            }

            var was = text.Value[bars[source].Start..bars[source].End];
            edits.Add((text.PlaceOf(bars[bar + 1].Start), text.PlaceOf(bars[bar + 1].End), TomlLiteral.Escape(was)));
        }

        return Edited(edits);
    }

    /// <summary>
    /// Sets a section's tune with its words and its further lines; null takes them away. A chart of an older format gets the newest where the tune
    /// needs it; its other tunes stay as they are written.
    /// </summary>
    /// <exception cref="ChartProblemException">The chart has problems, or the tune does not fit its section.</exception>
    public ChartDocument WithTune(string section, Tune? tune)
    {
        var existing = Table(section).Find("tune");
        if (tune is null)
        {
            var bare = WithoutLines(section);
            return existing is null ? bare
                : existing.Value is TomlTable { IsHeader: true } ? bare.WithoutTable(bare.Tune(section)!)
                : existing.Value is TomlTable { IsDotted: true } dotted
                    ? dotted.Entries.Aggregate(bare, (document, entry) => document.Removed(document.Tune(section)!, entry.Key))
                    : bare.Set(section, "tune", null);
        }

        var chart = Chart();
        var played = chart.Sections.First(candidate => Same(candidate.Name, section));
        var document = this;
        var written = Format();
        if (written < TuneText.FormatOf(tune))
        {
            written = ChartReader.Format;
            document = document.SetAtTop("format", TomlLiteral.Number(written));
        }

        var meters = played.Bars.Select(bar => bar.Meter).ToList();
        var keys = ChartWriter.TuneKeys(tune, 0, meters, section, written).ToList();
        if (existing is null)
        {
            var lines = string.Concat(keys.Select(key => $"{key.Key} = {key.Literal}\n"));
            document = document.Inserted(document.EndOf(document.Table(section)), $"\n[section.tune]\n{lines}");
        }

        foreach (var key in existing is null ? [] : ChartKeys.Tune)
        {
            var literal = keys.Find(candidate => candidate.Key == key).Literal;
            var inside = document.Tune(section)!;
            document = literal is null ? document.Removed(inside, key) : document.SetIn(inside, key, literal, ChartKeys.Tune);
        }

        return played.Tune is not null && SameLines(played.Tune, tune) ? document : document.WithoutLines(section).WithLines(section, tune, meters, written);
    }

    private static bool SameLines(Tune a, Tune b) =>
        a.Lines.Count == b.Lines.Count
        && a.Written.Measures.Equals(b.Written.Measures)
        && a.Written.Parts.Skip(1).SequenceEqual(b.Written.Parts.Skip(1));

    private ChartDocument WithLines(string section, Tune tune, IReadOnlyList<BarMeter> meters, int format)
    {
        var document = this;
        for (var line = 1; line <= tune.Lines.Count; line++)
        {
            var keys = string.Concat(ChartWriter.TuneKeys(tune, line, meters, section, format).Select(key => $"{key.Key} = {key.Literal}\n"));
            var before = document.Lines(section) is [.., var last] ? last
                : document.Tune(section) is { IsHeader: true } own ? own
                : document.Table(section);
            document = document.Inserted(document.EndOf(before), $"\n[[section.line]]\n{keys}");
        }

        return document;
    }

    private ChartDocument WithoutLines(string section)
    {
        var document = this;
        while (document.Lines(section) is [.., var last])
        {
            document = document.WithoutTable(last);
        }

        return document;
    }

    private List<TomlTable> Lines(string section) =>
        (Table(section).Find("line")?.Value as TomlList)?.Items.OfType<TomlTable>().ToList() ?? [];

    private int Format() => Root().Find("format")?.Value is TomlInteger format ? (int)format.Value : ChartReader.Format;

    /// <summary>Adds a section at the end.</summary>
    public ChartDocument WithSection(string name, string chords)
    {
        _ = Root();
        return Inserted(Body.Length, $"\n[[section]]\nname = {TomlLiteral.Text(name)}\nchords = {TomlLiteral.Text(chords.Trim())}\n");
    }

    /// <summary>Takes a section away, with its tune; the form is left as it is.</summary>
    public ChartDocument WithoutSection(string section)
    {
        var document = WithTune(section, null);
        return document.WithoutTable(document.Table(section));
    }

    /// <summary>
    /// Sets a part: the one of that name is changed where it differs, or a new one is added. In a chart that names no parts the house
    /// band is written out first.
    /// </summary>
    /// <exception cref="ChartProblemException">The chart has problems, so that its parts are not known.</exception>
    public ChartDocument WithPart(Part part)
    {
        var document = WithWrittenBand();
        var chart = document.Chart();
        var index = IndexOf(chart, part.Name);
        var written = ChartWriter.PartKeys(part, _catalogue).ToList();
        if (index < 0)
        {
            var tables = document.Parts();
            var lines = string.Concat(written.Select(key => $"{key.Key} = {key.Literal}\n"));
            return document.Inserted(document.EndOf(tables[^1]), $"\n[[part]]\n{lines}");
        }

        if (part.Instrument.Name != chart.Parts[index].Instrument.Name && document.Parts()[index].Find("name") is null)
        {
            // It went by its old instrument's name and must go on doing so.
            document = document.SetIn(document.Parts()[index], "name", TomlLiteral.Text(part.Name), ChartKeys.Part);
        }

        var old = ChartWriter.PartKeys(chart.Parts[index], _catalogue).ToList();
        var settings = ChartKeys.SettingsOf(part.Role);
        foreach (var key in old.Concat(written).Select(entry => entry.Key).Distinct(StringComparer.Ordinal).ToList())
        {
            var before = old.Find(entry => entry.Key == key).Literal;
            var after = written.Find(entry => entry.Key == key).Literal;
            if (before == after)
            {
                continue;
            }

            var table = document.Parts()[index];
            document = after is null
                ? document.Removed(table, key)
                : document.SetIn(table, key, after, [.. ChartKeys.Part, .. settings]);
        }

        return document;
    }

    /// <summary>Sets one key of a part, such as level to -6.</summary>
    /// <param name="part">The part's name.</param>
    /// <param name="key">The key.</param>
    /// <param name="value">A text, a whole number, a number or true and false; null takes the key away.</param>
    /// <exception cref="ChartProblemException">The chart has problems, or no part of that name.</exception>
    public ChartDocument WithPartSetting(string part, string key, object? value)
    {
        var document = WithWrittenBand();
        var chart = document.Chart();
        var index = IndexOf(chart, part);
        if (index < 0)
        {
            throw new ChartProblemException($"there is no part '{part}'; the chart has {Words.And([.. chart.Parts.Select(known => known.Name)])}");
        }

        var table = document.Parts()[index];
        var literal = value switch
        {
            null => null,
            string text => TomlLiteral.Text(text),
            bool flag => TomlLiteral.Flag(flag),
            int number => TomlLiteral.Number(number),
            double number => TomlLiteral.Number(number),
            _ => throw new ArgumentException("A setting is a text, a number or true and false.", nameof(value)),
        };
        return literal is null
            ? document.Removed(table, key)
            : document.SetIn(table, key, literal, [.. ChartKeys.Part, .. ChartKeys.SettingsOf(chart.Parts[index].Role)]);
    }

    /// <summary>Sets who plays in a section, by the names of parts; null for everybody.</summary>
    /// <exception cref="ChartProblemException">The chart has problems, or no section of that name.</exception>
    public ChartDocument WithPlaying(string section, IReadOnlyList<string>? names) =>
        WithWrittenBand().Set(section, "play", names is null ? null : TomlLiteral.List(names));

    /// <summary>Takes a part away, and its name from what sections say of who plays.</summary>
    /// <exception cref="ChartProblemException">The chart has problems, no part of that name, or no other part.</exception>
    public ChartDocument WithoutPart(string name)
    {
        var document = WithWrittenBand();
        var chart = document.Chart();
        var index = IndexOf(chart, name);
        if (index < 0 || chart.Parts.Count == 1)
        {
            throw new ChartProblemException(
                index < 0 ? $"there is no part '{name}'; the chart has {Words.And([.. chart.Parts.Select(known => known.Name)])}"
                : "the last part cannot be taken away: a chart without parts is played by the house band; take its level down");
        }

        var others = chart.Parts.Where((_, part) => part != index).ToList();
        var text = document;
        foreach (var section in chart.Sections.Where(section => section.Playing is { } playing && playing.Contains(index)))
        {
            IReadOnlyList<TomlNode> named = text.Table(section.Name).Find("play")?.Value is TomlList list
                ? list.Items
                : [text.Table(section.Name).Find("play")!.Value];
            var all = named.OfType<TomlString>().Select(word => word.Value).ToList();
            var left = all.Where(word => others.Exists(part => Same(part.Name, word) || Same(part.Role.Name(), word))).ToList();
            text = left.Count == all.Count ? text : text.Set(section.Name, "play", TomlLiteral.List(left));
        }

        return text.WithoutTable(text.Parts()[index]);
    }

    private static bool Same(string a, string b) => string.Equals(a.Trim(), b.Trim(), StringComparison.OrdinalIgnoreCase);

    private static int IndexOf(Chart chart, string part)
    {
        for (var i = 0; i < chart.Parts.Count; i++)
        {
            if (Same(chart.Parts[i].Name, part))
            {
                return i;
            }
        }

        return -1;
    }

    private TomlTable Root()
    {
        var root = ChartReader.Tree(new SourceText(Body), Name, out var problems);
        return root ?? throw new ChartProblemException(problems.Count == 0 ? "the file is not a chart; write one" : problems[0].ToString());
    }

    private Chart Chart()
    {
        var result = Read();
        return result.IsChart ? result.Chart : throw new ChartProblemException(result.Problems[0].ToString());
    }

    private List<TomlTable> Parts() =>
        (Root().Find("part")?.Value as TomlList)?.Items.OfType<TomlTable>().ToList() ?? [];

    private TomlTable Table(string? section)
    {
        var root = Root();
        if (section is null)
        {
            return root;
        }

        var tables = (root.Find("section")?.Value as TomlList)?.Items.OfType<TomlTable>().ToList() ?? [];
        var index = tables.FindIndex(table => table.Find("name")?.Value is TomlString name && Same(name.Value, section));
        if (index < 0 && Read().Chart is { } chart)
        {
            // A section without a name goes by the one that reading gave it.
            index = chart.Sections.ToList().FindIndex(candidate => Same(candidate.Name, section));
        }

        return index >= 0
            ? tables[index]
            : throw new ChartProblemException($"there is no section '{section}'; name one that the chart has");
    }

    private TomlTable? Tune(string section) => Table(section).Find("tune")?.Value as TomlTable;

    private ChartDocument SetAtTop(string key, string? literal) => Set(null, key, literal);

    private ChartDocument Set(string? section, string key, string? literal)
    {
        var table = Table(section);
        return literal is null
            ? Removed(table, key)
            : SetIn(table, key, literal, section is null ? ChartKeys.Chart : ChartKeys.Section);
    }

    private ChartDocument SetIn(TomlTable table, string key, string literal, IReadOnlyList<string> order)
    {
        if (table.Find(key) is { } entry)
        {
            return Edited([(entry.Value.Start, entry.Value.End, InFile(literal))]);
        }

        if (table.IsInline)
        {
            var comma = table.Entries.Count > 0 ? ", " : string.Empty;
            var at = table.Entries.Count > 0 ? table.Entries[^1].Value.End : table.Start + 1;
            return Edited([(at, at, $"{comma}{key} = {InFile(literal)}")]);
        }

        // Behind the nearest key that usually comes before it.
        var rank = IndexIn(order, key);
        var before = table.Entries
            .Where(other => IsOwnLine(table, other) && IndexIn(order, other.Key) < rank)
            .OrderBy(other => other.Value.End)
            .LastOrDefault();
        var prefix = table.IsDotted ? "tune." : string.Empty;
        var line = $"{prefix}{key} = {literal}\n";
        if (before is not null)
        {
            return Inserted(AfterLine(before.Value.End), line);
        }

        var first = table.IsHeader ? AfterLine(table.Start)
            : table.IsDotted ? LineStart(table.Entries[0].KeyStart)
            : FirstLine(table);
        return Inserted(first, line);
    }

    private static int IndexIn(IReadOnlyList<string> order, string key)
    {
        for (var i = 0; i < order.Count; i++)
        {
            if (order[i] == key)
            {
                return i;
            }
        }

        return order.Count;
    }

    // Tables in brackets of their own are entries too, but not lines among which a key can be written.
    private static bool IsOwnLine(TomlTable table, TomlEntry entry) =>
        entry.Value is not TomlList { OfTables: true }
        && entry.Value is not TomlTable { IsHeader: true }
        && entry.Value is not TomlTable { IsDotted: true }
        && entry.KeyStart >= table.Start;

    private int FirstLine(TomlTable root) =>
        root.Entries.Where(entry => IsOwnLine(root, entry)).Select(entry => LineStart(entry.KeyStart)).DefaultIfEmpty(0).Min();

    private ChartDocument Removed(TomlTable table, string key)
    {
        if (table.Find(key) is not { } entry)
        {
            return this;
        }

        if (table.IsInline)
        {
            var index = table.Entries.IndexOf(entry);
            var from = index > 0 ? table.Entries[index - 1].Value.End : entry.KeyStart;
            var to = index > 0 || index == table.Entries.Count - 1 ? entry.Value.End : table.Entries[index + 1].KeyStart;
            return Edited([(from, to, string.Empty)]);
        }

        return Edited([(LineStart(entry.KeyStart), AfterLine(entry.Value.End), string.Empty)]);
    }

    private ChartDocument WithoutTable(TomlTable table)
    {
        var end = EndOf(table);
        var start = LineStart(table.Start);

        // One of the blank lines around it goes with it.
        if (start > 0 && LineStart(start - 1) is var above && string.IsNullOrWhiteSpace(Body[above..start]))
        {
            start = above;
        }

        return Edited([(start, end, string.Empty)]);
    }

    // Behind the last line of the table's own keys.
    private int EndOf(TomlTable table)
    {
        var last = table.Entries
            .Where(entry => IsOwnLine(table, entry) || entry.Value is TomlTable { IsDotted: true })
            .Select(entry => entry.Value is TomlTable { IsDotted: true } dotted
                ? dotted.Entries.Max(inner => inner.Value.End)
                : entry.Value.End)
            .DefaultIfEmpty(table.Start)
            .Max();
        return AfterLine(last);
    }

    private ChartDocument WithWrittenBand()
    {
        if (Parts().Count > 0)
        {
            return this;
        }

        var sections = Root().Find("section")?.Value.Start ?? Body.Length;
        var at = LineStart(sections);

        // Remarks right above the first section belong to it.
        while (at > 0 && LineStart(at - 1) is var above && Body.AsSpan(above, at - above).TrimStart().StartsWith("#"))
        {
            at = above;
        }

        var band = new StringBuilder();
        foreach (var part in HouseBand.Parts(_catalogue))
        {
            band.Append("[[part]]\n");
            foreach (var (key, literal) in ChartWriter.PartKeys(part, _catalogue).Where(entry => entry.Key != "name"))
            {
                band.Append(CultureInfo.InvariantCulture, $"{key} = {literal}\n");
            }

            band.Append('\n');
        }

        return Inserted(at, band.ToString());
    }

    private int LineStart(int offset) => offset <= 0 ? 0 : Body.LastIndexOf('\n', offset - 1) + 1;

    private int AfterLine(int offset)
    {
        var end = Body.IndexOf('\n', Math.Min(offset, Body.Length));
        return end < 0 ? Body.Length : end + 1;
    }

    private string InFile(string text) => _newLine == "\n" ? text : text.Replace("\n", _newLine, StringComparison.Ordinal);

    private ChartDocument Inserted(int at, string lines)
    {
        var joined = at > 0 && Body[at - 1] != '\n' ? "\n" + lines : lines;
        return Edited([(at, at, InFile(joined))]);
    }

    private ChartDocument Edited(IEnumerable<(int Start, int End, string Text)> edits)
    {
        var body = new StringBuilder(Body);
        foreach (var (start, end, text) in edits.OrderByDescending(edit => edit.Start))
        {
            body.Remove(start, end - start).Insert(start, text);
        }

        return new ChartDocument(body.ToString(), _byteOrderMark, Name, _catalogue);
    }
}
