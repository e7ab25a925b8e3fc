using System.Buffers.Binary;

namespace GrooveLab.Exchange.Midi;

/// <summary>Reads Standard MIDI Files 1.0 of formats 0 and 1, strictly: reports the byte of anything that the specification does not
/// allow. Skips unknown chunks, as the specification requires; ignores anything after the last track.</summary>
/// <remarks>Memory is bounded by <see cref="MostBytes"/> and <see cref="MostEvents"/>: a length in the file is not trusted until its
/// bytes are present.</remarks>
public static class MidiFileReader
{
    /// <summary>Maximum file size: 32 MB.</summary>
    public const int MostBytes = 32 << 20;

    /// <summary>Maximum number of events; about fifty hours of dense playing.</summary>
    public const int MostEvents = 2_000_000;

    /// <summary>Reads a file.</summary>
    /// <exception cref="MidiFileException">It is not a readable Standard MIDI File.</exception>
    /// <exception cref="IOException">It cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">Access is denied.</exception>
    public static MidiFile Read(string path)
    {
        using var stream = File.OpenRead(path);
        // Reading one extra byte distinguishes a file that is too large from one that just fits, for any kind of file.
        var known = stream.CanSeek ? stream.Length : 0;
        if (known > MostBytes)
        {
            throw TooLarge(path);
        }

        using var copy = new MemoryStream((int)known);
        var block = new byte[1 << 16];
        for (int read; (read = stream.Read(block)) > 0;)
        {
            copy.Write(block, 0, read);
            if (copy.Length > MostBytes)
            {
                throw TooLarge(path);
            }
        }

        return Parse(copy.GetBuffer().AsSpan(0, (int)copy.Length), path);
    }

    /// <summary>Reads a file's bytes.</summary>
    /// <param name="bytes">The whole file.</param>
    /// <param name="name">Its name in errors.</param>
    /// <exception cref="MidiFileException">The bytes are not a readable Standard MIDI File.</exception>
    public static MidiFile Parse(ReadOnlySpan<byte> bytes, string name)
    {
        if (bytes.Length > MostBytes)
        {
            throw TooLarge(name);
        }

        var at = new Place(bytes, name);
        if (!bytes.StartsWith("MThd"u8))
        {
            throw at.Wrong(bytes.StartsWith("RIFF"u8)
                ? "a RIFF file; use a plain Standard MIDI File, which begins with MThd"
                : "not a Standard MIDI File, which begins with MThd");
        }

        at.Skip(4);
        var header = at.Chunk("the header");
        if (header.Left < 6)
        {
            throw header.Wrong($"the header is {header.Left} bytes long; 6 are needed");
        }

        var format = header.Int16();
        if (format > 1)
        {
            throw header.WrongBefore(2, $"format {format} is not supported; only 0 and 1 are");
        }

        var count = header.Int16();
        if (count == 0 || (format == 0 && count != 1))
        {
            throw header.WrongBefore(2, $"{count} tracks in format {format}; format 0 has one, format 1 at least one");
        }

        var division = Division(ref header);
        // Each track needs the eight bytes of its chunk, whatever the header says.
        var tracks = new List<MidiTrack>(Math.Min(count, at.Left / 8));
        var room = MostEvents;
        while (tracks.Count < count)
        {
            if (at.Left < 8)
            {
                throw at.Wrong($"the file ends after {tracks.Count} of {count} tracks");
            }

            var isTrack = at.StartsWith("MTrk"u8);
            at.Skip(4);
            var chunk = at.Chunk(isTrack ? $"track {tracks.Count + 1}" : "a chunk");
            if (isTrack)
            {
                tracks.Add(Track(ref chunk, ref room));
            }
        }

        return new MidiFile(format, division, tracks);
    }

    private static MidiFileException TooLarge(string name) =>
        new(name, MostBytes, $"the file is larger than {MostBytes >> 20} MB, the maximum");

    private static MidiDivision Division(ref Place header)
    {
        var value = header.Int16();
        if (value < 0x8000)
        {
            return value > 0
                ? MidiDivision.PerQuarter(value)
                : throw header.WrongBefore(2, "a division of 0 ticks; 1 to 32767 ticks per quarter are accepted");
        }

        var frames = 256 - (value >> 8);
        var ticks = value & 0xFF;
        return MidiDivision.IsRate(frames) && ticks > 0
            ? MidiDivision.Smpte(frames, ticks)
            : throw header.WrongBefore(2, $"a division of {ticks} ticks in {frames} frames a second; 24, 25, 29 or 30 frames of 1 to 255 ticks are accepted");
    }

