using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>The settings of an engine, fixed for its lifetime.</summary>
public sealed record EngineOptions
{
    /// <summary>Silence at the start, in seconds, so that a strum or a human offset can lead the first beat.</summary>
    public const double DefaultPreRollSeconds = 0.2;

    /// <summary>How long the last notes ring, in seconds.</summary>
    public const double DefaultTailSeconds = 2;

    /// <summary>Frames a second, in Hz; must equal the synthesizer's.</summary>
    public int SampleRate { get; init; } = 48_000;

    /// <summary>Seconds before the source's first bar.</summary>
    public double PreRollSeconds { get; init; } = DefaultPreRollSeconds;

    /// <summary>Seconds after the end of the source's last bar.</summary>
    public double TailSeconds { get; init; } = DefaultTailSeconds;

    /// <summary>Overall level at the start, in dB.</summary>
    public double MasterDecibels { get; init; }

    /// <summary>
    /// True: the stream ends after the tail or the fade of a stop, as a file does. False: silence follows, so that a
    /// device's clock never stops.
    /// </summary>
    public bool EndsStream { get; init; } = true;

    /// <summary>Receives what is played as MIDI messages; null for nothing.</summary>
    public MidiTap? Tap { get; init; }

    /// <summary>The tempo of all bars, whatever is written; null for the written tempi. For playing to another's clock, which alone sets the speed.</summary>
    public Tempo? SteadyTempo { get; init; }

    /// <summary>The pre-roll in whole frames.</summary>
    public long PreRollFrames => WholeFrames(PreRollSeconds);

    /// <summary>The tail in whole frames.</summary>
    public long TailFrames => WholeFrames(TailSeconds);

    private long WholeFrames(double seconds) => (long)Math.Round(seconds * SampleRate, MidpointRounding.AwayFromZero);
}
