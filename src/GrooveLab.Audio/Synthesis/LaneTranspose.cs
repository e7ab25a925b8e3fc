using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.X86;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Turns a row of frames for each voice into a row of voices for each frame.</summary>
internal static unsafe class LaneTranspose
{
    /// <summary>Frames that are turned at once; both sides must have room for the next multiple of it.</summary>
    public const int Step = 8;

    /// <summary>Turns the rows.</summary>
    /// <param name="rows">Sixteen rows, one a voice.</param>
    /// <param name="rowLength">From one row's start to the next.</param>
    /// <param name="lanes">A row of sixteen for each frame.</param>
    /// <param name="frames">Frames; some more than these are written.</param>
    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    public static void Turn(float* rows, int rowLength, float* lanes, int frames)
    {
        unchecked
        {
            for (var frame = 0; frame < frames; frame += Step)
            {
                if (Avx.IsSupported)
                {
                    Turn8(rows + frame, rowLength, lanes + (frame * VoiceLanes.Count));
                    Turn8(rows + frame + (8 * rowLength), rowLength, lanes + (frame * VoiceLanes.Count) + 8);
                    continue;
                }
                for (var lane = 0; lane < VoiceLanes.Count; lane += 4)
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
            for (var frame = 0; frame < 4; frame++)
            {
                var turned = Vector128.Create(r0.GetElement(frame), r1.GetElement(frame), r2.GetElement(frame), r3.GetElement(frame));
                turned.Store(lanes + (frame * VoiceLanes.Count));
            }
        }
    }
}
