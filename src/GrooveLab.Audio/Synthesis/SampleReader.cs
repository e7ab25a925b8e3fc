using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.Arm;
using System.Runtime.Intrinsics.X86;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Reads the next frames of a voice's sample, four at a time without a gather: one load brings all neighbours of a place, one row of the
/// table all their weights.
/// </summary>
/// <remarks>
/// Whether a frame is read among four or alone depends on where the caller splits, so both ways add in the same order and give the same bits.
/// </remarks>
internal static unsafe class SampleReader
{
    private const int Together = 4;

    /// <summary>Reads frames; silence after the sample's end.</summary>
    public static void Read(ref SampleCursor cursor, SamplePool pool, WeightTable weights, float* output, int frames)
    {
        var table = weights.Weights;
        switch (weights.Taps, pool.IsDeep)
        {
            case (4, false):
                Read<FourPoints>(ref cursor, pool, table, output, frames);
                break;
            case (4, true):
                Read<FourDeepPoints>(ref cursor, pool, table, output, frames);
                break;
            case (_, false):
                Read<EightPoints>(ref cursor, pool, table, output, frames);
                break;
            default:
                Read<EightDeepPoints>(ref cursor, pool, table, output, frames);
                break;
        }
        pool.KeepAlive();
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void Read<TNeighbours>(ref SampleCursor cursor, SamplePool pool, float* weights, float* output, int frames)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var high = pool.High;
            var low = pool.Low;
            var increment = cursor.Increment;
            var (from, to) = Inside<TNeighbours>(cursor);
            var position = cursor.Position;
            var i = 0;
            while (i < frames)
            {
                // Twice as many at once where there are: half the asking.
                while (i + (2 * Together) <= frames && position >= from && position + (7 * increment) < to)
                {
                    ReadFour<TNeighbours>(high, low, position, increment, weights, output + i);
                    ReadFour<TNeighbours>(high, low, position + (4 * increment), increment, weights, output + i + Together);
                    position += 8 * increment;
                    i += 2 * Together;
                }
                while (i + Together <= frames && position >= from && position + (3 * increment) < to)
                {
                    ReadFour<TNeighbours>(high, low, position, increment, weights, output + i);
                    position += 4 * increment;
                    i += Together;
                }
                cursor.Position = position;
                if (cursor.IsLooping && (int)(position >> 32) >= cursor.LoopEnd)
                {
                    cursor.WrapAround();
                    position = cursor.Position;
                    (from, to) = Inside<TNeighbours>(cursor);
                }
                else if (i < frames)
                {
                    if ((int)(position >> 32) >= cursor.End)
                    {
                        cursor.HasEnded = true;
                        new Span<float>(output + i, frames - i).Clear();
                        return;
                    }
                    output[i++] = position >= from && position < to
                        ? Sum(TNeighbours.Weigh(high, low, position + WeightTable.Half, weights))
                        : AtEdge<TNeighbours>(cursor, pool, position >= to, weights);
                    position += increment;
                }
            }
            cursor.Position = position;
            if (cursor.IsLooping && (int)(position >> 32) >= cursor.LoopEnd)
                cursor.WrapAround();
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static void ReadFour<TNeighbours>(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var rounded = position + WeightTable.Half;
            var a = TNeighbours.Weigh(high, low, rounded, weights);
            rounded += increment;
            var b = TNeighbours.Weigh(high, low, rounded, weights);
            rounded += increment;
            var c = TNeighbours.Weigh(high, low, rounded, weights);
            rounded += increment;
            var d = TNeighbours.Weigh(high, low, rounded, weights);
            SumEach(a, b, c, d).Store(output);
        }
    }

