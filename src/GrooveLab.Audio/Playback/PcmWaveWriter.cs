using System.Buffers.Binary;
using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Writes a WAV file as a stream, in bounded memory: into a temporary file beside it, which takes its name at the end.
/// </summary>
/// <remarks>
/// Dispose without <see cref="Commit"/> removes what was written. The kept file is safe: without force, one that turns up while
/// writing is not replaced either.
/// </remarks>
public sealed class PcmWaveWriter : IDisposable
{
    /// <summary>Bytes before the first sample.</summary>
    public const int HeaderBytes = 44;

    private const int TagPcm = 1;

    private readonly string _path;
    private readonly string _temporary;
    private readonly FileStream _stream;
    private readonly byte[] _bytes = new byte[1 << 15];
    private readonly int _channels;
    private readonly int _sampleRate;
    private readonly WaveDepth _depth;
    private readonly bool _force;
    private readonly long _mostFrames;
    private bool _open = true;
    private bool _committed;

    /// <summary>Begins a file.</summary>
    /// <param name="path">Where the file goes; its folder must exist.</param>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="channels">Samples a frame.</param>
    /// <param name="depth">Bits a sample.</param>
    /// <param name="force">Whether a file that is there may be replaced.</param>
    /// <param name="expectedFrames">How many frames will come, if known: too many are refused before anything is written.</param>
    /// <exception cref="WaveFileExistsException">The file is there, and <paramref name="force"/> is false.</exception>
    /// <exception cref="WaveFileTooLargeException">It would not fit.</exception>
    /// <exception cref="IOException">The folder is missing, or the name is a folder.</exception>
    /// <exception cref="UnauthorizedAccessException">The folder may not be written to.</exception>
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
        _path = Path.GetFullPath(path);
        _sampleRate = sampleRate;
        _channels = channels;
        _depth = depth;
        _force = force;
        _mostFrames = WaveFile.MostFrames(channels, depth);
        if (expectedFrames > _mostFrames)
        {
            throw new WaveFileTooLargeException(expectedFrames, _mostFrames);
        }

        if (Directory.Exists(_path))
        {
            throw new IOException($"\"{path}\" is a folder.");
        }

        if (!force && File.Exists(_path))
        {
            throw new WaveFileExistsException(path);
        }

        // In the same folder, because only within one file system does a file take a name in one step.
        string folder = Path.GetDirectoryName(_path) ?? ".";
        _temporary = Path.Combine(folder, $".{Path.GetFileName(_path)}.{Guid.NewGuid():N}.part");
        _stream = new FileStream(_temporary, FileMode.CreateNew, FileAccess.Write, FileShare.None, 1 << 16);
        try
        {
            WriteHeader();
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
    /// <exception cref="WaveFileTooLargeException">They do not fit any more.</exception>
    /// <exception cref="IOException">The disk is full.</exception>
    public void Write(ReadOnlySpan<float> interleaved)
    {
        ObjectDisposedException.ThrowIf(!_open, this);
        if (interleaved.Length % _channels != 0)
        {
            throw new ArgumentException($"{interleaved.Length} samples are not whole frames of {_channels} channels.", nameof(interleaved));
        }

        long frames = Frames + (interleaved.Length / _channels);
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

    /// <summary>Puts the sizes in and gives the file its name.</summary>
    /// <exception cref="WaveFileExistsException">A file of that name turned up meanwhile, and force was not given.</exception>
    /// <exception cref="IOException">The disk is full, or the name cannot be taken.</exception>
    public void Commit()
    {
        ObjectDisposedException.ThrowIf(!_open, this);
        if ((DataBytes & 1) != 0)
        {
            _stream.WriteByte(0);
        }

        _stream.Position = 0;
        WriteHeader();
        _stream.Flush(flushToDisk: true);
        _stream.Dispose();
        try
        {
            File.Move(_temporary, _path, _force);
            _committed = true;
        }
        catch (IOException) when (!_force && File.Exists(_path))
        {
            throw new WaveFileExistsException(_path);
        }
        finally
        {
            Dispose();
        }
    }

    /// <summary>Removes the temporary file, unless the file was committed.</summary>
    public void Dispose()
    {
        if (!_open)
        {
            return;
        }

        _open = false;
        try
        {
            _stream.Dispose();
        }
        catch (IOException) when (!_committed)
        {
            // A full disk reports again when the buffer is let go; the file is removed all the same.
        }

        if (!_committed)
        {
            File.Delete(_temporary);
        }
    }

    private void Write16(ReadOnlySpan<float> samples)
    {
        Span<short> room = MemoryMarshal.Cast<byte, short>(_bytes.AsSpan());
        while (!samples.IsEmpty)
        {
            Span<short> converted = room[..Math.Min(room.Length, samples.Length)];
            SampleFormats.ToInt16(samples[..converted.Length], converted);
            if (!BitConverter.IsLittleEndian)
            {
                BinaryPrimitives.ReverseEndianness(converted, converted);
            }

            _stream.Write(MemoryMarshal.AsBytes(converted));
            samples = samples[converted.Length..];
        }
    }

    private void Write24(ReadOnlySpan<float> samples)
    {
        const int Width = 3;
        int used = 0;
        foreach (float sample in samples)
        {
            if (used + Width > _bytes.Length)
            {
                _stream.Write(_bytes, 0, used);
                used = 0;
            }

            int value = SampleFormats.ToInt24(sample);
            BinaryPrimitives.WriteInt16LittleEndian(_bytes.AsSpan(used), unchecked((short)value));
            _bytes[used + 2] = unchecked((byte)(value >> 16));
            used += Width;
        }

        _stream.Write(_bytes, 0, used);
    }

    private long DataBytes => Frames * _channels * ((int)_depth / 8);

    private void WriteHeader()
    {
        Span<byte> header = stackalloc byte[HeaderBytes];
        int frameBytes = _channels * ((int)_depth / 8);
        long padded = DataBytes + (DataBytes & 1);
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
        BinaryPrimitives.WriteUInt32LittleEndian(header[40..], (uint)DataBytes);
        _stream.Write(header);
    }
}
