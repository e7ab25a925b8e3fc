using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// A source lent to one output, and taken back for good: from then on the output finds it at its end, whatever it still does. So two
/// outputs never read a source at once, even when one of them does not stop as it should.
/// </summary>
/// <remarks>One thread reads, any other may end the lease; after the constructor nothing allocates or locks.</remarks>
/// <param name="source">What is lent; stereo.</param>
internal sealed class SourceLease(ISampleProvider source) : ISampleProvider
{
    private const int Idle = 0;
    private const int Reading = 1;
    private const int Over = 2;

    private int _state;
    private long _frames;

    public WaveFormat WaveFormat => source.WaveFormat;

    /// <summary>Frames read under this lease. Any thread.</summary>
    public long Frames => Interlocked.Read(ref _frames);

    public int Read(Span<float> buffer)
    {
        if (Interlocked.CompareExchange(ref _state, Reading, Idle) != Idle)
        {
            return 0;
        }

        try
        {
            int read = source.Read(buffer);
            Interlocked.Add(ref _frames, Math.Max(0, read) / 2);
            return read;
        }
        finally
        {
            Interlocked.CompareExchange(ref _state, Idle, Reading);
        }
    }

    /// <summary>Ends it; false while a read is still under way.</summary>
    public bool TryEnd() => Interlocked.CompareExchange(ref _state, Over, Idle) != Reading;
}
