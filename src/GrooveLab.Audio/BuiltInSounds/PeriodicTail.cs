using System.Numerics;
using GrooveLab.Music.Analysis;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>Ends a sample in an exactly periodic loop.</summary>
/// <remarks>
/// Measures each partial of the stiff string and continues it in the loop as an exact multiple of the fundamental, with its phase kept in
/// the middle of a cross-fade of one loop. In a plain loop, partials that are not whole multiples or still decay would be heard as a flutter at
/// the loop's rate.
/// </remarks>
internal static class PeriodicTail
{
    /// <summary>Rewrites <paramref name="frames"/> from <paramref name="from"/> on: one loop of cross-fade, then the periodic loop.</summary>
    /// <param name="frames">The sound, at least two loops longer than <paramref name="from"/>.</param>
    /// <param name="from">Where the cross-fade begins.</param>
    /// <param name="tuning">The loop.</param>
    /// <param name="stiffness">The string's inharmonicity B.</param>
    public static void Close(double[] frames, int from, LoopTuning tuning, double stiffness)
    {
        var n = tuning.Frames;
        var spectrum = new Complex[n];
        var weighted = new double[n];
        for (var i = 0; i < n; i++)
        {
            weighted[i] = (1 - Math.Cos(2 * Math.PI * i / n)) * frames[from + i];
        }

        for (var k = 1; k * tuning.Periods < 0.45 * n; k++)
        {
            var turn = 2 * Math.PI * k / tuning.Period * Math.Sqrt((1 + (stiffness * k * k)) / (1 + stiffness));
            if (turn >= Math.PI)
            {
                break;
            }

            // A Hann window over one loop, whose middle is that of the cross-fade; phases count from there.
            var sum = Complex.Zero;
            Complex phasor = Complex.FromPolarCoordinates(1, turn * n / 2), step = Complex.FromPolarCoordinates(1, -turn);
            for (var i = 0; i < n; i++)
            {
                sum += weighted[i] * phasor;
                phasor *= step;
            }

            spectrum[k * tuning.Periods] = 2 * sum / n * Complex.FromPolarCoordinates(1, -Math.PI * k * tuning.Periods);
        }

        Fourier.Backward(spectrum);
        for (var i = from; i < frames.Length; i++)
        {
            var periodic = spectrum[(i - from) % n].Real;
            var weight = i - from < n ? 0.5 - (0.5 * Math.Cos(Math.PI * (i - from) / n)) : 1;
            frames[i] += weight * (periodic - frames[i]);
        }
    }
}
