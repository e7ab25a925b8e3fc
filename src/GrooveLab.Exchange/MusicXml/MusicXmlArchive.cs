using System.Buffers.Binary;
using System.Globalization;
using System.IO.Compression;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>A compressed score (.mxl): an archive whose container names the score in it. Nothing is unpacked to disk.</summary>
internal sealed class MusicXmlArchive : IDisposable
{
    private const string Container = "META-INF/container.xml";
    private const int EndRecordLength = 22;
    private const int EntryHeaderLength = 46;
    private const uint EndSignature = 0x06054B50;
    private const uint EntrySignature = 0x02014B50;
    private const int LocalHeaderLength = 30;
    private const uint LocalSignature = 0x04034B50;
    private const ushort Stored = 0;
    private const string SaveAgain = "save the score again";

    private static readonly uint[] Remainders = [.. Enumerable.Range(0, 256).Select(Remainder)];
    private readonly ZipArchive _archive;
    private readonly MusicXmlRemarks _remarks;

    // Where the files begin, by name.
    private readonly Dictionary<string, long> _places = new(StringComparer.Ordinal);

    /// <summary>Opens an archive.</summary>
    /// <exception cref="MusicXmlRefusal">It is damaged, has too many files, encrypted ones, or names that lead out of it.</exception>
    public MusicXmlArchive(ReadOnlyMemory<byte> bytes, MusicXmlRemarks remarks)
    {
        _remarks = remarks;
        CheckEntries(bytes.Span);
        try
        {
            _archive = new ZipArchive(MusicXmlText.Stream(bytes), ZipArchiveMode.Read);
            _ = _archive.Entries;
        }
        catch (Exception found) when (IsDamage(found))
        {
            throw Damaged(found, 0);
        }
    }

    /// <summary>Whether bytes begin as an archive does.</summary>
    public static bool IsArchive(ReadOnlySpan<byte> bytes) => bytes.StartsWith("PK\u0003\u0004"u8) || bytes.StartsWith("PK\u0005\u0006"u8);

    public static bool IsDamage(Exception found) => found is InvalidDataException or IOException or NotSupportedException or ArgumentException;

    private static MusicXmlRefusal Damaged(Exception found, long place) => MusicXmlRefusal.AtByte(place, $"the archive is damaged: {found.Message.TrimEnd('.')}", SaveAgain);

    private long PlaceOf(ZipArchiveEntry entry) => _places.GetValueOrDefault(entry.FullName);

    /// <summary>The entry that holds the score.</summary>
    /// <exception cref="MusicXmlRefusal">The container or the score is missing.</exception>
    public ZipArchiveEntry Score()
    {
        if (Find(Container) is { } container)
        {
            var path = RootFile(container);
            return Find(path) ?? throw MusicXmlRefusal.AtByte(
                PlaceOf(container), $"the container names the score '{MusicXmlValues.Short(path)}', which is not in the archive");
        }

        var score = _archive.Entries.FirstOrDefault(entry =>
            !entry.FullName.StartsWith("META-INF/", StringComparison.OrdinalIgnoreCase)
            && (entry.FullName.EndsWith(".xml", StringComparison.OrdinalIgnoreCase) || entry.FullName.EndsWith(".musicxml", StringComparison.OrdinalIgnoreCase)));
        if (score is null)
        {
            throw MusicXmlRefusal.AtByte(0, $"the archive has neither {Container} nor a file .musicxml or .xml");
        }

        _remarks.Warn(null, $"the archive has no {Container}", $"read '{MusicXmlValues.Short(score.FullName)}'");
        return score;
    }

    /// <summary>Opens an entry; its unpacked size, its checksum and the ratio are checked while it is read.</summary>
    /// <exception cref="MusicXmlRefusal">It is damaged.</exception>
    public Stream Open(ZipArchiveEntry entry)
    {
        try
        {
            return new Unpacking(entry.Open(), entry, PlaceOf(entry));
        }
        catch (Exception found) when (IsDamage(found))
        {
            throw Damaged(found, PlaceOf(entry));
        }
    }

    public void Dispose() => _archive.Dispose();

    private ZipArchiveEntry? Find(string path) =>
        _archive.Entries.FirstOrDefault(entry => string.Equals(entry.FullName, path, StringComparison.Ordinal))
        ?? _archive.Entries.FirstOrDefault(entry => string.Equals(entry.FullName, path, StringComparison.OrdinalIgnoreCase));

