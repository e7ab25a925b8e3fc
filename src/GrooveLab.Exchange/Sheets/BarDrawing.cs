using System.Globalization;
using System.Text;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Sheets;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Sheets;

/// <summary>Draws the bars of a section: chords over an arch for each group, with a dot for each unit.</summary>
internal static class BarDrawing
{
    /// <summary>The width of all that stands in a line, which both papers leave between their margins.</summary>
    public const double PageWidth = 186;

    // Before each row: the number of its first bar.
    private const double Gutter = 10;
    private const double MarkSize = 3.6, MarkHeight = 4.4;
    private const double Inset = 1.5;
    private const double ChordGap = 0.8;
    private const double ArchHeight = 5.2;
    private const double Underneath = 2.4;
    private const double NumberSize = 3.8;

    // Chords are pressed to this share before a bar is broken.
    private const double ChordPress = 0.55;

    // From this many equal rows on, one is printed with their number.
    private const int FewestFolded = 3;

    /// <summary>The rows of a list of bars.</summary>
    /// <param name="bars">The bars; none give no rows.</param>
    /// <param name="page">Where the rows are written.</param>
    /// <param name="ends">True when a section ends with them.</param>
    public static void Write(IReadOnlyList<SheetBar> bars, StringBuilder page, bool ends)
    {
        if (bars.Count == 0)
        {
            return;
        }

        var rows = BarRows.Of([.. bars.Select((bar, i) => Needs(bar, i == 0))], PageWidth - Gutter);
        for (var row = 0; row < rows.Count;)
        {
            var same = 1;
            while (row + same < rows.Count && IsSame(bars, rows[row], rows[row + same]))
            {
                same++;
            }

            var folded = same >= FewestFolded ? same : 1;
            Write(bars, rows[row], folded, ends && row + folded == rows.Count, page);
            row += folded;
        }
    }

    /// <summary>The arches and dots of a stretch of a bar.</summary>
    /// <param name="svg">The drawing.</param>
    /// <param name="meter">The meter.</param>
    /// <param name="from">Where the stretch begins, from the bar line.</param>
    /// <param name="to">Where it ends.</param>
    /// <param name="x">The left edge.</param>
    /// <param name="y">The line on which the dots stand.</param>
    /// <param name="scale">Millimetres for a whole note.</param>
    /// <param name="high">The height of the highest arch.</param>
    public static void Groups(SvgDrawing svg, BarMeter meter, Span from, Span to, double x, double y, double scale, double high)
    {
        var unit = meter.Unit.Wholes.ToDouble() * scale;
        var largest = meter.GroupSizes.Max();
        var start = from.Wholes.ToDouble() * scale;
        var end = to.Wholes.ToDouble() * scale;
        svg.Line(x, y, x + end - start, y, 0.15);
        for (var group = 0; group < meter.GroupSizes.Count; group++)
        {
            var left = meter.GroupStartUnits[group] * unit;
            var right = left + (meter.GroupSizes[group] * unit);
            if (right <= start + 0.001 || left >= end - 0.001)
            {
                continue;
            }

            // A group that the row breaks has an arch on either side.
            (left, right) = (Math.Max(left, start), Math.Min(right, end));
            var height = high * (0.55 + (0.45 * meter.GroupSizes[group] / largest));
            var (l, r) = (x + left - start + 0.5, x + right - start - 0.5);
            svg.Path(FormattableString.Invariant($"M{l:0.##} {y:0.##}C{l:0.##} {y - (height * 1.333):0.##} {r:0.##} {y - (height * 1.333):0.##} {r:0.##} {y:0.##}"), 0.45);
        }

        for (var at = 0; at < meter.Units; at++)
        {
            var place = at * unit;
            if (place >= start - 0.001 && place < end - 0.001)
            {
                var isStart = meter.GroupStartUnits.Contains(at);
                svg.Dot(x + place - start + (isStart ? 0.5 : 0), y, Math.Min(isStart ? 0.9 : 0.5, unit / 3));
            }
        }

        Outer(svg, meter.Grouping.Root, 0, unit, start, end, x, y + 1.6);
    }

    // Groups of groups have a line below.
    private static void Outer(SvgDrawing svg, GroupNode root, double at, double unit, double start, double end, double x, double y)
    {
        if (root.Height < 2)
        {
            return;
        }

        foreach (var child in root.Children)
        {
            var (left, right) = (Math.Max(at, start), Math.Min(at + (child.Units * unit), end));
            if (right > left)
            {
                svg.Line(x + left - start + 0.4, y, x + right - start - 0.8, y, 0.4);
            }

            at += child.Units * unit;
        }
    }

