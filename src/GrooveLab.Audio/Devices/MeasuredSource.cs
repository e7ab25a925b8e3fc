using System.Diagnostics;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>Hands a source on unchanged, and publishes how far it has been read and when.</summary>
internal sealed class MeasuredSource(ISampleProvider source) : ISampleProvider
{
    private readonly OutputClockCell _clock = new();
    private long _frames;

    public WaveFormat WaveFormat => source.WaveFormat;

    /// <summary>Frames read; the delay is not known here.</summary>
    public OutputClock Clock => _clock.Read();

    /// <summary>The source has said that there is no more.</summary>
    public bool Ended { get; private set; }

    public int Read(Span<float> buffer)
    {
        int read = source.Read(buffer);
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