    private string RootFile(ZipArchiveEntry container)
    {
        using var text = MusicXmlText.Open(() => Open(container), _remarks);
        using var xml = new XmlItemReader(text);
        xml.ToRoot();
        var files = xml.ReadItem().Elements("rootfiles").SelectMany(files => files.Elements("rootfile"));
        return files.Select(file => file.Attribute("full-path")).FirstOrDefault(path => !string.IsNullOrEmpty(path))
            ?? throw MusicXmlRefusal.AtByte(PlaceOf(container), $"{Container} names no score", SaveAgain);
    }

    // The directory is walked before the library lists it: it would believe any number of entries, and entries that share their bytes.
    private void CheckEntries(ReadOnlySpan<byte> bytes)
    {
        var end = bytes.Length - EndRecordLength;
        while (end >= 0 && end >= bytes.Length - EndRecordLength - ushort.MaxValue && BinaryPrimitives.ReadUInt32LittleEndian(bytes[end..]) != EndSignature)
        {
            end--;
        }

        if (end < 0 || BinaryPrimitives.ReadUInt32LittleEndian(bytes[end..]) != EndSignature)
        {
            throw MusicXmlRefusal.AtByte(bytes.Length, "the archive is damaged: its directory is missing", "copy or save it again; it may be incomplete");
        }

        var told = BinaryPrimitives.ReadUInt16LittleEndian(bytes[(end + 10)..]);
        var directory = (long)BinaryPrimitives.ReadUInt32LittleEndian(bytes[(end + 16)..]);
        if (told == ushort.MaxValue || directory == uint.MaxValue || told > MusicXmlLimits.MostEntries)
        {
            throw TooMany(end);
        }

        var used = new List<(long From, long To, string Name)>();
        var at = directory;
        for (var count = 0; at + EntryHeaderLength <= bytes.Length; count++)
        {
            var entry = bytes[(int)at..];
            if (BinaryPrimitives.ReadUInt32LittleEndian(entry) != EntrySignature)
            {
                break;
            }

            if (count >= MusicXmlLimits.MostEntries)
            {
                throw TooMany(at);
            }

            var nameLength = BinaryPrimitives.ReadUInt16LittleEndian(entry[28..]);
            var name = entry[EntryHeaderLength..];
            name = name[..Math.Min(nameLength, name.Length)];
            CheckEntry(name, BinaryPrimitives.ReadUInt16LittleEndian(entry[8..]), at);
            used.Add(Used(bytes, entry, name, at, directory));
            at += EntryHeaderLength + nameLength + BinaryPrimitives.ReadUInt16LittleEndian(entry[30..]) + BinaryPrimitives.ReadUInt16LittleEndian(entry[32..]);
        }

        used = [.. used.OrderBy(one => one.From)];
        for (var i = 1; i < used.Count; i++)
        {
            if (used[i].From < used[i - 1].To)
            {
                throw MusicXmlRefusal.AtByte(used[i].From, $"the files '{used[i - 1].Name}' and '{used[i].Name}' in the archive overlap", SaveAgain);
            }
        }
    }

    // The bytes that an entry of the directory says are its own: its header and its packed bytes.
    private (long From, long To, string Name) Used(ReadOnlySpan<byte> bytes, ReadOnlySpan<byte> entry, ReadOnlySpan<byte> name, long at, long directory)
    {
        var (packed, unpacked) = (BinaryPrimitives.ReadUInt32LittleEndian(entry[20..]), BinaryPrimitives.ReadUInt32LittleEndian(entry[24..]));
        var from = (long)BinaryPrimitives.ReadUInt32LittleEndian(entry[42..]);
        var shown = Shown(name);
        if (packed == uint.MaxValue || unpacked == uint.MaxValue || from == uint.MaxValue)
        {
            throw MusicXmlRefusal.AtByte(at, $"the file '{shown}' in the archive is packed for sizes beyond 4 GB", SaveAgain);
        }

        if (from + LocalHeaderLength > directory || BinaryPrimitives.ReadUInt32LittleEndian(bytes[(int)from..]) != LocalSignature)
        {
            throw MusicXmlRefusal.AtByte(at, $"the archive is damaged: the file '{shown}' is not where its directory says", SaveAgain);
        }

        var header = bytes[(int)from..];
        var to = from + LocalHeaderLength + BinaryPrimitives.ReadUInt16LittleEndian(header[26..]) + BinaryPrimitives.ReadUInt16LittleEndian(header[28..]) + packed;
        if (to > directory)
        {
            throw MusicXmlRefusal.AtByte(at, string.Create(CultureInfo.InvariantCulture, $"the file '{shown}' in the archive says that it has {packed} bytes packed, and overlaps the directory"), SaveAgain);
        }

        if (BinaryPrimitives.ReadUInt16LittleEndian(entry[10..]) == Stored && packed != unpacked)
        {
            throw WrongSize(at, shown, unpacked, packed);
        }

        _places.TryAdd(System.Text.Encoding.UTF8.GetString(name), from);
        return (from, to, shown);
    }

