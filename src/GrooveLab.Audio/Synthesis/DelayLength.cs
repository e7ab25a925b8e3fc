using System.Numerics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Lengths of delay lines.</summary>
internal static class DelayLength
{
    /// <summary>The smallest power of two that holds the given number of frames, so that masking finds a place in the line.</summary>
    public static int PowerOfTwo(double frames) => (int)BitOperations.RoundUpToPowerOf2((uint)Math.Ceiling(frames));

    /// <summary>The smallest number of whole quanta that holds the given number of frames, in frames.</summary>
    public static int WholeQuanta(int frames) => (frames + Quantum.Frames - 1) / Quantum.Frames * Quantum.Frames;
}
