using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Sheets;

/// <summary>What stands on a singer's sheet: the words of all verses in the order in which they are sung. Immutable.</summary>
/// <param name="Blocks">The playings of the sections in order.</param>
/// <param name="Late">What the tune part does with the words besides what is written, "leans 40 to 80 ms behind the beat"; empty for nothing.</param>
/// <param name="HasWords">True when anything is sung to words.</param>
public sealed record SingerSheet(IReadOnlyList<SungBlock> Blocks, string Late, bool HasWords);

/// <summary>A playing of a section on a singer's sheet, or several in a row without words.</summary>
/// <param name="Letter">The section's rehearsal letter.</param>
/// <param name="Name">Its name.</param>
/// <param name="FirstBar">The number of its first bar, from 1.</param>
/// <param name="BarCount">Its number of bars, of all playings in the row.</param>
/// <param name="Facts">What is said about it, each in a few words: the verse, the key, the meter.</param>
/// <param name="Lines">The sung lines; empty when nothing is sung.</param>
public sealed record SungBlock(string Letter, string Name, int FirstBar, int BarCount, IReadOnlyList<string> Facts, IReadOnlyList<SungLine> Lines)
{
    /// <summary>True when the same words stood on the sheet before: then they are repeated without their bars.</summary>
    public bool IsRepeated { get; init; }

    /// <summary>Where nothing is sung, the chords of its bars; empty otherwise.</summary>
    public IReadOnlyList<SheetBar> SilentBars { get; init; } = [];
}

/// <summary>A line of words: a bar group, or part of a long one.</summary>
/// <param name="Bars">Its bars; never empty. A pickup is a bar of its own, without a bar line.</param>
public sealed record SungLine(IReadOnlyList<SungBar> Bars)
{
    /// <summary>The words as a sentence.</summary>
    public string Sentence => string.Concat(Bars.SelectMany(bar => bar.Syllables).Select(syllable => syllable.Text + (syllable.GoesOn ? string.Empty : " "))).Trim();
}

/// <summary>A bar, or a pickup, with its syllables.</summary>
/// <param name="Number">The number of the bar, from 1; 0 for a pickup.</param>
/// <param name="Meter">The meter, for a pickup that of the bar before which it is sung.</param>
/// <param name="From">Where it begins, from the bar line: zero, or for a pickup the negative length of the pickup.</param>
/// <param name="Length">Its length, above zero.</param>
/// <param name="Chords">Its chords; empty for a pickup.</param>
/// <param name="Syllables">The syllables in order.</param>
/// <param name="Cues">The first notes of the phrases that begin in it, in order.</param>
/// <param name="Breaths">Where one breathes, from the bar line, in order.</param>
public sealed record SungBar(
    int Number,
    BarMeter Meter,
    Span From,
    Span Length,
    IReadOnlyList<ChordSpan> Chords,
    IReadOnlyList<SungSyllableMark> Syllables,
    IReadOnlyList<CueNotes> Cues,
    IReadOnlyList<Span> Breaths)
{
    /// <summary>What changes or happens in it, as in <see cref="SheetBar.Marks"/>.</summary>
    public IReadOnlyList<string> Marks { get; init; } = [];

    /// <summary>True for a pickup.</summary>
    public bool IsPickup => From < Span.Zero;
}

/// <summary>A syllable on paper.</summary>
/// <param name="Onset">The written place, from the bar line; negative in a pickup.</param>
/// <param name="Length">The length of all its notes.</param>
/// <param name="Late">How far it lays back after its place; usually zero.</param>
/// <param name="Text">The syllable without a hyphen.</param>
/// <param name="GoesOn">True when its word goes on.</param>
/// <param name="IsStressed">True when it is stressed.</param>
/// <param name="Notes">The number of its notes.</param>
public sealed record SungSyllableMark(Span Onset, Span Length, Span Late, string Text, bool GoesOn, bool IsStressed, int Notes);

/// <summary>The first notes of a phrase: one, or up to three while they go on without a rest.</summary>
/// <param name="Onset">The written place of the first, from the bar line.</param>
/// <param name="Pitches">The pitches as the tune part sounds them, in order; one to three.</param>
public sealed record CueNotes(Span Onset, IReadOnlyList<Pitch> Pitches)
{
    /// <summary>The notes' names with musical signs, "D F A".</summary>
    public string Names => string.Join(' ', Pitches.Select(pitch => pitch.Name.ToSigns()));
}