    private static MidiTrack Track(ref Place at, ref int room)
    {
        var events = new List<MidiEvent>();
        var tick = 0L;
        var running = 0;
        while (at.Left > 0)
        {
            tick += at.Number("a delta time");
            if (room-- == 0)
            {
                throw at.Wrong($"more than {MostEvents} events, the maximum");
            }

            int status = at.Byte("an event");
            if (status < 0x80)
            {
                if (running == 0)
                {
                    throw at.WrongBefore(1, $"data byte {status:X2} where an event must start, without a status byte to repeat");
                }

                events.Add(Channel(ref at, tick, running, status));
                continue;
            }

            switch (status)
            {
                case MidiEvent.MetaStatus:
                    running = 0;
                    int type = at.Byte("a meta event's type");
                    if (type > 127)
                    {
                        throw at.WrongBefore(1, $"meta event type {type:X2}; 00 to 7F are accepted");
                    }

                    var content = at.Bytes("a meta event");
                    if (type == MetaType.EndOfTrack)
                    {
                        return content.Length == 0 && at.Left == 0
                            ? new MidiTrack(events, tick)
                            : throw at.Wrong($"{at.Left} bytes in the track after its end");
                    }

                    Check(ref at, type, content);
                    events.Add(MidiEvent.Meta(tick, type, content));
                    break;
                case MidiEvent.SysExStatus or MidiEvent.EscapeStatus:
                    running = 0;
                    events.Add(MidiEvent.SystemExclusive(tick, status, at.Bytes("a system exclusive event")));
                    break;
                case > 0xF0:
                    throw at.WrongBefore(1, $"status byte {status:X2}, which is not allowed in a file");
                default:
                    running = status;
                    events.Add(Channel(ref at, tick, status, at.Byte("a message's data")));
                    break;
            }
        }

        throw at.Wrong("the track has no end-of-track event (FF 2F 00)");
    }

    // Longer ones are allowed: a later specification may extend them.
    private static void Check(ref Place at, int type, byte[] content)
    {
        var (least, what) = type switch
        {
            MetaType.Tempo => (3, "a tempo (FF 51)"),
            MetaType.TimeSignature => (4, "a time signature (FF 58)"),
            MetaType.KeySignature => (2, "a key signature (FF 59)"),
            _ => (0, string.Empty),
        };
        if (content.Length < least)
        {
            throw at.WrongBefore(content.Length, $"{what} of {content.Length} bytes; {least} are needed");
        }

        if (type == MetaType.Tempo && content is [0, 0, 0, ..])
        {
            throw at.WrongBefore(content.Length, $"{what} of 0 microseconds per quarter");
        }
    }

    private static MidiEvent Channel(ref Place at, long tick, int status, int data1)
    {
        if (data1 > 127)
        {
            throw at.WrongBefore(1, $"{data1:X2} where a data byte (00 to 7F) of message {status:X2} is required");
        }

        if (MidiEvent.DataBytes(status) == 1)
        {
            return MidiEvent.ForChannel(tick, status, data1);
        }

        int data2 = at.Byte("a message's data");
        return data2 > 127
            ? throw at.WrongBefore(1, $"{data2:X2} where a data byte (00 to 7F) of message {status:X2} is required")
            : MidiEvent.ForChannel(tick, status, data1, data2);
    }

    /// <summary>A read position in the file, bounded by the end of its chunk.</summary>
    private ref struct Place(ReadOnlySpan<byte> file, string name)
    {
        private readonly ReadOnlySpan<byte> _file = file;
        private int _at;
        private int _end = file.Length;

        public readonly int Left => _end - _at;

        public readonly bool StartsWith(ReadOnlySpan<byte> sign) => _file[_at.._end].StartsWith(sign);

        public void Skip(int bytes) => _at += bytes;

        public Place Chunk(string what)
        {
            if (Left < 4)
            {
                throw Wrong($"the file ends in the length of {what}");
            }

            var length = BinaryPrimitives.ReadUInt32BigEndian(_file[_at..]);
            _at += 4;
            if (length > Left)
            {
                throw WrongBefore(4, $"{what} has a length of {length} bytes, but only {Left} are left in the file");
            }

            var chunk = this;
            chunk._end = _at + (int)length;
            _at = chunk._end;
            return chunk;
        }

        public int Int16()
        {
            _at += 2;
            return BinaryPrimitives.ReadUInt16BigEndian(_file[(_at - 2)..]);
        }

        public byte Byte(string what) => _at < _end ? _file[_at++] : throw Wrong($"the chunk ends in {what}");

        public int Number(string what)
        {
            var value = 0;
            for (var i = 0; i < 4; i++)
            {
                var next = Byte(what);
                value = (value << 7) | (next & 0x7F);
                if (next < 0x80)
                {
                    return value;
                }
            }

            throw WrongBefore(4, $"{what} of more than four bytes");
        }

        public byte[] Bytes(string what)
        {
            var from = _at;
            var length = Number("the length of " + what);
            if (length > Left)
            {
                throw WrongBefore(_at - from, $"{what} has a length of {length} bytes, but only {Left} are left in its chunk");
            }

            var bytes = _file.Slice(_at, length).ToArray();
            _at += length;
            return bytes;
        }

        public readonly MidiFileException Wrong(string reason) => new(name, _at, reason);

        public readonly MidiFileException WrongBefore(int bytes, string reason) => new(name, _at - bytes, reason);
    }
}
