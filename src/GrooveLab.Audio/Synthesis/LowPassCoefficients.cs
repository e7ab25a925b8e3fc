using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The coefficients of a resonant two-pole low-pass as a state-variable filter integrated by the trapezoidal rule.
/// </summary>
/// <remarks>
/// This form keeps its precision in 32 bits down to the lowest cutoffs, and its state never gains energy for any of these
/// coefficients nor for any mixture of two sets of them, so that ramping from one set to the next is always stable.
/// (V. Zavalishin, The Art of VA Filter Design, chapters 3-4; A. Simper, Linear Trapezoidal Integrated SVF.)
/// </remarks>
internal readonly record struct LowPassCoefficients(float A1, float A2, float A3)
{
    private const double HighestCutoff = 0.49;
    private const double LowestCutoffHertz = 5;

    /// <summary>Works the coefficients out.</summary>
    /// <param name="cutoffCents">Cutoff in absolute cents.</param>
    /// <param name="inverseQuality">One over <see cref="Quality"/>.</param>
    /// <param name="sampleRate">Frames a second.</param>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public static LowPassCoefficients For(float cutoffCents, double inverseQuality, int sampleRate)
    {
        var cutoff = Math.Clamp(Units.Hertz(cutoffCents), LowestCutoffHertz, HighestCutoff * sampleRate);
        // With g = sin / cos, a1 = 1 / (1 + g (g + 1/q)), a2 = g a1, a3 = g a2; multiplied out so that one division does.
        var (sine, cosine) = SineAndCosine(Math.PI * cutoff / sampleRate);
        var scale = 1 / ((cosine * cosine) + (sine * (sine + (cosine * inverseQuality))));
        return new LowPassCoefficients((float)(cosine * cosine * scale), (float)(sine * cosine * scale), (float)(sine * sine * scale));
    }

    /// <summary>
    /// Sine and cosine between 0 and half pi, by their series, to one part in 10^8; several times faster than the library's.
    /// </summary>
    internal static (double Sine, double Cosine) SineAndCosine(double x)
    {
        var y = x * x;
        var sine = (1 / 362880.0) + (y * ((-1 / 39916800.0) + (y * (1 / 6227020800.0))));
        sine = x * (1 + (y * ((-1 / 6.0) + (y * ((1 / 120.0) + (y * ((-1 / 5040.0) + (y * sine))))))));
        var cosine = (1 / 40320.0) + (y * ((-1 / 3628800.0) + (y * ((1 / 479001600.0) - (y * (1 / 87178291200.0))))));
        cosine = 1 + (y * (-0.5 + (y * ((1 / 24.0) + (y * ((-1 / 720.0) + (y * cosine)))))));
        return (sine, cosine);
    }

    /// <summary>The gain that goes with a resonance: half of its height is taken off at 0 Hz (8.1.3, generator 9).</summary>
    public static float Gain(float resonanceCentibels) => Units.Amplitude(resonanceCentibels / 2);

    /// <summary>
    /// The pole quality whose peak stands as high over the gain at 0 Hz as the generator says. A height of 0 gives 0.7071, the flattest
    /// filter that has no peak; the section wants that one "not resonant".
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public static double Quality(float resonanceCentibels)
    {
        // A low-pass of quality q peaks at q^2 / sqrt(q^2 - 1/4); solved for q.
        var peak = Math.Pow(10, Math.Max(0, resonanceCentibels) / 200);
        return Math.Sqrt(((peak * peak) + (peak * Math.Sqrt(Math.Max(0, (peak * peak) - 1)))) / 2);
    }
}
