using System.Buffers;
using System.Buffers.Binary;

namespace GrooveLab.Exchange.Midi;

/// <summary>Writes Standard MIDI Files 1.0. Each event has its own status byte (no running status): a few more bytes, but readable by the
/// simplest reader.</summary>
public static class MidiFileWriter
{
    /// <summary>Maximum number of ticks between two events of a track: four times seven bits.</summary>
    public const long LongestDelta = 0x0FFF_FFFF;

    /// <summary>The bytes of a file.</summary>
    /// <exception cref="InvalidOperationException">A track is too long for the 32-bit length of its chunk.</exception>
    public static byte[] ToBytes(MidiFile file)
    {
        var bytes = new ArrayBufferWriter<byte>(1 << 16);
        bytes.Write("MThd"u8);
        WriteInt32(bytes, 6);
        WriteInt16(bytes, file.Format);
        WriteInt16(bytes, file.Tracks.Count);
        // Film frames are written as a negative number, in two's complement.
        WriteInt16(bytes, file.Division.IsSmpte ? ((256 - file.Division.FramesPerSecond) << 8) | file.Division.Ticks : file.Division.Ticks);
        foreach (var track in file.Tracks)
        {
            var body = new ArrayBufferWriter<byte>(1 << 12);
            Write(body, track);
            bytes.Write("MTrk"u8);
            WriteInt32(bytes, body.WrittenCount);
            bytes.Write(body.WrittenSpan);
        }

        return bytes.WrittenSpan.ToArray();
    }

    private static void Write(ArrayBufferWriter<byte> body, MidiTrack track)
    {
        var tick = 0L;
        foreach (var item in track.Events)
        {
            WriteDelta(body, item.Tick - tick);
            tick = item.Tick;
            Add(body, item.Status);
            if (item.IsChannelMessage)
            {
                Add(body, item.Data1);
                if (MidiEvent.DataBytes(item.Status) == 2)
                {
                    Add(body, item.Data2);
                }

                continue;
            }

            if (item.IsMeta)
            {
                Add(body, item.Data1);
            }

            WriteNumber(body, item.Content.Length);
            body.Write(item.Content.Span);
        }

        WriteDelta(body, track.EndTick - tick);
        body.Write((ReadOnlySpan<byte>)[MidiEvent.MetaStatus, MetaType.EndOfTrack, 0]);
    }

    // A delta time above the maximum is split by empty texts, which have no effect.
    private static void WriteDelta(ArrayBufferWriter<byte> body, long delta)
    {
        for (; delta > LongestDelta; delta -= LongestDelta)
        {
            WriteNumber(body, LongestDelta);
            body.Write((ReadOnlySpan<byte>)[MidiEvent.MetaStatus, MetaType.Text, 0]);
        }

        WriteNumber(body, delta);
    }

    private static void WriteNumber(ArrayBufferWriter<byte> body, long number)
    {
        for (var shift = 21; shift > 0; shift -= 7)
        {
            if (number >> shift != 0)
            {
                Add(body, (byte)(((number >> shift) & 0x7F) | 0x80));
            }
        }

        Add(body, (byte)(number & 0x7F));
    }

    private static void Add(ArrayBufferWriter<byte> body, byte value)
    {
        body.GetSpan(1)[0] = value;
        body.Advance(1);
    }

    private static void WriteInt16(ArrayBufferWriter<byte> bytes, int value)
    {
        BinaryPrimitives.WriteUInt16BigEndian(bytes.GetSpan(2), (ushort)value);
        bytes.Advance(2);
    }

    private static void WriteInt32(ArrayBufferWriter<byte> bytes, int value)
    {
        BinaryPrimitives.WriteInt32BigEndian(bytes.GetSpan(4), value);
        bytes.Advance(4);
    }
}
