using System.Runtime.InteropServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>Arrays that the collector does not move, for loops that work with addresses. Create them with the synthesizer or bank, never later.</summary>
internal static unsafe class Pinned
{
    /// <summary>An array of zeros that have been written: the system provides untouched pages only on first access, while the audio thread waits.</summary>
    public static float[] Floats(int count)
    {
        var floats = GC.AllocateUninitializedArray<float>(count, pinned: true);
        floats.AsSpan().Clear();
        return floats;
    }

    /// <summary>The address of the first element; valid as long as the array is reachable.</summary>
    public static float* Address(float[] pinned) => (float*)Marshal.UnsafeAddrOfPinnedArrayElement(pinned, 0);
}
