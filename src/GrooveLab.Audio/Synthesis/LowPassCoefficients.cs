using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The coefficients of a resonant two-pole low-pass, a state-variable filter integrated by the trapezoidal rule: with g the tangent of
/// half the cutoff's angle, a1 = 1 / (1 + g (g + 1/q)), a2 = g a1, a3 = g a2. <see cref="CutoffTable"/> computes them.
/// </summary>
/// <remarks>
/// This form keeps its precision in 32 bits down to the lowest cutoffs, and its state never gains energy for any of these
/// coefficients or any mixture of two sets of them, so ramping from one set to the next is always stable.
/// (V. Zavalishin, The Art of VA Filter Design, chapters 3-4; A. Simper, Linear Trapezoidal Integrated SVF.)
/// </remarks>
internal readonly record struct LowPassCoefficients(float A1, float A2, float A3)
{
    /// <summary>The gain that belongs to a resonance: the level at 0 Hz falls by half of its height (8.1.3, generator 9).</summary>
    public static float Gain(float resonanceCentibels) => Units.Amplitude(resonanceCentibels / 2);

    /// <summary>
    /// The quality factor whose peak rises above the gain at 0 Hz by the generator's amount. A height of 0 gives 0.7071, the flattest
    /// filter without a peak; the section calls it "not resonant".
    /// </summary>
    [MethodImpl(HotCode.Compiled)]
    public static double Quality(float resonanceCentibels)
    {
        // A low-pass of quality q peaks at q^2 / sqrt(q^2 - 1/4); solved for q.
        var peak = Math.Pow(10, Math.Max(0, resonanceCentibels) / 200);
        return Math.Sqrt(((peak * peak) + (peak * Math.Sqrt(Math.Max(0, (peak * peak) - 1)))) / 2);
    }
}
