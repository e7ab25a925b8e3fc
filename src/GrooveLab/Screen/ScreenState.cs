using GrooveLab.Audio.Playback;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;

namespace GrooveLab.Screen;

/// <summary>A part of the band as the screen shows it.</summary>
/// <param name="Name">The name.</param>
/// <param name="Instrument">The instrument, if the name is another instrument's; otherwise empty.</param>
/// <param name="Does">What is played, in a short sentence.</param>
/// <param name="Level">The level, "-3 dB".</param>
/// <param name="Silent">True if it is muted, or another part is solo.</param>
internal sealed record Player(string Name, string Instrument, string Does, string Level, bool Silent);

/// <summary>A pending change.</summary>
/// <param name="Says">The change, in words.</param>
/// <param name="Wait">"now", "at the bar line", "in 3 bars".</param>
/// <param name="AtNextLine">True if it takes effect at the next bar line.</param>
internal readonly record struct Awaited(string Says, string Wait, bool AtNextLine);

/// <summary>A syllable of the words and where in the bar it is sung, 0 to 1.</summary>
internal readonly record struct Sung(double At, string Text);

/// <summary>What is large on the screen.</summary>
internal enum ScreenView
{
    /// <summary>The beat and the band.</summary>
    Band,

    /// <summary>The words, for singers.</summary>
    Words,

    /// <summary>The chords, for players.</summary>
    Chords,
}

/// <summary>
/// All that the screen shows at one moment. Independent of the terminal and its size.
/// </summary>
internal sealed class ScreenState
{
    /// <summary>The chart's title.</summary>
    public string Title { get; set; } = string.Empty;

    /// <summary>The place in the set in the fewest letters, "3/8"; empty without a set.</summary>
    public string SongNumber => Song.Length == 0 ? string.Empty : Song["song ".Length..].Replace(" of ", "/", StringComparison.Ordinal);

    /// <summary>"verse, bar 3 of 8", "count-in", "the end".</summary>
    public string Where { get; set; } = string.Empty;

    /// <summary>The meter of the bar.</summary>
    public BarMeter? Meter { get; set; }

    /// <summary>The level felt as the beat.</summary>
    public FeltLevel Felt { get; set; }

    /// <summary>The place of the bar in its group.</summary>
    public BarGroupPlace GroupPlace { get; set; } = new(0, 0, 1);

    /// <summary>How far into the bar, 0 to 1.</summary>
    public double InBar { get; set; }

    /// <summary>The tempo in the felt unit.</summary>
    public string Tempo { get; set; } = string.Empty;

    /// <summary>How well the tempo suits the felt level, and from which tempo another level suits better.</summary>
    public string BeatAdvice { get; set; } = string.Empty;

    /// <summary>The current chord.</summary>
    public string Chord { get; set; } = string.Empty;

    /// <summary>The next chord.</summary>
    public string NextChord { get; set; } = string.Empty;

    /// <summary>How far off it is: "next bar", "in 3 eighths".</summary>
    public string NextIn { get; set; } = string.Empty;

    /// <summary>The words sung in this bar.</summary>
    public List<Sung> Words { get; } = [];

    /// <summary>The rhythm of this bar in the meter that the song had before, and in the one it has; null unless they differ.</summary>
    public RhythmPair? Pair { get; set; }

    /// <summary>The columns that a bar must have so that its words fit in one row, each below its note: the most so far in this section.</summary>
    public double WordColumns { get; set; }

    /// <summary>The band.</summary>
    public IReadOnlyList<Player> Band { get; set; } = [];

    /// <summary>The selected part.</summary>
    public int Selected { get; set; }

    /// <summary>Pending changes.</summary>
    public List<Awaited> Awaited { get; } = [];

    /// <summary>What is looped, held or compared.</summary>
    public string Holding { get; set; } = string.Empty;

    /// <summary>The message that answers the last key.</summary>
    public string Message { get; set; } = string.Empty;

    /// <summary>True if the message reports a failure.</summary>
    public bool MessageWarns { get; set; }

    /// <summary>The problems of the music.</summary>
    public Health Health { get; set; } = Health.Good;

    /// <summary>What the MIDI ports do; empty without any.</summary>
    public string Links { get; set; } = string.Empty;

    /// <summary>The six keys, each with its action.</summary>
    public IReadOnlyList<(string Key, string Does)> Keys { get; set; } = [];

    /// <summary>The line being typed; null if none.</summary>
    public string? Typed { get; set; }

    /// <summary>Lines shown over everything, such as all keys; null if none.</summary>
    public IReadOnlyList<string>? Over { get; set; }

    /// <summary>The first visible one of those lines.</summary>
    public int OverFrom { get; set; }

    /// <summary>The columns and rows that those lines had when they were drawn last.</summary>
    public (int Columns, int Rows) OverSize { get; set; } = (80, 10);

    /// <summary>The place of the caret in the typed line.</summary>
    public int TypedCaret { get; set; }

    /// <summary>What completes the typed line; empty for nothing.</summary>
    public string Completions { get; set; } = string.Empty;

    /// <summary>What is large.</summary>
    public ScreenView View { get; set; }

    /// <summary>Whether the band plays.</summary>
    public Standing Standing { get; set; } = Standing.Playing;

    /// <summary>While nothing plays: what pedal and keys do; otherwise empty.</summary>
    public string Hint { get; set; } = string.Empty;

    /// <summary>"song 2 of 5"; empty without a set.</summary>
    public string Song { get; set; } = string.Empty;

    /// <summary>While nothing plays: the next song of the set; otherwise empty.</summary>
    public string NextSong { get; set; } = string.Empty;

    /// <summary>The line of the tune whose words are shown large; empty for the tune itself.</summary>
    public string WordsOf { get; set; } = string.Empty;

    /// <summary>The current line of words and chords, and those that follow.</summary>
    public IReadOnlyList<SongLine> Lines { get; set; } = [];

    /// <summary>Which bar of the performance is heard, and the share of it that has passed.</summary>
    public double At { get; set; }

    /// <summary>The section that follows, and when: "refrain in 2 bars"; empty while it is far away.</summary>
    public string NextSection { get; set; } = string.Empty;

    /// <summary>What the arrangement has in store in the next bars; empty for nothing.</summary>
    public string InStore { get; set; } = string.Empty;

    /// <summary>What remains to be tapped while the rhythm of words is tapped; otherwise null.</summary>
    public TapsToCome? Taps { get; set; }

    /// <summary>True once the music is over.</summary>
    public bool Ended { get; set; }
}
