
namespace GrooveLab.Music.Bars;

/// <summary>The kinds of <see cref="ChannelEvent"/>.</summary>
public enum ChannelEventKind
{
    /// <summary>Note on: key, velocity 1-127.</summary>
    NoteOn,

    /// <summary>Note off: key.</summary>
    NoteOff,

    /// <summary>Controller change: number, value.</summary>
    Control,

    /// <summary>Program change: program, 0-127.</summary>
    Program,

    /// <summary>Channel pressure: value.</summary>
    Pressure,

    /// <summary>Pressure on one key (polyphonic key pressure): key, value.</summary>
    KeyPressure,

    /// <summary>Pitch wheel: 0-16383, centre 8192.</summary>
    PitchWheel,

    /// <summary>Resets all channels to the General MIDI defaults.</summary>
    Reset,

    /// <summary>Master volume, on top of the channel volumes: 0-16383, initially full.</summary>
    MasterVolume,

    /// <summary>Creates a channel a percussion channel from its next program change on (1), or a normal one (0).</summary>
    Percussion,
}

/// <summary>A message to one channel, as players receive it. Independent of files and parts; channels count from 0 and may exceed 15 when
/// a file has several ports.</summary>
/// <param name="Kind">What it does.</param>
/// <param name="Channel">The channel, from 0; 0 for <see cref="ChannelEventKind.Reset"/> and <see cref="ChannelEventKind.MasterVolume"/>.</param>
/// <param name="Number">Key, controller or program; 0 for the others.</param>
/// <param name="Value">Velocity, value, wheel or volume; 0 for the others.</param>
public readonly record struct ChannelEvent(ChannelEventKind Kind, int Channel, int Number, int Value);

/// <summary>A message and the sample frame on which it takes effect.</summary>
/// <param name="Frame">The frame, from 0.</param>
/// <param name="Event">The message.</param>
public readonly record struct TimedChannelEvent(long Frame, ChannelEvent Event);