    /// <summary>The positions at which every neighbour can be read where it lies; rounding may go to the next point.</summary>
    private static (ulong From, ulong To) Inside<TNeighbours>(in SampleCursor cursor)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var isSeamless = cursor.IsLooping && cursor.IsSeamless;
            var first = (cursor.HasLooped && !isSeamless ? cursor.LoopStart : cursor.Start) + TNeighbours.Before;
            var limit = isSeamless ? cursor.LoopEnd : (cursor.IsLooping ? cursor.LoopEnd : cursor.End) - TNeighbours.Before - 2;
            return ((ulong)first << 32, (ulong)Math.Max(limit, 0) << 32);
        }
    }

    private static float AtEdge<TNeighbours>(in SampleCursor cursor, SamplePool pool, bool isAtEnd, float* weights)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var rounded = cursor.Position + WeightTable.Half;
            if (cursor.Seam != null && cursor.IsLooping && (isAtEnd || cursor.HasLooped))
            {
                // Seen from the seam, the loop's start is what comes after its end.
                if (!isAtEnd)
                    rounded += (ulong)(cursor.LoopEnd - cursor.LoopStart) << 32;
                rounded -= (ulong)(cursor.LoopEnd - SampleCursor.SeamReach) << 32;
                return Sum(TNeighbours.Weigh(cursor.Seam, null, rounded, weights));
            }
            var points = stackalloc float[8];
            var first = (int)(rounded >> 32) - TNeighbours.Before;
            for (var tap = 0; tap < 2 * (TNeighbours.Before + 1); tap++)
                points[tap] = cursor.Point(pool, first + tap);
            return Sum(TNeighbours.WeighCopies(points, rounded, weights));
        }
    }

    /// <summary>The sum of a vector's halves' sums, the order in which <see cref="SumEach"/> adds.</summary>
    private static float Sum(Vector128<float> v) => (v.GetElement(0) + v.GetElement(1)) + (v.GetElement(2) + v.GetElement(3));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<float> SumEach(Vector128<float> a, Vector128<float> b, Vector128<float> c, Vector128<float> d)
    {
        if (Sse3.IsSupported)
            return Sse3.HorizontalAdd(Sse3.HorizontalAdd(a, b), Sse3.HorizontalAdd(c, d));
        if (AdvSimd.Arm64.IsSupported)
            return AdvSimd.Arm64.AddPairwise(AdvSimd.Arm64.AddPairwise(a, b), AdvSimd.Arm64.AddPairwise(c, d));
        return Vector128.Create(Sum(a), Sum(b), Sum(c), Sum(d));
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<float> Four(short* points) => Sse41.IsSupported
        ? Sse2.ConvertToVector128Single(Sse41.ConvertToVector128Int32(points))
        : Vector128.ConvertToSingle(Vector128.WidenLower(Vector128.CreateScalarUnsafe(*(long*)points).AsInt16()));

    /// <summary>Four points of 24 bits: the upper sixteen and the lower eight lie apart (SoundFont 2.04, section 6.2).</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<float> FourDeep(short* high, byte* low)
    {
        var lower = Vector128.Create(low[0], low[1], low[2], (float)low[3]);
        return Four(high) + (lower * (1f / 256));
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<float> Row(float* weights, ulong position, int taps, int offset) =>
        Vector128.Load(unchecked(
            (float*)((byte*)weights + ((uint)(position >> (WeightTable.PhaseShift - (taps == 4 ? 4 : 5))) & (uint)((WeightTable.Phases - 1) * taps * 4)))
            + offset));

    /// <summary>How many neighbours, and where they come from.</summary>
    private interface INeighbours
    {
        /// <summary>Points before the place's own; there is one more after it.</summary>
        static abstract int Before { get; }

        /// <summary>Products of neighbours and weights, to be added up; the position has half a place added.</summary>
        static abstract Vector128<float> Weigh(short* high, byte* low, ulong position, float* weights);

        /// <summary>The same from copies.</summary>
        static abstract Vector128<float> WeighCopies(float* points, ulong position, float* weights);
    }

    private readonly struct FourPoints : INeighbours
    {
        public static int Before => 1;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static Vector128<float> Weigh(short* high, byte* low, ulong position, float* weights) =>
            Four(unchecked(high + (nint)(position >> 32) - 1)) * Row(weights, position, 4, 0);

        public static Vector128<float> WeighCopies(float* points, ulong position, float* weights) =>
            Vector128.Load(points) * Row(weights, position, 4, 0);
    }

    private readonly struct FourDeepPoints : INeighbours
    {
        public static int Before => 1;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static Vector128<float> Weigh(short* high, byte* low, ulong position, float* weights)
        {
            var first = unchecked((nint)(position >> 32) - 1);
            return FourDeep(unchecked(high + first), unchecked(low + first)) * Row(weights, position, 4, 0);
        }

        public static Vector128<float> WeighCopies(float* points, ulong position, float* weights) =>
            FourPoints.WeighCopies(points, position, weights);
    }

    private readonly struct EightPoints : INeighbours
    {
        public static int Before => 3;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static Vector128<float> Weigh(short* high, byte* low, ulong position, float* weights)
        {
            var first = unchecked(high + (nint)(position >> 32) - 3);
            return (Four(first) * Row(weights, position, 8, 0)) + (Four(unchecked(first + 4)) * Row(weights, position, 8, 4));
        }

        public static Vector128<float> WeighCopies(float* points, ulong position, float* weights) =>
            (Vector128.Load(points) * Row(weights, position, 8, 0)) + (Vector128.Load(points + 4) * Row(weights, position, 8, 4));
    }

    private readonly struct EightDeepPoints : INeighbours
    {
        public static int Before => 3;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static Vector128<float> Weigh(short* high, byte* low, ulong position, float* weights)
        {
            var first = unchecked((nint)(position >> 32) - 3);
            return (FourDeep(unchecked(high + first), unchecked(low + first)) * Row(weights, position, 8, 0))
                + (FourDeep(unchecked(high + first + 4), unchecked(low + first + 4)) * Row(weights, position, 8, 4));
        }

        public static Vector128<float> WeighCopies(float* points, ulong position, float* weights) =>
            EightPoints.WeighCopies(points, position, weights);
    }
}
