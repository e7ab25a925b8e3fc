using System.Runtime.InteropServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>Arrays that the collector does not move, for loops that work with addresses. Made when a synthesizer or bank is, never later.</summary>
internal static unsafe class Pinned
{
    /// <summary>Zeros.</summary>
    public static float[] Floats(int count) => GC.AllocateArray<float>(count, pinned: true);

    /// <summary>The address of the first; good as long as the array is reachable.</summary>
    public static float* Address(float[] pinned) => (float*)Marshal.UnsafeAddrOfPinnedArrayElement(pinned, 0);
}
