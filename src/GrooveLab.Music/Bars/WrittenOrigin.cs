using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Bars;

/// <summary>A played note on paper: its spelled pitch, its place and value before swing, laying back and human feel, and what it belongs
/// to. When and how long it sounds is in the <see cref="NoteEvent"/>. Immutable.</summary>
/// <remarks>The played place is exact: <see cref="NoteEvent.Onset"/> is <see cref="Onset"/> plus <see cref="Late"/>, moved by the bar's
/// <see cref="Bar.Swing"/>. The played length is shorter when a note is released early, is cut by a breath or sounds for a share of its
/// value.</remarks>
public sealed record WrittenOrigin
{
    /// <summary>The sounding pitch, spelled by chord and key, in a tune as in the chart; null for a click.</summary>
    public required Pitch? Pitch { get; init; }

    /// <summary>The written place, from the line of the bar in which the note is played; negative when it is written in the bar before
    /// and is laid back over the bar line. An ornament has the place of its note.</summary>
    public required Span Onset { get; init; }

    /// <summary>The written value including ties, so it may cross bar lines; zero for an ornament.</summary>
    public required Span Length { get; init; }

    /// <summary>Laying back: the intended delay after the written place. Usually zero; excludes swing and human feel.</summary>
    public Span Late { get; init; }

    /// <summary>Its ornament; null for a normal note.</summary>
    public Ornament? Ornament { get; init; }

    /// <summary>Its position in a chord struck as one; null outside chords.</summary>
    public ChordMember? Chord { get; init; }

    /// <summary>Its voice among the simultaneous lines of the part, from 0.</summary>
    public int Voice { get; init; }

    /// <summary>How it joins the note before it in its part and voice.</summary>
    public NoteJoin Join { get; init; }

    /// <summary>The syllable sung on it, also on the later notes of a melisma; null for none.</summary>
    public SungSyllable? Syllable { get; init; }

    /// <summary>The note of the chart's tune that it plays; null for none.</summary>
    public TuneOrigin? Tune { get; init; }
}

/// <summary>An ornament of a tune note.</summary>
/// <param name="Kind">The kind of ornament.</param>
/// <param name="Number">Its number among the ornaments of its note, from 1, in order of sounding.</param>
/// <param name="Count">Number of ornaments of that note.</param>
public sealed record Ornament(OrnamentKind Kind, int Number, int Count)
{
    /// <summary>True when it sounds before the place of its note and ends there; false when it takes that place because its note comes
    /// later.</summary>
    public bool IsBefore => Kind != OrnamentKind.HeldConsonant;
}

/// <summary>The kinds of ornament.</summary>
public enum OrnamentKind
{
    /// <summary>A grace note from the chart.</summary>
    Grace,

    /// <summary>The mark of a consonant before its vowel, a step below; added by the part.</summary>
    Consonant,

    /// <summary>The mark of a consonant held on the beat until a late vowel, on the vowel's pitch; added by the part.</summary>
    HeldConsonant,
}

/// <summary>A note of a chord sounded by one stroke.</summary>
/// <param name="Number">Its number among the notes, from 1, lowest first.</param>
/// <param name="Count">Number of notes struck.</param>
public sealed record ChordMember(int Number, int Count);

/// <summary>How a note joins the one before it in its voice.</summary>
public enum NoteJoin
{
    /// <summary>Not joined.</summary>
    None,

    /// <summary>A slur: the same bow or breath, another pitch.</summary>
    Slurred,

    /// <summary>A tie: the same pitch continued with a new bow or breath; on paper the two are one note, tied.</summary>
    HeldOn,
}

/// <summary>A syllable on one of its notes.</summary>
/// <param name="Syllable">The syllable, with its place in its word and the number of its notes.</param>
/// <param name="Note">The number of this note among the syllable's notes, from 1; above 1 in a melisma.</param>
/// <param name="Verse">The number of its verse, from 1.</param>
public sealed record SungSyllable(Syllable Syllable, int Note, int Verse);

/// <summary>The place in the chart of a played tune note.</summary>
/// <param name="Section">Name of the section whose tune it is; for a pickup the section that it leads to.</param>
/// <param name="Playing">Number of earlier playings of that section, as <see cref="Bar.Playing"/> counts.</param>
/// <param name="Note">Number of the note in its line of the section's tune, from 0; for an ornament, that of its note.</param>
/// <param name="Octaves">Octaves by which the part transposes the tune.</param>
public sealed record TuneOrigin(string Section, int Playing, int Note, int Octaves)
{
    /// <summary>Which line of the tune: 0 the melody, a further line from 1.</summary>
    public int Line { get; init; }
}
