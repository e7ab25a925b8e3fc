using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>A chord with its place and length.</summary>
/// <param name="Onset">From the bar line; for the chords of a whole section, from its first bar line.</param>
/// <param name="Length">Its length.</param>
/// <param name="Symbol">The chord; <see cref="ChordSymbol.NoChord"/> for no chord.</param>
public readonly record struct ChordSpan(Span Onset, Span Length, ChordSymbol Symbol)
{
    /// <summary>The place where the next chord starts.</summary>
    public Span End => Onset + Length;
}

/// <summary>Finds the chord at a place.</summary>
public static class ChordSpans
{
    /// <summary>The index of the chord at a place: the last that starts there or before; 0 before the first.</summary>
    /// <param name="chords">Chords in order of onset; not empty.</param>
    /// <param name="place">The place, from the same origin as the chords.</param>
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

    /// <summary>The chord at a place; see <see cref="IndexAt"/>.</summary>
    public static ChordSymbol ChordAt(this IReadOnlyList<ChordSpan> chords, Span place) => chords[chords.IndexAt(place)].Symbol;
}
