using System.Text;

namespace GrooveLab.Exchange.Midi;

/// <summary>One event of a track, as in the file: a channel message, a system exclusive packet or a meta event. The start and the end of
/// a note are two events. Compares by content.</summary>
public readonly struct MidiEvent : IEquatable<MidiEvent>
{
    /// <summary>The status byte of a meta event.</summary>
    public const byte MetaStatus = 0xFF;

    /// <summary>The status byte of a system exclusive message.</summary>
    public const byte SysExStatus = 0xF0;

    /// <summary>The status byte of a system exclusive continuation, or of raw bytes.</summary>
    public const byte EscapeStatus = 0xF7;

    /// <summary>Maximum content of a meta or system exclusive event, in bytes: the length is four times seven bits.</summary>
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

    /// <summary>The first data byte of a channel message, 0-127; the type of a meta event.</summary>
    public byte Data1 { get; }

    /// <summary>The second data byte of a channel message, 0-127; 0 if it has none.</summary>
    public byte Data2 { get; }

    /// <summary>The content of a meta or system exclusive event; empty for channel messages.</summary>
    public ReadOnlyMemory<byte> Content => _content ?? [];

    /// <summary>The kind of channel message in the high half of the status byte, 0x80-0xE0; 0xF0 for all others.</summary>
    public int Kind => Status & 0xF0;

    /// <summary>The channel of a channel message, 0-15.</summary>
    public int Channel => Status & 0x0F;

    /// <summary>True for a channel message.</summary>
    public bool IsChannelMessage => Status < 0xF0;

    /// <summary>True for a meta event.</summary>
    public bool IsMeta => Status == MetaStatus;

    /// <summary>True when a note starts: note-on with a velocity above zero.</summary>
    public bool IsNoteOn => Kind == 0x90 && Data2 > 0;

    /// <summary>True when a note ends: note-off, or note-on with velocity zero.</summary>
    public bool IsNoteOff => Kind == 0x80 || (Kind == 0x90 && Data2 == 0);

    /// <summary>The content read as UTF-8; bytes that are not UTF-8 are read as Latin-1, as in old files.</summary>
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

    /// <summary>Creates a channel message.</summary>
    /// <param name="tick">Ticks from the start, at least 0.</param>
    /// <param name="status">0x80-0xEF.</param>
    /// <param name="data1">0-127.</param>
    /// <param name="data2">0-127; must be 0 for program change (0xC0) and channel pressure (0xD0), which have one data byte.</param>
    /// <exception cref="ArgumentOutOfRangeException">A value is out of range.</exception>
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

    /// <summary>Creates a meta event.</summary>
    /// <param name="tick">Ticks from the start, at least 0.</param>
    /// <param name="type">Its type, 0-127.</param>
    /// <param name="content">Its content; not copied.</param>
    /// <exception cref="ArgumentOutOfRangeException">A value is out of range.</exception>
    public static MidiEvent Meta(long tick, int type, byte[] content)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(type);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(type, 127);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(content.Length, LongestContent);
        return new MidiEvent(tick, MetaStatus, (byte)type, 0, content);
    }

    /// <summary>Creates a meta event with text, in UTF-8.</summary>
    /// <inheritdoc cref="Meta(long, int, byte[])"/>
    public static MidiEvent Meta(long tick, int type, string text) => Meta(tick, type, Encoding.UTF8.GetBytes(text));

    /// <summary>Creates a system exclusive packet.</summary>
    /// <param name="tick">Ticks from the start, at least 0.</param>
    /// <param name="status">0xF0, or 0xF7 for a continuation or for raw bytes.</param>
    /// <param name="content">The bytes after the status byte, including a closing F7; not copied.</param>
    /// <exception cref="ArgumentOutOfRangeException">A value is out of range.</exception>
    public static MidiEvent SystemExclusive(long tick, int status, byte[] content)
    {
        if (status is not (SysExStatus or EscapeStatus))
        {
            throw new ArgumentOutOfRangeException(nameof(status), status, "The status must be 0xF0 or 0xF7.");
        }

        ArgumentOutOfRangeException.ThrowIfGreaterThan(content.Length, LongestContent);
        return new MidiEvent(tick, (byte)status, 0, 0, content);
    }

    /// <summary>The same event on another tick.</summary>
    internal MidiEvent At(long tick) => new(tick, Status, Data1, Data2, _content);

    /// <summary>The number of data bytes after the status byte of a channel message.</summary>
    internal static int DataBytes(int status) => (status & 0xF0) is 0xC0 or 0xD0 ? 1 : 2;

    /// <summary>True when the content is equal.</summary>
    public static bool operator ==(MidiEvent a, MidiEvent b) => a.Equals(b);

    /// <summary>True when the content differs.</summary>
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
