using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Sheets;

/// <summary>A bar, or a stretch of a bar too wide for a row, on a row.</summary>
/// <param name="Index">The index of the bar in its list.</param>
/// <param name="From">Where it begins, from the bar line.</param>
/// <param name="To">Where it ends.</param>
internal readonly record struct BarPiece(int Index, Span From, Span To)
{
    /// <summary>Its length.</summary>
    public Span Length => To - From;
}

/// <summary>A row of bars, all at the same scale.</summary>
/// <param name="Pieces">Its pieces, in order; never empty.</param>
/// <param name="Scale">Millimetres for a whole note.</param>
internal sealed record BarRow(IReadOnlyList<BarPiece> Pieces, double Scale)
{
    /// <summary>The width of a piece.</summary>
    public double WidthOf(BarPiece piece) => Scale * piece.Length.Wholes.ToDouble();
}

/// <summary>What a bar needs.</summary>
/// <param name="Meter">Its meter.</param>
/// <param name="From">Where it begins, from its bar line; negative for a pickup.</param>
/// <param name="Length">Its length.</param>
/// <param name="StartsRow">True when a row should begin with it.</param>
/// <param name="Contents">What stands in it, in order: where it begins, where the next begins, its width in millimetres and its width when it is pressed as far as it may be.</param>
/// <param name="Least">The least width of the whole bar, in millimetres.</param>
internal sealed record BarNeeds(BarMeter Meter, Span From, Span Length, bool StartsRow, IReadOnlyList<BarContent> Contents, double Least);

/// <summary>Something that stands in a bar.</summary>
/// <param name="At">Where it begins.</param>
/// <param name="End">Where the next begins.</param>
/// <param name="Width">Its width, in millimetres.</param>
/// <param name="Pressed">Its width when it is pressed as far as it may be.</param>
internal readonly record struct BarContent(Span At, Span End, double Width, double Pressed);

/// <summary>Divides bars into rows. Time runs evenly along a row: equal lengths are equally wide, and where there is room, in all rows of a section.</summary>
internal static class BarRows
{
    private const int MostBars = 8;

    // A unit is no narrower than its dot and no wider than is good for the eye; with less than the comfortable width rows are not joined.
    private const double NarrowestUnit = 1.9, ComfortableUnit = 5, WidestUnit = 21;

    /// <summary>The rows of a list of bars.</summary>
    /// <param name="bars">The bars; not empty.</param>
    /// <param name="width">The width of a row, in millimetres.</param>
    public static IReadOnlyList<BarRow> Of(IReadOnlyList<BarNeeds> bars, double width)
    {
        var rows = new List<IReadOnlyList<BarPiece>>();
        foreach (var (from, end) in Joined(bars, [.. Stretches(bars)], width))
        {
            Add(bars, from, end, width, rows);
        }

        // All rows at one scale, if each has room enough at it.
        var common = rows.Min(row => width / Wholes(row));
        return [.. rows.Select(row => new BarRow(row, Scale(bars, row, common, width)))];
    }

    private static double Scale(IReadOnlyList<BarNeeds> bars, IReadOnlyList<BarPiece> row, double common, double width)
    {
        var widest = row.Min(piece => WidestUnit / bars[piece.Index].Meter.Unit.Wholes.ToDouble());
        var needed = row.Max(piece => Needed(bars[piece.Index], piece, pressed: false));
        var wanted = Math.Max(Math.Min(common, widest), needed);
        return Math.Min(wanted, width / Wholes(row));
    }

    // From one bar that should begin a row to the next, at most eight bars.
    private static IEnumerable<(int From, int End)> Stretches(IReadOnlyList<BarNeeds> bars)
    {
        for (var from = 0; from < bars.Count;)
        {
            var end = from + 1;
            while (end < bars.Count && !bars[end].StartsRow && end - from < MostBars)
            {
                end++;
            }

            yield return (from, end);
            from = end;
        }
    }

    // Short stretches share a row.
    private static IEnumerable<(int From, int End)> Joined(IReadOnlyList<BarNeeds> bars, IReadOnlyList<(int From, int End)> stretches, double width)
    {
        for (var i = 0; i < stretches.Count;)
        {
            var (from, end) = stretches[i++];
            while (i < stretches.Count && stretches[i].End - from <= MostBars && IsEasy(from, stretches[i].End))
            {
                end = stretches[i++].End;
            }

            yield return (from, end);
        }

        bool IsEasy(int from, int end)
        {
            var pieces = Pieces(bars, from, end);
            var scale = width / Wholes(pieces);
            return pieces.All(piece => scale * bars[piece.Index].Meter.Unit.Wholes.ToDouble() >= ComfortableUnit && scale >= Needed(bars[piece.Index], piece, pressed: false));
        }
    }

