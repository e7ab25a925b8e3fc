using System.Buffers.Binary;

namespace GrooveLab.Audio.Tests.Vorbis;

/// <summary>Writes Ogg pages (RFC 3533, section 6) without checksums, which the reader does not look at.</summary>
internal static class OggWriter
{
    /// <summary>A page of whole segments.</summary>
    /// <param name="body">The data; the last segment is shorter than 255 bytes unless the packet goes on.</param>
    /// <param name="segments">The lengths of the segments.</param>
    /// <param name="position">The position in points, or -1.</param>
    /// <param name="isContinued">Whether the first packet began on an earlier page.</param>
    /// <param name="serial">The stream's number.</param>
    public static byte[] Page(byte[] body, int[] segments, long position = -1, bool isContinued = false, int serial = 7)
    {
        var header = new byte[27];
        "OggS"u8.CopyTo(header);
        header[5] = isContinued ? (byte)1 : (byte)0;
        BinaryPrimitives.WriteInt64LittleEndian(header.AsSpan(6), position);
        BinaryPrimitives.WriteInt32LittleEndian(header.AsSpan(14), serial);
        header[26] = (byte)segments.Length;
        return [.. header, .. segments.Select(length => (byte)length), .. body];
    }

    /// <summary>Pages that hold one whole packet each.</summary>
    public static byte[] Stream(params byte[][] packets) => [.. packets.SelectMany(packet => Page(packet, Segments(packet.Length)))];

    /// <summary>The lengths of the segments of a packet: 255 as often as possible, then the rest.</summary>
    public static int[] Segments(int length) => [.. Enumerable.Repeat(255, length / 255), length % 255];
}
