using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Playback;

/// <summary>Arithmetic on blocks of samples. Unlike the framework's, it is precompiled with the program.</summary>
internal static class Blocks
{
    /// <summary>Multiplies all samples by a factor.</summary>
    public static void Scale(Span<float> samples, float factor)
    {
        ref var first = ref MemoryMarshal.GetReference(samples);
        var i = 0;
        for (; i + Vector256<float>.Count <= samples.Length; i += Vector256<float>.Count)
        {
            (Vector256.LoadUnsafe(ref first, (nuint)i) * factor).StoreUnsafe(ref first, (nuint)i);
        }

        for (; i < samples.Length; i++)
        {
            samples[i] *= factor;
        }
    }

    /// <summary>The greatest magnitude of the samples; 0 if there are none.</summary>
    public static float Peak(ReadOnlySpan<float> samples)
    {
        ref var first = ref MemoryMarshal.GetReference(samples);
        var peaks = Vector256<float>.Zero;
        var i = 0;
        for (; i + Vector256<float>.Count <= samples.Length; i += Vector256<float>.Count)
        {
            peaks = Vector256.MaxNative(Vector256.Abs(Vector256.LoadUnsafe(ref first, (nuint)i)), peaks);
        }

        var peak = 0f;
        for (var lane = 0; lane < Vector256<float>.Count; lane++)
        {
            peak = Math.Max(peak, peaks.GetElement(lane));
        }

        for (; i < samples.Length; i++)
        {
            peak = Math.Max(peak, Math.Abs(samples[i]));
        }

        return peak;
    }
}
