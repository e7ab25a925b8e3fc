using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Flac;
using GrooveLab.Files;

namespace GrooveLab.Audio.SoundFiles;

/// <summary>Writes a FLAC file whose samples are exactly those of the WAV file of the same depth.</summary>
internal sealed class FlacWriter : ISoundWriter
{
    private readonly UnfinishedFile _file;
    private readonly FlacEncoder _encoder;
    private readonly int[] _piece;
    private readonly int _channels;
    private readonly bool _isWide;

    /// <summary>Starts a file; see <see cref="SoundFile.Begin"/>.</summary>
    public FlacWriter(string path, int sampleRate, int channels, SoundFileOptions options, long expectedFrames)
    {
        if (expectedFrames > FlacEncoder.MostFrames)
        {
            throw new WaveFileTooLargeException(expectedFrames, FlacEncoder.MostFrames, "FLAC");
        }

        _channels = channels;
        _isWide = options.Depth == WaveDepth.TwentyFour;
        _piece = new int[1024 * channels];
        _file = UnfinishedFile.Begin(path, options.Force ? WriteOptions.Replacing : WriteOptions.New);
        try
        {
            _encoder = new FlacEncoder(_file.Stream, sampleRate, channels, (int)options.Depth, options.Comments, expectedFrames);
        }
        catch
        {
            _file.Dispose();
            throw;
        }
    }

    /// <inheritdoc/>
    public void Write(ReadOnlySpan<float> interleaved)
    {
        if (interleaved.Length % _channels != 0)
        {
            throw new ArgumentException($"{interleaved.Length} samples are not whole frames of {_channels} channels.", nameof(interleaved));
        }

        while (!interleaved.IsEmpty)
        {
            var count = Math.Min(_piece.Length, interleaved.Length);
            for (var i = 0; i < count; i++)
            {
                _piece[i] = _isWide ? SampleFormats.ToInt24(interleaved[i]) : SampleFormats.ToInt16(interleaved[i]);
            }

            _encoder.Write(_piece.AsSpan(0, count));
            interleaved = interleaved[count..];
        }
    }

    /// <inheritdoc/>
    public void Commit()
    {
        _encoder.Finish();
        _file.Commit();
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _encoder.Dispose();
        _file.Dispose();
    }
}
