using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A root or bass of a chord symbol: a letter and its alteration.</summary>
/// <param name="Letter">The letter.</param>
/// <param name="Alter">Semitones; null if not written.</param>
public sealed record ChordLetter(NoteLetter Letter, Rational? Alter)
{
    /// <summary>The text printed instead; null for the letter itself.</summary>
    public string? Text { get; init; }
}

/// <summary>A degree added to, altered in or removed from a chord.</summary>
/// <param name="Value">The degree, from 1.</param>
/// <param name="Alter">Semitones.</param>
/// <param name="Type">"add", "alter" or "subtract".</param>
public sealed record ChordDegreeChange(int Value, Rational Alter, string Type);

/// <summary>A chord as written above the music: as symbol text, or as root, kind, bass and degrees from a score file. The reader adds the
/// <see cref="ChordSymbol"/> that it means.</summary>
public sealed record WrittenChord
{
    /// <summary>The text as written, such as "Gm7/F"; null if only its elements are given.</summary>
    public string? Text { get; init; }

    /// <summary>Its meaning; null if it has no chord symbol or has not been interpreted yet.</summary>
    public ChordSymbol? Symbol { get; init; }

    /// <summary>The root; null for no root, a numeral or a function.</summary>
    public ChordLetter? Root { get; init; }

    /// <summary>The interval from <see cref="Root"/> and <see cref="Bass"/> as written to what sounds, in the part of a transposing instrument; null if
    /// they sound as written. <see cref="Symbol"/> sounds always.</summary>
    public Interval? ToSounding { get; init; }

    /// <summary>The scale degree as a Roman numeral, with details; null for none.</summary>
    public Detail? Numeral { get; init; }

    /// <summary>The function as a text, such as "V7/ii"; null for none.</summary>
    public string? Function { get; init; }

    /// <summary>The kind, in MusicXML's terms: "minor-seventh", "none"; null if only the text is given.</summary>
    public string? Kind { get; init; }

    /// <summary>The kind as printed, such as "m7"; null if not given.</summary>
    public string? KindText { get; init; }

    /// <summary>The inversion, 0 for root position; null if not given.</summary>
    public int? Inversion { get; init; }

    /// <summary>The bass; null for the root.</summary>
    public ChordLetter? Bass { get; init; }

    /// <summary>Degrees added, altered or removed.</summary>
    public ValueList<ChordDegreeChange> Degrees { get; init; } = [];
}

/// <summary>An alternative reading of a chord.</summary>
/// <param name="Chord">The chord.</param>
/// <param name="Confidence">Its likelihood, 0 to 1; a statistic.</param>
public sealed record ChordAlternative(WrittenChord Chord, double Confidence);
