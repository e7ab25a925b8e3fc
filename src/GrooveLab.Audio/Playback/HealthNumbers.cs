namespace GrooveLab.Audio.Playback;

/// <summary>All counters of playing at one moment. A counter above 0 is a problem, unless it says otherwise.</summary>
public readonly record struct HealthNumbers
{
    /// <summary><see cref="HealthKind.Faults"/>.</summary>
    public long Faults { get; init; }

    /// <summary><see cref="HealthKind.FailedBars"/>.</summary>
    public long FailedBars { get; init; }

    /// <summary><see cref="HealthKind.LateBars"/>.</summary>
    public long LateBars { get; init; }

    /// <summary><see cref="HealthKind.Gaps"/>; a lower bound, because sound servers hide some.</summary>
    public long Gaps { get; init; }

    /// <summary><see cref="HealthKind.DroppedEvents"/>.</summary>
    public long DroppedEvents { get; init; }

    /// <summary><see cref="HealthKind.NotesBeyondRoom"/>.</summary>
    public long NotesBeyondRoom { get; init; }

    /// <summary><see cref="HealthKind.UnplayableNotes"/>.</summary>
    public long UnplayableNotes { get; init; }

    /// <summary>Voices ended to make room for others, audible or not. Not a problem.</summary>
    public long StolenVoices { get; init; }

    /// <summary><see cref="HealthKind.CutNotes"/>.</summary>
    public long CutNotes { get; init; }

    /// <summary>Sounds missing from the bank, whose nearest sound plays instead. Not a problem.</summary>
    public long SubstitutedPrograms { get; init; }

    /// <summary><see cref="HealthKind.UnpreparedPrograms"/>.</summary>
    public long UnpreparedPrograms { get; init; }

    /// <summary><see cref="HealthKind.IgnoredCalls"/>.</summary>
    public long IgnoredCalls { get; init; }

    /// <summary><see cref="HealthKind.UnusableSamples"/>.</summary>
    public long UnusableSamples { get; init; }

    /// <summary>Frames that the limiter reduced by any amount. Not a problem.</summary>
    public long LimitedFrames { get; init; }

    /// <summary><see cref="HealthKind.SquashedFrames"/>.</summary>
    public long SquashedFrames { get; init; }

    /// <summary><see cref="HealthKind.DeviceLosses"/>.</summary>
    public long DeviceLosses { get; init; }

    /// <summary><see cref="HealthKind.LostMidi"/>.</summary>
    public long LostMidi { get; init; }

    /// <summary><see cref="HealthKind.LostReports"/>.</summary>
    public long LostReports { get; init; }
}