    private static BarNeeds Needs(SheetBar bar, bool first) => new(
        bar.Meter,
        Span.Zero,
        bar.Meter.Length,
        bar.StartsGroup || first,
        [
            .. bar.Chords.Select(chord => (chord, width: new ChordDrawing(chord.Symbol).Width))
                .Select(one => new BarContent(one.chord.Onset, one.chord.End, Inset + one.width + ChordGap, Inset + (one.width * ChordPress) + ChordGap)),
        ],
        Math.Max(6, bar.Marks.Select(mark => (TextMeasure.Width(mark, MarkSize) * 0.8) + Inset + 1).DefaultIfEmpty(0).Max()));

    private static bool IsSame(IReadOnlyList<SheetBar> bars, BarRow row, BarRow other) =>
        row.Pieces.Count == other.Pieces.Count
        && row.Pieces.Zip(other.Pieces).All(pair => pair.First.From == pair.Second.From && pair.First.To == pair.Second.To && bars[pair.First.Index].LooksLike(bars[pair.Second.Index]));

    private static void Write(IReadOnlyList<SheetBar> bars, BarRow row, int times, bool isLast, StringBuilder page)
    {
        var marks = row.Pieces.Max(piece => piece.From == Span.Zero ? bars[piece.Index].Marks.Count : 0);
        var baseline = (marks * MarkHeight) + ChordDrawing.Above;
        var line = baseline + 2.2 + ArchHeight;
        var height = line + Underneath;
        page.Append("<div class=\"row\">");
        page.Append(Number(bars[row.Pieces[0].Index], row.Pieces[0], times, height, line));
        foreach (var piece in row.Pieces)
        {
            page.Append(Piece(bars[piece.Index], piece, row, isLast && piece == row.Pieces[^1] && piece.To == bars[piece.Index].Meter.Length, marks, height, baseline, line));
        }

        page.Append("</div>\n");
    }

    private static string Number(SheetBar bar, BarPiece piece, int times, double height, double line)
    {
        var svg = new SvgDrawing(Gutter, height);
        svg.Text(0, line + 1, piece.From == Span.Zero ? bar.Number.ToString(CultureInfo.InvariantCulture) : "…", NumberSize, Gutter - 1.5);
        if (times > 1)
        {
            svg.Text(0, line - 5, times.ToString(CultureInfo.InvariantCulture) + "×", 5, Gutter - 1.5, bold: true);
        }

        return svg.Element("gutter");
    }

    private static string Piece(SheetBar bar, BarPiece piece, BarRow row, bool endsSection, int marks, double height, double baseline, double line)
    {
        var width = row.WidthOf(piece);
        var svg = new SvgDrawing(width, height);
        var isStart = piece.From == Span.Zero;
        var top = (marks * MarkHeight) + 1.2;
        if (isStart)
        {
            svg.Line(0, top, 0, line + 1, bar.StartsGroup ? 0.6 : 0.3);
            for (var mark = 0; mark < bar.Marks.Count; mark++)
            {
                svg.Text(Inset, ((marks - bar.Marks.Count + mark + 1) * MarkHeight) - 1, bar.Marks[mark], MarkSize, width - Inset - 0.8);
            }
        }

        foreach (var chord in bar.Chords.Where(chord => chord.End > piece.From && chord.Onset < piece.To))
        {
            // A chord that goes on over the break of a bar is said again.
            var (at, end) = (Span.Max(chord.Onset, piece.From), Span.Min(chord.End, piece.To));
            var x = row.Scale * (at - piece.From).Wholes.ToDouble();
            new ChordDrawing(chord.Symbol).Draw(svg, x + Inset, baseline, (row.Scale * (end - at).Wholes.ToDouble()) - Inset - ChordGap);
        }

        Groups(svg, bar.Meter, piece.From, piece.To, 0, line, row.Scale, ArchHeight);
        if (endsSection)
        {
            svg.Line(width - 0.45, top, width - 0.45, line + 1, 0.9);
            svg.Line(width - 1.6, top, width - 1.6, line + 1, 0.3);
        }
        else if (piece == row.Pieces[^1] && piece.To == bar.Meter.Length)
        {
            svg.Line(width - 0.15, top, width - 0.15, line + 1, 0.3);
        }

        return svg.Element("bar");
    }
}
