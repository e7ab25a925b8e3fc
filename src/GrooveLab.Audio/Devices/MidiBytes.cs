namespace GrooveLab.Audio.Devices;

/// <summary>The bytes of MIDI messages. Source: MIDI 1.0 Detailed Specification, from memory.</summary>
public static class MidiBytes
{
    /// <summary>Timing clock: 24 to a quarter.</summary>
    public const byte Clock = 0xF8;

    /// <summary>Start: from the beginning of the song, with the next clock.</summary>
    public const byte Start = 0xFA;

    /// <summary>Continue: from the current place, with the next clock.</summary>
    public const byte Continue = 0xFB;

    /// <summary>Stop.</summary>
    public const byte Stop = 0xFC;

    /// <summary>Song position pointer: the place in sixteenths, in two bytes of seven bits, the lower first.</summary>
    public const byte SongPosition = 0xF2;

    /// <summary>The last place that a song position pointer can name, in sixteenths.</summary>
    public const int LastSixteenth = 0x3FFF;

    /// <summary>Timing clocks in a sixteenth.</summary>
    public const int ClocksInSixteenth = 6;

    /// <summary>The number of bytes of a message that begins with a status byte; 1 for a data byte.</summary>
    public static int LengthOf(byte status) => status switch
    {
        < 0x80 => 1,
        >= 0xC0 and < 0xE0 => 2,
        < 0xF0 => 3,
        SongPosition => 3,
        0xF1 or 0xF3 => 2,
        _ => 1,
    };
}
