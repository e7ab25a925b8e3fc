
namespace GrooveLab.Music.Bars;

/// <summary>What a <see cref="ChannelEvent"/> does.</summary>
public enum ChannelEventKind
{
    /// <summary>A key starts: the key, its velocity 1-127.</summary>
    NoteOn,

    /// <summary>A key ends: the key.</summary>
    NoteOff,

    /// <summary>A controller's step: its number, its value.</summary>
    Control,

    /// <summary>Another sound: the program, 0-127.</summary>
    Program,

    /// <summary>Channel pressure: its value.</summary>
    Pressure,

    /// <summary>Pressure on one key (polyphonic key pressure): the key, its value.</summary>
    KeyPressure,

    /// <summary>Pitch wheel: 0-16383, 8192 is the middle.</summary>
    PitchWheel,

    /// <summary>Everything is as General MIDI has it at the start, on all channels.</summary>
    Reset,

    /// <summary>The volume of everything, whatever the channels have: 0-16383, full at the start.</summary>
    MasterVolume,

    /// <summary>Whether a channel plays percussion from its next program on: 1 or 0.</summary>
    Percussion,
}

/// <summary>
/// A message to one channel, as whoever plays takes it. Not tied to a file or a part; channels are counted from 0 and may go beyond 15, where
/// a file has several ports.
/// </summary>
/// <param name="Kind">What it does.</param>
/// <param name="Channel">The channel, from 0; 0 for <see cref="ChannelEventKind.Reset"/> and <see cref="ChannelEventKind.MasterVolume"/>.</param>
/// <param name="Number">Key, controller or program; 0 for the others.</param>
/// <param name="Value">Velocity, value, wheel or volume; 0 for the others.</param>
public readonly record struct ChannelEvent(ChannelEventKind Kind, int Channel, int Number, int Value);

/// <summary>A message and the sample frame on which it takes effect.</summary>
/// <param name="Frame">The frame, from 0.</param>
/// <param name="Event">The message.</param>
public readonly record struct TimedChannelEvent(long Frame, ChannelEvent Event);
