using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Sheets;

/// <summary>What stands on a printed sheet for the whole band: the form, the bars of every section, tempi, parts and how to beat time. It says what is
/// to be printed and nothing about where. Immutable.</summary>
/// <param name="Title">The title as the chart has it; any text.</param>
/// <param name="Key">The key of the chart.</param>
/// <param name="Tempi">The tempo of the first bar at each level that can be felt, "eighth = 260" and "bar = 52", the unit first.</param>
/// <param name="Felt">How the first bar is felt, "in two, long-short".</param>
/// <param name="Form">The order of playing: one pass, then the tag.</param>
/// <param name="Times">How often the pass is played, at least 1.</param>
/// <param name="Ending">What happens after the last bar, "Dm rings"; empty for nothing.</param>
/// <param name="Sections">Each different stretch of bars once, in the order in which they are first played.</param>
/// <param name="Parts">The parts of the band in their order.</param>
/// <param name="Beating">How to beat each meter, in the order in which they are first played.</param>
public sealed record Sheet(
    string Title,
    Key Key,
    IReadOnlyList<string> Tempi,
    string Felt,
    IReadOnlyList<SheetStep> Form,
    int Times,
    string Ending,
    IReadOnlyList<SheetSection> Sections,
    IReadOnlyList<SheetPart> Parts,
    IReadOnlyList<BeatingPattern> Beating);

/// <summary>A step of the form on paper: a section, played once or several times in a row.</summary>
/// <param name="Letter">The rehearsal letter of its section.</param>
/// <param name="Name">The name of the section.</param>
/// <param name="Times">Times in a row, at least 1.</param>
/// <param name="IsTag">True for what is played once more after the last pass.</param>
public sealed record SheetStep(string Letter, string Name, int Times, bool IsTag)
{
    /// <summary>The endings that its playings take, "ending 1, 2"; empty for none.</summary>
    public string Endings { get; init; } = string.Empty;
}

/// <summary>A section on paper. A section that the form also plays in another key stands there once for each key, with a letter each.</summary>
/// <param name="Letter">Its rehearsal letter: A, B … Z, AA.</param>
/// <param name="Name">Its name.</param>
/// <param name="Facts">What is said about the whole section, each in a few words: meter, key, tempo, who plays.</param>
/// <param name="Bars">The bars that all playings share; empty only when a section consists of endings.</param>
/// <param name="Endings">The bars of its endings, in order; empty for none.</param>
public sealed record SheetSection(
    string Letter, string Name, IReadOnlyList<string> Facts, IReadOnlyList<SheetBar> Bars, IReadOnlyList<SheetEnding> Endings);

/// <summary>An ending of a section on paper.</summary>
/// <param name="Number">Its number, from 1.</param>
/// <param name="Bars">Its bars; never empty.</param>
public sealed record SheetEnding(int Number, IReadOnlyList<SheetBar> Bars);

/// <summary>A bar on paper.</summary>
/// <param name="Number">Its number in the first playing, from 1.</param>
/// <param name="Meter">Its meter.</param>
/// <param name="Chords">Its chords, in order and without gaps.</param>
/// <param name="StartsGroup">True for the first bar of a bar group.</param>
public sealed record SheetBar(int Number, BarMeter Meter, IReadOnlyList<ChordSpan> Chords, bool StartsGroup)
{
    /// <summary>What changes or happens in it, each in a few words: a new meter, a tempo, a stop, a hold. Usually none.</summary>
    public IReadOnlyList<string> Marks { get; init; } = [];

    /// <summary>How the band stops in it.</summary>
    public BandStop Stop { get; init; }

    /// <summary>True when it is printed like the other: all but the number is equal.</summary>
    public bool LooksLike(SheetBar other) =>
        Meter.Equals(other.Meter) && Chords.SequenceEqual(other.Chords) && StartsGroup == other.StartsGroup && Marks.SequenceEqual(other.Marks) && Stop == other.Stop;
}

