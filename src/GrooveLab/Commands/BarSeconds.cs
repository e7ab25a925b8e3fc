using GrooveLab.Music.Bars;

namespace GrooveLab.Commands;

/// <summary>The seconds of bars taken one after another, for reports; the first bar line is second 0.</summary>
internal sealed class BarSeconds
{
    private double _at;

    /// <summary>How long a bar lasts, ramps included.</summary>
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

    /// <summary>Where the next bar starts and how long it lasts.</summary>
    public (double Start, double Length) Next(Bar bar)
    {
        var start = _at;
        var length = LengthOf(bar);
        _at += length;
        // Far below anything that can be heard, and readable.
        return (Math.Round(start, 9), Math.Round(length, 9));
    }
}
