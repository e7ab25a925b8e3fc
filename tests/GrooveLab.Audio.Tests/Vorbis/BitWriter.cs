namespace GrooveLab.Audio.Tests.Vorbis;

/// <summary>Writes the bits of a Vorbis packet, the lowest of each byte first (Vorbis I, section 2).</summary>
internal sealed class BitWriter
{
    private readonly List<byte> _bytes = [];
    private int _used;

    /// <summary>Writes the lowest bits of a number.</summary>
    public BitWriter Write(long value, int count)
    {
        for (var i = 0; i < count; i++)
        {
            if (_used % 8 == 0)
                _bytes.Add(0);
            _bytes[^1] |= (byte)(((value >> i) & 1) << (_used % 8));
            _used++;
        }
        return this;
    }

    /// <summary>Writes letters.</summary>
    public BitWriter Write(string letters)
    {
        foreach (var letter in letters)
            Write(letter, 8);
        return this;
    }

    public byte[] ToArray() => [.. _bytes];
}
