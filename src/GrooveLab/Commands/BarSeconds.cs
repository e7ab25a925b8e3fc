using GrooveLab.Music.Bars;

namespace GrooveLab.Commands;

/// <summary>The start and length of consecutive bars in seconds, for reports; the first bar line is second 0.</summary>
internal sealed class BarSeconds
{
    private double _at;

    /// <summary>The length of a bar in seconds, including ramps.</summary>
    public static double LengthOf(Bar bar)
    {
        var seconds = 0.0;
        for (var i = 0; i < bar.Tempi.Count; i++)
        {
            var end = i + 1 < bar.Tempi.Count ? bar.Tempi[i + 1].Onset : bar.Length;
            seconds += bar.Tempi[i].Tempo.Seconds(end - bar.Tempi[i].Onset).ToDouble();
        }

        return seconds;
    }

    /// <summary>The start and length of the next bar.</summary>
    public (double Start, double Length) Next(Bar bar)
    {
        var start = _at;
        var length = LengthOf(bar);
        _at += length;
        // Rounded far below what can be heard, for readability.
        return (Math.Round(start, 9), Math.Round(length, 9));
    }
}
