using System.Text;
using GrooveLab.Exchange.Toml;

namespace GrooveLab.Exchange.Charts;

/// <summary>The layout of bars in lines, applied to other bars.</summary>
/// <param name="BarsInLine">Bars in a line.</param>
/// <param name="InColumns">True when bar lines are aligned.</param>
/// <param name="Lines">Number of lines; 0 for a layout without a text.</param>
internal sealed record BarLayout(int BarsInLine, bool InColumns, int Lines)
{
    private const int UsualBarsInLine = 4;

    /// <summary>The layout of a text of bars.</summary>
    public static BarLayout Of(string bars)
    {
        var lines = bars.Split('\n').Where(line => !string.IsNullOrWhiteSpace(line)).ToList();
        var counts = lines.ConvertAll(line => line.Split('|', '‖').Count(bar => !string.IsNullOrWhiteSpace(bar)));
        var padded = lines.Exists(line => line.Contains("  |", StringComparison.Ordinal) && line.TrimStart().Length > 0 && line.TrimStart()[0] == '|');
        var columns = lines.ConvertAll(line => string.Join(' ', line.Select((sign, at) => sign is '|' or '‖' ? at : -1).Where(at => at >= 0)));
        return new BarLayout(MostCommon(counts), lines.Count > 1 && (padded || columns.Distinct(StringComparer.Ordinal).Count() == 1), lines.Count);
    }

    /// <summary>The most common layout among the texts of more than one line.</summary>
    public static BarLayout Usual(IEnumerable<string> texts)
    {
        var layouts = texts.Select(Of).Where(layout => layout.Lines > 1).ToList();
        return layouts.Count == 0
            ? new BarLayout(UsualBarsInLine, InColumns: true, 0)
            : new BarLayout(MostCommon(layouts.ConvertAll(layout => layout.BarsInLine)), 2 * layouts.Count(layout => layout.InColumns) >= layouts.Count, 0);
    }

    /// <summary>Replaces a text of bars by other bars, in that text's layout if it has one, otherwise in this one.</summary>
    /// <param name="editor">Receives the change.</param>
    /// <param name="table">The table that contains the text.</param>
    /// <param name="key">Its key.</param>
    /// <param name="bars">The bars, without bar lines.</param>
    /// <param name="order">The table's keys in their usual order.</param>
    public void Write(TomlEditor editor, TomlTable table, string key, IReadOnlyList<string> bars, IReadOnlyList<string> order)
    {
        switch (table.Find(key)?.Value)
        {
            case TomlList { Items.Count: > 0 } list when list.Items.TrueForAll(item => item is TomlString):
                var texts = list.Items.Cast<TomlString>().Select(item => item.Value).ToList();
                var lines = InManner(string.Join('\n', texts)).LinesOf(bars);
                Arrange(editor, list, texts, lines);
                break;
            case TomlString text when Of(text.Value) is var was && (was.Lines > 1 || text.Value.Contains('\n', StringComparison.Ordinal)):
                editor.ReplaceText(text, InLines(editor, text, InManner(text.Value).LinesOf(bars)));
                break;
            case TomlString text when bars.Count <= Math.Max(Of(text.Value).BarsInLine, BarsInLine):
                editor.ReplaceText(text, InManner(text.Value).LinesOf(bars, bars.Count)[0]);
                break;
            default:
                editor.Set(table, key, Literal(bars), order);
                break;
        }
    }

    /// <summary>The bars as a text of one line or several.</summary>
    public string Literal(IReadOnlyList<string> bars)
    {
        var lines = LinesOf(bars);
        return lines.Count == 1 ? TomlLiteral.Text(lines[0]) : TomlLiteral.Lines(lines);
    }

    private BarLayout InManner(string text) => Of(text) is { Lines: > 1 } own ? own with { Outer = OuterOf(text) } : this with { Outer = OuterOf(text) };

    /// <summary>True when lines start and end with a bar line.</summary>
    private bool Outer { get; init; } = true;

    private static bool OuterOf(string text) => text.TrimStart() is var body && (body.Length == 0 || body[0] is '|' or '‖');

    private static int MostCommon(List<int> counts) =>
        counts.GroupBy(count => count).OrderByDescending(group => group.Count()).ThenByDescending(group => group.Key)
            .Select(group => group.Key).FirstOrDefault(UsualBarsInLine);

    private IReadOnlyList<string> LinesOf(IReadOnlyList<string> bars, int? inLine = null)
    {
        var lines = bars.Chunk(Math.Max(1, inLine ?? BarsInLine)).ToList();
        var widths = Enumerable.Range(0, lines[0].Length)
            .Select(column => InColumns && lines.Count > 1 ? lines.Where(line => line.Length > column).Max(line => line[column].Length) : 0).ToList();
        return [.. lines.Select(Line)];

        string Line(string[] line)
        {
            var text = new StringBuilder();
            for (var i = 0; i < line.Length; i++)
            {
                var last = i == line.Length - 1 && !Outer;
                text.Append(i > 0 || Outer ? "| " : string.Empty).Append(last ? line[i] : line[i].PadRight(widths[i])).Append(last ? string.Empty : " ");
            }

            return text.Append(Outer ? "|" : string.Empty).ToString();
        }
    }

    private static string InLines(TomlEditor editor, TomlString text, IReadOnlyList<string> lines)
    {
        var value = text.Value;
        var opened = editor.LineStart(text.PlaceOf(0)) == editor.LineStart(text.Start);
        var old = value.Split('\n');
        var sample = old.Skip(opened ? 1 : 0).FirstOrDefault(line => !string.IsNullOrWhiteSpace(line)) ?? string.Empty;
        var indent = sample[..(sample.Length - sample.TrimStart().Length)];
        var tail = old.Length > 1 && string.IsNullOrWhiteSpace(old[^1]) ? "\n" + old[^1] : string.Empty;
        return (opened ? string.Empty : indent) + string.Join("\n" + indent, lines) + tail;
    }

    // Unchanged lines keep their remarks.
    private static void Arrange(TomlEditor editor, TomlList list, List<string> was, IReadOnlyList<string> lines)
    {
        var head = 0;
        while (head < was.Count && head < lines.Count && was[head] == lines[head])
        {
            head++;
        }

        var tail = 0;
        while (tail < was.Count - head && tail < lines.Count - head && was[^(tail + 1)] == lines[^(tail + 1)])
        {
            tail++;
        }

        editor.ArrangeItems(
            list,
            [
                .. lines.Select((line, at) => at < head ? (at, (string?)null)
                    : at >= lines.Count - tail ? (was.Count - (lines.Count - at), null)
                    : ((int?)null, TomlLiteral.Text(line))),
            ]);
    }
}
