using GrooveLab.Audio.Vorbis;
using NAudio.Wave;

namespace GrooveLab.Audio.SoundFiles;

/// <summary>The settings for a sound file.</summary>
public sealed record SoundFileOptions
{
    /// <summary>The format.</summary>
    public SoundFormat Format { get; init; } = SoundFormat.Wave;

    /// <summary>Bits a sample; Opus has none.</summary>
    public WaveDepth Depth { get; init; } = WaveDepth.Sixteen;

    /// <summary>Whether an existing file may be replaced.</summary>
    public bool Force { get; init; }

    /// <summary>The title, for FLAC and Opus; may be null.</summary>
    public string? Title { get; init; }

    /// <summary>What else players show of the music, for FLAC and Opus; may be null.</summary>
    public string? Description { get; init; }

    /// <summary>The comments of FLAC and Opus files. Source of the names: Vorbis I specification, section 5.2.2.</summary>
    internal CommentHeader Comments => new([("TITLE", Title), ("DESCRIPTION", Description)]);
}

/// <summary>Writes sound files of every <see cref="SoundFormat"/>.</summary>
public static class SoundFile
{
    private const int BlockFrames = 4096;

    /// <summary>Starts a file.</summary>
    /// <param name="path">The path of the file; its folder must exist.</param>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="channels">Samples a frame.</param>
    /// <param name="options">The settings.</param>
    /// <param name="expectedFrames">The number of frames if known, otherwise 0: a pipe, which cannot be rewound, gets the length at once.</param>
    /// <exception cref="ArgumentOutOfRangeException">The format does not have that rate or that many channels.</exception>
    /// <exception cref="WaveFileTooLargeException">The frames do not fit.</exception>
    /// <exception cref="GrooveLab.Files.FileRefusedException">The file exists and may not be replaced, or it cannot be written there.</exception>
    public static ISoundWriter Begin(string path, int sampleRate, int channels, SoundFileOptions options, long expectedFrames = 0) => options.Format switch
    {
        SoundFormat.Flac => new FlacWriter(path, sampleRate, channels, options, expectedFrames),
        SoundFormat.Opus => new OpusWriter(path, sampleRate, channels, options, expectedFrames),
        _ => new PcmWaveWriter(path, sampleRate, channels, options.Depth, options.Force, expectedFrames),
    };

    /// <summary>Writes a number of frames from a source to a file; the file appears complete at the end, or not at all.</summary>
    /// <param name="path">The path of the file; its folder must exist.</param>
    /// <param name="source">The source.</param>
    /// <param name="frames">The number of frames; if the source ends early, silence follows.</param>
    /// <param name="options">The settings.</param>
    /// <param name="progress">Receives the number of frames written, about every tenth of a second of sound.</param>
    /// <param name="cancellation">Cancels; no file is left.</param>
    /// <exception cref="ArgumentOutOfRangeException">As with <see cref="Begin"/>.</exception>
    /// <exception cref="WaveFileTooLargeException">The frames do not fit; no file was started.</exception>
    /// <exception cref="GrooveLab.Files.FileRefusedException">
    /// The file exists and may not be replaced, or it cannot be written; the message says why.
    /// </exception>
    /// <exception cref="OperationCanceledException">It was cancelled.</exception>
    public static void Write(
        string path,
        ISampleProvider source,
        long frames,
        SoundFileOptions options,
        IProgress<long>? progress = null,
        CancellationToken cancellation = default)
    {
        var channels = source.WaveFormat.Channels;
        using var writer = Begin(path, source.WaveFormat.SampleRate, channels, options, frames);
        var block = new float[BlockFrames * channels];
        var ended = false;
        long written = 0;
        while (written < frames)
        {
            cancellation.ThrowIfCancellationRequested();
            var samples = (int)Math.Min(BlockFrames, frames - written) * channels;
            var filled = 0;
            while (filled < samples && !ended)
            {
                var read = source.Read(block.AsSpan(filled, samples - filled));
                ended = read <= 0;
                filled += Math.Max(0, read);
            }

            Array.Clear(block, filled, samples - filled);
            writer.Write(block.AsSpan(0, samples));
            written += samples / channels;
            progress?.Report(written);
        }

        cancellation.ThrowIfCancellationRequested();
        writer.Commit();
    }
}
