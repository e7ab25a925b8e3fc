using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Lends a source to one output until the lease ends. After that the output reads nothing more, even if it fails to stop, so two
/// outputs never read a source at the same time.
/// </summary>
/// <remarks>One thread reads; any other thread can end the lease. After the constructor nothing allocates or locks.</remarks>
/// <param name="source">The source; stereo.</param>
internal sealed class SourceLease(ISampleProvider source) : ISampleProvider
{
    private const int Idle = 0;
    private const int Reading = 1;
    private const int Over = 2;

    private int _state;
    private long _frames;

    public WaveFormat WaveFormat => source.WaveFormat;

    /// <summary>Frames read under this lease. From any thread.</summary>
    public long Frames => Interlocked.Read(ref _frames);

    public int Read(Span<float> buffer)
    {
        if (Interlocked.CompareExchange(ref _state, Reading, Idle) != Idle)
        {
            return 0;
        }

        try
        {
            var read = source.Read(buffer);
            Interlocked.Add(ref _frames, Math.Max(0, read) / 2);
            return read;
        }
        finally
        {
            Interlocked.CompareExchange(ref _state, Idle, Reading);
        }
    }

    /// <summary>Ends the lease; false while a read is in progress. From any thread.</summary>
    public bool TryEnd() => Interlocked.CompareExchange(ref _state, Over, Idle) != Reading;
}
