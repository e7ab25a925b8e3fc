using GrooveLab.Audio.Synthesis;
using NAudio.Wave;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// A stereo source through a limiter, with its look-ahead compensated: the first frame out is the first frame in, and as many come out as
/// went in.
/// </summary>
/// <remarks>One thread reads; after the constructor nothing allocates, locks, logs or throws.</remarks>
public sealed class LimitedMix : ISampleProvider
{
    private const int Channels = 2;
    private const int MostFrames = 512;

    private readonly ISampleProvider _source;
    private readonly float[] _both = new float[Channels * MostFrames];
    private readonly float[] _left = new float[MostFrames];
    private readonly float[] _right = new float[MostFrames];
    private int _toDrop;
    private int _toFlush;
    private bool _ended;

    /// <summary>Adds a limiter after a source.</summary>
    /// <param name="source">The source; stereo.</param>
    /// <param name="limiter">The limiter, at rest; owned by this object.</param>
    /// <exception cref="ArgumentException">The source is not stereo.</exception>
    public LimitedMix(ISampleProvider source, Limiter limiter)
    {
        if (source.WaveFormat.Channels != Channels)
        {
            throw new ArgumentException("The limiter needs a stereo source.", nameof(source));
        }

        _source = source;
        Limiter = limiter;
        _toDrop = _toFlush = limiter.LatencyFrames;
    }

    /// <summary>The limiter, for its counters.</summary>
    public Limiter Limiter { get; }

    /// <inheritdoc/>
    public WaveFormat WaveFormat => _source.WaveFormat;

    /// <inheritdoc/>
    public int Read(Span<float> buffer)
    {
        var frames = buffer.Length / Channels;
        var done = 0;
        while (done < frames)
        {
            var got = Pull(Math.Min(MostFrames, frames - done));
            if (got == 0)
            {
                break;
            }

            Limiter.Process(_left.AsSpan(0, got), _right.AsSpan(0, got));
            var dropped = Math.Min(got, _toDrop);
            _toDrop -= dropped;
            Blocks.Interleave(_left.AsSpan(dropped, got - dropped), _right.AsSpan(dropped, got - dropped), buffer[(Channels * done)..]);
            done += got - dropped;
        }

        return done * Channels;
    }

    private int Pull(int frames)
    {
        if (!_ended)
        {
            var got = _source.Read(_both.AsSpan(0, Channels * frames)) / Channels;
            Blocks.Split(_both, _left.AsSpan(0, got), _right.AsSpan(0, got));

            if (got > 0)
            {
                return got;
            }

            _ended = true;
        }

        var silent = Math.Min(frames, _toFlush);
        _toFlush -= silent;
        Array.Clear(_left, 0, silent);
        Array.Clear(_right, 0, silent);
        return silent;
    }
}
