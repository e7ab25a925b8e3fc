using System.Text;
using GrooveLab.Exchange.Toml;

namespace GrooveLab.Exchange.Charts;

/// <summary>Keeps chords, notes and words of a section bar under bar where they were: a new rhythm changes the widths of bars in the notes,
/// and the bar lines of the other texts follow. <see cref="BarColumns"/> keeps columns while single signs are replaced.</summary>
internal static class SectionColumns
{
    // As an imported chart has them: small changes of a bar do not move the others.
    private const int WidthStep = 4;

    /// <summary>The new text with the bar lines of each section in the same columns, if they were before.</summary>
    /// <param name="was">The text before.</param>
    /// <param name="now">The text after; was read without a problem.</param>
    /// <returns>The same document if nothing has to move.</returns>
    public static ChartDocument Aligned(ChartDocument was, ChartDocument now)
    {
        var before = Tables(was).GroupBy(Name, StringComparer.Ordinal).ToDictionary(group => group.Key, group => group.First(), StringComparer.Ordinal);
        var edits = new List<(int Start, int End, string With)>();
        foreach (var table in Tables(now))
        {
            if (before.TryGetValue(Name(table), out var old))
            {
                foreach (var (texts, rows) in Blocks(old, was).Zip(Blocks(table, now)))
                {
                    if (texts.Count > 1 && AreAligned(texts) && !AreAligned(rows))
                    {
                        edits.AddRange(Realigned(texts, rows));
                    }
                }
            }
        }

        if (edits.Count == 0)
        {
            return now;
        }

        var text = new StringBuilder();
        var at = 0;
        foreach (var (start, end, with) in edits.OrderBy(edit => edit.Start))
        {
            text.Append(now.Source.Text, at, start - at).Append(with);
            at = end;
        }

        return now.With(text.Append(now.Source.Text, at, now.Source.Text.Length - at).ToString());
    }

    // A line of bars in the source: where it begins, its indent, and its bars without spaces around them.
    private sealed record Row(int Start, int End, string Indent, IReadOnlyList<string> Bars, IReadOnlyList<int> Widths);

    private static IEnumerable<TomlTable> Tables(ChartDocument document) =>
        document.Root.Find("section")?.Value is TomlList list ? list.Items.OfType<TomlTable>() : [];

    private static string Name(TomlTable table) => (table.Find("name")?.Value as TomlString)?.Value ?? string.Empty;

    // The section itself and each of its endings: the rows of its chords, notes and words.
    private static IEnumerable<IReadOnlyList<Row>> Blocks(TomlTable section, ChartDocument document)
    {
        yield return [.. Texts(section).SelectMany(text => Rows(text, document))];
        foreach (var ending in section.Find("ending")?.Value is TomlList list ? list.Items.OfType<TomlTable>() : [])
        {
            yield return [.. Texts(ending).SelectMany(text => Rows(text, document))];
        }
    }

    private static IEnumerable<TomlString> Texts(TomlTable table)
    {
        IEnumerable<TomlString> Of(TomlTable? owner, string key) => owner?.Find(key)?.Value switch
        {
            TomlString one => [one],
            TomlList list => list.Items.OfType<TomlString>(),
            _ => [],
        };
        var lines = table.Find("line")?.Value is TomlList more ? more.Items.OfType<TomlTable>() : [];
        return Of(table, "chords").Concat(
            lines.Prepend(table.Find("tune")?.Value as TomlTable).SelectMany(line => Of(line, "notes").Concat(Of(line, "words"))));
    }

    // Lines that begin and end with a bar line; others, such as a verse's pickup, have no columns.
    private static IEnumerable<Row> Rows(TomlString text, ChartDocument document)
    {
        var source = document.Source.Text;
        var at = text.Start;
        while (at < text.End)
        {
            var end = source.IndexOf('\n', at, text.End - at);
            end = end < 0 ? text.End : end;
            var line = source[at..end].TrimEnd('\r');
            var body = line.Trim();
            if (body.Length > 1 && body[0] == '|' && body[^1] == '|')
            {
                var bars = body[1..^1].Split('|');
                var indent = line[..^line.TrimStart().Length];
                yield return new Row(at, at + line.Length, indent, [.. bars.Select(bar => bar.Trim())], [.. bars.Select(bar => bar.Length)]);
            }

            at = end + 1;
        }
    }

    private static bool AreAligned(IReadOnlyList<Row> rows) => rows.All(row => row.Indent == rows[0].Indent
        && row.Widths.Zip(rows.MaxBy(other => other.Widths.Count)!.Widths).All(pair => pair.First == pair.Second));

    private static IEnumerable<(int Start, int End, string With)> Realigned(IReadOnlyList<Row> was, IReadOnlyList<Row> rows)
    {
        var old = was.MaxBy(row => row.Widths.Count)!.Widths;
        var widths = Enumerable.Range(0, rows.Max(row => row.Bars.Count)).Select(i =>
        {
            var needed = rows.Where(row => row.Bars.Count > i).Max(row => row.Bars[i].Length);
            return Math.Max(i < old.Count ? old[i] - 2 : 0, (needed + WidthStep - 1) / WidthStep * WidthStep);
        }).ToList();
        return rows.Select(row => (row.Start, row.End, row.Indent + $"| {string.Join(" | ", row.Bars.Select((bar, i) => bar.PadRight(widths[i])))} |"));
    }
}
