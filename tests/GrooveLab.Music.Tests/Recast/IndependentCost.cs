using GrooveLab.Music.Recast;

namespace GrooveLab.Music.Tests.Recast;

/// <summary>The cost of places, written a second time from its definition: lists of intervals, without tables or rounding.</summary>
internal static class IndependentCost
{
    public static double Of(IReadOnlyList<PlacementPhrase> phrases, IReadOnlyList<IReadOnlyList<int>> places, PlacementCosts costs) =>
        phrases.Zip(places, (phrase, one) => Of(phrase, one, costs)).Sum() + (costs.UnlikeFigure * Unlike(phrases, places));

    /// <summary>The spans that differ from most of their like.</summary>
    public static int Unlike(IReadOnlyList<PlacementPhrase> phrases, IReadOnlyList<IReadOnlyList<int>> places) =>
        phrases.SelectMany((phrase, p) => phrase.Onsets.Select((onset, i) => (p, onset, Place: places[p][i])).GroupBy(one => one.onset.SpanIndex).Select(group => (
            Like: (string.Join(' ', group.Select(one => $"{one.onset.Offset} {one.onset.Weight} {one.onset.Place}")), string.Join(' ', phrase.Spans[group.Key].Weights),
                phrase.Spans[group.Key].Source, phrase.Spans[group.Key].Step),
            Way: string.Join(' ', group.Select(one => one.Place)))))
        .GroupBy(one => one.Like)
        .Sum(like => like.Count() - like.GroupBy(one => one.Way).Max(way => way.Count()));

    public static double Of(PlacementPhrase phrase, IReadOnlyList<int> places, PlacementCosts costs)
    {
        var onsets = phrase.Onsets;
        if (onsets.Count == 0)
        {
            return 0;
        }

        var verses = onsets[0].Stresses.Count;
        double[] before = [.. onsets.Select(onset => onset.SpanIndex + (onset.Offset / phrase.Spans[onset.SpanIndex].Source).ToDouble()), onsets[^1].SpanIndex + 1];
        double[] after = [.. onsets.Select((onset, i) => onset.SpanIndex + (places[i] / (double)phrase.Spans[onset.SpanIndex].Places)), onsets[^1].SpanIndex + 1];
        var sourceTimes = Times(span => span.Source.Wholes.ToDouble(), i => onsets[i].Offset.Wholes.ToDouble());
        var times = Times(span => span.Places * span.Step.Wholes.ToDouble(), i => places[i] * phrase.Spans[onsets[i].SpanIndex].Step.Wholes.ToDouble());
        var seconds = Times(span => span.Places * span.SecondsPerPlace, i => places[i] * phrase.Spans[onsets[i].SpanIndex].SecondsPerPlace);

        var cost = 0.0;
        for (var i = 0; i < onsets.Count; i++)
        {
            cost += costs.Moved * Math.Abs(after[i] - before[i]);
            cost += costs.WeightLost * Math.Max(0, onsets[i].Weight - WeightOf(i));
            cost += costs.IntervalChanged * Math.Abs(Log(after, i) - Log(before, i));
            for (var verse = 0; verse < verses; verse++)
            {
                var last = i + 1 == onsets.Count;
                var syllables = onsets[i].Stresses[verse] != SyllableStress.Held && (last || onsets[i + 1].Stresses[verse] != SyllableStress.Held);
                cost += syllables && seconds[i + 1] - seconds[i] < costs.ShortestSyllable - 1e-9 ? costs.TooShort / verses : 0;
                if (last)
                {
                    continue;
                }

                var (one, two) = (onsets[i].Stresses[verse], onsets[i + 1].Stresses[verse]);
                if ((one, two) is (SyllableStress.Stressed, SyllableStress.Unstressed) or (SyllableStress.Unstressed, SyllableStress.Stressed))
                {
                    var (strong, weak) = one == SyllableStress.Stressed ? (i, i + 1) : (i + 1, i);
                    cost += WeightOf(strong) < WeightOf(weak) ? costs.StressOnWeakPlace / verses : 0;
                    cost += costs.WeakLengthened / verses * Math.Max(0, Log(after, weak) - Log(after, strong) - Log(before, weak) + Log(before, strong) - 0.1);
                }
            }

            if (i > 0)
            {
                var (source, target) = (Order(sourceTimes, i), Order(times, i));
                cost += source == 0 || source == target ? 0 : target == 0 ? costs.FigureReversed / 2 : costs.FigureReversed;
            }
        }

        return cost;

        int WeightOf(int i) => phrase.Spans[onsets[i].SpanIndex].Weights[places[i]];

        static double Log(double[] at, int i) => Math.Log2(at[i + 1] - at[i]);

        static int Order(double[] at, int i) => Math.Sign(Math.Round(at[i + 1] - (2 * at[i]) + at[i - 1], 9));

        double[] Times(Func<PlacementSpan, double> length, Func<int, double> within) =>
        [
            .. onsets.Select((onset, i) => phrase.Spans.Take(onset.SpanIndex).Sum(length) + within(i)), phrase.Spans.Take(onsets[^1].SpanIndex + 1).Sum(length),
        ];
    }
}
