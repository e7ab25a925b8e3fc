using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;
using NAudio.Wave;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// The engine run by its caller: before each read, the bars that it needs are composed on the same thread, so that nothing waits
/// and nothing is late. The engine, its queue and its frames are those of live playing.
/// </summary>
/// <remarks>Not real-time: composing allocates and may take any time. One thread owns an instance.</remarks>
public sealed class OfflinePlayer : ISampleProvider
{
    private const int PieceFrames = 4096;
    private const int Channels = 2;

    private readonly ISampleProvider _out;
    private readonly ISoundFontSynth _synth;
    private readonly Limiter? _limiter;
    private readonly PeakMeter _meter;

    /// <summary>Creates an engine with its composer.</summary>
    /// <param name="route">The route to play.</param>
    /// <param name="synth">The synthesizer; owned by this object.</param>
    /// <param name="options">The engine's settings.</param>
    /// <param name="plays">The parts that play; null for all.</param>
    /// <param name="limited">Whether it goes through the limiter: true for a mix, false for a stem.</param>
    public OfflinePlayer(
        BarRoute route, ISoundFontSynth synth, EngineOptions options, Func<PartChannels, bool>? plays = null, bool limited = true)
    {
        Engine = new GrooveEngine(synth, options);
        Bars = new BarPreparer(Engine, route, plays);
        _meter = new PeakMeter(new Filler(this));
        _synth = synth;
        _limiter = limited ? new Limiter(options.SampleRate) : null;
        _out = _limiter is { } limiter ? new LimitedMix(_meter, limiter) : _meter;
    }

    /// <summary>The engine, for commands and its playhead.</summary>
    public GrooveEngine Engine { get; }

    /// <summary>The composer's side, for structural changes.</summary>
    public BarPreparer Bars { get; }

    /// <summary>The highest sample so far, before the limiter, in dB of full scale; minus infinity for silence.</summary>
    public double PeakDecibels => 20 * Math.Log10(_meter.Peak);

    /// <summary>The problems so far.</summary>
    public Health Health => Health.Of(Engine, Bars, _synth, _limiter, output: null, Bars.Failures, before: null);

    /// <inheritdoc/>
    public WaveFormat WaveFormat => _out.WaveFormat;

    /// <summary>Fills a buffer of any size; returns less than requested only at the end.</summary>
    /// <exception cref="InvalidOperationException">The engine failed, against its contract; the inner exception is the cause.</exception>
    public int Read(Span<float> buffer) => _out.Read(buffer);

    private int ReadEngine(Span<float> buffer)
    {
        var done = 0;
        while (done < buffer.Length)
        {
            var piece = buffer.Slice(done, Math.Min(Channels * PieceFrames, buffer.Length - done));
            Bars.FillFor(piece.Length / Channels);
            var read = Engine.Read(piece);
            var counters = Engine.Counters;
            if (counters.Faults != 0 || counters.LateBars != 0)
            {
                throw new InvalidOperationException(
                    $"Playing failed: {counters.Faults} faults, {counters.LateBars} late bars.", Engine.Fault);
            }

            if (read == 0)
            {
                break;
            }

            done += read;
        }

        return done;
    }

    private sealed class Filler(OfflinePlayer player) : ISampleProvider
    {
        public WaveFormat WaveFormat => player.Engine.WaveFormat;

        public int Read(Span<float> buffer) => player.ReadEngine(buffer);
    }

    private sealed class PeakMeter(ISampleProvider source) : ISampleProvider
    {
        public float Peak { get; private set; }

        public WaveFormat WaveFormat => source.WaveFormat;

        public int Read(Span<float> buffer)
        {
            var read = source.Read(buffer);
            foreach (var sample in buffer[..read])
            {
                Peak = Math.Max(Peak, Math.Abs(sample));
            }

            return read;
        }
    }
}
