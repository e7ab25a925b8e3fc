namespace GrooveLab.Audio.Synthesis;

/// <summary>The fields that <see cref="VoiceLanes"/> keeps for each voice. The kernels depend on the order: two gains, then their two steps.</summary>
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

    /// <summary>All bits set if the filter is on, none if it is off.</summary>
    FilterMask,
    Left,
    Right,
    LeftStep,
    RightStep,
    Reverb,
    Chorus,
    ReverbStep,
    ChorusStep,

    /// <summary>The number of fields.</summary>
    Count,
}
