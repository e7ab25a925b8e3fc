using System.Runtime.InteropServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>Arrays that the collector does not move, for loops that work with addresses. Made when a synthesizer or bank is, never later.</summary>
internal static unsafe class Pinned
{
    /// <summary>Zeros that were written: memory which only promises to be zero is made when it is first touched, while the audio thread waits.</summary>
    public static float[] Floats(int count)
    {
        var floats = GC.AllocateUninitializedArray<float>(count, pinned: true);
        floats.AsSpan().Clear();
        return floats;
    }

    /// <summary>The address of the first; good as long as the array is reachable.</summary>
    public static float* Address(float[] pinned) => (float*)Marshal.UnsafeAddrOfPinnedArrayElement(pinned, 0);
}
