using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Passes a source through unchanged, and publishes how far it has been read and when. If the source throws, against its
/// contract, it counts as ended, so that its reader sees only exceptions of the device.
/// </summary>
internal sealed class MeasuredSource(ISampleProvider source) : ISampleProvider
{
    private readonly OutputClockCell _clock = new();
    private long _frames;
    private volatile Exception? _failure;

    public WaveFormat WaveFormat => source.WaveFormat;

    /// <summary>Frames read; the delay is unknown here.</summary>
    public OutputClock Clock => _clock.Read();

    /// <summary>True when the source has ended.</summary>
    public bool Ended { get; private set; }

    /// <summary>The exception of the source; null if there was none.</summary>
    public Exception? Failure => _failure;

    public int Read(Span<float> buffer)
    {
        int read;
        try
        {
            read = source.Read(buffer);
        }
#pragma warning disable CA1031 // An exception would end a thread of another library; Failure reports it.
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
        _clock.Publish(_frames, 0);
        return read;
    }
}