/// <summary>A part on paper.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Instrument">The name of its instrument.</param>
/// <param name="Role">What it does, in one sentence.</param>
/// <param name="Level">Its level in the chart, "2 dB softer"; empty when it is as usual.</param>
/// <param name="Patterns">What it usually plays in a bar, one pattern for each meter in which it plays.</param>
public sealed record SheetPart(string Name, string Instrument, string Role, string Level, IReadOnlyList<PartPattern> Patterns);

/// <summary>What a part usually plays in a bar of a meter.</summary>
/// <param name="Meter">The meter.</param>
/// <param name="Bar">The number of a bar that it plays like this, from 1.</param>
/// <param name="Notes">Its notes in the order of onset.</param>
public sealed record PartPattern(BarMeter Meter, int Bar, IReadOnlyList<PatternNote> Notes);

/// <summary>A note of a pattern.</summary>
/// <param name="Onset">From the bar line.</param>
/// <param name="Length">Its written length, above zero, at most to the end of the bar.</param>
/// <param name="Height">Its height among the notes of the pattern, 0 (lowest) to 1 (highest).</param>
/// <param name="Sign">How it is drawn.</param>
/// <param name="Label">What stands at it, such as the degree of the chord or the finger; empty for nothing.</param>
public sealed record PatternNote(Span Onset, Span Length, double Height, PatternSign Sign, string Label);

/// <summary>How a note of a pattern is drawn.</summary>
public enum PatternSign
{
    /// <summary>A note that is held for its length.</summary>
    Held,

    /// <summary>A short note of a row of many.</summary>
    Dot,

    /// <summary>A stroke down that rings.</summary>
    Down,

    /// <summary>A stroke down that is damped.</summary>
    DownDamped,

    /// <summary>A stroke up that rings.</summary>
    Up,

    /// <summary>A stroke up that is damped.</summary>
    UpDamped,

    /// <summary>A click.</summary>
    Click,
}

/// <summary>How a conductor beats a meter: one beat for each group, or the whole bar in one.</summary>
/// <param name="Meter">The meter.</param>
/// <param name="Beats">The beats in order; never empty.</param>
/// <param name="Words">What it is called, "in two: long-short".</param>
public sealed record BeatingPattern(BarMeter Meter, IReadOnlyList<HandBeat> Beats, string Words);

/// <summary>A beat of the hand.</summary>
/// <param name="Units">Its length in units, at least 1.</param>
/// <param name="Way">Where the hand goes to strike it.</param>
public sealed record HandBeat(int Units, HandWay Way);

/// <summary>Where the beating hand goes; of the right hand, "in" is to the left.</summary>
public enum HandWay
{
    /// <summary>Down to the first beat.</summary>
    Down,

    /// <summary>Inwards, across the body.</summary>
    In,

    /// <summary>Outwards, away from the body.</summary>
    Out,

    /// <summary>Up to the last beat.</summary>
    Up,
}

/// <summary>What a part does in one or several equal playings of a section, for its player.</summary>
/// <param name="Letter">The section's rehearsal letter.</param>
/// <param name="Name">Its name.</param>
/// <param name="From">The first of the playings, from 1.</param>
/// <param name="To">The last of the playings.</param>
/// <param name="Bars">Bars of one playing.</param>
/// <param name="Task">What the part does, "plays less".</param>
/// <param name="Energy">The energy of the band, 1 to 5.</param>
/// <param name="AtEnd">What happens in the last bars, "fills the last bar"; empty for nothing.</param>
public sealed record PlayerStep(string Letter, string Name, int From, int To, int Bars, string Task, int Energy, string AtEnd)
{
    /// <summary>The number of the first bar of the first of these playings, from 1.</summary>
    public required int FirstBar { get; init; }

    /// <summary>True when the part rests.</summary>
    public bool Rests { get; init; }
}
