using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The coefficients of a resonant two-pole low-pass as a state-variable filter integrated by the trapezoidal rule: with g the tangent of half
/// the cutoff's angle, a1 = 1 / (1 + g (g + 1/q)), a2 = g a1, a3 = g a2. <see cref="CutoffTable"/> makes them.
/// </summary>
/// <remarks>
/// This form keeps its precision in 32 bits down to the lowest cutoffs, and its state never gains energy for any of these
/// coefficients nor for any mixture of two sets of them, so that ramping from one set to the next is always stable.
/// (V. Zavalishin, The Art of VA Filter Design, chapters 3-4; A. Simper, Linear Trapezoidal Integrated SVF.)
/// </remarks>
internal readonly record struct LowPassCoefficients(float A1, float A2, float A3)
{
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
