namespace GrooveLab.Audio.Playback.Engine;

/// <summary>How an engine is set up; fixed for its life.</summary>
public sealed record EngineOptions
{
    /// <summary>The room before everything, in seconds, so that a strum or a human offset may lead the first beat.</summary>
    public const double DefaultPreRollSeconds = 0.2;

    /// <summary>How long the last notes are left to ring, in seconds.</summary>
    public const double DefaultTailSeconds = 2;

    /// <summary>Frames a second, in Hz; the synthesizer's.</summary>
    public int SampleRate { get; init; } = 48_000;

    /// <summary>Seconds before the source's first bar.</summary>
    public double PreRollSeconds { get; init; } = DefaultPreRollSeconds;

    /// <summary>Seconds after the end of the source's last bar.</summary>
    public double TailSeconds { get; init; } = DefaultTailSeconds;

    /// <summary>Level of the whole at the start, in dB.</summary>
    public double MasterDecibels { get; init; }

    /// <summary>
    /// True: the stream ends when the tail is over or the fade of a stop is done, as a file does. False: silence follows, so that a
    /// device's clock never stands still.
    /// </summary>
    public bool EndsStream { get; init; } = true;

    /// <summary>The pre-roll in whole frames.</summary>
    public long PreRollFrames => WholeFrames(PreRollSeconds);

    /// <summary>The tail in whole frames.</summary>
    public long TailFrames => WholeFrames(TailSeconds);

    private long WholeFrames(double seconds) => (long)Math.Round(seconds * SampleRate, MidpointRounding.AwayFromZero);
}
