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
    /// <param name="quality">From <see cref="Quality"/>.</param>
    /// <param name="sampleRate">Frames a second.</param>
    public static LowPassCoefficients For(float cutoffCents, double quality, int sampleRate)
    {
        var cutoff = Math.Clamp(Units.Hertz(cutoffCents), LowestCutoffHertz, HighestCutoff * sampleRate);
        var g = Math.Tan(Math.PI * cutoff / sampleRate);
        var a1 = 1 / (1 + (g * (g + (1 / quality))));
        return new LowPassCoefficients((float)a1, (float)(g * a1), (float)(g * g * a1));
    }

    /// <summary>The gain that goes with a resonance: half of its height is taken off at 0 Hz (8.1.3, generator 9).</summary>
    public static float Gain(float resonanceCentibels) => Units.Amplitude(resonanceCentibels / 2);

    /// <summary>
    /// The pole quality whose peak stands as high over the gain at 0 Hz as the generator says. A height of 0 gives 0.7071, the flattest
    /// filter that has no peak; the section wants that one "not resonant".
    /// </summary>
    public static double Quality(float resonanceCentibels)
    {
        // A low-pass of quality q peaks at q^2 / sqrt(q^2 - 1/4); solved for q.
        var peak = Math.Pow(10, Math.Max(0, resonanceCentibels) / 200);
        return Math.Sqrt(((peak * peak) + (peak * Math.Sqrt(Math.Max(0, (peak * peak) - 1)))) / 2);
    }
}
