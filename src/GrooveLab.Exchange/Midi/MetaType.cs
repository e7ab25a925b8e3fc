namespace GrooveLab.Exchange.Midi;

/// <summary>Types of meta events that are read or written by name (Standard MIDI Files 1.0).</summary>
public static class MetaType
{
    /// <summary>Text of any kind.</summary>
    public const byte Text = 0x01;

    /// <summary>The name of the piece in the first track, of the track in others.</summary>
    public const byte TrackName = 0x03;

    /// <summary>The name of the instrument.</summary>
    public const byte InstrumentName = 0x04;

    /// <summary>A syllable.</summary>
    public const byte Lyric = 0x05;

    /// <summary>A marker: a section, a chord.</summary>
    public const byte Marker = 0x06;

    /// <summary>The port of the track's channels, one byte. Not in the specification, but in common use.</summary>
    public const byte Port = 0x21;

    /// <summary>End of the track.</summary>
    public const byte EndOfTrack = 0x2F;

    /// <summary>Tempo: three bytes, microseconds per quarter.</summary>
    public const byte Tempo = 0x51;

    /// <summary>Time signature: numerator, denominator as a power of two, MIDI clocks per click, thirty-seconds in 24 clocks.</summary>
    public const byte TimeSignature = 0x58;

    /// <summary>Key signature: sharps (or flats, negative), and 1 for minor.</summary>
    public const byte KeySignature = 0x59;
}
