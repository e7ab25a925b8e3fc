using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>How the words are sung.</summary>
public enum Phrasing
{
    /// <summary>As the song has them: the vowel is on the beat.</summary>
    Plain,

    /// <summary>Few words lay back, by a quarter of a unit.</summary>
    Light,

    /// <summary>More words lay back, by half a unit.</summary>
    Strong,
}

/// <summary>How the delay of a word is written.</summary>
public enum DelayWriting
{
    /// <summary>The note stays on its place; the delay is a mark.</summary>
    Plain,

    /// <summary>The note is written later, at the nearest half step of the grid.</summary>
    Rounded,

    /// <summary>The note is written where it is sung.</summary>
    Literal,
}

/// <summary>A syllable of the melody that is sung after its place.</summary>
/// <param name="Section">The index of its section.</param>
/// <param name="Ending">The number of its ending, from 1; 0 for the section's own bars.</param>
/// <param name="Verse">The verse, from 0.</param>
/// <param name="Note">The number of the note on which it begins, from 0.</param>
/// <param name="Delay">The time from its place to its vowel.</param>
public sealed record LateSyllable(int Section, int Ending, int Verse, int Note, Span Delay)
{
    /// <summary>The delay in seconds, at the slowest tempo in which it is sung.</summary>
    public required double Seconds { get; init; }

    /// <summary>True if the song had the delay before.</summary>
    public bool IsOwn { get; init; }

    /// <summary>True if its consonant can be held, and marks the beat.</summary>
    public bool IsHeld { get; init; }

    /// <summary>True if it is approached with a glide.</summary>
    public bool IsGlided { get; init; }

    /// <summary>True if its note is written later; false if its delay is a mark.</summary>
    public bool IsMoved { get; init; }
}

/// <summary>A song with the words that are sung late.</summary>
/// <param name="Chart">The song.</param>
/// <param name="Late">The syllables that are sung after their places, in all verses; also those that the song had before.</param>
/// <param name="StrongBeats">The notes of the melody on group starts, added up over the verses; without words 0.</param>
/// <param name="LateStrongBeats">Those that are sung late.</param>
public sealed record PhrasedSong(Chart Chart, IReadOnlyList<LateSyllable> Late, int StrongBeats, int LateStrongBeats)
{
    /// <summary>The delay of each late syllable by its place.</summary>
    public IReadOnlyDictionary<(int Section, int Ending, int Verse, int Note), Span> Delays { get; } =
        Late.ToDictionary(late => (late.Section, late.Ending, late.Verse, late.Note), late => late.Delay);
}
