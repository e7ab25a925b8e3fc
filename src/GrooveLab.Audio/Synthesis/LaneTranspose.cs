using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.Arm;
using System.Runtime.Intrinsics.X86;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Transposes a row of frames for each voice into a row of voices for each frame.</summary>
internal static unsafe class LaneTranspose
{
    /// <summary>Frames transposed at once; input and output must have room for the next multiple of it.</summary>
    public const int Step = 8;

    /// <summary>Transposes the rows.</summary>
    /// <param name="rows">A row for each voice.</param>
    /// <param name="rowLength">Distance from one row's start to the next.</param>
    /// <param name="lanes">A row of <see cref="VoiceLanes.Count"/> for each frame.</param>
    /// <param name="frames">Number of frames; a few more than these are written.</param>
    /// <param name="voices">Number of voices, a multiple of eight.</param>
    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    public static void Turn(float* rows, int rowLength, float* lanes, int frames, int voices)
    {
        unchecked
        {
            for (var frame = 0; frame < frames; frame += Step)
            {
                if (Avx.IsSupported)
                {
                    for (var lane = 0; lane < voices; lane += 8)
                        Turn8(rows + frame + (lane * rowLength), rowLength, lanes + (frame * VoiceLanes.Count) + lane);
                    continue;
                }
                for (var lane = 0; lane < voices; lane += 4)
                {
                    Turn4(rows + frame + (lane * rowLength), rowLength, lanes + (frame * VoiceLanes.Count) + lane);
                    Turn4(rows + frame + 4 + (lane * rowLength), rowLength, lanes + ((frame + 4) * VoiceLanes.Count) + lane);
                }
            }
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static void Turn8(float* rows, int rowLength, float* lanes)
    {
        unchecked
        {
            var r0 = Vector256.Load(rows);
            var r1 = Vector256.Load(rows + rowLength);
            var r2 = Vector256.Load(rows + (2 * rowLength));
            var r3 = Vector256.Load(rows + (3 * rowLength));
            var r4 = Vector256.Load(rows + (4 * rowLength));
            var r5 = Vector256.Load(rows + (5 * rowLength));
            var r6 = Vector256.Load(rows + (6 * rowLength));
            var r7 = Vector256.Load(rows + (7 * rowLength));
            var t0 = Avx.UnpackLow(r0, r1);
            var t1 = Avx.UnpackHigh(r0, r1);
            var t2 = Avx.UnpackLow(r2, r3);
            var t3 = Avx.UnpackHigh(r2, r3);
            var t4 = Avx.UnpackLow(r4, r5);
            var t5 = Avx.UnpackHigh(r4, r5);
            var t6 = Avx.UnpackLow(r6, r7);
            var t7 = Avx.UnpackHigh(r6, r7);
            var s0 = Avx.Shuffle(t0, t2, 0x44);
            var s1 = Avx.Shuffle(t0, t2, 0xee);
            var s2 = Avx.Shuffle(t1, t3, 0x44);
            var s3 = Avx.Shuffle(t1, t3, 0xee);
            var s4 = Avx.Shuffle(t4, t6, 0x44);
            var s5 = Avx.Shuffle(t4, t6, 0xee);
            var s6 = Avx.Shuffle(t5, t7, 0x44);
            var s7 = Avx.Shuffle(t5, t7, 0xee);
            Avx.Permute2x128(s0, s4, 0x20).Store(lanes);
            Avx.Permute2x128(s1, s5, 0x20).Store(lanes + VoiceLanes.Count);
            Avx.Permute2x128(s2, s6, 0x20).Store(lanes + (2 * VoiceLanes.Count));
            Avx.Permute2x128(s3, s7, 0x20).Store(lanes + (3 * VoiceLanes.Count));
            Avx.Permute2x128(s0, s4, 0x31).Store(lanes + (4 * VoiceLanes.Count));
            Avx.Permute2x128(s1, s5, 0x31).Store(lanes + (5 * VoiceLanes.Count));
            Avx.Permute2x128(s2, s6, 0x31).Store(lanes + (6 * VoiceLanes.Count));
            Avx.Permute2x128(s3, s7, 0x31).Store(lanes + (7 * VoiceLanes.Count));
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static void Turn4(float* rows, int rowLength, float* lanes)
    {
        unchecked
        {
            var r0 = Vector128.Load(rows);
            var r1 = Vector128.Load(rows + rowLength);
            var r2 = Vector128.Load(rows + (2 * rowLength));
            var r3 = Vector128.Load(rows + (3 * rowLength));
            var (l0, l1, l2, l3) = Turn4(r0, r1, r2, r3);
            l0.Store(lanes);
            l1.Store(lanes + VoiceLanes.Count);
            l2.Store(lanes + (2 * VoiceLanes.Count));
            l3.Store(lanes + (3 * VoiceLanes.Count));
        }
    }

    /// <summary>Transposes rows of four.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static (Vector128<float> First, Vector128<float> Second, Vector128<float> Third, Vector128<float> Fourth) Turn4(
        Vector128<float> a, Vector128<float> b, Vector128<float> c, Vector128<float> d)
    {
        if (Sse.IsSupported)
        {
            var (ab, cd) = (Sse.UnpackLow(a, b), Sse.UnpackLow(c, d));
            var (abHigh, cdHigh) = (Sse.UnpackHigh(a, b), Sse.UnpackHigh(c, d));
            return (Sse.MoveLowToHigh(ab, cd), Sse.MoveHighToLow(cd, ab), Sse.MoveLowToHigh(abHigh, cdHigh), Sse.MoveHighToLow(cdHigh, abHigh));
        }
        if (AdvSimd.Arm64.IsSupported)
        {
            var (ac, bd) = (AdvSimd.Arm64.ZipLow(a, c), AdvSimd.Arm64.ZipLow(b, d));
            var (acHigh, bdHigh) = (AdvSimd.Arm64.ZipHigh(a, c), AdvSimd.Arm64.ZipHigh(b, d));
            return (AdvSimd.Arm64.ZipLow(ac, bd), AdvSimd.Arm64.ZipHigh(ac, bd), AdvSimd.Arm64.ZipLow(acHigh, bdHigh), AdvSimd.Arm64.ZipHigh(acHigh, bdHigh));
        }
        return (Column(0), Column(1), Column(2), Column(3));

        Vector128<float> Column(int at) => Vector128.Create(a.GetElement(at), b.GetElement(at), c.GetElement(at), d.GetElement(at));
    }
}
