using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Charts;

/// <summary>Edits the chords of a section in its text: a bar that is already right is left alone, others get their chords in the existing
/// style, and only a section with a different number of bars is laid out again.</summary>
/// <param name="editor">Receives the changes.</param>
/// <param name="table">The section.</param>
/// <param name="round">Its new meters, which repeat bar by bar.</param>
/// <param name="usual">The default layout of bars.</param>
/// <param name="columns">The bar lines of the section; receives the changes inside bars.</param>
internal sealed class ChordEdits(TomlEditor editor, TomlTable table, IReadOnlyList<BarMeter> round, BarLayout usual, BarColumns columns)
{
    /// <summary>Writes the bars.</summary>
    /// <param name="before">The bars in the text.</param>
    /// <param name="now">The new bars.</param>
    /// <returns>True when the chords were laid out again.</returns>
    /// <exception cref="ChartProblemException">A chord starts between two units.</exception>
    public bool Write(IReadOnlyList<ChartBar> before, IReadOnlyList<ChartBar> now)
    {
        var text = TextOf(table.Find("chords")!.Value)!;
        var said = (table.Find("bars")?.Value as TomlInteger)?.Value;
        if (Reads(text.Value, (int?)said, now))
        {
            columns.Add(text, () => ChordMarks.AsWritten(text.Value).BarLines);
            return false;
        }

        if (said is not null && Reads(text.Value, now.Count, now))
        {
            editor.Set(table, "bars", TomlLiteral.Number(now.Count), ChartKeys.Section);
            return false;
        }

        var (written, barLines) = ChordMarks.AsWritten(text.Value);
        return !(now.Count == before.Count && WriteInPlace(text, written, barLines, (int?)said, now)) && LayOut(written, before, now);
    }

    /// <summary>The text of a value that is one text or a list of lines; otherwise null.</summary>
    public static TomlString? TextOf(TomlNode? value) => value switch
    {
        TomlString text => text,
        TomlList { Items.Count: > 0 } list when list.Items.TrueForAll(item => item is TomlString) => TomlString.Lines([.. list.Items.Cast<TomlString>()]),
        _ => null,
    };

    private bool Reads(string text, int? bars, IReadOnlyList<ChartBar> now)
    {
        var problems = Problems.Unread();
        var read = ChordBars.Read(TomlString.Of(text), round, bars is { } count ? (count, 0) : null, problems);
        return problems.Count == 0 && read.Bars is { } found && SameChart.AreRead(now, found);
    }

    private bool WriteInPlace(
        TomlString text,
        IReadOnlyList<ChordMarks.WrittenBar> written,
        IReadOnlyList<(int Start, int End)> barLines,
        int? said,
        IReadOnlyList<ChartBar> now)
    {
        var chords = new ChordText(round);
        var pieces = new List<(int Start, int End, string With)>();
        for (var i = 0; i < written.Count; i++)
        {
            pieces.AddRange(Pieces(written[i], text.Value, chords.Next(written[i], text.Value, now[i])));
        }

        // Repeated bars change together or not at all.
        if (!Reads(Replaced(text.Value, pieces), said, now))
        {
            return false;
        }

        columns.Add(text, () => barLines);
        foreach (var (start, end, with) in pieces)
        {
            columns.Replace(text, start, end, with);
        }

        return true;
    }

    private bool LayOut(IReadOnlyList<ChordMarks.WrittenBar> written, IReadOnlyList<ChartBar> before, IReadOnlyList<ChartBar> now)
    {
        var chords = new ChordText(round);
        var text = TextOf(table.Find("chords")!.Value)!.Value;
        var head = 0;
        while (head < before.Count && head < now.Count && SameChart.Bars(before[head], now[head]))
        {
            head++;
        }

        var tail = 0;
        while (tail < before.Count - head && tail < now.Count - head && SameChart.Bars(before[^(tail + 1)], now[^(tail + 1)]))
        {
            tail++;
        }

        var bars = now.Select((bar, at) =>
        {
            var was = at < head ? at : at >= now.Count - tail ? before.Count - (now.Count - at) : -1;
            return chords.Next(was < 0 ? null : written[was % written.Count], text, bar).ToString();
        }).ToList();
        usual.Write(editor, table, "chords", bars, ChartKeys.Section);
        editor.Remove(table, "bars");
        return true;
    }

    private static IEnumerable<(int Start, int End, string With)> Pieces(ChordMarks.WrittenBar was, string text, ChordText.Bar now)
    {
        var first = was.Marks[0].Start;
        if (was.Bracket is not { } bracket)
        {
            if (now.Bracket is not null)
            {
                yield return (first, first, $"[{now.Bracket}] ");
            }
        }
        else if (now.Bracket is null)
        {
            yield return (bracket.Start, first, string.Empty);
        }
        else if (text[(bracket.Start + 1)..(bracket.End - 1)] != now.Bracket)
        {
            yield return (bracket.Start + 1, bracket.End - 1, now.Bracket);
        }

        if (was.Marks.Count == now.Marks.Count)
        {
            foreach (var (mark, with) in was.Marks.Zip(now.Marks).Where(pair => pair.First.Text != pair.Second))
            {
                yield return (mark.Start, mark.End, with);
            }
        }
        else
        {
            yield return (first, was.Marks[^1].End, string.Join(' ', now.Marks));
        }
    }

    /// <summary>A text with pieces replaced, in order.</summary>
    public static string Replaced(string text, IEnumerable<(int Start, int End, string With)> pieces)
    {
        var result = new System.Text.StringBuilder(text.Length);
        var at = 0;
        foreach (var (start, end, with) in pieces)
        {
            result.Append(text, at, start - at).Append(with);
            at = end;
        }

        return result.Append(text, at, text.Length - at).ToString();
    }
}
