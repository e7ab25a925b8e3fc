using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Arithmetic on blocks of samples. Unlike the framework's, it is precompiled with the program.</summary>
internal static class Blocks
{
    /// <summary>Multiplies all samples by a factor.</summary>
    [MethodImpl(HotCode.Compiled)]
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

    /// <summary>Whether all samples are zero.</summary>
    [MethodImpl(HotCode.Compiled)]
    public static bool AreZero(ReadOnlySpan<float> samples)
    {
        ref var first = ref MemoryMarshal.GetReference(samples);
        var i = 0;
        for (; i + Vector256<float>.Count <= samples.Length; i += Vector256<float>.Count)
        {
            if (!Vector256.EqualsAll(Vector256.LoadUnsafe(ref first, (nuint)i), Vector256<float>.Zero))
            {
                return false;
            }
        }

        for (; i < samples.Length; i++)
        {
            if (samples[i] != 0)
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>Whether no magnitude exceeds a limit; false if a sample is not a number.</summary>
    [MethodImpl(HotCode.Compiled)]
    public static bool AreWithin(ReadOnlySpan<float> samples, float limit)
    {
        ref var first = ref MemoryMarshal.GetReference(samples);
        var limits = Vector256.Create(limit);
        var i = 0;
        for (; i + Vector256<float>.Count <= samples.Length; i += Vector256<float>.Count)
        {
            if (!Vector256.LessThanOrEqualAll(Vector256.Abs(Vector256.LoadUnsafe(ref first, (nuint)i)), limits))
            {
                return false;
            }
        }

        for (; i < samples.Length; i++)
        {
            if (!(Math.Abs(samples[i]) <= limit))
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>Joins two channels to frames.</summary>
    [MethodImpl(HotCode.Compiled)]
    public static void Interleave(ReadOnlySpan<float> left, ReadOnlySpan<float> right, Span<float> frames)
    {
        right = right[..left.Length];
        var pairs = MemoryMarshal.Cast<float, ulong>(frames)[..left.Length];
        for (var i = 0; i < pairs.Length; i++)
        {
            var (first, second) = (BitConverter.SingleToUInt32Bits(left[i]), BitConverter.SingleToUInt32Bits(right[i]));
            pairs[i] = BitConverter.IsLittleEndian ? ((ulong)second << 32) | first : ((ulong)first << 32) | second;
        }
    }

    /// <summary>Splits frames into two channels.</summary>
    [MethodImpl(HotCode.Compiled)]
    public static void Split(ReadOnlySpan<float> frames, Span<float> left, Span<float> right)
    {
        right = right[..left.Length];
        var pairs = MemoryMarshal.Cast<float, ulong>(frames)[..left.Length];
        unchecked
        {
            for (var i = 0; i < pairs.Length; i++)
            {
                var (low, high) = (BitConverter.UInt32BitsToSingle((uint)pairs[i]), BitConverter.UInt32BitsToSingle((uint)(pairs[i] >> 32)));
                (left[i], right[i]) = BitConverter.IsLittleEndian ? (low, high) : (high, low);
            }
        }
    }

    /// <summary>The greatest magnitude of the samples; 0 if there are none.</summary>
    [MethodImpl(HotCode.Compiled)]
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
