using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>A chord and how long it holds.</summary>
/// <param name="Onset">From the bar line; in the chords of a whole section from its first bar line.</param>
/// <param name="Length">How long it holds.</param>
/// <param name="Symbol">The chord; <see cref="ChordSymbol.NoChord"/> for silence of harmony.</param>
public readonly record struct ChordSpan(Span Onset, Span Length, ChordSymbol Symbol)
{
    /// <summary>Where the next chord starts.</summary>
    public Span End => Onset + Length;
}

/// <summary>Finds the chord that holds at a place.</summary>
public static class ChordSpans
{
    /// <summary>The index of the chord that holds at a place: the last one that starts there or before; 0 before the first.</summary>
    /// <param name="chords">Chords in order of onset; not empty.</param>
    /// <param name="place">The place, counted as the chords are.</param>
    public static int IndexAt(this IReadOnlyList<ChordSpan> chords, Span place)
    {
        var low = 0;
        var high = chords.Count - 1;
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            if (chords[middle].Onset <= place)
            {
                low = middle;
            }
            else
            {
                high = middle - 1;
            }
        }

        return low;
    }

    /// <summary>The chord that holds at a place; see <see cref="IndexAt"/>.</summary>
    public static ChordSymbol ChordAt(this IReadOnlyList<ChordSpan> chords, Span place) => chords[chords.IndexAt(place)].Symbol;
}
