using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.Arm;
using System.Runtime.Intrinsics.X86;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Reads the next frames of a voice's sample, up to eight at a time without gather instructions: one load brings all neighbours of a place.
/// </summary>
/// <remarks>
/// The caller's splits decide whether a frame is read with others or alone, so all paths add in the same order and give the same bits.
/// </remarks>
internal static unsafe class SampleReader
{
    // Converts a 16-bit sample point to a number between -1 and 1.
    private const float Scale = 1f / (1 << 15);

    private const float FractionScale = 1f / (1 << 24);

    /// <summary>Reads frames, and silence after the sample's end.</summary>
    /// <param name="cursor">The position; advanced by the frames read.</param>
    /// <param name="pool">The points.</param>
    /// <param name="weights">The table of eight weights, or null for the cubic through four points.</param>
    /// <param name="output">The frames, with room for seven more, because frames come in eights.</param>
    /// <param name="frames">Number of frames.</param>
    [MethodImpl(HotCode.Compiled)]
    public static void Read(ref SampleCursor cursor, SamplePool pool, WeightTable? weights, float* output, int frames)
    {
        if (weights is null)
        {
            if (pool.IsDeep)
                Read<FourDeepPoints>(ref cursor, pool, null, output, frames);
            else
                Read<FourPoints>(ref cursor, pool, null, output, frames);
        }
        else if (pool.IsDeep)
            Read<EightDeepPoints>(ref cursor, pool, weights.Weights, output, frames);
        else
            Read<EightPoints>(ref cursor, pool, weights.Weights, output, frames);
        pool.KeepAlive();
    }

    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    private static void Read<TNeighbours>(ref SampleCursor cursor, SamplePool pool, float* weights, float* output, int frames)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var high = pool.High;
            var low = pool.Low;
            var increment = cursor.Increment;
            if (!cursor.IsInsideKnown)
                FindInside<TNeighbours>(ref cursor);
            var (from, to) = (cursor.From, cursor.To);
            var position = cursor.Position;
            var i = 0;
            while (i < frames)
            {
                if (position >= from)
                {
                    var run = TNeighbours.Run(high, position, increment, to, output + i, frames - i);
                    position += (ulong)run * increment;
                    i += run;
                }
                while (i < frames && position >= from && position + (7 * increment) < to)
                {
                    TNeighbours.Eight(high, low, position, increment, weights, output + i);
                    var count = Math.Min(8, frames - i);
                    position += (ulong)count * increment;
                    i += count;
                }
                cursor.Position = position;
                if (cursor.IsLooping && (int)(position >> 32) >= cursor.LoopEnd)
                {
                    cursor.WrapAround();
                    position = cursor.Position;
                    if (!cursor.IsInsideKnown)
                        FindInside<TNeighbours>(ref cursor);
                    (from, to) = (cursor.From, cursor.To);
                    continue;
                }
                if (i == frames)
                    return;
                if (OnSeam<TNeighbours>(cursor, from, 7 * increment, out var onSeam))
                {
                    TNeighbours.Eight(cursor.Seam, null, onSeam, increment, weights, output + i);
                    var count = Math.Min(8, frames - i);
                    position += (ulong)count * increment;
                    i += count;
                }
                else if (i + 4 <= frames && position >= from && position + (3 * increment) < to)
                {
                    TNeighbours.Four(high, low, position, increment, weights, output + i);
                    position += 4 * increment;
                    i += 4;
                }
                else if ((int)(position >> 32) < cursor.End)
                {
                    output[i++] = position >= from && position < to
                        ? TNeighbours.One(high, low, position, weights)
                        : AtEdge<TNeighbours>(cursor, pool, from, weights);
                    position += increment;
                }
                else
                {
                    cursor.HasEnded = true;
                    new Span<float>(output + i, frames - i).Clear();
                    return;
                }
            }
            cursor.Position = position;
            if (cursor.IsLooping && (int)(position >> 32) >= cursor.LoopEnd)
                cursor.WrapAround();
        }
    }

    /// <summary>Finds the positions at which every neighbour can be read in place; rounding may reach the next point.</summary>
    [MethodImpl(HotCode.Compiled)]
    private static void FindInside<TNeighbours>(ref SampleCursor cursor)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var isSeamless = cursor.IsLooping && cursor.IsSeamless;
            var first = (cursor.HasLooped && !isSeamless ? cursor.LoopStart : cursor.Start) + TNeighbours.Before;
            var limit = isSeamless ? cursor.LoopEnd : (cursor.IsLooping ? cursor.LoopEnd : cursor.End) - TNeighbours.Before - 2;
            (cursor.From, cursor.To) = ((ulong)first << 32, (ulong)Math.Max(limit, 0) << 32);
            cursor.IsInsideKnown = true;
        }
    }

    /// <summary>
    /// Finds the cursor's position on the copy of its loop's seam, where the loop's start follows its end.
    /// </summary>
    /// <param name="cursor">The cursor.</param>
    /// <param name="from">The first position whose neighbours can be read in place.</param>
    /// <param name="further">How far the copy must reach beyond the position.</param>
    /// <param name="onSeam">The position on the copy.</param>
    /// <returns>Whether the loop has such a copy with all neighbours on it.</returns>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static bool OnSeam<TNeighbours>(in SampleCursor cursor, ulong from, ulong further, out ulong onSeam)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var isAtStart = cursor.Position < from;
            onSeam = cursor.Position - ((ulong)((isAtStart ? cursor.LoopStart : cursor.LoopEnd) - SampleCursor.SeamReach) << 32);
            var limit = (ulong)((2 * SampleCursor.SeamReach) - TNeighbours.Before - 2) << 32;
            return cursor.Seam != null && cursor.IsLooping && (cursor.HasLooped || !isAtStart)
                && onSeam >= (ulong)TNeighbours.Before << 32 && onSeam < limit && further < limit - onSeam;
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private static float AtEdge<TNeighbours>(in SampleCursor cursor, SamplePool pool, ulong from, float* weights)
        where TNeighbours : struct, INeighbours
    {
        unchecked
        {
            var position = cursor.Position;
            if (OnSeam<TNeighbours>(cursor, from, 0, out var onSeam))
                return TNeighbours.One(cursor.Seam, null, onSeam, weights);
            var points = stackalloc float[8];
            var first = (int)(TNeighbours.Rounded(position) >> 32) - TNeighbours.Before;
            for (var tap = 0; tap < 2 * (TNeighbours.Before + 1); tap++)
                points[tap] = cursor.Point(pool, first + tap);
            return TNeighbours.OneOfCopies(points, position, weights);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<float> Four(short* points) => Sse41.IsSupported
        ? Sse2.ConvertToVector128Single(Sse41.ConvertToVector128Int32(points))
        : Vector128.ConvertToSingle(Vector128.WidenLower(Vector128.CreateScalarUnsafe(*(long*)points).AsInt16()));

    /// <summary>Four points of 24 bits; the upper sixteen and the lower eight are stored separately (SoundFont 2.04, section 6.2).</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<float> FourDeep(short* high, byte* low)
    {
        var lower = Vector128.Create(low[0], low[1], low[2], (float)low[3]);
        return Four(high) + (lower * (1f / 256));
    }

    /// <summary>The number of neighbours, their source and their weights.</summary>
    private interface INeighbours
    {
        /// <summary>Points before the one at the position; one more follows after it.</summary>
        static abstract int Before { get; }

        /// <summary>The position rounded to the table's places.</summary>
        static abstract ulong Rounded(ulong position);

        /// <summary>One frame.</summary>
        static abstract float One(short* high, byte* low, ulong position, float* weights);

        /// <summary>One frame from copies of its neighbours.</summary>
        static abstract float OneOfCopies(float* points, ulong position, float* weights);

        /// <summary>Four frames in a row.</summary>
        static abstract void Four(short* high, byte* low, ulong position, ulong increment, float* weights, float* output);

        /// <summary>Eight frames in a row.</summary>
        static abstract void Eight(short* high, byte* low, ulong position, ulong increment, float* weights, float* output);

        /// <summary>As many groups of eight frames as a faster path can read.</summary>
        /// <returns>The number of frames read; 0 if there is no faster path.</returns>
        static abstract int Run(short* high, ulong position, ulong increment, ulong to, float* output, int frames);
    }

    /// <summary>The cubic through four points of 16 bits.</summary>
    private readonly struct FourPoints : INeighbours
    {
        // A point in the upper half of a 32-bit integer needs no sign extension; the scale compensates.
        private const float UpperScale = 1f / (1 << 16) / (1 << 15);

        public static int Before => 1;

        public static ulong Rounded(ulong position) => position;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static float One(short* high, byte* low, ulong position, float* weights)
        {
            var at = unchecked(high + (nint)(position >> 32));
            return Cubic.At(at[-1], at[0], at[1], at[2], Fraction(position)) * Scale;
        }

        public static float OneOfCopies(float* points, ulong position, float* weights) =>
            Cubic.At(points[0], points[1], points[2], points[3], Fraction(position)) * Scale;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Four(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                var at = position;
                var a = At(high, at);
                var b = At(high, at += increment);
                var c = At(high, at += increment);
                var d = At(high, at + increment);
                if (Sse2.IsSupported)
                {
                    var (ab, cd) = (Sse2.UnpackLow(a, b).AsInt32(), Sse2.UnpackLow(c, d).AsInt32());
                    var (p01, p23) = (Sse2.UnpackLow(ab, cd).AsInt16(), Sse2.UnpackHigh(ab, cd).AsInt16());
                    var zero = Vector128<short>.Zero;
                    var value = Cubic.At(
                        Sse2.ConvertToVector128Single(Sse2.UnpackLow(zero, p01).AsInt32()),
                        Sse2.ConvertToVector128Single(Sse2.UnpackHigh(zero, p01).AsInt32()),
                        Sse2.ConvertToVector128Single(Sse2.UnpackLow(zero, p23).AsInt32()),
                        Sse2.ConvertToVector128Single(Sse2.UnpackHigh(zero, p23).AsInt32()), Fractions(position, increment));
                    (value * UpperScale).Store(output);
                    return;
                }
                StoreCubic(
                    Vector128.ConvertToSingle(Vector128.WidenLower(a)), Vector128.ConvertToSingle(Vector128.WidenLower(b)),
                    Vector128.ConvertToSingle(Vector128.WidenLower(c)), Vector128.ConvertToSingle(Vector128.WidenLower(d)),
                    Fractions(position, increment), output);
            }
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Eight(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                if (!Avx2.IsSupported)
                {
                    Four(high, low, position, increment, weights, output);
                    Four(high, low, position + (4 * increment), increment, weights, output + 4);
                    return;
                }
                var at = position;
                var a = At(high, at);
                var b = At(high, at += increment);
                var c = At(high, at += increment);
                var d = At(high, at += increment);
                var e = At(high, at += increment);
                var f = At(high, at += increment);
                var g = At(high, at += increment);
                var h = At(high, at + increment);
                // Pair the first and second neighbours of each frame, then combine frames in fours; the upper four frames use the upper half.
                var abef = Vector256.Create(Sse2.UnpackLow(a, b), Sse2.UnpackLow(e, f)).AsInt32();
                var cdgh = Vector256.Create(Sse2.UnpackLow(c, d), Sse2.UnpackLow(g, h)).AsInt32();
                var p01 = Avx2.UnpackLow(abef, cdgh).AsInt16();
                var p23 = Avx2.UnpackHigh(abef, cdgh).AsInt16();
                var zero = Vector256<short>.Zero;
                var fractions = Vector256.Create((uint)position) + (Vector256.Create((uint)increment) * Vector256.Create(0u, 1, 2, 3, 4, 5, 6, 7));
                var x = Avx.ConvertToVector256Single(Vector256.ShiftRightLogical(fractions, 8).AsInt32()) * FractionScale;
                var value = Cubic.At(
                    Avx.ConvertToVector256Single(Avx2.UnpackLow(zero, p01).AsInt32()),
                    Avx.ConvertToVector256Single(Avx2.UnpackHigh(zero, p01).AsInt32()),
                    Avx.ConvertToVector256Single(Avx2.UnpackLow(zero, p23).AsInt32()),
                    Avx.ConvertToVector256Single(Avx2.UnpackHigh(zero, p23).AsInt32()), x);
                (value * UpperScale).Store(output);
            }
        }

        /// <summary>
        /// If a frame advances at most four thirds of a point, the neighbours of four frames lie within eight points: one load brings them, and
        /// a byte shuffle picks each frame's.
        /// </summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static int Run(short* high, ulong position, ulong increment, ulong to, float* output, int frames)
        {
            unchecked
            {
                // The last of the eight points loaded for the second four frames must still be inside the limit for neighbours.
                const ulong Reach = 4UL << 32;
                const ulong Widest = (4UL << 32) / 3;
                if (!Avx2.IsSupported || increment > Widest)
                    return 0;
                var done = 0;
                var places = Vector256.Create(position);
                var first = places + Vector256.Create(0, increment, 4 * increment, 5 * increment);
                var second = places + Vector256.Create(2 * increment, 3 * increment, 6 * increment, 7 * increment);
                var step = Vector256.Create(8 * increment);
                while (done + 8 <= frames && position + (4 * increment) + Reach < to)
                {
                    var points = Vector256.Create(
                        Vector128.Load(high + (nint)(position >> 32) - 1),
                        Vector128.Load(high + (nint)((position + (4 * increment)) >> 32) - 1)).AsByte();
                    var wholes = Avx.Shuffle(first.AsSingle(), second.AsSingle(), 0b11_01_11_01).AsInt32();
                    var fractions = Avx.Shuffle(first.AsSingle(), second.AsSingle(), 0b10_00_10_00).AsInt32();
                    // A point's two bytes go to the upper half of its integer; a set top bit makes the other bytes zero.
                    var places8 = (wholes - Avx2.Shuffle(wholes, 0)) * Vector256.Create(0x02020000);
                    var x = Avx.ConvertToVector256Single(Vector256.ShiftRightLogical(fractions, 8)) * FractionScale;
                    var value = Cubic.At(
                        Pick(points, places8, 0x01008080), Pick(points, places8, 0x03028080), Pick(points, places8, 0x05048080),
                        Pick(points, places8, 0x07068080), x);
                    (value * UpperScale).Store(output + done);
                    first += step;
                    second += step;
                    position += 8 * increment;
                    done += 8;
                }
                return done;
            }
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private static Vector256<float> Pick(Vector256<byte> points, Vector256<int> places, int offset) =>
            Avx.ConvertToVector256Single(Avx2.Shuffle(points, (places + Vector256.Create(offset)).AsByte()).AsInt32());

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private static Vector128<short> At(short* high, ulong position) =>
            Vector128.CreateScalarUnsafe(*(long*)unchecked(high + (nint)(position >> 32) - 1)).AsInt16();
    }

    /// <summary>The cubic through four points of 24 bits.</summary>
    private readonly struct FourDeepPoints : INeighbours
    {
        public static int Before => 1;

        public static ulong Rounded(ulong position) => position;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static float One(short* high, byte* low, ulong position, float* weights)
        {
            // Banks of 24 bits have no seam copies, because a seam has no lower bits.
            var points = At(high, low, position);
            return Cubic.At(points.GetElement(0), points.GetElement(1), points.GetElement(2), points.GetElement(3), Fraction(position)) * Scale;
        }

        public static float OneOfCopies(float* points, ulong position, float* weights) => FourPoints.OneOfCopies(points, position, weights);

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Four(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                StoreCubic(
                    At(high, low, position), At(high, low, position + increment), At(high, low, position + (2 * increment)),
                    At(high, low, position + (3 * increment)), Fractions(position, increment), output);
            }
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Eight(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                Four(high, low, position, increment, weights, output);
                Four(high, low, position + (4 * increment), increment, weights, output + 4);
            }
        }

        public static int Run(short* high, ulong position, ulong increment, ulong to, float* output, int frames) => 0;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private static Vector128<float> At(short* high, byte* low, ulong position)
        {
            var first = unchecked((nint)(position >> 32) - 1);
            return FourDeep(unchecked(high + first), unchecked(low + first));
        }
    }

    /// <summary>Eight points of 16 bits with the weights of the table.</summary>
    private readonly struct EightPoints : INeighbours
    {
        public static int Before => 3;

        public static ulong Rounded(ulong position) => unchecked(position + WeightTable.Half);

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static float One(short* high, byte* low, ulong position, float* weights) => Sum(Weigh(high, Rounded(position), weights));

        public static float OneOfCopies(float* points, ulong position, float* weights)
        {
            var row = Row(weights, Rounded(position));
            return Sum((Vector128.Load(points) * Vector128.Load(row)) + (Vector128.Load(points + 4) * Vector128.Load(row + 4)));
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Four(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                var rounded = Rounded(position);
                SumEach(
                    Weigh(high, rounded, weights), Weigh(high, rounded + increment, weights), Weigh(high, rounded + (2 * increment), weights),
                    Weigh(high, rounded + (3 * increment), weights)).Store(output);
            }
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Eight(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                Four(high, low, position, increment, weights, output);
                Four(high, low, position + (4 * increment), increment, weights, output + 4);
            }
        }

        public static int Run(short* high, ulong position, ulong increment, ulong to, float* output, int frames) => 0;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private static Vector128<float> Weigh(short* high, ulong rounded, float* weights)
        {
            var first = unchecked(high + (nint)(rounded >> 32) - 3);
            var row = Row(weights, rounded);
            return (SampleReader.Four(first) * Vector128.Load(row)) + (SampleReader.Four(unchecked(first + 4)) * Vector128.Load(row + 4));
        }
    }

    /// <summary>Eight points of 24 bits with the weights of the table.</summary>
    private readonly struct EightDeepPoints : INeighbours
    {
        public static int Before => 3;

        public static ulong Rounded(ulong position) => EightPoints.Rounded(position);

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static float One(short* high, byte* low, ulong position, float* weights) =>
            Sum(Weigh(high, low, Rounded(position), weights));

        public static float OneOfCopies(float* points, ulong position, float* weights) => EightPoints.OneOfCopies(points, position, weights);

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Four(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                var rounded = Rounded(position);
                SumEach(
                    Weigh(high, low, rounded, weights), Weigh(high, low, rounded + increment, weights),
                    Weigh(high, low, rounded + (2 * increment), weights), Weigh(high, low, rounded + (3 * increment), weights)).Store(output);
            }
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public static void Eight(short* high, byte* low, ulong position, ulong increment, float* weights, float* output)
        {
            unchecked
            {
                Four(high, low, position, increment, weights, output);
                Four(high, low, position + (4 * increment), increment, weights, output + 4);
            }
        }

        public static int Run(short* high, ulong position, ulong increment, ulong to, float* output, int frames) => 0;

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private static Vector128<float> Weigh(short* high, byte* low, ulong rounded, float* weights)
        {
            var first = unchecked((nint)(rounded >> 32) - 3);
            var row = Row(weights, rounded);
            return (FourDeep(unchecked(high + first), unchecked(low + first)) * Vector128.Load(row))
                + (FourDeep(unchecked(high + first + 4), unchecked(low + first + 4)) * Vector128.Load(row + 4));
        }
    }

    /// <summary>The upper 24 bits of a position's fraction.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static float Fraction(ulong position) => unchecked((int)((uint)position >> 8)) * FractionScale;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<float> Fractions(ulong position, ulong increment)
    {
        var all = Vector128.Create(unchecked((uint)position)) + (Vector128.Create(unchecked((uint)increment)) * Vector128.Create(0u, 1, 2, 3));
        return Vector128.ConvertToSingle(Vector128.ShiftRightLogical(all, 8).AsInt32()) * FractionScale;
    }

    /// <summary>The cubics of four frames, each from its own four points.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static void StoreCubic(
        Vector128<float> a, Vector128<float> b, Vector128<float> c, Vector128<float> d, Vector128<float> x, float* output)
    {
        var (p0, p1, p2, p3) = LaneTranspose.Turn4(a, b, c, d);
        (Cubic.At(p0, p1, p2, p3, x) * Scale).Store(output);
    }

    /// <summary>The sum of a vector, added in the order of <see cref="SumEach"/>: each half first.</summary>
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

    /// <summary>The table's row for a rounded position.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static float* Row(float* weights, ulong rounded) => unchecked(
        (float*)((byte*)weights + ((uint)(rounded >> (WeightTable.PhaseShift - 5)) & (uint)((WeightTable.Phases - 1) * WeightTable.Taps * sizeof(float)))));
}
