namespace GrooveLab.Audio.Flac;

/// <summary>The checksums of a frame. Source: RFC 9639, sections 9.1.8 and 9.3.</summary>
internal static class FlacChecksums
{
    private static readonly byte[] HeaderTable = Table8(0x07);
    private static readonly ushort[] FrameTable = Table16(0x8005);

    /// <summary>The 8-bit checksum of a frame's header: x^8 + x^2 + x + 1, starting at 0.</summary>
    public static byte OfHeader(ReadOnlySpan<byte> bytes)
    {
        byte sum = 0;
        foreach (var value in bytes)
        {
            sum = HeaderTable[sum ^ value];
        }

        return sum;
    }

    /// <summary>The 16-bit checksum of a whole frame: x^16 + x^15 + x^2 + 1, starting at 0.</summary>
    public static ushort OfFrame(ReadOnlySpan<byte> bytes)
    {
        var sum = 0;
        foreach (var value in bytes)
        {
            sum = ((sum << 8) & 0xFFFF) ^ FrameTable[(sum >> 8) ^ value];
        }

        return (ushort)sum;
    }

    private static byte[] Table8(int polynomial)
    {
        var table = new byte[256];
        for (var i = 0; i < table.Length; i++)
        {
            table[i] = (byte)Divide(i, polynomial, 8);
        }

        return table;
    }

    private static ushort[] Table16(int polynomial)
    {
        var table = new ushort[256];
        for (var i = 0; i < table.Length; i++)
        {
            table[i] = (ushort)Divide(i << 8, polynomial, 16);
        }

        return table;
    }

    private static int Divide(int value, int polynomial, int width)
    {
        for (var bit = 0; bit < 8; bit++)
        {
            value = (value & (1 << (width - 1))) != 0 ? (value << 1) ^ polynomial : value << 1;
        }

        return value & ((1 << width) - 1);
    }
}
