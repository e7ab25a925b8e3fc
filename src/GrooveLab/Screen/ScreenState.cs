using GrooveLab.Audio.Playback;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;

namespace GrooveLab.Screen;

/// <summary>A player of the band as the screen tells of it.</summary>
/// <param name="Name">The name.</param>
/// <param name="Does">What is played, in a short sentence.</param>
/// <param name="Level">The level, "-3 dB".</param>
/// <param name="Silent">True when not heard.</param>
internal sealed record Player(string Name, string Does, string Level, bool Silent);

/// <summary>Something asked for that is not yet heard.</summary>
/// <param name="Says">What.</param>
/// <param name="Wait">"now", "at the bar line", "in 3 bars".</param>
/// <param name="AtNextLine">True when it stands at the line of the next bar.</param>
internal readonly record struct Awaited(string Says, string Wait, bool AtNextLine);

/// <summary>A syllable of the words and where in the bar it is sung, 0 to 1.</summary>
internal readonly record struct Sung(double At, string Text);

/// <summary>
/// All that the screen shows at one moment. Independent of the terminal and its size.
/// </summary>
internal sealed class ScreenState
{
    /// <summary>The chart's title.</summary>
    public string Title { get; set; } = string.Empty;

    /// <summary>"verse, bar 3 of 8", "count-in", "the end".</summary>
    public string Where { get; set; } = string.Empty;

    /// <summary>The meter of the bar.</summary>
    public BarMeter? Meter { get; set; }

    /// <summary>The level felt as the beat.</summary>
    public FeltLevel Felt { get; set; }

    /// <summary>Where the bar stands in its group.</summary>
    public BarGroupPlace GroupPlace { get; set; } = new(0, 0, 1);

    /// <summary>How far into the bar, 0 to 1.</summary>
    public double InBar { get; set; }

    /// <summary>The tempo in the felt unit.</summary>
    public string Tempo { get; set; } = string.Empty;

    /// <summary>How well the tempo suits the felt level, and from which tempo another level suits better.</summary>
    public string BeatAdvice { get; set; } = string.Empty;

    /// <summary>The chord now.</summary>
    public string Chord { get; set; } = string.Empty;

    /// <summary>The chord that comes.</summary>
    public string NextChord { get; set; } = string.Empty;

    /// <summary>How far off that is: "next bar", "in 3 eighths".</summary>
    public string NextIn { get; set; } = string.Empty;

    /// <summary>The words sung in this bar.</summary>
    public List<Sung> Words { get; } = [];

    /// <summary>The band.</summary>
    public IReadOnlyList<Player> Band { get; set; } = [];

    /// <summary>The player that keys refer to.</summary>
    public int Selected { get; set; }

    /// <summary>What is still to be heard.</summary>
    public List<Awaited> Awaited { get; } = [];

    /// <summary>What goes round, is held, or is compared.</summary>
    public string Holding { get; set; } = string.Empty;

    /// <summary>The answer to the last key.</summary>
    public string Message { get; set; } = string.Empty;

    /// <summary>True when the message says that something could not be done.</summary>
    public bool MessageWarns { get; set; }

    /// <summary>The problems of the music.</summary>
    public Health Health { get; set; } = Health.Good;

    /// <summary>The six keys, each with what it does.</summary>
    public IReadOnlyList<(string Key, string Does)> Keys { get; set; } = [];

    /// <summary>What is being typed; null when nothing is.</summary>
    public string? Typed { get; set; }

    /// <summary>Lines shown over everything, such as all keys; null when none are.</summary>
    public IReadOnlyList<string>? Over { get; set; }

    /// <summary>The first of those lines that is shown.</summary>
    public int OverFrom { get; set; }

    /// <summary>True once the music is over.</summary>
    public bool Ended { get; set; }
}
