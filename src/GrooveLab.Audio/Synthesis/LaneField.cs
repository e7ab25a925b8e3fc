namespace GrooveLab.Audio.Synthesis;

/// <summary>What <see cref="VoiceLanes"/> keeps for each voice. The order matters to the kernels: gains come as two values and their two steps.</summary>
internal enum LaneField
{
    Filter1,
    Filter2,
    A1,
    A2,
    A3,
    A1Step,
    A2Step,
    A3Step,

    /// <summary>All bits set where the filter is in, none where it is not.</summary>
    FilterMask,
    Left,
    Right,
    LeftStep,
    RightStep,
    Reverb,
    Chorus,
    ReverbStep,
    ChorusStep,

    /// <summary>How many there are.</summary>
    Count,
}
