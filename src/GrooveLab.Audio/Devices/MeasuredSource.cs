using System.Diagnostics;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Hands a source on unchanged, and publishes how far it has been read and when. A source that throws, against its contract, is at its end:
/// so whoever reads it has no exception but its device's.
/// </summary>
internal sealed class MeasuredSource(ISampleProvider source) : ISampleProvider
{
    private readonly OutputClockCell _clock = new();
    private long _frames;
    private volatile Exception? _failure;

    public WaveFormat WaveFormat => source.WaveFormat;

    /// <summary>Frames read; the delay is not known here.</summary>
    public OutputClock Clock => _clock.Read();

    /// <summary>The source has said that there is no more.</summary>
    public bool Ended { get; private set; }

    /// <summary>What the source threw; null when it threw nothing.</summary>
    public Exception? Failure => _failure;

    public int Read(Span<float> buffer)
    {
        int read;
        try
        {
            read = source.Read(buffer);
        }
#pragma warning disable CA1031 // An exception that leaves this call ends a thread that is not ours; it is told by Failure.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failure = thrown;
            read = 0;
        }

        if (read <= 0)
        {
            Ended = true;
            return 0;
        }

        _frames += read / 2;
        _clock.Publish(_frames, 0, Stopwatch.GetTimestamp());
        return read;
    }
}
