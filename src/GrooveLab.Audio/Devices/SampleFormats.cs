using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Devices;

/// <summary>Converts floats, full scale at 1, to the integers of devices and files.</summary>
/// <remarks>Rounds to nearest, ties to even; clips values beyond full scale; NaN becomes silence.</remarks>
internal static class SampleFormats
{
    /// <summary>One 16-bit sample, 1.0 being 32,768 steps.</summary>
    public static short ToInt16(float sample) =>
        float.IsNaN(sample) ? (short)0 : (short)Math.Clamp(MathF.Round(sample * 32768f), -32768f, 32767f);

    /// <summary>One 24-bit sample in an int, 1.0 being 2^23 steps.</summary>
    public static int ToInt24(float sample) =>
        float.IsNaN(sample) ? 0 : (int)Math.Clamp(Math.Round(sample * 8388608.0), -8388608.0, 8388607.0);

    /// <summary>One 32-bit sample, 1.0 being 2^31 steps.</summary>
    public static int ToInt32(float sample) =>
        float.IsNaN(sample) ? 0 : (int)Math.Clamp(Math.Round(sample * 2147483648.0), -2147483648.0, 2147483647.0);

    /// <summary>Converts many 16-bit samples, with the same results as one by one.</summary>
    /// <exception cref="ArgumentException">The destination is shorter than the source.</exception>
    public static void ToInt16(ReadOnlySpan<float> source, Span<short> destination)
    {
        var i = 0;
        for (; i + Vector256<short>.Count <= source.Length; i += Vector256<short>.Count)
        {
            Vector256.Narrow(Steps16(source[i..]), Steps16(source[(i + Vector256<float>.Count)..])).CopyTo(destination[i..]);
        }

        for (; i < source.Length; i++)
        {
            destination[i] = ToInt16(source[i]);
        }
    }

    public static void ToInt32(ReadOnlySpan<float> source, Span<int> destination)
    {
        for (var i = 0; i < source.Length; i++)
        {
            destination[i] = ToInt32(source[i]);
        }
    }

    private static Vector256<int> Steps16(ReadOnlySpan<float> source)
    {
        var samples = Vector256.Create(source);
        var numbers = Vector256.ConditionalSelect(Vector256.Equals(samples, samples), samples, Vector256<float>.Zero);
        var steps = Vector256.Round(numbers * 32768f);
        return Vector256.ConvertToInt32(Vector256.Min(Vector256.Max(steps, Vector256.Create(-32768f)), Vector256.Create(32767f)));
    }
}
