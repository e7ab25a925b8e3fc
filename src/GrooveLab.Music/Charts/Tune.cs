using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>The melody of a section with its words.</summary>
public sealed record Tune
{
    /// <summary>The notes in order of onset; one at a time. Those of the pickup have negative onsets.</summary>
    public required IReadOnlyList<TuneNote> Notes { get; init; }

    /// <summary>The verses; each has a syllable or null for every note that can carry one.</summary>
    public required IReadOnlyList<IReadOnlyList<Syllable?>> Verses { get; init; }

    /// <summary>How long before the section's first bar line the tune starts; zero without a pickup.</summary>
    public Span PickupLength => Notes.Count > 0 && Notes[0].Onset < Span.Zero ? -Notes[0].Onset : Span.Zero;
}

/// <summary>A note of a tune. Tied notes are one note.</summary>
/// <param name="Onset">From the section's first bar line; negative in the pickup.</param>
/// <param name="Length">How long it sounds, ties included.</param>
/// <param name="Pitch">What it sounds.</param>
/// <param name="Graces">Grace notes before it, in order; usually none.</param>
public sealed record TuneNote(Span Onset, Span Length, Pitch Pitch, IReadOnlyList<Pitch> Graces);

/// <summary>What is sung on a note.</summary>
/// <param name="Text">The syllable without its hyphen.</param>
/// <param name="Place">Where it stands in its word.</param>
/// <param name="Notes">Notes it is sung on: one, or more in a melisma.</param>
public sealed record Syllable(string Text, SyllablePlace Place, int Notes);

/// <summary>Where a syllable stands in its word.</summary>
public enum SyllablePlace
{
    /// <summary>A word of one syllable.</summary>
    Single,

    /// <summary>The first of several.</summary>
    Begin,

    /// <summary>Neither first nor last.</summary>
    Middle,

    /// <summary>The last of several.</summary>
    End,
}
