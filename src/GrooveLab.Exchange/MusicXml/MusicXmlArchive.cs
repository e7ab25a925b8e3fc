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
    private readonly ZipArchive _archive;
    private readonly MusicXmlRemarks _remarks;

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
            throw Damaged(found);
        }
    }

    /// <summary>Whether bytes begin as an archive does.</summary>
    public static bool IsArchive(ReadOnlySpan<byte> bytes) => bytes.StartsWith("PK\u0003\u0004"u8) || bytes.StartsWith("PK\u0005\u0006"u8);

    public static bool IsDamage(Exception found) => found is InvalidDataException or IOException or NotSupportedException or ArgumentException;

    public static MusicXmlRefusal Damaged(Exception found) => new(null, $"the archive is damaged: {found.Message.TrimEnd('.')}", "save the score again");

    /// <summary>The entry that holds the score.</summary>
    /// <exception cref="MusicXmlRefusal">The container or the score is missing.</exception>
    public ZipArchiveEntry Score()
    {
        if (Find(Container) is { } container)
        {
            var path = RootFile(container);
            return Find(path) ?? throw new MusicXmlRefusal(null, $"the container names the score '{MusicXmlValues.Short(path)}', which is not in the archive");
        }

        var score = _archive.Entries.FirstOrDefault(entry =>
            !entry.FullName.StartsWith("META-INF/", StringComparison.OrdinalIgnoreCase)
            && (entry.FullName.EndsWith(".xml", StringComparison.OrdinalIgnoreCase) || entry.FullName.EndsWith(".musicxml", StringComparison.OrdinalIgnoreCase)));
        if (score is null)
        {
            throw new MusicXmlRefusal(null, $"the archive has neither {Container} nor a file .musicxml or .xml");
        }

        _remarks.Warn(null, $"the archive has no {Container}", $"read '{MusicXmlValues.Short(score.FullName)}'");
        return score;
    }

    /// <summary>Opens an entry; its unpacked size and ratio are checked while it is read.</summary>
    /// <exception cref="MusicXmlRefusal">It is damaged.</exception>
    public static Stream Open(ZipArchiveEntry entry)
    {
        try
        {
            return new Unpacking(entry.Open(), entry.CompressedLength, entry.FullName);
        }
        catch (Exception found) when (IsDamage(found))
        {
            throw Damaged(found);
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
            ?? throw new MusicXmlRefusal(null, $"{Container} names no score", "save the score again");
    }

    // The directory is walked before the library lists it: it would believe any number of entries.
    private static void CheckEntries(ReadOnlySpan<byte> bytes)
    {
        var end = bytes.Length - EndRecordLength;
        while (end >= 0 && end >= bytes.Length - EndRecordLength - ushort.MaxValue && BinaryPrimitives.ReadUInt32LittleEndian(bytes[end..]) != EndSignature)
        {
            end--;
        }

        if (end < 0 || BinaryPrimitives.ReadUInt32LittleEndian(bytes[end..]) != EndSignature)
        {
            throw new MusicXmlRefusal(null, "the archive is damaged: its directory is missing", "copy or save it again; it may be incomplete");
        }

        var told = BinaryPrimitives.ReadUInt16LittleEndian(bytes[(end + 10)..]);
        var at = (long)BinaryPrimitives.ReadUInt32LittleEndian(bytes[(end + 16)..]);
        if (told == ushort.MaxValue || at == uint.MaxValue || told > MusicXmlLimits.MostEntries)
        {
            throw TooMany();
        }

        for (var count = 0; at + EntryHeaderLength <= bytes.Length; count++)
        {
            var entry = bytes[(int)at..];
            if (BinaryPrimitives.ReadUInt32LittleEndian(entry) != EntrySignature)
            {
                break;
            }

            if (count >= MusicXmlLimits.MostEntries)
            {
                throw TooMany();
            }

            var nameLength = BinaryPrimitives.ReadUInt16LittleEndian(entry[28..]);
            var name = entry[EntryHeaderLength..];
            name = name[..Math.Min(nameLength, name.Length)];
            CheckEntry(name, BinaryPrimitives.ReadUInt16LittleEndian(entry[8..]));
            at += EntryHeaderLength + nameLength + BinaryPrimitives.ReadUInt16LittleEndian(entry[30..]) + BinaryPrimitives.ReadUInt16LittleEndian(entry[32..]);
        }
    }

    private static void CheckEntry(ReadOnlySpan<byte> name, ushort flags)
    {
        var shown = MusicXmlValues.Short(System.Text.Encoding.UTF8.GetString(name[..Math.Min(name.Length, 80)]));
        if ((flags & 1) != 0)
        {
            throw new MusicXmlRefusal(null, $"the file '{shown}' in the archive is encrypted", "save the score without a password");
        }

        if (name.StartsWith("/"u8) || name.StartsWith("\\"u8) || name.IndexOf(".."u8) >= 0 || name.IndexOf((byte)':') >= 0 || name.IndexOf((byte)0) >= 0)
        {
            throw new MusicXmlRefusal(null, $"the name '{shown}' in the archive leads out of it");
        }
    }

    private static MusicXmlRefusal TooMany() => new(null, string.Create(
        CultureInfo.InvariantCulture, $"the archive has more than {MusicXmlLimits.MostEntries} files"), "pack the score alone");

    private sealed class Unpacking(Stream source, long packed, string name) : Stream
    {
        private long _read;

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
                throw Damaged(found);
            }

            _read += read;
            if (_read > MusicXmlLimits.MostBytes)
            {
                throw new MusicXmlRefusal(null, string.Create(
                    CultureInfo.InvariantCulture, $"'{MusicXmlValues.Short(name)}' has more than {MusicXmlLimits.MostBytes >> 20} MB when unpacked"));
            }

            if (_read > MusicXmlLimits.RatioMattersFrom && _read / MusicXmlLimits.MostRatio > packed)
            {
                throw new MusicXmlRefusal(null, string.Create(
                    CultureInfo.InvariantCulture,
                    $"'{MusicXmlValues.Short(name)}' becomes more than {MusicXmlLimits.MostRatio} times larger when unpacked, as no score does"));
            }

            return read;
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
