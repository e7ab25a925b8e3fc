using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// One sample with its range of keys and velocities, its generators in range and its modulators merged: everything that starts a
/// voice. Immutable.
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

    /// <summary>The pool that holds the points.</summary>
    public required SamplePool Pool { get; init; }

    /// <summary>First sample point, an index into the pool.</summary>
    public required int Start { get; init; }

    /// <summary>The point after the last one.</summary>
    public required int End { get; init; }

    public required int LoopStart { get; init; }

    /// <summary>The point after the last one of the loop, equivalent to <see cref="LoopStart"/>.</summary>
    public required int LoopEnd { get; init; }

    public required LoopMode LoopMode { get; init; }

    /// <summary>Whether the points around the loop's start equal those around its end, as section 7.10 requires of good samples.</summary>
    public required bool IsSeamless { get; init; }

    /// <summary>
    /// For a long enough loop of 16-bit points: the last sixteen points before its end, then the sixteen that follow after the jump. Pinned.
    /// </summary>
    public required short[]? Seam { get; init; }

    /// <summary>The first point of <see cref="Seam"/>, or null; valid as long as this region is reachable.</summary>
    public short* SeamPoints => Seam is null ? null : (short*)System.Runtime.InteropServices.Marshal.UnsafeAddrOfPinnedArrayElement(Seam, 0);

    /// <summary>The sample rate of the recording, in Hz.</summary>
    public required int SampleRate { get; init; }

    /// <summary>The key at which the sample sounds as recorded.</summary>
    public required int RootKey { get; init; }

    /// <summary>The sample's own correction, in cents.</summary>
    public required int PitchCorrection { get; init; }

    /// <summary>A note ends other notes of its class; 0 means no class.</summary>
    public required int ExclusiveClass { get; init; }

    /// <summary>The key to use instead of the one played, or -1.</summary>
    public required int KeyOverride { get; init; }

    /// <summary>The velocity to use instead of the one played, or -1.</summary>
    public required int VelocityOverride { get; init; }

    public float this[GeneratorEnum generator] => Generators[(int)generator];

    public bool Answers(int key, int velocity) =>
        key >= LowKey && key <= HighKey && velocity >= LowVelocity && velocity <= HighVelocity;
}
