namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The grid of absolute frames on which slow quantities (pitch, cutoff, the ends of gain ramps) are computed. It starts at
/// frame 0 of the synthesizer, not at a call, so buffer sizes change nothing.
/// </summary>
internal static class Quantum
{
    /// <summary>Frames in one quantum.</summary>
    public const int Frames = 64;

    /// <summary>The place of a frame within its quantum.</summary>
    public static int Offset(long frame) => (int)(frame & (Frames - 1));
}
