namespace GrooveLab.Music.Recast;

/// <summary>What the places of a phrase cost, by cause; see <see cref="PlacementCosts"/>.</summary>
/// <param name="Moved">Onsets moved.</param>
/// <param name="IntervalChanged">Intervals longer or shorter.</param>
/// <param name="FigureReversed">Figures reversed or evened out.</param>
/// <param name="StressOnWeakPlace">Stressed syllables on weak places.</param>
/// <param name="TooShort">Syllables too short.</param>
/// <param name="WeightLost">Metrical weight lost.</param>
/// <param name="WeakLengthened">Unstressed syllables lengthened.</param>
public sealed record PlacementCost(
    double Moved, double IntervalChanged, double FigureReversed, double StressOnWeakPlace, double TooShort, double WeightLost, double WeakLengthened)
{
    /// <summary>The sum.</summary>
    public double Total => Moved + IntervalChanged + FigureReversed + StressOnWeakPlace + TooShort + WeightLost + WeakLengthened;

    /// <summary>The cost of given places.</summary>
    /// <param name="phrase">The phrase.</param>
    /// <param name="places">A place for each onset, from 0 in its span; ascending in each span.</param>
    /// <param name="costs">The costs.</param>
    /// <exception cref="ArgumentException">Another number of places, a place outside its span, two out of order, or not the one that an onset must have.</exception>
    public static PlacementCost Of(PlacementPhrase phrase, IReadOnlyList<int> places, PlacementCosts costs)
    {
        var onsets = phrase.Onsets;
        if (places.Count != onsets.Count)
        {
            throw new ArgumentException("Each onset has one place.", nameof(places));
        }

        for (var i = 0; i < places.Count; i++)
        {
            var wrong = places[i] < onsets[i].Earliest || places[i] >= phrase.Spans[onsets[i].SpanIndex].Places || (onsets[i].Place is { } place && place != places[i])
                || (i > 0 && onsets[i].SpanIndex == onsets[i - 1].SpanIndex && places[i] <= places[i - 1]);
            if (wrong)
            {
                throw new ArgumentException($"Onset {i} cannot have place {places[i]}.", nameof(places));
            }
        }

        var terms = new PhraseTerms(phrase, costs);
        var all = Enumerable.Range(0, places.Count).ToArray();
        var inner = all.Skip(1).ToArray();
        return new PlacementCost(
            Sum(all, i => terms.Moved(i, places[i])),
            Sum(all, i => terms.IntervalChanged(i, places[i], Next(i))),
            Sum(inner, i => terms.FigureReversed(i, places[i - 1], places[i], Next(i))),
            Sum(all, i => terms.StressOnWeakPlace(i, places[i], Next(i))),
            Sum(all, i => terms.TooShort(i, places[i], Next(i))),
            Sum(all, i => terms.WeightLost(i, places[i])),
            Sum(inner, i => terms.WeakLengthened(i, places[i - 1], places[i], Next(i))));

        int Next(int i) => i + 1 < places.Count ? places[i + 1] : -1;
    }

    private static double Sum(IEnumerable<int> onsets, Func<int, long> term) => PhraseTerms.Cost(onsets.Sum(term));
}
