using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A root or bass of a chord symbol: a letter and its alteration.</summary>
/// <param name="Letter">The letter.</param>
/// <param name="Alter">Semitones; null where none is written.</param>
public sealed record ChordLetter(NoteLetter Letter, Rational? Alter)
{
    /// <summary>The text printed in its place; null for the letter itself.</summary>
    public string? Text { get; init; }
}

/// <summary>A degree added to a chord, altered in it or taken away.</summary>
/// <param name="Value">The degree, from 1.</param>
/// <param name="Alter">Semitones.</param>
/// <param name="Type">"add", "alter" or "subtract".</param>
public sealed record ChordDegreeChange(int Value, Rational Alter, string Type);

/// <summary>
/// A chord as written above the music: by its symbol's text, or by root, kind, bass and degrees as a score file has it. Whoever reads it gives
/// the <see cref="ChordSymbol"/> that it means.
/// </summary>
public sealed record WrittenChord
{
    /// <summary>The text as written, such as "Gm7/F"; null where only its elements are given.</summary>
    public string? Text { get; init; }

    /// <summary>What it means; null where it has no meaning among the chord symbols or nobody has read it yet.</summary>
    public ChordSymbol? Symbol { get; init; }

    /// <summary>The root; null for none, for a numeral and for a function.</summary>
    public ChordLetter? Root { get; init; }

    /// <summary>The step of the scale as a Roman numeral says it, with its details; null without one.</summary>
    public Detail? Numeral { get; init; }

    /// <summary>The function as a text, such as "V7/ii"; null without one.</summary>
    public string? Function { get; init; }

    /// <summary>The kind, in MusicXML's words: "minor-seventh", "none"; null where only the text is given.</summary>
    public string? Kind { get; init; }

    /// <summary>The kind as printed, such as "m7"; null where that is not said.</summary>
    public string? KindText { get; init; }

    /// <summary>The inversion, 0 for root position; null where not said.</summary>
    public int? Inversion { get; init; }

    /// <summary>The bass; null for the root.</summary>
    public ChordLetter? Bass { get; init; }

    /// <summary>Degrees added, altered, taken away.</summary>
    public ValueList<ChordDegreeChange> Degrees { get; init; } = [];
}

/// <summary>What else a chord might be.</summary>
/// <param name="Chord">The chord.</param>
/// <param name="Confidence">How likely, 0 to 1; a statistic.</param>
public sealed record ChordAlternative(WrittenChord Chord, double Confidence);
