namespace GrooveLab.Exchange.Midi;

/// <summary>The system exclusive messages that mean something to any player.</summary>
internal static class SysExMessages
{
    /// <summary>"General MIDI System On", as it stands in a file behind F0.</summary>
    public static byte[] GeneralMidiOn => [0x7E, 0x7F, 0x09, 0x01, 0xF7];

    /// <summary>
    /// Whether a message puts everything into its first state: General MIDI on (level 1 or 2) or off, whatever the device number (universal
    /// non-real-time, MIDI 1.0), and the two resets of makers that are in common use (from memory).
    /// </summary>
    /// <param name="message">The bytes behind F0, the closing F7 included.</param>
    public static bool IsReset(ReadOnlySpan<byte> message) => message switch
    {
        [0x7E, _, 0x09, 0x01 or 0x02 or 0x03, 0xF7] => true,
        [0x41, _, 0x42, 0x12, 0x40, 0x00, 0x7F, 0x00, 0x41, 0xF7] => true,
        [0x43, >= 0x10 and <= 0x1F, 0x4C, 0x00, 0x00, 0x7E, 0x00, 0xF7] => true,
        _ => false,
    };
}
