using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>How a syllable is stressed.</summary>
public enum SyllableStress
{
    /// <summary>Nothing is known, or no syllable is sung.</summary>
    Unknown,

    /// <summary>Stressed.</summary>
    Stressed,

    /// <summary>Unstressed.</summary>
    Unstressed,

    /// <summary>The note continues the syllable before it.</summary>
    Held,
}

/// <summary>A piece of the source, such as half a bar, and the grid of places that it becomes.</summary>
public sealed record PlacementSpan
{
    /// <summary>Creates a span.</summary>
    /// <param name="source">Its length in the source, over 0.</param>
    /// <param name="weights">The metrical weight of each place of the target: 0 for the first, lower for weaker ones.</param>
    /// <param name="step">The length of a place, as a note value, over 0.</param>
    /// <param name="secondsPerPlace">The duration of a place, over 0.</param>
    /// <exception cref="ArgumentException">A length is not over 0, or no place.</exception>
    public PlacementSpan(Span source, IReadOnlyList<int> weights, Span step, double secondsPerPlace)
    {
        if (source <= Span.Zero || step <= Span.Zero || weights.Count == 0 || !(secondsPerPlace > 0))
        {
            throw new ArgumentException("A span has a length over 0 in the source and places over 0 in the target.", nameof(source));
        }

        Source = source;
        Weights = weights;
        Step = step;
        SecondsPerPlace = secondsPerPlace;
    }

    /// <summary>Its length in the source.</summary>
    public Span Source { get; }

    /// <summary>The metrical weight of each place.</summary>
    public IReadOnlyList<int> Weights { get; }

    /// <summary>The length of a place in the target.</summary>
    public Span Step { get; }

    /// <summary>The duration of a place in seconds.</summary>
    public double SecondsPerPlace { get; }

    /// <summary>The number of places.</summary>
    public int Places => Weights.Count;
}

/// <summary>An onset of the source.</summary>
/// <param name="SpanIndex">The span in which it lies, from 0.</param>
/// <param name="Offset">From the start of the span, at least 0 and less than its length.</param>
/// <param name="Weight">Its metrical weight in the source, where the start of a span has 0.</param>
public sealed record PlacementOnset(int SpanIndex, Span Offset, int Weight)
{
    /// <summary>The place it must have: a strong beat's strong place, or one that a musician has pinned; null if it is free.</summary>
    public int? Place { get; init; }

    /// <summary>The first place it may have: 1 if the note before is held over the strong place at the start of the span, which it would otherwise take.</summary>
    public int Earliest { get; init; }

    /// <summary>The stress of its syllable in each verse.</summary>
    public IReadOnlyList<SyllableStress> Stresses { get; init; } = [];
}

/// <summary>Onsets that are sung in one breath. The figures in it go across its spans.</summary>
public sealed record PlacementPhrase
{
    /// <summary>Creates a phrase.</summary>
    /// <param name="spans">Its spans, in order.</param>
    /// <param name="onsets">Its onsets, in order, no two at the same time, all with the same number of verses.</param>
    /// <exception cref="ArgumentException">An onset is outside its span, not after the one before it, or has another number of verses; a place is outside the span.</exception>
    public PlacementPhrase(IReadOnlyList<PlacementSpan> spans, IReadOnlyList<PlacementOnset> onsets)
    {
        for (var i = 0; i < onsets.Count; i++)
        {
            var onset = onsets[i];
            if (onset.SpanIndex < 0 || onset.SpanIndex >= spans.Count || onset.Offset < Span.Zero || onset.Offset >= spans[onset.SpanIndex].Source)
            {
                throw new ArgumentException($"Onset {i} lies outside its span.", nameof(onsets));
            }

            if (i > 0 && (onset.SpanIndex, onset.Offset).CompareTo((onsets[i - 1].SpanIndex, onsets[i - 1].Offset)) <= 0)
            {
                throw new ArgumentException($"Onset {i} is not after the one before it.", nameof(onsets));
            }

            if (onset.Stresses.Count != onsets[0].Stresses.Count)
            {
                throw new ArgumentException($"Onset {i} has another number of verses.", nameof(onsets));
            }

            if (onset.Earliest < 0 || (onset.Place is { } said && said < onset.Earliest))
            {
                throw new ArgumentException($"Onset {i} has a place before its earliest one.", nameof(onsets));
            }

            if (onset.Place is { } place && (place < 0 || place >= spans[onset.SpanIndex].Places))
            {
                throw new ArgumentException($"The place of onset {i} lies outside its span.", nameof(onsets));
            }
        }

        Spans = spans;
        Onsets = onsets;
    }

    /// <summary>The spans.</summary>
    public IReadOnlyList<PlacementSpan> Spans { get; }

    /// <summary>The onsets.</summary>
    public IReadOnlyList<PlacementOnset> Onsets { get; }
}
