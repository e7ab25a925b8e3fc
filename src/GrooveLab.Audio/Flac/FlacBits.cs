using System.Buffers.Binary;

namespace GrooveLab.Audio.Flac;

/// <summary>Collects bits, the most significant first, into bytes.</summary>
internal sealed class FlacBits
{
    private byte[] _bytes = new byte[1 << 16];
    private int _length;
    private ulong _held;
    private int _heldBits;

    /// <summary>The whole bytes so far.</summary>
    public ReadOnlySpan<byte> Bytes => _bytes.AsSpan(0, _length);

    /// <summary>Removes everything.</summary>
    public void Clear() => (_length, _held, _heldBits) = (0, 0, 0);

    /// <summary>Appends the lowest bits of a number.</summary>
    /// <param name="value">The number; higher bits are ignored, so that a negative number is written in two's complement.</param>
    /// <param name="bits">How many bits, 0 to 32.</param>
    public void Write(long value, int bits)
    {
        _held = (_held << bits) | (unchecked((ulong)value) & ((1UL << bits) - 1));
        _heldBits += bits;
        if (_heldBits >= 32)
        {
            Reserve(4);
            _heldBits -= 32;
            BinaryPrimitives.WriteUInt32BigEndian(_bytes.AsSpan(_length), unchecked((uint)(_held >> _heldBits)));
            _length += 4;
        }
    }

    /// <summary>Appends zeros and then a one.</summary>
    public void WriteUnary(uint zeros)
    {
        for (; zeros >= 31; zeros -= 31)
        {
            Write(0, 31);
        }

        Write(1, (int)zeros + 1);
    }

    /// <summary>Appends zeros up to the next whole byte, and makes <see cref="Bytes"/> complete.</summary>
    public void Align()
    {
        Write(0, (8 - (_heldBits % 8)) % 8);
        Reserve(4);
        for (; _heldBits > 0; _heldBits -= 8)
        {
            _bytes[_length++] = unchecked((byte)(_held >> (_heldBits - 8)));
        }
    }

    private void Reserve(int bytes)
    {
        if (_length + bytes > _bytes.Length)
        {
            Array.Resize(ref _bytes, 2 * _bytes.Length);
        }
    }
}
