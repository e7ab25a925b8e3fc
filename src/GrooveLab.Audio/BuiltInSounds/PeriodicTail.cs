using System.Numerics;
using GrooveLab.Music.Analysis;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>Ends a sample in an exactly periodic loop.</summary>
/// <remarks>
/// Keeps only whole multiples of the fundamental in the loop's spectrum, so that only whole periods remain, and cross-fades the natural
/// sound into it over one loop. In a plain loop, partials that still decay would be heard as a flutter at the loop's rate.
/// </remarks>
internal static class PeriodicTail
{
    /// <summary>Rewrites <paramref name="frames"/> from <paramref name="from"/> on: one loop of cross-fade, then the periodic loop.</summary>
    public static void Close(double[] frames, int from, LoopTuning tuning)
    {
        var n = tuning.Frames;
        var spectrum = new Complex[n];
        for (var i = 0; i < n; i++)
        {
            spectrum[i] = frames[from + i];
        }

        Fourier.Forward(spectrum);
        for (var i = 0; i < n; i++)
        {
            // Also removes the constant part and half the sample rate.
            if (i == 0 || i == n / 2 || i % tuning.Periods != 0 && (n - i) % tuning.Periods != 0)
            {
                spectrum[i] = 0;
            }
        }

        Fourier.Backward(spectrum);
        for (var i = from; i < frames.Length; i++)
        {
            var periodic = spectrum[(i - from) % n].Real / n;
            var weight = i - from < n ? 0.5 - (0.5 * Math.Cos(Math.PI * (i - from) / n)) : 1;
            frames[i] += weight * (periodic - frames[i]);
        }
    }
}