    private static string Shown(ReadOnlySpan<byte> name) => MusicXmlValues.Short(System.Text.Encoding.UTF8.GetString(name[..Math.Min(name.Length, 80)]));

    private static MusicXmlRefusal WrongSize(long at, string name, long told, long has) => MusicXmlRefusal.AtByte(
        at, string.Create(CultureInfo.InvariantCulture, $"the file '{name}' in the archive says that it has {told} bytes unpacked; it has {has}"), SaveAgain);

    private static void CheckEntry(ReadOnlySpan<byte> name, ushort flags, long at)
    {
        var shown = Shown(name);
        if ((flags & 1) != 0)
        {
            throw MusicXmlRefusal.AtByte(at, $"the file '{shown}' in the archive is encrypted", "save the score without a password");
        }

        if (name.StartsWith("/"u8) || name.StartsWith("\\"u8) || name.IndexOf(".."u8) >= 0 || name.IndexOf((byte)':') >= 0 || name.IndexOf((byte)0) >= 0)
        {
            throw MusicXmlRefusal.AtByte(at, $"the name '{shown}' in the archive leads out of it");
        }
    }

    private static MusicXmlRefusal TooMany(long at) => MusicXmlRefusal.AtByte(at, string.Create(
        CultureInfo.InvariantCulture, $"the archive has more than {MusicXmlLimits.MostEntries} files"), "pack the score alone");

    // Of the checksum of ISO 3309, which archives use, bit by bit.
    private static uint Remainder(int value)
    {
        const uint Polynomial = 0xEDB88320;
        var rest = (uint)value;
        for (var bit = 0; bit < 8; bit++)
        {
            rest = (rest & 1) != 0 ? (rest >> 1) ^ Polynomial : rest >> 1;
        }

        return rest;
    }

    private sealed class Unpacking(Stream source, ZipArchiveEntry entry, long place) : Stream
    {
        private long _read;
        private uint _checksum = uint.MaxValue;

        public override bool CanRead => true;

        public override bool CanSeek => false;

        public override bool CanWrite => false;

        public override long Length => throw new NotSupportedException();

        public override long Position
        {
            get => _read;
            set => throw new NotSupportedException();
        }

        public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

        public override int Read(Span<byte> buffer)
        {
            int read;
            try
            {
                read = source.Read(buffer);
            }
            catch (Exception found) when (IsDamage(found))
            {
                throw Damaged(found, place);
            }

            _read += read;
            foreach (var one in buffer[..read])
            {
                _checksum = Remainders[(_checksum ^ one) & byte.MaxValue] ^ (_checksum >> 8);
            }

            if (_read > MusicXmlLimits.MostBytes)
            {
                throw MusicXmlRefusal.AtByte(place, string.Create(
                    CultureInfo.InvariantCulture, $"'{MusicXmlValues.Short(entry.FullName)}' has more than {MusicXmlLimits.MostBytes >> 20} MB when unpacked"));
            }

            if (_read > MusicXmlLimits.RatioMattersFrom && _read / MusicXmlLimits.MostRatio > entry.CompressedLength)
            {
                throw MusicXmlRefusal.AtByte(place, string.Create(
                    CultureInfo.InvariantCulture,
                    $"'{MusicXmlValues.Short(entry.FullName)}' becomes more than {MusicXmlLimits.MostRatio} times larger when unpacked, as no score does"));
            }

            if (read == 0 && buffer.Length > 0)
            {
                CheckEnd();
            }

            return read;
        }

        // The library stops at the size of the directory; if there is more, the checksum differs.
        private void CheckEnd()
        {
            var name = MusicXmlValues.Short(entry.FullName);
            if (_read != entry.Length)
            {
                throw WrongSize(place, name, entry.Length, _read);
            }

            if (~_checksum != entry.Crc32)
            {
                throw MusicXmlRefusal.AtByte(place, string.Create(
                    CultureInfo.InvariantCulture, $"the file '{name}' in the archive is damaged: its size of {entry.Length} bytes or its checksum is wrong"), SaveAgain);
            }
        }

        public override void Flush()
        {
        }

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void SetLength(long value) => throw new NotSupportedException();

        public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();

        protected override void Dispose(bool disposing)
        {
            if (disposing)
            {
                source.Dispose();
            }

            base.Dispose(disposing);
        }
    }
}
