using System.Globalization;
using System.Text;
using GrooveLab.Music.Sheets;

namespace GrooveLab.Exchange.Sheets;

/// <summary>Draws the way of the beating hand: one line through all beats, which strikes each at a dot; the longer a beat, the higher the hand swings after
/// it.</summary>
internal static class BeatingDrawing
{
    private const double Height = 31;
    private const double Ground = 25;
    private const double Top = 3;

    /// <summary>The drawing of a pattern.</summary>
    /// <param name="pattern">The pattern.</param>
    /// <param name="said">What it shows, for those who hear the page.</param>
    public static string Of(BeatingPattern pattern, string said)
    {
        var places = Places(pattern);
        var left = places.Min(place => place.X);
        var right = Math.Max(places.Max(place => place.X), 8);
        var svg = new SvgDrawing(right - left + 14, Height);
        var shift = 6 - left;
        var path = new StringBuilder();
        // The hand comes down from the top, over the first beat.
        path.Append(Point('M', shift, Top));
        var longest = pattern.Beats.Max(beat => beat.Units);
        if (pattern.Beats.Count == 1)
        {
            path.Append(FormattableString.Invariant($"L{shift:0.##} {Ground:0.##}C{shift + 9:0.##} {Ground - 1:0.##} {shift + 9:0.##} {Top + 4:0.##} {shift + 1.2:0.##} {Top + 0.5:0.##}"));
        }
        else
        {
            path.Append(Point('L', shift, Ground));
            for (var beat = 0; beat + 1 < places.Count; beat++)
            {
                var (from, to) = (places[beat], places[beat + 1]);
                var high = 3 + (8.5 * pattern.Beats[beat].Units / longest);
                path.Append(FormattableString.Invariant($"C{from.X + shift + ((to.X - from.X) * 0.15):0.##} {Math.Min(from.Y, to.Y) - high:0.##} {to.X + shift:0.##} {Math.Min(from.Y, to.Y) - high:0.##} {to.X + shift:0.##} {to.Y:0.##}"));
            }

            var last = places[^1];
            path.Append(FormattableString.Invariant($"C{last.X + shift + 3:0.##} {last.Y - 8:0.##} {shift + 4:0.##} {Top + 2:0.##} {shift + 0.8:0.##} {Top + 0.3:0.##}"));
        }

        svg.Path(path.ToString(), 0.45);
        svg.Path(FormattableString.Invariant($"M{shift - 1.1:0.##} {Ground - 4.2:0.##}L{shift + 1.1:0.##} {Ground - 4.2:0.##}L{shift:0.##} {Ground - 1.4:0.##}Z"), 0);
        for (var beat = 0; beat < places.Count; beat++)
        {
            svg.Dot(places[beat].X + shift, places[beat].Y, 1.1);
            svg.Centred(places[beat].X + shift, places[beat].Y + 5, (beat + 1).ToString(CultureInfo.InvariantCulture), 4, 5.5, bold: true);
        }

        return svg.Element("beating", said, 1.1);
    }

    private static string Point(char command, double x, double y) => FormattableString.Invariant($"{command}{x:0.##} {y:0.##}");

    // Beats going in stand one after another to the left, those going out to the right, the last one near the first.
    private static List<(double X, double Y)> Places(BeatingPattern pattern)
    {
        var places = new List<(double X, double Y)>();
        var ins = pattern.Beats.Count(beat => beat.Way == HandWay.In);
        var outs = pattern.Beats.Count(beat => beat.Way == HandWay.Out);
        var (seenIn, seenOut) = (0, 0);
        foreach (var beat in pattern.Beats)
        {
            places.Add(beat.Way switch
            {
                HandWay.Down => (0, Ground),
                HandWay.In => (-7.5 * ++seenIn, Ground - 1),
                HandWay.Out => ((ins > 0 ? 8 : 9) + (7.5 * seenOut++), Ground - 1),
                _ => (outs > 0 ? 8 + (7.5 * outs) : 8, Ground - 7),
            });
        }

        return places;
    }
}
