namespace GrooveLab.Audio.Playback;

/// <summary>What can go wrong while music plays, the worst first.</summary>
public enum HealthKind
{
    /// <summary>Playing stopped because of an error.</summary>
    Stopped,

    /// <summary>No sound device; the music continues in silence.</summary>
    NoDevice,

    /// <summary>Blocks of 64 frames that were silent because the engine failed.</summary>
    Faults,

    /// <summary>Bars that could not be composed in time and were replaced by the bar before.</summary>
    FailedBars,

    /// <summary>Bar lines that came before their bar was ready.</summary>
    LateBars,

    /// <summary>Gaps that the device reported.</summary>
    Gaps,

    /// <summary>Notes and controller steps that came too late or had no room.</summary>
    DroppedEvents,

    /// <summary>Notes beyond the most that a bar holds.</summary>
    NotesBeyondRoom,

    /// <summary>Notes without a valid key or channel.</summary>
    UnplayableNotes,

    /// <summary>Notes cut short while they were audible, because all voices were in use.</summary>
    CutNotes,

    /// <summary>Sounds that were not loaded when they were needed.</summary>
    UnpreparedPrograms,

    /// <summary>Messages to a channel, key or controller that does not exist.</summary>
    IgnoredCalls,

    /// <summary>Samples that were not finite numbers and were silenced.</summary>
    UnusableSamples,

    /// <summary>Frames that the limiter reduced by more than <see cref="Engine.Limiter.UnheardDecibels"/> dB.</summary>
    SquashedFrames,

    /// <summary>The number of times the device was lost.</summary>
    DeviceLosses,

    /// <summary>MIDI messages that were not sent because they waited too long; all notes were then released.</summary>
    LostMidi,

    /// <summary>Reports of the engine that were lost because they were not read in time.</summary>
    LostReports,

    /// <summary>A failure that was caught.</summary>
    Failure,
}

/// <summary>One problem.</summary>
/// <param name="Kind">What kind of problem.</param>
/// <param name="Count">How often it happened; 1 for a state.</param>
/// <param name="Short">In a few words, for a narrow screen: "2 bars late".</param>
/// <param name="Words">In full, with the remedy if there is one; no full stop.</param>
public sealed record HealthEntry(HealthKind Kind, long Count, string Short, string Words);
