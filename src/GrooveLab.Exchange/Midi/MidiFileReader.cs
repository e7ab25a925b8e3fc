using System.Buffers.Binary;
using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Exchange.Midi;

/// <summary>
/// Reads Standard MIDI Files 1.0, also inside a RIFF file (RMID). What breaks the specification but is unambiguous is read with a warning,
/// see <see cref="MidiFile.Warnings"/>; anything else is rejected with its byte. Skips unknown chunks, as the specification requires. The sequences of a format 2 file become one track, one after another.
/// </summary>
/// <remarks>
/// Memory is bounded by <see cref="MostBytes"/> and <see cref="MostEvents"/>: a length in the file is not trusted until its bytes are present.
/// </remarks>
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
    /// <param name="mostEvents">Maximum number of events, up to <see cref="MostEvents"/>.</param>
    /// <exception cref="MidiFileException">The bytes are not a readable Standard MIDI File.</exception>
    public static MidiFile Parse(ReadOnlySpan<byte> bytes, string name, int mostEvents = MostEvents)
    {
        if (bytes.Length > MostBytes)
        {
            throw TooLarge(name);
        }

        var warnings = new Warnings();
        var at = new Place(bytes, name);
        if (at.StartsWith("RIFF"u8))
        {
            at = InsideRiff(at, warnings);
        }

        if (!at.StartsWith("MThd"u8))
        {
            throw at.Wrong("not a Standard MIDI File, which begins with MThd");
        }

        at.Skip(4);
        var header = at.Chunk("the header");
        if (header.Left < 6)
        {
            throw header.Wrong($"the header is {header.Left} bytes long; 6 are needed");
        }

        var format = header.Int16();
        if (format > 2)
        {
            throw header.WrongBefore(2, $"format {format} is not supported; only 0, 1 and 2 are");
        }

        var countAt = header.At;
        var count = header.Int16();
        var division = Division(ref header);
        var tracks = Tracks(ref at, count, warnings, mostEvents);
        if (tracks.Count == 0)
        {
            throw at.Wrong("the file has no track (MTrk); export it again from the program that made it");
        }

        if (tracks.Count != count)
        {
            warnings.Add(
                Oddity.TrackCount, countAt, $"the header announces {Counted(count)}, but the file has {tracks.Count}; all of them are read");
        }

        if (format == 0 && tracks.Count > 1)
        {
            warnings.Add(Oddity.TrackCount, countAt - 2, $"format 0 has one track, this file has {tracks.Count}; they play together, as in format 1");
            format = 1;
        }

        if (format == 2)
        {
            warnings.Add(Oddity.Format, countAt - 2, tracks.Count == 1
                ? "format 2: the file has one sequence"
                : $"format 2: the file's {tracks.Count} sequences play one after another");
            (format, tracks) = (0, [MidiSequences.InTurn(tracks)]);
        }

        return new MidiFile(format, division, tracks) { Warnings = warnings.All };
    }

    private static string Counted(long number, string what = "track") => $"{number} {what}{(number == 1 ? "" : "s")}";

    // A RIFF file of the form RMID holds a MIDI file in its chunk "data". Its lengths have their low byte first, and chunks begin on even places.
    private static Place InsideRiff(Place at, Warnings warnings)
    {
        var begin = at.At;
        at.Skip(4);
        if (at.Left < 8)
        {
            throw at.Wrong("the RIFF file ends in its header");
        }

        at.Skip(4);
        if (!at.StartsWith("RMID"u8))
        {
            throw at.Wrong("a RIFF file that holds no MIDI file, whose form is RMID");
        }

        at.Skip(4);
        while (at.Left >= 8)
        {
            var isData = at.StartsWith("data"u8);
            at.Skip(4);
            var length = at.LittleEndianInt32();
            if (isData)
            {
                warnings.Add(Oddity.Riff, begin, "the MIDI file is wrapped in a RIFF file (RMID); only the MIDI part is read");
                if (length == 0 && at.Left > 0)
                {
                    // A program that writes the length last, and was interrupted.
                    warnings.Add(Oddity.RiffLength, at.At - 4, "the MIDI part of the RIFF file has a length of 0 bytes; it is read to the end of the file");
                    length = at.Left;
                }

                return at.Part((int)Math.Min(length, at.Left));
            }

            at.Skip((int)Math.Min(length + (length & 1), at.Left));
        }

        throw at.Wrong("the RIFF file has no chunk with MIDI data (data)");
    }

    private static List<MidiTrack> Tracks(ref Place at, int count, Warnings warnings, int mostEvents)
    {
        // Each track needs the eight bytes of its chunk, whatever the header says.
        var tracks = new List<MidiTrack>(Math.Min(count, at.Left / 8));
        var room = new Room(mostEvents);
        while (at.Left > 0)
        {
            if (at.StartsWith("MTrk"u8) && at.Left >= 8)
            {
                if (tracks.Count == MidiFile.MostTracks)
                {
                    throw at.Wrong($"more than {MidiFile.MostTracks} tracks");
                }

                at.Skip(4);
                tracks.Add(Track(ref at, tracks.Count + 1, warnings, room));
            }
            else if (at.IsAtChunk)
            {
                at.Skip(4);
                _ = at.Chunk("a chunk");
            }
            else
            {
                var stray = at.ToNext("MTrk"u8);
                warnings.Add(
                    Oddity.StrayBytes,
                    at.At - stray,
                    $"{Counted(stray, "byte")} {(tracks.Count < count ? "that no chunk holds" : "after the last track")}; not read");
            }
        }

        return tracks;
    }

    /// <summary>How many events may still come.</summary>
    private sealed class Room(int most)
    {
        public int Most { get; } = most;

        public int Left { get; set; } = most;
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

    // Reads from the length of a track's chunk to the chunk's end, or to where the track really ends.
    private static MidiTrack Track(ref Place file, int number, Warnings warnings, Room room)
    {
        var lengthAt = file.At;
        var said = file.Length32();
        var begin = file.At;
        var isCut = said > file.Left;
        var at = file.Part((int)Math.Min(said, file.Left));
        var events = new TrackEvents(number, warnings);
        events.ReadAll(ref at, room);
        file.MoveTo(at.End);
        if (!events.HasEnded && file.Left > 0 && !file.StartsWith("MTrk"u8) && !file.IsAtChunk)
        {
            // A recording that was interrupted leaves a wrong length.
            var beyond = at;
            // Not beyond the next track, or a file of many such tracks would be read to its end for each of them.
            var next = file;
            next.ToNext("MTrk"u8);
            beyond.Extend(next.At);
            if (events.TryReadOn(ref beyond, room))
            {
                at = beyond;
                file.MoveTo(events.HasEnded ? at.At : at.End);
                warnings.Add(Oddity.TrackLength, lengthAt, $"{LengthOf()}, but goes on for {at.At - begin}");
                if (events.HasEnded)
                {
                    return events.Track;
                }
            }
        }

        if (events.HasEnded)
        {
            if (at.StartsWith("MTrk"u8))
            {
                warnings.Add(Oddity.TrackLength, lengthAt, $"{LengthOf()}, but ends after {at.At - begin}");
                file.MoveTo(at.At);
            }
            else if (at.Left > 0)
            {
                warnings.Add(Oddity.BehindEnd, at.At, $"{Counted(at.Left, "byte")} in track {number} after its end; not read");
            }
            else if (isCut)
            {
                warnings.Add(Oddity.TrackLength, lengthAt, $"{LengthOf()}, but ends after {at.At - begin}");
            }
        }
        else if (isCut)
        {
            warnings.Add(Oddity.Cut, lengthAt, $"{LengthOf()}, but {at.End - begin} are left in the file; the rest of the track is missing");
        }
        else if (at.Left > 0)
        {
            warnings.Add(Oddity.Cut, at.At, $"track {number} ends inside an event, which is not read");
        }
        else
        {
            warnings.Add(Oddity.NoEnd, at.At, $"track {number} has no end-of-track event (FF 2F 00); it ends with its last event");
        }

        return events.Track;

        string LengthOf() => $"track {number} has a length of {Counted(said, "byte")}";
    }

    /// <summary>The events of a track as they are read.</summary>
    private sealed class TrackEvents(int number, Warnings warnings)
    {
        private readonly List<MidiEvent> _events = [];
        private long _tick;
        private int _running;
        private bool _isInterrupted;

        /// <summary>Whether the end of the track has been read.</summary>
        public bool HasEnded { get; private set; }

        public MidiTrack Track => new(_events.ToArray(), _tick);

        /// <summary>Reads up to the end of the track, or to the last event that is whole.</summary>
        /// <exception cref="MidiFileException">Something is not an event.</exception>
        public void ReadAll(ref Place at, Room room)
        {
            while (at.Left > 0 && !HasEnded)
            {
                var start = at;
                if (!TryRead(ref at, room))
                {
                    at = start;
                    return;
                }
            }
        }

        /// <summary>Reads on behind the end of the chunk, if events stand there; otherwise all stays as it was.</summary>
        public bool TryReadOn(ref Place at, Room room)
        {
            var (count, tick, left, start) = (_events.Count, _tick, room.Left, at.At);
            try
            {
                ReadAll(ref at, room);
                if (_events.Count > count || HasEnded)
                {
                    return true;
                }
            }
            catch (MidiFileException) when (room.Left > 0)
            {
                _events.RemoveRange(count, _events.Count - count);
                (_tick, room.Left) = (tick, left);
            }

            at.MoveTo(start);
            return false;
        }

        // Whether an event was there that does not reach beyond the end of its chunk.
        private bool TryRead(ref Place at, Room room)
        {
            if (!at.TryNumber("a delta time", out var delta) || !at.TryByte(out var first))
            {
                return false;
            }

            if (room.Left == 0)
            {
                throw at.WrongBefore(1, $"more than {room.Most} events, the maximum");
            }

            var tick = _tick + delta;
            MidiEvent? item;
            switch (first)
            {
                case < 0x80:
                    if (_running == 0)
                    {
                        throw at.WrongBefore(1, $"data byte {first:X2} where an event must start, without a status byte to repeat");
                    }

                    var statusAt = at.At - 1;
                    if (!TryChannel(ref at, tick, _running, first, out item))
                    {
                        return false;
                    }

                    if (_isInterrupted)
                    {
                        warnings.Add(
                            Oddity.RunningStatus,
                            statusAt,
                            $"an event in track {number} without a status byte follows a meta or system exclusive event; status {_running:X2} goes on");
                    }

                    break;
                case MidiEvent.MetaStatus:
                    if (!at.TryByte(out var type))
                    {
                        return false;
                    }

                    if (type > 127)
                    {
                        throw at.WrongBefore(1, $"meta event type {type:X2}; 00 to 7F are accepted");
                    }

                    if (!at.TryBytes("a meta event", out var content))
                    {
                        return false;
                    }

                    if (type == MetaType.EndOfTrack)
                    {
                        (_tick, HasEnded) = (tick, true);
                        return true;
                    }

                    Check(ref at, type, content);
                    _isInterrupted = true;
                    if (type == MetaType.Tempo && content is [0, 0, 0, ..])
                    {
                        warnings.Add(Oddity.Tempo, at.At - content.Length, "a tempo (FF 51) of 0 microseconds per quarter; the last tempo stays");
                        item = null;
                        break;
                    }

                    item = MidiEvent.Meta(tick, type, content);
                    break;
                case MidiEvent.SysExStatus or MidiEvent.EscapeStatus:
                    if (!at.TryBytes("a system exclusive event", out content))
                    {
                        return false;
                    }

                    item = MidiEvent.SystemExclusive(tick, first, content);
                    _isInterrupted = true;
                    break;
                case >= 0xF8:
                    // Messages of one byte, for synchronization on a cable; they change no running status.
                    warnings.Add(Oddity.RealTime, at.At - 1, $"a system real-time message ({first:X2}) in track {number}, which has no place in a file; not read");
                    item = null;
                    break;
                case > 0xF0:
                    throw at.WrongBefore(1, $"status byte {first:X2}, which is not allowed in a file");
                default:
                    if (!at.TryByte(out var data) || !TryChannel(ref at, tick, first, data, out item))
                    {
                        return false;
                    }

                    (_running, _isInterrupted) = (first, false);
                    break;
            }

            room.Left--;
            _tick = tick;
            if (item is { } read)
            {
                _events.Add(read);
            }

            return true;
        }
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
    }

    private static bool TryChannel(ref Place at, long tick, int status, int data1, [NotNullWhen(true)] out MidiEvent? item)
    {
        item = null;
        if (data1 > 127)
        {
            throw at.WrongBefore(1, $"{data1:X2} where a data byte (00 to 7F) of message {status:X2} is required");
        }

        if (MidiEvent.DataBytes(status) == 1)
        {
            item = MidiEvent.ForChannel(tick, status, data1);
            return true;
        }

        if (!at.TryByte(out var data2))
        {
            return false;
        }

        item = data2 > 127
            ? throw at.WrongBefore(1, $"{data2:X2} where a data byte (00 to 7F) of message {status:X2} is required")
            : MidiEvent.ForChannel(tick, status, data1, data2);
        return true;
    }

    /// <summary>What a file may do against the specification and still be read.</summary>
    private enum Oddity
    {
        Riff,
        RiffLength,
        Format,
        TrackCount,
        TrackLength,
        Cut,
        NoEnd,
        BehindEnd,
        StrayBytes,
        RunningStatus,
        Tempo,
        RealTime,
    }

    /// <summary>The first warning of each kind, and how many more there are: a broken program makes the same mistake in every track.</summary>
    private sealed class Warnings
    {
        private readonly List<Found> _first = [];

        public IReadOnlyList<MidiWarning> All => _first.ConvertAll(found => new MidiWarning(
            found.Offset, found.Reason + (found.Count > 1 ? $" (and so at {Counted(found.Count - 1, "more place")})" : "")));

        public void Add(Oddity kind, long offset, string reason)
        {
            if (_first.Find(found => found.Kind == kind) is { } known)
            {
                known.Count++;
            }
            else
            {
                _first.Add(new Found(kind, offset, reason) { Count = 1 });
            }
        }

        private sealed record Found(Oddity Kind, long Offset, string Reason)
        {
            public int Count { get; set; }
        }
    }

    /// <summary>A read position in the file, bounded by the end of its chunk.</summary>
    private ref struct Place(ReadOnlySpan<byte> file, string name)
    {
        private readonly ReadOnlySpan<byte> _file = file;
        private int _at;
        private int _end = file.Length;

        /// <summary>The byte where it stands.</summary>
        public readonly int At => _at;

        /// <summary>The byte that it may not pass.</summary>
        public readonly int End => _end;

        public readonly int Left => _end - _at;

        /// <summary>Whether a whole chunk with a name of printable characters begins here.</summary>
        public readonly bool IsAtChunk
        {
            get
            {
                var rest = _file[_at.._end];
                return rest.Length >= 8 && rest[..4].IndexOfAnyExceptInRange((byte)0x20, (byte)0x7E) < 0
                    && BinaryPrimitives.ReadUInt32BigEndian(rest[4..]) <= rest.Length - 8;
            }
        }

        public readonly bool StartsWith(ReadOnlySpan<byte> sign) => _file[_at.._end].StartsWith(sign);

        public void Skip(int bytes) => _at += bytes;

        public void MoveTo(int at) => _at = at;

        public void Extend(int end) => _end = end;

        /// <summary>The next bytes as a place of their own, which this one does not pass.</summary>
        public readonly Place Part(int length)
        {
            var part = this;
            part._end = _at + length;
            return part;
        }

        /// <summary>Moves to the next place where a sign stands, at least one byte on, or to the end.</summary>
        /// <returns>The bytes passed over.</returns>
        public int ToNext(ReadOnlySpan<byte> sign)
        {
            var found = _file[(_at + 1).._end].IndexOf(sign);
            var bytes = found < 0 ? Left : found + 1;
            _at += bytes;
            return bytes;
        }

        public Place Chunk(string what)
        {
            if (Left < 4)
            {
                throw Wrong($"the file ends in the length of {what}");
            }

            var length = Length32();
            if (length > Left)
            {
                throw WrongBefore(4, $"{what} has a length of {length} bytes, but only {Left} are left in the file");
            }

            var chunk = Part((int)length);
            _at = chunk._end;
            return chunk;
        }

        public int Int16()
        {
            _at += 2;
            return BinaryPrimitives.ReadUInt16BigEndian(_file[(_at - 2)..]);
        }

        public long Length32()
        {
            _at += 4;
            return BinaryPrimitives.ReadUInt32BigEndian(_file[(_at - 4)..]);
        }

        public long LittleEndianInt32()
        {
            _at += 4;
            return BinaryPrimitives.ReadUInt32LittleEndian(_file[(_at - 4)..]);
        }

        public bool TryByte(out int value)
        {
            value = _at < _end ? _file[_at] : -1;
            _at += value < 0 ? 0 : 1;
            return value >= 0;
        }

        public bool TryNumber(string what, out int value)
        {
            value = 0;
            for (var i = 0; i < 4; i++)
            {
                if (!TryByte(out var next))
                {
                    return false;
                }

                value = (value << 7) | (next & 0x7F);
                if (next < 0x80)
                {
                    return true;
                }
            }

            throw WrongBefore(4, $"{what} of more than four bytes");
        }

        public bool TryBytes(string what, out byte[] bytes)
        {
            bytes = [];
            if (!TryNumber("the length of " + what, out var length) || length > Left)
            {
                return false;
            }

            bytes = _file.Slice(_at, length).ToArray();
            _at += length;
            return true;
        }

        public readonly MidiFileException Wrong(string reason) => new(name, _at, reason);

        public readonly MidiFileException WrongBefore(int bytes, string reason) => new(name, _at - bytes, reason);
    }
}
