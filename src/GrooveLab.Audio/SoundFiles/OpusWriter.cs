using GrooveLab.Audio.Opus;
using GrooveLab.Files;

namespace GrooveLab.Audio.SoundFiles;

/// <summary>Writes an Ogg Opus file.</summary>
internal sealed class OpusWriter : ISoundWriter
{
    private readonly UnfinishedFile _file;
    private readonly OggOpusEncoder _encoder;
    private readonly int _channels;

    /// <summary>Starts a file; see <see cref="SoundFile.Begin"/>.</summary>
    public OpusWriter(string path, int sampleRate, int channels, SoundFileOptions options, long expectedFrames)
    {
        _channels = channels;
        _file = UnfinishedFile.Begin(path, options.Force ? WriteOptions.Replacing : WriteOptions.New);
        try
        {
            _encoder = new OggOpusEncoder(_file.Stream, sampleRate, channels, options.Comments, expectedFrames);
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

        _encoder.Write(interleaved);
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