    // A stretch in one row; else its halves; else, of one bar, the parts that fit.
    private static void Add(IReadOnlyList<BarNeeds> bars, int from, int end, double width, List<IReadOnlyList<BarPiece>> rows)
    {
        var pieces = Pieces(bars, from, end);
        var scale = width / Wholes(pieces);
        if (pieces.All(piece => scale >= Needed(bars[piece.Index], piece, pressed: false)))
        {
            rows.Add(pieces);
        }
        else if (end - from > 1)
        {
            // A pickup stays with the bar that it leads to.
            var half = bars[from].From < Span.Zero && end - from == 2 ? from : from + ((end - from + 1) / 2);
            if (half == from)
            {
                Break(bars, pieces, width, rows);
                return;
            }

            Add(bars, from, half, width, rows);
            Add(bars, half, end, width, rows);
        }
        else
        {
            Break(bars, pieces, width, rows);
        }
    }

    private static void Break(IReadOnlyList<BarNeeds> bars, IReadOnlyList<BarPiece> pieces, double width, List<IReadOnlyList<BarPiece>> rows)
    {
        var scale = width / Wholes(pieces);
        if (pieces.All(piece => scale >= Needed(bars[piece.Index], piece, pressed: true)))
        {
            rows.Add(pieces);
            return;
        }

        foreach (var piece in pieces)
        {
            var bar = bars[piece.Index];
            for (var at = piece.From; at < piece.To;)
            {
                var end = EndOf(bar, piece with { From = at }, width);
                rows.Add([new BarPiece(piece.Index, at, end)]);
                at = end;
            }
        }
    }

    // As far as it fits: up to a group if any group fits, else up to a unit.
    private static Span EndOf(BarNeeds bar, BarPiece piece, double width)
    {
        List<Span> places = [.. Places(bar).Where(place => place > piece.From && place < piece.To), piece.To];
        var fitting = places.FindAll(place => Fits(bar, piece with { To = place }, width));
        if (fitting.Count == 0 || fitting[^1] == piece.To)
        {
            return fitting.Count == 0 ? places[0] : piece.To;
        }

        var group = fitting.FindLast(place => bar.Meter.GroupStartUnits.Any(unit => bar.Meter.Unit * unit == place));
        return group > piece.From ? group : fitting[^1];
    }

    private static bool Fits(BarNeeds bar, BarPiece piece, double width) => width / piece.Length.Wholes.ToDouble() >= Needed(bar, piece, pressed: true);

    // Where a bar may be broken: on units, and where something stands between units.
    private static IEnumerable<Span> Places(BarNeeds bar) =>
        Enumerable.Range(0, bar.Meter.Units).Select(unit => bar.Meter.Unit * unit).Concat(bar.Contents.Select(content => content.At)).Distinct().Order();

    /// <summary>The scale that a piece needs.</summary>
    private static double Needed(BarNeeds bar, BarPiece piece, bool pressed)
    {
        var most = NarrowestUnit / bar.Meter.Unit.Wholes.ToDouble();
        if (piece.From == bar.From && piece.To == bar.From + bar.Length)
        {
            most = Math.Max(most, bar.Least / bar.Length.Wholes.ToDouble());
        }

        foreach (var content in bar.Contents)
        {
            // What begins before the piece stands at its start again.
            var (at, end) = (Span.Max(content.At, piece.From), Span.Min(content.End, piece.To));
            if (end > at)
            {
                most = Math.Max(most, (pressed ? content.Pressed : content.Width) / (end - at).Wholes.ToDouble());
            }
        }

        return most;
    }

    private static List<BarPiece> Pieces(IReadOnlyList<BarNeeds> bars, int from, int end) =>
        [.. Enumerable.Range(from, end - from).Select(index => new BarPiece(index, bars[index].From, bars[index].From + bars[index].Length))];

    private static double Wholes(IReadOnlyList<BarPiece> pieces) => pieces.Sum(piece => piece.Length.Wholes.ToDouble());
}
