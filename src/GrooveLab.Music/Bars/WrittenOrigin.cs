using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Bars;

/// <summary>
/// What a played note is on paper: its spelled pitch, its place and value before swing, laying back and human feel, and what it belongs to.
/// Not where or how long it sounds: that is the <see cref="NoteEvent"/>. Immutable.
/// </summary>
/// <remarks>
/// The played place follows exactly: <see cref="NoteEvent.Onset"/> is <see cref="Onset"/> plus <see cref="Late"/>, moved by the bar's
/// <see cref="Bar.Swing"/>. Played lengths are shorter where a note is let go early, is cut by a breath or sounds for a share of its value.
/// </remarks>
public sealed record WrittenOrigin
{
    /// <summary>The pitch that sounds, spelled by chord and key, in a tune as the chart has it; null for a click.</summary>
    public required Pitch? Pitch { get; init; }

    /// <summary>
    /// The written place, from the line of the bar in which the note is played; negative where it stands in the bar before and is laid back
    /// over the line. An ornament has the place of its note.
    /// </summary>
    public required Span Onset { get; init; }

    /// <summary>The written value, ties included, so it may reach over bar lines; zero for an ornament, which has none of its own.</summary>
    public required Span Length { get; init; }

    /// <summary>How much later than written it is meant to come: laying back. Zero for most; swing and human feel are not counted.</summary>
    public Span Late { get; init; }

    /// <summary>What ornament it is; null for a note that stands by itself.</summary>
    public Ornament? Ornament { get; init; }

    /// <summary>Which note of a chord struck as one it is; null where it is not.</summary>
    public ChordMember? Chord { get; init; }

    /// <summary>Which of the lines that a part holds at once it belongs to, from 0.</summary>
    public int Voice { get; init; }

    /// <summary>How it is joined to the note before it in its part and voice.</summary>
    public NoteJoin Join { get; init; }

    /// <summary>What is sung on it, the later notes of a melisma included; null where nothing is.</summary>
    public SungSyllable? Syllable { get; init; }

    /// <summary>Which note of a chart's tune it plays; null where it plays none.</summary>
    public TuneOrigin? Tune { get; init; }
}

/// <summary>An ornament of a tune's note.</summary>
/// <param name="Kind">What it is.</param>
/// <param name="Number">Which of the ornaments of its note, from 1, in the order in which they sound.</param>
/// <param name="Count">How many that note has.</param>
public sealed record Ornament(OrnamentKind Kind, int Number, int Count)
{
    /// <summary>True when it sounds before the place of its note and is over there; false when it takes that place because its note comes later.</summary>
    public bool IsBefore => Kind != OrnamentKind.HeldConsonant;
}

/// <summary>What an ornament is.</summary>
public enum OrnamentKind
{
    /// <summary>A grace note that the chart has.</summary>
    Grace,

    /// <summary>The mark of a consonant before its vowel, a step below; the part makes it.</summary>
    Consonant,

    /// <summary>The mark of a consonant that is held on the beat until a vowel that comes late, on the vowel's pitch; the part makes it.</summary>
    HeldConsonant,
}

/// <summary>A note of a chord that one stroke sounds.</summary>
/// <param name="Number">Which of its notes, from 1, from the lowest up.</param>
/// <param name="Count">How many notes are struck.</param>
public sealed record ChordMember(int Number, int Count);

/// <summary>How a note is joined to the one before it in its voice.</summary>
public enum NoteJoin
{
    /// <summary>It begins by itself.</summary>
    None,

    /// <summary>It follows in the same bow or breath on another pitch: a slur.</summary>
    Slurred,

    /// <summary>It holds the same pitch on with a new bow or breath: on paper the two are one note, tied.</summary>
    HeldOn,
}

/// <summary>A syllable on one of the notes on which it is sung.</summary>
/// <param name="Syllable">The syllable, with its place in its word and the number of its notes.</param>
/// <param name="Note">Which of its notes this is, from 1; above 1 in a melisma.</param>
/// <param name="Verse">Which verse it belongs to, from 1.</param>
public sealed record SungSyllable(Syllable Syllable, int Note, int Verse);

/// <summary>Where a played note of a tune stands in its chart.</summary>
/// <param name="Section">Name of the section whose tune it is; for a pickup the section that it leads to.</param>
/// <param name="Playing">How many times that section was played before, as <see cref="Bar.Playing"/> counts.</param>
/// <param name="Note">Number of the note in its line of the section's tune, from 0; for an ornament that of its note.</param>
/// <param name="Octaves">Octaves by which the part moves the tune.</param>
public sealed record TuneOrigin(string Section, int Playing, int Note, int Octaves)
{
    /// <summary>Which line of the tune: 0 the melody, a further line from 1.</summary>
    public int Line { get; init; }
}
