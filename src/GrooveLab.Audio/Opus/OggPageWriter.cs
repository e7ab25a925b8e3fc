using System.Buffers.Binary;

namespace GrooveLab.Audio.Opus;

/// <summary>Writes packets as the pages of one logical Ogg stream. Source: RFC 3533, section 6.</summary>
/// <param name="output">Receives the pages.</param>
/// <param name="serial">The number of the logical stream.</param>
internal sealed class OggPageWriter(Stream output, uint serial)
{
    private const int HeaderBytes = 27;
    private const int MostSegments = 255;
    private const int FullSegment = 255;
    private const int Continued = 1;
    private const int First = 2;
    private const int Last = 4;
    private const long NoPosition = -1;

    private static readonly uint[] ChecksumTable = Table(0x04C11DB7);

    private readonly byte[] _page = new byte[HeaderBytes + MostSegments + (MostSegments * FullSegment)];
    private readonly byte[] _segments = new byte[MostSegments];
    private readonly byte[] _body = new byte[MostSegments * FullSegment];
    private int _segmentCount;
    private int _bodyBytes;
    private long _position = NoPosition;
    private bool _isContinued;
    private int _sequence;

    /// <summary>Whether a whole packet fits on the page that is being filled.</summary>
    public bool HasRoomFor(int packetBytes) => _segmentCount + (packetBytes / FullSegment) + 1 <= MostSegments;

    /// <summary>Appends a packet; if it does not fit on the page, it continues on the next ones.</summary>
    /// <param name="packet">The packet.</param>
    /// <param name="position">The granule position of the stream after the packet.</param>
    public void Add(ReadOnlySpan<byte> packet, long position)
    {
        // The last segment is shorter than a full one; it may be empty.
        for (var rest = packet; ; rest = rest[FullSegment..])
        {
            if (_segmentCount == MostSegments)
            {
                EndPage(isLast: false);
                _isContinued = rest.Length < packet.Length;
            }

            var size = Math.Min(rest.Length, FullSegment);
            _segments[_segmentCount++] = (byte)size;
            rest[..size].CopyTo(_body.AsSpan(_bodyBytes));
            _bodyBytes += size;
            if (size < FullSegment)
            {
                break;
            }
        }

        _position = position;
    }

    /// <summary>Writes the page that is being filled.</summary>
    /// <param name="isLast">Whether it is the last page of the stream.</param>
    public void EndPage(bool isLast)
    {
        var page = _page.AsSpan(0, HeaderBytes + _segmentCount + _bodyBytes);
        "OggS"u8.CopyTo(page);
        page[4] = 0;
        page[5] = (byte)((_isContinued ? Continued : 0) | (_sequence == 0 ? First : 0) | (isLast ? Last : 0));
        BinaryPrimitives.WriteInt64LittleEndian(page[6..], _position);
        BinaryPrimitives.WriteUInt32LittleEndian(page[14..], serial);
        BinaryPrimitives.WriteInt32LittleEndian(page[18..], _sequence);
        BinaryPrimitives.WriteUInt32LittleEndian(page[22..], 0);
        page[26] = (byte)_segmentCount;
        _segments.AsSpan(0, _segmentCount).CopyTo(page[HeaderBytes..]);
        _body.AsSpan(0, _bodyBytes).CopyTo(page[(HeaderBytes + _segmentCount)..]);
        BinaryPrimitives.WriteUInt32LittleEndian(page[22..], Checksum(0, page));
        output.Write(page);
        (_segmentCount, _bodyBytes, _position, _isContinued) = (0, 0, NoPosition, false);
        _sequence++;
    }

    /// <summary>Continues the checksum of pages over more bytes; it starts at 0.</summary>
    public static uint Checksum(uint sum, ReadOnlySpan<byte> bytes)
    {
        foreach (var value in bytes)
        {
            sum = (sum << 8) ^ ChecksumTable[(sum >> 24) ^ value];
        }

        return sum;
    }

    private static uint[] Table(uint polynomial)
    {
        var table = new uint[256];
        for (var i = 0u; i < table.Length; i++)
        {
            var value = i << 24;
            for (var bit = 0; bit < 8; bit++)
            {
                value = (value & 0x8000_0000) != 0 ? (value << 1) ^ polynomial : value << 1;
            }

            table[i] = value;
        }

        return table;
    }
}
