using System.Buffers.Binary;

namespace GrooveLab.Audio.Vorbis;

/// <summary>The packets of the first logical stream in Ogg pages (RFC 3533), found in one pass over the bytes.</summary>
/// <remarks>
/// Checksums are not verified: a damaged page plays as far as it can be decoded. Pages of other streams are skipped. The walk ends at the
/// first place that is not a page, or at a page that is cut; the packets up to there count.
/// </remarks>
internal sealed class OggPackets
{
    private const int HeaderSize = 27;
    private const int ContinuedFlag = 1;
    private const int FullSegment = 255;

    private readonly byte[] _bytes;
    private readonly List<(int Start, int Length)> _packets = [];

    private OggPackets(int length) => _bytes = new byte[length];

    /// <summary>The number of complete packets.</summary>
    public int Count => _packets.Count;

    /// <summary>The position in points that the last page with a position gives; -1 if none does.</summary>
    public long LastPosition { get; private set; } = -1;

    /// <summary>A packet, in one piece.</summary>
    public ReadOnlySpan<byte> this[int index] => _bytes.AsSpan(_packets[index].Start, _packets[index].Length);

    /// <summary>Finds the packets. Data that are not Ogg pages have none.</summary>
    public static OggPackets Read(ReadOnlySpan<byte> stream)
    {
        var packets = new OggPackets(stream.Length);
        var at = 0;
        var written = 0;
        var start = 0;
        uint? serial = null;
        while (stream.Length - at >= HeaderSize && stream.Slice(at, 4).SequenceEqual("OggS"u8) && stream[at + 4] == 0)
        {
            var page = stream[at..];
            int segments = page[26];
            if (page.Length < HeaderSize + segments)
                break;
            var lengths = page.Slice(HeaderSize, segments);
            var body = page[(HeaderSize + segments)..];
            var size = 0;
            foreach (var length in lengths)
                size += length;
            at += HeaderSize + segments + Math.Min(size, body.Length);
            var itsSerial = BinaryPrimitives.ReadUInt32LittleEndian(page[14..]);
            if (itsSerial != (serial ??= itsSerial))
                continue;

            // The rest of a packet whose beginning is missing is no packet, nor is a beginning without its rest.
            var isContinued = (page[5] & ContinuedFlag) != 0;
            var isLost = isContinued && written == start;
            if (!isContinued)
                written = start;
            foreach (var length in lengths)
            {
                if (length > body.Length)
                    return packets;
                if (!isLost)
                {
                    body[..length].CopyTo(packets._bytes.AsSpan(written));
                    written += length;
                }
                body = body[length..];
                if (length == FullSegment)
                    continue;
                if (!isLost)
                    packets._packets.Add((start, written - start));
                isLost = false;
                start = written;
            }
            var position = BinaryPrimitives.ReadInt64LittleEndian(page[6..]);
            if (position != -1)
                packets.LastPosition = position;
        }
        return packets;
    }
}
