using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// One sample with the keys and velocities that it answers, its generators in range and its modulators merged: what a voice
/// is started from. Immutable.
/// </summary>
internal sealed unsafe class Region
{
    public required int LowKey { get; init; }

    public required int HighKey { get; init; }

    public required int LowVelocity { get; init; }

    public required int HighVelocity { get; init; }

    /// <summary>Amounts by generator number, defaults filled in, clamped to section 8.1.3.</summary>
    public required float[] Generators { get; init; }

    public required Modulator[] Modulators { get; init; }

    /// <summary>Where the points are.</summary>
    public required SamplePool Pool { get; init; }

    /// <summary>First sample point, an index into the pool.</summary>
    public required int Start { get; init; }

    /// <summary>The point after the last.</summary>
    public required int End { get; init; }

    public required int LoopStart { get; init; }

    /// <summary>The point after the loop's last, equivalent to <see cref="LoopStart"/>.</summary>
    public required int LoopEnd { get; init; }

    public required LoopMode LoopMode { get; init; }

    /// <summary>Whether the points before and after the loop continue as the loop itself does, as section 7.10 asks of good samples.</summary>
    public required bool IsSeamless { get; init; }

    /// <summary>
    /// Of a loop of 16-bit points, if it is long enough: sixteen points up to its end, then the sixteen that it goes on with. Pinned.
    /// </summary>
    public required short[]? Seam { get; init; }

    /// <summary>The first point of <see cref="Seam"/>, or null; valid as long as this region is reachable.</summary>
    public short* SeamPoints => Seam is null ? null : (short*)System.Runtime.InteropServices.Marshal.UnsafeAddrOfPinnedArrayElement(Seam, 0);

    /// <summary>Points a second at which the sample was recorded.</summary>
    public required int SampleRate { get; init; }

    /// <summary>The key at which the sample sounds as recorded.</summary>
    public required int RootKey { get; init; }

    /// <summary>The sample's own correction, in cents.</summary>
    public required int PitchCorrection { get; init; }

    /// <summary>Notes of one class end each other; 0 is no class.</summary>
    public required int ExclusiveClass { get; init; }

    /// <summary>The key that stands in for the one played, or -1.</summary>
    public required int KeyOverride { get; init; }

    /// <summary>The velocity that stands in for the one played, or -1.</summary>
    public required int VelocityOverride { get; init; }

    public float this[GeneratorEnum generator] => Generators[(int)generator];

    public bool Answers(int key, int velocity) =>
        key >= LowKey && key <= HighKey && velocity >= LowVelocity && velocity <= HighVelocity;
}
