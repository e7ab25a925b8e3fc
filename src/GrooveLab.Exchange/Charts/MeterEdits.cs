using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes meters where they belong: at the top if all sections that inherit from there change alike, otherwise in the
/// section. A change for one section is written in that section.</summary>
/// <param name="editor">Receives the changes.</param>
/// <param name="root">The chart's text.</param>
internal sealed class MeterEdits(TomlEditor editor, TomlTable root)
{
    private readonly IReadOnlyList<BarMeter>? _top = Read(root, null);
    private IReadOnlyList<BarMeter>? _newTop;

    /// <summary>The chart's new meters; null for none.</summary>
    public IReadOnlyList<BarMeter>? Top => _newTop ?? _top;

    /// <summary>Decides the meters at the top.</summary>
    /// <param name="sections">The remaining sections, each with its table.</param>
    public void WriteTop(IEnumerable<(TomlTable Table, Section Now)> sections)
    {
        var inheriting = sections.Where(section => !section.Now.HasOwnMeter && section.Table.Find("meter") is null && section.Table.Find("grouping") is null)
            .Select(section => section.Now).ToList();
        if (_top is null || inheriting.Count == 0 || inheriting.Find(section => !GoesRound(_top, section)) is not { } odd)
        {
            return;
        }

        var round = RoundOf(odd);
        if (inheriting.TrueForAll(section => GoesRound(round, section)))
        {
            _newTop = round;
            Write(root, round, null, ChartKeys.Chart);
        }
    }

    /// <summary>Writes a section's meters if the existing text would be read differently.</summary>
    /// <returns>The meters that repeat bar by bar.</returns>
    public IReadOnlyList<BarMeter> WriteSection(TomlTable table, Section now)
    {
        if (Read(table, Top) is { } stands && GoesRound(stands, now))
        {
            return stands;
        }

        var round = RoundOf(now);
        Write(table, round, Top, ChartKeys.Section);
        return round;
    }

    /// <summary>The meters of a new section as text.</summary>
    public string Literal(IReadOnlyList<BarMeter> round) => round.Count == 1
        ? TomlLiteral.Text(Word(round[0], Top, grouped: false))
        : TomlLiteral.List(round.Select(meter => Word(meter, Top, grouped: false)));

    /// <summary>The shortest list of meters that repeats through the bars of a section.</summary>
    public static IReadOnlyList<BarMeter> RoundOf(Section section)
    {
        var (written, round) = ChartWriter.WithRound(section);
        return round.Count > 0 ? round : [written.Bars[0].Meter];
    }

    /// <summary>True when repeating meters give the bars of a section and of each of its endings.</summary>
    public static bool GoesRound(IReadOnlyList<BarMeter> round, Section section) =>
        GoesRound(round, section.Bars) && section.Endings.All(ending => GoesRound(round, ending.Bars));

    /// <summary>True when repeating meters give the bars, with inserted bars between them.</summary>
    public static bool GoesRound(IReadOnlyList<BarMeter> round, IReadOnlyList<ChartBar> bars)
    {
        var counted = 0;
        foreach (var bar in bars)
        {
            if (bar.Meter == round[counted % round.Count])
            {
                counted++;
            }
            else if (!bar.Inserted)
            {
                return false;
            }
        }

        return true;
    }

    private static IReadOnlyList<BarMeter>? Read(TomlTable table, IReadOnlyList<BarMeter>? inherited)
    {
        var problems = Problems.Unread();
        return MeterText.Read(new TableKeys(table, problems), inherited, problems, out var wrong) is { } meters && !wrong ? meters : null;
    }

    private static BarMeter? Read(string word, IReadOnlyList<BarMeter>? said) =>
        MeterText.Read(TomlString.Of(word), said, Problems.Unread(), string.Empty, out _);

    private void Write(TomlTable table, IReadOnlyList<BarMeter> round, IReadOnlyList<BarMeter>? inherited, IReadOnlyList<string> order)
    {
        var said = table.Find("meter")?.Value;
        var groupingSaid = table.Find("grouping") is not null;
        if (round.Count == 1 && groupingSaid)
        {
            WriteBeside(table, said, round[0], inherited, order);
            return;
        }

        if (round.Count == 1 && said is null && inherited is [var top] && top.Signature == round[0].Signature)
        {
            editor.Set(table, "grouping", TomlLiteral.Text(round[0].Grouping.ToString()), order);
            return;
        }

        editor.Remove(table, "grouping");
        if (round.Count == 1)
        {
            var grouped = said is TomlString text && text.Value.Trim().Contains(' ', StringComparison.Ordinal);
            var word = Word(round[0], inherited, grouped);
            if (said is TomlString)
            {
                editor.SetText(table, "meter", word, order);
            }
            else
            {
                editor.Set(table, "meter", TomlLiteral.Text(word), order);
            }

            return;
        }

        var words = round.Select(meter => Word(meter, inherited, grouped: false)).ToList();
        if (said is TomlList list && list.Items.Count == words.Count && list.Items.TrueForAll(item => item is TomlString))
        {
            foreach (var (item, meter) in list.Items.Cast<TomlString>().Zip(round))
            {
                if (Read(item.Value, inherited) != meter)
                {
                    editor.ReplaceText(item, Word(meter, inherited, item.Value.Trim().Contains(' ', StringComparison.Ordinal)));
                }
            }

            return;
        }

        editor.Set(table, "meter", TomlLiteral.List(words), order);
    }

    // The grouping has its own line.
    private void WriteBeside(TomlTable table, TomlNode? said, BarMeter meter, IReadOnlyList<BarMeter>? inherited, IReadOnlyList<string> order)
    {
        editor.SetText(table, "grouping", meter.Grouping.ToString(), order);
        var signature = said is TomlString text ? Read(text.Value, inherited)?.Signature : inherited is [var top] ? top.Signature : null;
        if (signature == meter.Signature)
        {
            return;
        }

        if (said is TomlString)
        {
            editor.SetText(table, "meter", meter.Signature.ToString(), order);
        }
        else
        {
            editor.Set(table, "meter", TomlLiteral.Text(meter.Signature.ToString()), order);
        }
    }

    // Without its grouping if that is the usual one and not written before.
    private static string Word(BarMeter meter, IReadOnlyList<BarMeter>? inherited, bool grouped)
    {
        var plain = ChartWriter.MeterWord(meter);
        var bare = meter.Signature.ToString();
        return grouped && !meter.Grouping.IsUndivided ? meter.ToString()
            : Read(plain, inherited) == meter ? plain
            : !grouped && Read(bare, inherited) == meter ? bare
            : meter.ToString();
    }
}
