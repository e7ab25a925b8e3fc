using NAudio.Wave;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// Protects the ears when live music starts: a low level and a fade-in.
/// </summary>
/// <remarks>
/// <para>
/// Not part of a render: a file has its full level from the first frame. Not a limiter: it never raises the level, so sound
/// below a ceiling stays below it.
/// </para>
/// <para>
/// The gain of a frame is computed from the number of frames since the fade or the last change of level began, never from the
/// previous gain, so blocks of any size give the same samples. <see cref="LevelDecibels"/> and <see cref="FadeInAgain"/> may
/// be called from any thread and take effect with the next read; one thread reads.
/// </para>
/// </remarks>
public sealed class StartGain : ISampleProvider
{
    /// <summary>The start level relative to the engine's output, in dB: about half as loud. Common practice, no source.</summary>
    public const double DefaultLevelDecibels = -12;

    /// <summary>The lowest level in dB that is not silence; anything below it is silence.</summary>
    public const double LowestLevelDecibels = -80;

    private const double FadeInSeconds = 1.5;
    private const double ChangeSeconds = 0.05;

    private readonly ISampleProvider _source;
    private readonly int _channels;
    private readonly long _fadeFrames;
    private readonly long _changeFrames;
    private double _asked;
    private int _fadesAsked;
    private int _fadesBegun;
    private long _fadeFrame;
    private long _changeFrame;
    private double _from;
    private double _to;

    /// <summary>Adds the protection to a source.</summary>
    /// <param name="source">The source; interleaved, any number of channels.</param>
    /// <param name="levelDecibels">The start level in dB, 0 or less.</param>
    public StartGain(ISampleProvider source, double levelDecibels = DefaultLevelDecibels)
    {
        _source = source;
        _channels = source.WaveFormat.Channels;
        _fadeFrames = (long)(source.WaveFormat.SampleRate * FadeInSeconds);
        _changeFrames = (long)(source.WaveFormat.SampleRate * ChangeSeconds);
        _changeFrame = _changeFrames;
        LevelDecibels = levelDecibels;
        _from = _to = Linear(Volatile.Read(ref _asked));
    }

    /// <inheritdoc/>
    public WaveFormat WaveFormat => _source.WaveFormat;

    /// <summary>
    /// The requested level in dB; 0, the maximum, is the engine's output. A change takes 50 ms.
    /// </summary>
    public double LevelDecibels
    {
        get => Volatile.Read(ref _asked);
        set => Volatile.Write(ref _asked, double.IsNaN(value) ? DefaultLevelDecibels : Math.Min(0, value));
    }

    /// <summary>The number of frames from the first, silent one to the first at full level.</summary>
    public long FadeInFrames => _fadeFrames;

    /// <summary>Fades in again from silence, for sound that returns after a loss.</summary>
    public void FadeInAgain() => Interlocked.Increment(ref _fadesAsked);

    /// <inheritdoc/>
    public int Read(Span<float> buffer)
    {
        var read = _source.Read(buffer);
        TakeOrders();
        var frames = read / _channels;
        var sample = 0;
        for (var i = 0; i < frames; i++)
        {
            var gain = NextGain();
            for (var c = 0; c < _channels; c++)
            {
                buffer[sample++] *= gain;
            }
        }

        return read;
    }

    private void TakeOrders()
    {
        var wanted = Linear(Volatile.Read(ref _asked));
        if (wanted != _to)
        {
            _from = Changed();
            _to = wanted;
            _changeFrame = 0;
        }

        var asked = Volatile.Read(ref _fadesAsked);
        if (asked != _fadesBegun)
        {
            _fadesBegun = asked;
            _fadeFrame = 0;
        }
    }

    private float NextGain()
    {
        var gain = Changed();
        if (_changeFrame < _changeFrames)
        {
            _changeFrame++;
        }

        if (_fadeFrame < _fadeFrames)
        {
            gain *= Eased((double)_fadeFrame / _fadeFrames);
            _fadeFrame++;
        }

        return (float)gain;
    }

    private double Changed() =>
        _changeFrame >= _changeFrames ? _to : _from + ((_to - _from) * Eased((double)_changeFrame / _changeFrames));

    // Flat at both ends, without a corner that could be heard as a click.
    private static double Eased(double part) => part * part * (3 - (2 * part));

    private static double Linear(double decibels) => decibels < LowestLevelDecibels ? 0 : Math.Pow(10, decibels / 20);
}
