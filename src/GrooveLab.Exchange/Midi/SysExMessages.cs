using GrooveLab.Music.Bars;

namespace GrooveLab.Exchange.Midi;

/// <summary>The system exclusive messages that any player understands.</summary>
internal static class SysExMessages
{
    /// <summary>The channel event for a message, or null if it has no meaning here.</summary>
    /// <param name="message">The bytes after F0, including the closing F7.</param>
    /// <param name="firstChannel">The first channel of the port on which it came.</param>
    public static ChannelEvent? ToEvent(ReadOnlySpan<byte> message, int firstChannel) => message switch
    {
        _ when IsReset(message) => new ChannelEvent(ChannelEventKind.Reset, 0, 0, 0),
        // Master volume: universal real-time, MIDI 1.0 (device control, sub-ID 04 01), whatever the device number.
        [0x7F, _, 0x04, 0x01, var low, var high, 0xF7] when (low | high) < 0x80 =>
            new ChannelEvent(ChannelEventKind.MasterVolume, 0, 0, (high << 7) | low),
        // "Use for rhythm part", a manufacturer's message in common use (from memory): part 0 is channel 10, 1 to 9 are channels 1 to 9.
        [0x41, _, 0x42, 0x12, 0x40, >= 0x10 and <= 0x1F and var part, 0x15, var map and <= 2, _, 0xF7] =>
            new ChannelEvent(ChannelEventKind.Percussion, firstChannel + ChannelOfPart(part & 0x0F), 0, map == 0 ? 0 : 1),
        // The part mode of another manufacturer (from memory): 0 is a pitched part, 1 to 5 are drums.
        [0x43, >= 0x10 and <= 0x1F, 0x4C, 0x08, <= 0x0F and var part, 0x07, <= 5 and var mode, 0xF7] =>
            new ChannelEvent(ChannelEventKind.Percussion, firstChannel + part, 0, mode == 0 ? 0 : 1),
        _ => null,
    };

    /// <summary>True for the reset after which bank 127 means drums on any channel (from memory).</summary>
    /// <param name="message">The bytes after F0, including the closing F7.</param>
    public static bool StartsDrumBanks(ReadOnlySpan<byte> message) => message is [0x43, >= 0x10 and <= 0x1F, 0x4C, 0x00, 0x00, 0x7E, 0x00, 0xF7];

    private static int ChannelOfPart(int part) => part switch
    {
        0 => 9,
        <= 9 => part - 1,
        _ => part,
    };

    /// <summary>True when a message resets everything: General MIDI on (level 1 or 2) or off, for any device number (universal
    /// non-real-time, MIDI 1.0), and the two manufacturers' resets in common use (from memory).</summary>
    /// <param name="message">The bytes after F0, including the closing F7.</param>
    public static bool IsReset(ReadOnlySpan<byte> message) => message switch
    {
        [0x7E, _, 0x09, 0x01 or 0x02 or 0x03, 0xF7] => true,
        [0x41, _, 0x42, 0x12, 0x40, 0x00, 0x7F, 0x00, 0x41, 0xF7] => true,
        [0x43, >= 0x10 and <= 0x1F, 0x4C, 0x00, 0x00, 0x7E, 0x00, 0xF7] => true,
        _ => false,
    };
}
