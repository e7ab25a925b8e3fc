namespace GrooveLab.Audio.Playback;

/// <summary>Every counter of playing at one moment. All are 0 when all is well, but for those that say so.</summary>
public readonly record struct HealthNumbers
{
    /// <summary><see cref="HealthKind.Faults"/>.</summary>
    public long Faults { get; init; }

    /// <summary><see cref="HealthKind.FailedBars"/>.</summary>
    public long FailedBars { get; init; }

    /// <summary><see cref="HealthKind.LateBars"/>.</summary>
    public long LateBars { get; init; }

    /// <summary><see cref="HealthKind.Gaps"/>; a lower bound, because sound servers swallow some.</summary>
    public long Gaps { get; init; }

    /// <summary><see cref="HealthKind.DroppedEvents"/>.</summary>
    public long DroppedEvents { get; init; }

    /// <summary><see cref="HealthKind.NotesBeyondRoom"/>.</summary>
    public long NotesBeyondRoom { get; init; }

    /// <summary><see cref="HealthKind.UnplayableNotes"/>.</summary>
    public long UnplayableNotes { get; init; }

    /// <summary>Voices that gave way to others, heard or not. Not a fault in itself.</summary>
    public long StolenVoices { get; init; }

    /// <summary><see cref="HealthKind.CutVoices"/>.</summary>
    public long CutVoices { get; init; }

    /// <summary>Sounds that the bank does not have, and for which its nearest one plays. Not a fault in itself.</summary>
    public long SubstitutedPrograms { get; init; }

    /// <summary><see cref="HealthKind.UnpreparedPrograms"/>.</summary>
    public long UnpreparedPrograms { get; init; }

    /// <summary><see cref="HealthKind.IgnoredCalls"/>.</summary>
    public long IgnoredCalls { get; init; }

    /// <summary><see cref="HealthKind.UnusableSamples"/>.</summary>
    public long UnusableSamples { get; init; }

    /// <summary>Frames that the limiter held down, by however little. Not a fault in itself.</summary>
    public long LimitedFrames { get; init; }

    /// <summary><see cref="HealthKind.SquashedFrames"/>.</summary>
    public long SquashedFrames { get; init; }

    /// <summary><see cref="HealthKind.DeviceLosses"/>.</summary>
    public long DeviceLosses { get; init; }

    /// <summary><see cref="HealthKind.LostReports"/>.</summary>
    public long LostReports { get; init; }
}
