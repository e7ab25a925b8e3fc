namespace GrooveLab.Audio.Vorbis;

/// <summary>Reads the bits of a packet, the lowest of each byte first (Vorbis I, section 2). Past the end it reads zeros and says so.</summary>
internal ref struct BitReader
{
    private readonly ReadOnlySpan<byte> _data;
    private int _next;
    private ulong _bits;
    private int _count;

    public BitReader(ReadOnlySpan<byte> packet) => _data = packet;

    /// <summary>Whether a read has gone past the end.</summary>
    public bool HasEnded { get; private set; }

    /// <summary>The bits that are left.</summary>
    public readonly long Left => (8L * (_data.Length - _next)) + _count;

    /// <summary>An unsigned number of up to 32 bits; 0 past the end.</summary>
    public uint Read(int count)
    {
        unchecked
        {
            var value = Peek() & (uint)((1ul << count) - 1);
            return Skip(count) ? value : 0;
        }
    }

    /// <summary>One bit as a flag.</summary>
    public bool ReadFlag() => Read(1) != 0;

    /// <summary>The next 32 bits without taking them; zeros follow the last bit.</summary>
    public uint Peek()
    {
        unchecked
        {
            while (_count <= 56 && _next < _data.Length)
            {
                _bits |= (ulong)_data[_next++] << _count;
                _count += 8;
            }
            return (uint)_bits;
        }
    }

    /// <summary>Takes up to 32 bits that have been peeked at.</summary>
    /// <returns>Whether there were as many.</returns>
    public bool Skip(int count)
    {
        unchecked
        {
            if (count > _count)
            {
                HasEnded = true;
                _bits = 0;
                _count = 0;
                _next = _data.Length;
                return false;
            }
            _bits >>= count;
            _count -= count;
            return true;
        }
    }
}
