using System.Buffers.Binary;
using System.Security.Cryptography;
using GrooveLab.Audio.Vorbis;

namespace GrooveLab.Audio.Flac;

/// <summary>
/// Encodes whole-number samples without loss, as a FLAC stream in bounded memory. Source: RFC 9639. Equal samples give equal bytes.
/// </summary>
/// <remarks>
/// Blocks of 4096 frames; two channels are coded left and right, left and side, side and right, or mid and side, whichever is
/// smallest. A stream that cannot be rewound gets neither the checksum of the samples nor the sizes of its frames, which the format allows.
/// </remarks>
internal sealed class FlacEncoder : IDisposable
{
    /// <summary>Frames in every block but the last.</summary>
    public const int BlockFrames = 4096;

    /// <summary>The most channels of the format.</summary>
    public const int MostChannels = 8;

    private const int StreamInfoBytes = 34;
    private const int StreamInfoType = 0;
    private const int CommentType = 4;
    private const int LastBlock = 0x80;
    public const long MostFrames = (1L << 36) - 1;
    private const int LeftSide = 8;
    private const int SideRight = 9;
    private const int MidSide = 10;

    private readonly Stream _output;
    private readonly int _sampleRate;
    private readonly int _channels;
    private readonly int _bits;
    private readonly long _start;
    private readonly IncrementalHash _hash;
    private readonly FlacBits _frame = new();
    private readonly FlacSubframe[] _subframes;
    private readonly int[][] _block;
    private readonly byte[] _hashed;
    private int _filled;
    private long _frames;
    private long _number;
    private int _smallest = int.MaxValue;
    private int _largest;

