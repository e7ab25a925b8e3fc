using System.Text;

namespace GrooveLab.Exchange.Midi;

/// <summary>
/// One event of a track, as the file has it: a channel message, a system exclusive packet or a meta event. Not a note with a length: its start and
/// its end are two events. Compares by content.
/// </summary>
public readonly struct MidiEvent : IEquatable<MidiEvent>
{
    /// <summary>Status byte of a meta event.</summary>
    public const byte MetaStatus = 0xFF;

    /// <summary>Status byte of a system exclusive message.</summary>
    public const byte SysExStatus = 0xF0;

    /// <summary>Status byte of a system exclusive continuation, or of bytes sent as they are.</summary>
    public const byte EscapeStatus = 0xF7;

    /// <summary>Longest content of a meta or system exclusive event, in bytes: its length is a number of four times seven bits.</summary>
    public const int LongestContent = 0x0FFF_FFFF;

    private readonly byte[]? _content;

    private MidiEvent(long tick, byte status, byte data1, byte data2, byte[]? content)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(tick);
        (Tick, Status, Data1, Data2, _content) = (tick, status, data1, data2, content);
    }

    /// <summary>Ticks from the start of the file.</summary>
    public long Tick { get; }

    /// <summary>The status byte: 0x80-0xEF with the channel in its low half, 0xF0, 0xF7 or 0xFF.</summary>
    public byte Status { get; }

    /// <summary>A channel message's first data byte, 0-127; a meta event's type.</summary>
    public byte Data1 { get; }

    /// <summary>A channel message's second data byte, 0-127; 0 where it has none.</summary>
    public byte Data2 { get; }

    /// <summary>What a meta or system exclusive event holds; empty for channel messages.</summary>
    public ReadOnlyMemory<byte> Content => _content ?? [];

    /// <summary>The kind of channel message in the high half of the status byte, 0x80-0xE0; 0xF0 for all others.</summary>
    public int Kind => Status & 0xF0;

    /// <summary>The channel of a channel message, 0-15.</summary>
    public int Channel => Status & 0x0F;

    /// <summary>Whether it is a message to a channel.</summary>
    public bool IsChannelMessage => Status < 0xF0;

    /// <summary>Whether it is a meta event.</summary>
    public bool IsMeta => Status == MetaStatus;

    /// <summary>Whether a note starts: note-on with a velocity above zero.</summary>
    public bool IsNoteOn => Kind == 0x90 && Data2 > 0;

    /// <summary>Whether a note ends: note-off, or note-on with velocity zero.</summary>
    public bool IsNoteOff => Kind == 0x80 || (Kind == 0x90 && Data2 == 0);

    /// <summary>The content read as UTF-8; bytes that are not UTF-8 are read as Latin-1, as old files have them.</summary>
    public string Text
    {
        get
        {
            try
            {
                return Strict.GetString(Content.Span);
            }
            catch (DecoderFallbackException)
            {
                return Encoding.Latin1.GetString(Content.Span);
            }
        }
    }

    private static UTF8Encoding Strict { get; } = new(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    /// <summary>A message to a channel.</summary>
    /// <param name="tick">Ticks from the start, not negative.</param>
    /// <param name="status">0x80-0xEF.</param>
    /// <param name="data1">0-127.</param>
    /// <param name="data2">0-127; must be 0 for program change (0xC0) and channel pressure (0xD0), which have one data byte.</param>
    /// <exception cref="ArgumentOutOfRangeException">Something is outside its range.</exception>
    public static MidiEvent ForChannel(long tick, int status, int data1, int data2 = 0)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(status, 0x80);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(status, 0xEF);
        ArgumentOutOfRangeException.ThrowIfNegative(data1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(data1, 127);
        ArgumentOutOfRangeException.ThrowIfNegative(data2);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(data2, DataBytes(status) == 2 ? 127 : 0);
        return new MidiEvent(tick, (byte)status, (byte)data1, (byte)data2, null);
    }

    /// <summary>A meta event.</summary>
    /// <param name="tick">Ticks from the start, not negative.</param>
    /// <param name="type">Its type, 0-127.</param>
    /// <param name="content">What it holds; not copied.</param>
    /// <exception cref="ArgumentOutOfRangeException">Something is outside its range.</exception>
    public static MidiEvent Meta(long tick, int type, byte[] content)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(type);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(type, 127);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(content.Length, LongestContent);
        return new MidiEvent(tick, MetaStatus, (byte)type, 0, content);
    }

    /// <summary>A meta event that holds text, in UTF-8.</summary>
    /// <inheritdoc cref="Meta(long, int, byte[])"/>
    public static MidiEvent Meta(long tick, int type, string text) => Meta(tick, type, Encoding.UTF8.GetBytes(text));

    /// <summary>A system exclusive packet.</summary>
    /// <param name="tick">Ticks from the start, not negative.</param>
    /// <param name="status">0xF0, or 0xF7 for one that goes on or for bytes sent as they are.</param>
    /// <param name="content">The bytes behind the status byte, a closing F7 included; not copied.</param>
    /// <exception cref="ArgumentOutOfRangeException">Something is outside its range.</exception>
    public static MidiEvent SystemExclusive(long tick, int status, byte[] content)
    {
        if (status is not (SysExStatus or EscapeStatus))
        {
            throw new ArgumentOutOfRangeException(nameof(status), status, "0xF0 or 0xF7 is accepted.");
        }

        ArgumentOutOfRangeException.ThrowIfGreaterThan(content.Length, LongestContent);
        return new MidiEvent(tick, (byte)status, 0, 0, content);
    }

    /// <summary>The same event on another tick.</summary>
    internal MidiEvent At(long tick) => new(tick, Status, Data1, Data2, _content);

    /// <summary>How many data bytes follow a channel message's status byte.</summary>
    internal static int DataBytes(int status) => (status & 0xF0) is 0xC0 or 0xD0 ? 1 : 2;

    /// <summary>Equal content.</summary>
    public static bool operator ==(MidiEvent a, MidiEvent b) => a.Equals(b);

    /// <summary>Different content.</summary>
    public static bool operator !=(MidiEvent a, MidiEvent b) => !a.Equals(b);

    /// <inheritdoc/>
    public bool Equals(MidiEvent other) =>
        Tick == other.Tick && Status == other.Status && Data1 == other.Data1 && Data2 == other.Data2
        && Content.Span.SequenceEqual(other.Content.Span);

    /// <inheritdoc/>
    public override bool Equals(object? obj) => obj is MidiEvent other && Equals(other);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Tick, Status, Data1, Data2, Content.Length);

    /// <summary>Tick and bytes in hexadecimal, for messages.</summary>
    public override string ToString() => IsChannelMessage
        ? $"{Tick}: {Status:X2} {Data1:X2} {Data2:X2}"
        : $"{Tick}: {Status:X2} {(IsMeta ? $"{Data1:X2} " : string.Empty)}{Convert.ToHexString(Content.Span)}";
}
