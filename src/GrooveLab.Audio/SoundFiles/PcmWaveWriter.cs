using System.Buffers.Binary;
using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
using GrooveLab.Files;

namespace GrooveLab.Audio.SoundFiles;

/// <summary>
/// Writes a WAV file as a stream, in bounded memory. The file appears complete at the end; a pipe or device is written to directly.
/// </summary>
/// <remarks>
/// Dispose without <see cref="Commit"/> removes what was written. Without force, a file that appears during writing is not replaced
/// either.
/// </remarks>
public sealed class PcmWaveWriter : ISoundWriter
{
    /// <summary>Bytes before the first sample.</summary>
    public const int HeaderBytes = 44;

    private const int TagPcm = 1;

    private readonly UnfinishedFile _file;
    private readonly byte[] _bytes = new byte[1 << 15];
    private readonly int _channels;
    private readonly int _sampleRate;
    private readonly WaveDepth _depth;
    private readonly long _mostFrames;
    private bool _open = true;

    /// <summary>Starts a file.</summary>
    /// <param name="path">The path of the file; its folder must exist.</param>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="channels">Samples a frame.</param>
    /// <param name="depth">Bits a sample.</param>
    /// <param name="force">Whether an existing file may be replaced.</param>
    /// <param name="expectedFrames">
    /// The number of frames, if known: too many are refused before anything is written, and a pipe, which cannot be rewound, gets the
    /// length at once.
    /// </param>
    /// <exception cref="WaveFileTooLargeException">The frames do not fit.</exception>
    /// <exception cref="FileRefusedException">The file exists and <paramref name="force"/> is false, or it cannot be written there.</exception>
    public PcmWaveWriter(
        string path,
        int sampleRate,
        int channels,
        WaveDepth depth = WaveDepth.Sixteen,
        bool force = false,
        long expectedFrames = 0)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(sampleRate);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(channels);
        ArgumentOutOfRangeException.ThrowIfNegative(expectedFrames);
        _sampleRate = sampleRate;
        _channels = channels;
        _depth = depth;
        _mostFrames = WaveFile.MostFrames(channels, depth);
        if (expectedFrames > _mostFrames)
        {
            throw new WaveFileTooLargeException(expectedFrames, _mostFrames);
        }

        _file = UnfinishedFile.Begin(path, force ? WriteOptions.Replacing : WriteOptions.New);
        try
        {
            // For a pipe of unknown length the header has the maximum; the reader reads to the end.
            WriteHeader(expectedFrames > 0 || _file.Stream.CanSeek ? expectedFrames : _mostFrames);
        }
        catch
        {
            Dispose();
            throw;
        }
    }

    /// <summary>Frames written so far.</summary>
    public long Frames { get; private set; }

    /// <summary>Appends whole frames, interleaved.</summary>
    /// <exception cref="WaveFileTooLargeException">They no longer fit.</exception>
    /// <exception cref="FileRefusedException">The disk is full, or the pipe's reader has ended.</exception>
    public void Write(ReadOnlySpan<float> interleaved)
    {
        ObjectDisposedException.ThrowIf(!_open, this);
        if (interleaved.Length % _channels != 0)
        {
            throw new ArgumentException($"{interleaved.Length} samples are not whole frames of {_channels} channels.", nameof(interleaved));
        }

        var frames = Frames + (interleaved.Length / _channels);
        if (frames > _mostFrames)
        {
            throw new WaveFileTooLargeException(frames, _mostFrames);
        }

        if (_depth == WaveDepth.Sixteen)
        {
            Write16(interleaved);
        }
        else
        {
            Write24(interleaved);
        }

        Frames = frames;
    }

    /// <summary>Writes the sizes and gives the file its name.</summary>
    /// <exception cref="FileRefusedException">A file of that name appeared and force was not given, or the disk is full.</exception>
    public void Commit()
    {
        ObjectDisposedException.ThrowIf(!_open, this);
        if ((DataBytes(Frames) & 1) != 0)
        {
            _file.Stream.WriteByte(0);
        }

        if (_file.Stream.CanSeek)
        {
            _file.Stream.Position = 0;
            WriteHeader(Frames);
        }

        _file.Commit();
        _open = false;
    }

    /// <summary>Removes what was written, unless the file was committed.</summary>
    public void Dispose()
    {
        _open = false;
        _file.Dispose();
    }

    private void Write16(ReadOnlySpan<float> samples)
    {
        var room = MemoryMarshal.Cast<byte, short>(_bytes.AsSpan());
        while (!samples.IsEmpty)
        {
            var converted = room[..Math.Min(room.Length, samples.Length)];
            SampleFormats.ToInt16(samples[..converted.Length], converted);
            if (!BitConverter.IsLittleEndian)
            {
                BinaryPrimitives.ReverseEndianness(converted, converted);
            }

            _file.Stream.Write(MemoryMarshal.AsBytes(converted));
            samples = samples[converted.Length..];
        }
    }

    private void Write24(ReadOnlySpan<float> samples)
    {
        const int Width = 3;
        var used = 0;
        foreach (var sample in samples)
        {
            if (used + Width > _bytes.Length)
            {
                _file.Stream.Write(_bytes, 0, used);
                used = 0;
            }

            var value = SampleFormats.ToInt24(sample);
            BinaryPrimitives.WriteInt16LittleEndian(_bytes.AsSpan(used), unchecked((short)value));
            _bytes[used + 2] = unchecked((byte)(value >> 16));
            used += Width;
        }

        _file.Stream.Write(_bytes, 0, used);
    }

    private long DataBytes(long frames) => frames * _channels * ((int)_depth / 8);

    private void WriteHeader(long frames)
    {
        Span<byte> header = stackalloc byte[HeaderBytes];
        var frameBytes = _channels * ((int)_depth / 8);
        var padded = DataBytes(frames) + (DataBytes(frames) & 1);
        "RIFF"u8.CopyTo(header);
        BinaryPrimitives.WriteUInt32LittleEndian(header[4..], (uint)(HeaderBytes - 8 + padded));
        "WAVEfmt "u8.CopyTo(header[8..]);
        BinaryPrimitives.WriteInt32LittleEndian(header[16..], 16);
        BinaryPrimitives.WriteInt16LittleEndian(header[20..], TagPcm);
        BinaryPrimitives.WriteInt16LittleEndian(header[22..], (short)_channels);
        BinaryPrimitives.WriteInt32LittleEndian(header[24..], _sampleRate);
        BinaryPrimitives.WriteInt32LittleEndian(header[28..], _sampleRate * frameBytes);
        BinaryPrimitives.WriteInt16LittleEndian(header[32..], (short)frameBytes);
        BinaryPrimitives.WriteInt16LittleEndian(header[34..], (short)_depth);
        "data"u8.CopyTo(header[36..]);
        BinaryPrimitives.WriteUInt32LittleEndian(header[40..], (uint)DataBytes(frames));
        _file.Stream.Write(header);
    }
}
