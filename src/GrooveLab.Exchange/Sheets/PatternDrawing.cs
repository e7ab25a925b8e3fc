using GrooveLab.Music.Sheets;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Sheets;

/// <summary>Draws what a part plays in a bar, over the units of the bar.</summary>
internal static class PatternDrawing
{
    private const double LabelSize = 3.2;
    private const double Height = 19;
    private const double Line = 15.4;
    private const double Highest = 4.4, Lowest = 10.2;
    private const double WidestUnit = 13;

    // Room for what stands on the bar line.
    private const double Start = 1;

    /// <summary>The drawing of a pattern.</summary>
    /// <param name="pattern">The pattern.</param>
    /// <param name="width">The width that is there, in millimetres.</param>
    /// <param name="zoom">How much larger than on the band's sheet it is.</param>
    /// <param name="said">What it shows, for those who hear the page.</param>
    public static string Of(PartPattern pattern, double width, double zoom, string said)
    {
        var meter = pattern.Meter;
        var wide = Math.Min((width / zoom) - Start - 1, WidestUnit * meter.Units);
        var scale = wide / meter.Length.Wholes.ToDouble();
        var svg = new SvgDrawing(wide + Start + 1, Height);
        svg.Line(Start, Line - 3.4, Start, Line + 1.2, 0.5);
        svg.Line(wide + Start, Line - 3.4, wide + Start, Line + 1.2, 0.5);
        BarDrawing.Groups(svg, meter, Span.Zero, meter.Length, Start, Line, scale, 2.6);
        double X(Span at) => Start + (at.Wholes.ToDouble() * scale);
        for (var i = 0; i < pattern.Notes.Count; i++)
        {
            var note = pattern.Notes[i];
            var (x, room) = (X(note.Onset), note.Length.Wholes.ToDouble() * scale);
            Draw(svg, note, x, room);
        }

        // Labels of notes that sound together would stand on each other: only the lowest has one.
        foreach (var note in pattern.Notes.Where(note => note.Label.Length > 0).GroupBy(note => note.Onset).Select(together => together.MinBy(note => note.Height)!))
        {
            var next = pattern.Notes.Select(other => other.Onset).Where(onset => onset > note.Onset).DefaultIfEmpty(meter.Length).Min();
            var room = X(next) - X(note.Onset) - 0.3;
            if (room * 1.3 >= TextMeasure.Width(note.Label, LabelSize))
            {
                svg.Text(X(note.Onset) + 0.5, 3, note.Label, LabelSize, room);
            }
        }

        return svg.Element("pattern", said, zoom);
    }

    private static void Draw(SvgDrawing svg, PatternNote note, double x, double room)
    {
        var y = Lowest - ((Lowest - Highest) * note.Height);
        switch (note.Sign)
        {
            case PatternSign.Held:
                // A short head shows each new note, the thin line how long it lasts.
                var length = Math.Max(1, room - 0.8);
                svg.Bar(x + 0.5, y - 0.7, Math.Min(1.6, length), 1.4);
                svg.Bar(x + 0.5, y - 0.28, length, 0.56);
                break;
            case PatternSign.Dot:
                svg.Dot(x + 0.5, y, Math.Min(0.8, Math.Max(0.4, room / 3)));
                break;
            case PatternSign.Click:
                svg.Line(x - 0.6, 7, x + 1.6, 10, 0.5);
                svg.Line(x - 0.6, 10, x + 1.6, 7, 0.5);
                break;
            default:
                Stroke(svg, note.Sign, x + 0.5, Math.Min(1.5, Math.Max(0.6, room / 3)));
                break;
        }
    }

    // An arrow in the direction of the hand: filled when the stroke rings, an outline when it is damped.
    private static void Stroke(SvgDrawing svg, PatternSign sign, double x, double half)
    {
        var (tail, head) = sign is PatternSign.Down or PatternSign.DownDamped ? (2.0, 10.6) : (10.6, 2.0);
        var neck = head + (tail > head ? 3 : -3);
        var rings = sign is PatternSign.Down or PatternSign.Up;
        var path = FormattableString.Invariant($"M{x - half:0.##} {neck:0.##}L{x + half:0.##} {neck:0.##}L{x:0.##} {head:0.##}Z");
        svg.Path(path, rings ? 0 : 0.3);
        svg.Line(x, tail, x, neck, rings ? 0.7 : 0.25);
    }
}
