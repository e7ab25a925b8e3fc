namespace GrooveLab.Audio.Playback;

/// <summary>What may go wrong while music plays, the gravest first.</summary>
public enum HealthKind
{
    /// <summary>Playing has stopped, against what was asked.</summary>
    Stopped,

    /// <summary>There is no sound device; music goes on in silence.</summary>
    NoDevice,

    /// <summary>Blocks of 64 frames that the engine failed to make, and that were silent.</summary>
    Faults,

    /// <summary>Bars that could not be composed in time, and for which the bar before was played.</summary>
    FailedBars,

    /// <summary>Bar lines that came before their bar did.</summary>
    LateBars,

    /// <summary>Gaps that the device has owned up to.</summary>
    Gaps,

    /// <summary>Notes and controllers' steps whose moment was over, or for which there was no room.</summary>
    DroppedEvents,

    /// <summary>Notes beyond what a bar holds.</summary>
    NotesBeyondRoom,

    /// <summary>Notes for which there is no key or channel.</summary>
    UnplayableNotes,

    /// <summary>Notes cut short while they could still be heard, because all voices were in use.</summary>
    CutVoices,

    /// <summary>Sounds that were not ready when they were asked for.</summary>
    UnpreparedPrograms,

    /// <summary>Messages to a channel, key or controller that does not exist.</summary>
    IgnoredCalls,

    /// <summary>Samples that were not numbers, and were silenced.</summary>
    UnusableSamples,

    /// <summary>Frames from which the limiter took more than <see cref="Engine.Limiter.UnheardDecibels"/>.</summary>
    SquashedFrames,

    /// <summary>How often the device was lost.</summary>
    DeviceLosses,

    /// <summary>Reports of the engine that nobody took in time.</summary>
    LostReports,

    /// <summary>A failure that was caught and survived.</summary>
    Failure,
}

/// <summary>One thing that is or was not as it should be.</summary>
/// <param name="Kind">What.</param>
/// <param name="Count">How often; 1 where it is a state.</param>
/// <param name="Short">In a few words, for a narrow screen: "2 bars late".</param>
/// <param name="Words">As a sentence without its full stop, with the remedy where there is one.</param>
public sealed record HealthEntry(HealthKind Kind, long Count, string Short, string Words);
