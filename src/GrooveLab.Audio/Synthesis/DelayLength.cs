using System.Numerics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Lengths of delay lines.</summary>
internal static class DelayLength
{
    /// <summary>The next power of two that holds so many frames: a place in such a line is found by masking.</summary>
    public static int PowerOfTwo(double frames) => (int)BitOperations.RoundUpToPowerOf2((uint)Math.Ceiling(frames));

    /// <summary>The next whole number of quanta that holds so many frames.</summary>
    public static int WholeQuanta(int frames) => (frames + Quantum.Frames - 1) / Quantum.Frames * Quantum.Frames;
}