    /// <summary>Starts a stream and writes its header.</summary>
    /// <param name="output">Receives the stream. If it can be rewound, the header is completed at the end.</param>
    /// <param name="sampleRate">Frames a second, in Hz, at most 1,048,575.</param>
    /// <param name="channels">Samples a frame, 1 to 8.</param>
    /// <param name="bits">Bits a sample, 16 or 24.</param>
    /// <param name="comments">Titles and the like.</param>
    /// <param name="expectedFrames">The number of frames for the header of a stream that cannot be rewound; 0 if unknown.</param>
    public FlacEncoder(Stream output, int sampleRate, int channels, int bits, CommentHeader comments, long expectedFrames)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(sampleRate);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(sampleRate, (1 << 20) - 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(channels, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(channels, MostChannels);
        if (bits is not (16 or 24))
        {
            throw new ArgumentOutOfRangeException(nameof(bits), bits, "Samples have 16 or 24 bits.");
        }

        (_output, _sampleRate, _channels, _bits) = (output, sampleRate, channels, bits);

        // Two channels also have a middle and a difference.
        var kinds = channels == 2 ? 4 : channels;
        _subframes = [.. Enumerable.Range(0, kinds).Select(_ => new FlacSubframe(BlockFrames))];
        _block = [.. Enumerable.Range(0, kinds).Select(_ => new int[BlockFrames])];
        _hashed = new byte[BlockFrames * channels * (bits / 8)];
#pragma warning disable CA5351 // The format demands this checksum; it finds damage, not attacks.
        _hash = IncrementalHash.CreateHash(HashAlgorithmName.MD5);
#pragma warning restore CA5351
        _start = output.CanSeek ? output.Position : 0;
        output.Write("fLaC"u8);
        WriteStreamInfo(expectedFrames, default);
        var body = comments.ToBytes();
        WriteBlockHeader(CommentType | LastBlock, body.Length);
        output.Write(body);
    }

    /// <summary>Appends whole frames, interleaved; every sample is within the bits of a sample.</summary>
    public void Write(ReadOnlySpan<int> interleaved)
    {
        for (var i = 0; i < interleaved.Length; i += _channels)
        {
            for (var channel = 0; channel < _channels; channel++)
            {
                _block[channel][_filled] = interleaved[i + channel];
            }

            if (++_filled == BlockFrames)
            {
                WriteFrame();
            }
        }
    }

    /// <summary>Writes the last block, and completes the header if the stream can be rewound.</summary>
    public void Finish()
    {
        if (_filled > 0)
        {
            WriteFrame();
        }

        if (_output.CanSeek)
        {
            var end = _output.Position;
            _output.Position = _start + 4;
            WriteStreamInfo(_frames, _hash.GetHashAndReset());
            _output.Position = end;
        }
    }

    /// <summary>Releases the checksum.</summary>
    public void Dispose() => _hash.Dispose();

    private void WriteBlockHeader(int type, int length)
    {
        Span<byte> header = stackalloc byte[4];
        BinaryPrimitives.WriteInt32BigEndian(header, length);
        header[0] = (byte)type;
        _output.Write(header);
    }

    private void WriteStreamInfo(long frames, ReadOnlySpan<byte> hash)
    {
        Span<byte> info = stackalloc byte[StreamInfoBytes];
        info.Clear();
        BinaryPrimitives.WriteUInt16BigEndian(info, BlockFrames);
        BinaryPrimitives.WriteUInt16BigEndian(info[2..], BlockFrames);

        // 0 means unknown, for the sizes of frames and for the number of frames.
        var smallest = _largest > 0 ? _smallest : 0;
        BinaryPrimitives.WriteUInt16BigEndian(info[4..], (ushort)(smallest >> 8));
        info[6] = unchecked((byte)smallest);
        BinaryPrimitives.WriteUInt16BigEndian(info[7..], (ushort)(_largest >> 8));
        info[9] = unchecked((byte)_largest);
        var shape = ((long)_sampleRate << 44) | ((long)(_channels - 1) << 41) | ((long)(_bits - 1) << 36) | (frames > MostFrames ? 0 : frames);
        BinaryPrimitives.WriteInt64BigEndian(info[10..], shape);
        hash.CopyTo(info[18..]);
        WriteBlockHeader(StreamInfoType, StreamInfoBytes);
        _output.Write(info);
    }

    private void WriteFrame()
    {
        AddToHash();
        for (var channel = 0; channel < _channels; channel++)
        {
            _subframes[channel].Take(_block[channel].AsSpan(0, _filled), _bits);
        }

        var assignment = _channels == 2 ? BestOfTwo() : _channels - 1;
        _frame.Clear();
        WriteFrameHeader(assignment);
        foreach (var subframe in Chosen(assignment))
        {
            subframe.Write(_frame);
        }

        _frame.Align();
        _frame.Write(FlacChecksums.OfFrame(_frame.Bytes), 16);
        _frame.Align();
        _output.Write(_frame.Bytes);
        _smallest = Math.Min(_smallest, _frame.Bytes.Length);
        _largest = Math.Max(_largest, _frame.Bytes.Length);
        _frames += _filled;
        _number++;
        _filled = 0;
    }

    private int BestOfTwo()
    {
        var (left, right, mid, side) = (_block[0], _block[1], _block[2], _block[3]);
        for (var i = 0; i < _filled; i++)
        {
            mid[i] = (left[i] + right[i]) >> 1;
            side[i] = left[i] - right[i];
        }

        _subframes[2].Take(mid.AsSpan(0, _filled), _bits);
        _subframes[3].Take(side.AsSpan(0, _filled), _bits + 1);
        var best = 1;
        foreach (var other in (ReadOnlySpan<int>)[LeftSide, SideRight, MidSide])
        {
            best = Size(other) < Size(best) ? other : best;
        }

        return best;
    }

    private long Size(int assignment) => Chosen(assignment).Sum(subframe => subframe.Bits);

    private FlacSubframe[] Chosen(int assignment) => assignment switch
    {
        LeftSide => [_subframes[0], _subframes[3]],
        SideRight => [_subframes[3], _subframes[1]],
        MidSide => [_subframes[2], _subframes[3]],
        _ => _subframes[.._channels],
    };

    private void WriteFrameHeader(int assignment)
    {
        const int FixedBlocks = 0b111111111111100_0;
        _frame.Write(FixedBlocks, 16);
        var sizeCode = _filled switch
        {
            BlockFrames => 0b1100,
            <= 256 => 0b0110,
            _ => 0b0111,
        };
        var (rateCode, rateBits, rate) = RateCode(_sampleRate);
        _frame.Write(sizeCode, 4);
        _frame.Write(rateCode, 4);
        _frame.Write(assignment, 4);
        _frame.Write(_bits == 16 ? 0b100 : 0b110, 3);
        _frame.Write(0, 1);
        WriteNumber(_number);
        if (sizeCode != 0b1100)
        {
            _frame.Write(_filled - 1, sizeCode == 0b0110 ? 8 : 16);
        }

        _frame.Write(rate, rateBits);
        _frame.Align();
        _frame.Write(FlacChecksums.OfHeader(_frame.Bytes), 8);
    }

    // Section 9.1.2: a code for the usual rates; others follow the number of the frame; any other is only in the header of the stream.
    private static (int Code, int Bits, int Value) RateCode(int rate) => rate switch
    {
        88_200 => (0b0001, 0, 0),
        176_400 => (0b0010, 0, 0),
        192_000 => (0b0011, 0, 0),
        8_000 => (0b0100, 0, 0),
        16_000 => (0b0101, 0, 0),
        22_050 => (0b0110, 0, 0),
        24_000 => (0b0111, 0, 0),
        32_000 => (0b1000, 0, 0),
        44_100 => (0b1001, 0, 0),
        48_000 => (0b1010, 0, 0),
        96_000 => (0b1011, 0, 0),
        _ when rate % 1000 == 0 && rate / 1000 <= byte.MaxValue => (0b1100, 8, rate / 1000),
        <= ushort.MaxValue => (0b1101, 16, rate),
        _ when rate % 10 == 0 && rate / 10 <= ushort.MaxValue => (0b1110, 16, rate / 10),
        _ => (0, 0, 0),
    };

    // Section 9.1.5: as UTF-8 codes a character, up to 36 bits.
    private void WriteNumber(long number)
    {
        if (number < 0x80)
        {
            _frame.Write(number, 8);
            return;
        }

        var more = 1;
        while (number >> ((6 * more) + (6 - more)) != 0)
        {
            more++;
        }

        long mark = 0xFF & (0xFF00 >> (more + 1));
        _frame.Write(mark | (number >> (6 * more)), 8);
        for (var left = more - 1; left >= 0; left--)
        {
            _frame.Write(0x80 | ((number >> (6 * left)) & 0x3F), 8);
        }
    }

    private void AddToHash()
    {
        var at = 0;
        for (var i = 0; i < _filled; i++)
        {
            for (var channel = 0; channel < _channels; channel++)
            {
                var sample = _block[channel][i];
                for (var shift = 0; shift < _bits; shift += 8)
                {
                    _hashed[at++] = unchecked((byte)(sample >> shift));
                }
            }
        }

        _hash.AppendData(_hashed, 0, at);
    }
}
