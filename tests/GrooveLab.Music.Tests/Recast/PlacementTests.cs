using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Recast;

/// <summary>Places in another meter: worked examples, and every way to place small random phrases.</summary>
public sealed class PlacementTests
{
    private static readonly PlacementCosts FigureOnly = new() { StressOnWeakPlace = 0, TooShort = 0, WeightLost = 0, WeakLengthened = 0 };
    private static readonly int[] ThreeAndTwo = [0, -2, -2, -1, -2];
    private static readonly int[] Undivided = [0, -1, -1, -1, -1];

    // Worked by hand: half a bar of 4/4 with dotted eighth, sixteenth and quarter becomes quarter, eighth, quarter. The two costs are of all places.
    [Fact]
    public void Best_DottedFigureIntoFiveEighths_KeepsLongShortLong()
    {
        var phrase = HalfBar(Undivided, Span.Of(1, 8), (0, 1), (3, 16), (1, 4));

        var best = Best(phrase, FigureOnly);

        Assert.Equal([0, 2, 3], best.Places);
        Assert.Null(best.Other);
        var costs = Ways(phrase).Select(ways => PlacementCost.Of(phrase, ways, FigureOnly).Total).Order().ToList();
        Assert.Equal(0.453, costs[0], 3);
        Assert.Equal(0.979, costs[1], 3);
        Assert.Equal(0.979, PlacementCost.Of(phrase, [0, 1, 2], FigureOnly).Total, 3);
    }

    // The same costs on a grid of sixteenths choose the literal figure, off the eighths.
    [Fact]
    public void Best_DottedFigureOnSixteenths_IsLiteral()
    {
        var phrase = HalfBar([0, -2, -1, -2, -1, -2, -1, -2, -1, -2], Span.Of(1, 16), (0, 1), (3, 16), (1, 4));

        Assert.Equal([0, 4, 5], Best(phrase, FigureOnly).Places);
    }

    [Theory]
    [InlineData(new[] { 0, -2, -2, -1, -2 }, 3)]
    [InlineData(new[] { 0, -2, -1, -2, -2 }, 2)]
    public void Best_TwoQuartersIntoFiveEighths_FollowTheGrouping(int[] weights, int second)
    {
        var best = Best(HalfBar(weights, Span.Of(1, 8), (0, 1), (1, 4)), PlacementCosts.Usual);

        Assert.Equal([0, second], best.Places);
        Assert.Null(best.Other);
    }

    [Fact]
    public void Best_TwoQuartersIntoFiveEighthsWithoutGroups_TieAndTakeTheLaterPlace()
    {
        var best = Best(HalfBar(Undivided, Span.Of(1, 8), (0, 1), (1, 4)), PlacementCosts.Usual);

        Assert.Equal([0, 3], best.Places);
        Assert.Equal([0, 2], best.Other);
    }

    // Even eighths, the first and third stressed: 2-1-1-1, not 1-2-1-1, which makes a weak syllable the longest.
    [Theory]
    [InlineData(0.3, new[] { 0, 2, 3, 4 })]
    [InlineData(0, new[] { 0, 1, 3, 4 })]
    public void Best_EvenEighthsInThreeAndTwo_DoNotLengthenAWeakSyllable(double cost, int[] places)
    {
        var phrase = HalfBar(ThreeAndTwo, Span.Of(1, 8), (0, 1), (1, 8), (1, 4), (3, 8));
        SyllableStress[] stresses = [SyllableStress.Stressed, SyllableStress.Unstressed, SyllableStress.Stressed, SyllableStress.Unstressed];
        phrase = new PlacementPhrase(phrase.Spans, [.. phrase.Onsets.Select((onset, i) => onset with { Stresses = [stresses[i]] })]);

        Assert.Equal(places, Best(phrase, PlacementCosts.Usual with { WeakLengthened = cost }).Places);
    }

    [Fact]
    public void CrowdedSpans_SixOnsetsInFivePlaces_AreNamed()
    {
        var crowded = HalfBar(Undivided, Span.Of(1, 8), [.. Enumerable.Range(0, 6).Select(i => (i, 12))]);
        var roomy = HalfBar(Undivided, Span.Of(1, 8), (0, 1));

        var placer = new TunePlacer([roomy, crowded], PlacementCosts.Usual);

        Assert.Equal([(1, 0)], placer.CrowdedSpans);
        Assert.Throws<InvalidOperationException>(placer.Best);
    }

    [Fact]
    public void Best_FiveThousandSmallPhrases_EqualEveryWayTried()
    {
        var random = new Random(20261129);
        for (var i = 0; i < 5000; i++)
        {
            var phrase = RandomPhrase(random, 1 + random.Next(2), RandomSpans(random));
            var costs = RandomCosts(random);
            var ways = Ways(phrase).ToList();
            if (ways.Count == 0)
            {
                Assert.NotEmpty(new TunePlacer([phrase], costs).CrowdedSpans);
                continue;
            }

            var best = Best(phrase, costs);

            var least = ways.Min(way => IndependentCost.Of(phrase, way, costs));
            Assert.True(Math.Abs(least - best.Cost) < 1e-6, $"phrase {i}");
            Assert.Equal(best.Cost, PlacementCost.Of(phrase, best.Places, costs).Total, tolerance: 1e-6);
            // Of equals the latest, judged by exact sums.
            var equal = ways.Where(way => Math.Abs(IndependentCost.Of(phrase, way, costs) - least) < 1e-7).OrderBy(way => way, Latest).ToList();
            Assert.Equal(equal[^1], best.Places);
            Assert.Equal(equal.Count > 1 ? equal[0] : null, best.Other);
        }
    }

    [Fact]
    public void Best_FiveThousandSmallTunesWithLikeFigures_EqualEveryWayTried()
    {
        var random = new Random(11292026);
        var (unlike, bent) = (0, 0);
        for (var i = 0; i < 5000; i++)
        {
            // One or two figures, each in several places, so that they often pull apart.
            var span = new PlacementSpan(Span.Of(1, 2), random.Next(2) == 0 ? ThreeAndTwo : Undivided, Span.Of(1, 8), 0.2);
            var figures = Enumerable.Range(0, 1 + random.Next(2)).Select(_ => RandomOffsets(random, 1 + random.Next(3))).ToList();
            var phrases = Enumerable.Range(0, 2).Select(_ => PhraseOf(random, span, [.. Enumerable.Range(0, 1 + random.Next(2)).Select(_ => figures[random.Next(figures.Count)])])).ToList();
            var costs = RandomCosts(random) with { UnlikeFigure = random.Next(4) * 0.2 };

            var best = new TunePlacer(phrases, costs).Best();

            Assert.True(best.IsProven);
            var least = Least(phrases, costs);
            Assert.True(Math.Abs(least - best.Cost) < 1e-6, $"tune {i}: {least} {best.Cost}");
            Assert.Equal(best.Cost, IndependentCost.Of(phrases, best.Phrases, costs), tolerance: 1e-6);
            Assert.Equal(best.UnlikeFigures, IndependentCost.Unlike(phrases, best.Phrases));
            unlike += best.UnlikeFigures > 0 ? 1 : 0;
            bent += phrases.Select((phrase, p) => !Best(phrase, costs).Places.SequenceEqual(best.Phrases[p])).Count(differs => differs);
        }

        // Otherwise the tunes would not try what they are for.
        Assert.True(unlike > 100 && bent > 100, $"{unlike} with unlike figures, {bent} phrases bent to their like");
    }

    private static Comparer<IReadOnlyList<int>> Latest { get; } = Comparer<IReadOnlyList<int>>.Create((a, b) =>
        a.Zip(b, (x, y) => x.CompareTo(y)).FirstOrDefault(order => order != 0));

    // Of every way to place both phrases; figures are only compared where the phrases by themselves cost less than the least so far.
    private static double Least(IReadOnlyList<PlacementPhrase> phrases, PlacementCosts costs)
    {
        var ways = phrases.Select(phrase => Ways(phrase).ConvertAll(way => (Way: way, Cost: IndependentCost.Of(phrase, way, costs))).OrderBy(one => one.Cost).ToList()).ToList();
        var least = double.PositiveInfinity;
        foreach (var (first, firstCost) in ways[0])
        {
            foreach (var (second, secondCost) in ways[1].TakeWhile(one => firstCost + one.Cost < least))
            {
                least = Math.Min(least, firstCost + secondCost + (costs.UnlikeFigure * IndependentCost.Unlike(phrases, [first, second])));
            }
        }

        return least;
    }

    // Like figures in one phrase go their own ways here.
    private static (IReadOnlyList<int> Places, IReadOnlyList<int>? Other, double Cost) Best(PlacementPhrase phrase, PlacementCosts costs)
    {
        var best = new TunePlacer([phrase], costs with { UnlikeFigure = 0 }).Best();
        return (best.Phrases[0], best.Ties.Select(tie => tie.Places).FirstOrDefault(), best.Cost);
    }

    private static PlacementPhrase HalfBar(int[] weights, Span step, params (int Numerator, int Denominator)[] offsets) => new(
        [new PlacementSpan(Span.Of(1, 2), weights, step, 0.2)],
        [.. offsets.Select((offset, i) => new PlacementOnset(0, Span.Of(offset.Numerator, offset.Denominator), Weight(Span.Of(offset.Numerator, offset.Denominator))) { Place = i == 0 ? 0 : null })]);

    // Of half a bar of 4/4: the beats, then eighths and shorter values.
    private static int Weight(Span offset) => offset == Span.Zero ? 0 : offset == Span.Of(1, 4) ? -1 : (offset / Span.Of(1, 8)).IsInteger ? -2 : -3;

    private static List<IReadOnlyList<int>> Ways(PlacementPhrase phrase)
    {
        var ways = new List<IReadOnlyList<int>> { Array.Empty<int>() };
        for (var i = 0; i < phrase.Onsets.Count; i++)
        {
            var onset = phrase.Onsets[i];
            var places = onset.Place is { } fixedPlace ? [fixedPlace] : Enumerable.Range(0, phrase.Spans[onset.SpanIndex].Places).ToArray();
            ways =
            [
                .. from way in ways
                   from place in places
                   where i == 0 || phrase.Onsets[i - 1].SpanIndex != onset.SpanIndex || place > way[i - 1]
                   select (IReadOnlyList<int>)[.. way, place],
            ];
        }

        return ways;
    }

    private static PlacementSpan[] RandomSpans(Random random) =>
    [
        .. Enumerable.Range(0, 1 + random.Next(3)).Select(_ =>
        {
            var places = 3 + random.Next(4);
            return new PlacementSpan(
                Span.Of(1 + random.Next(2), 2), [0, .. Enumerable.Range(1, places - 1).Select(_ => -1 - random.Next(3))], Span.Of(1, random.Next(2) == 0 ? 8 : 16), 0.05 + (random.NextDouble() * 0.2));
        }),
    ];

    private static Span[] RandomOffsets(Random random, int count) => [.. Enumerable.Range(0, 8).OrderBy(_ => random.Next()).Take(count).Order().Select(i => Span.Of(i, 16))];

    private static PlacementPhrase RandomPhrase(Random random, int verses, PlacementSpan[] spans) => new(
        spans,
        [
            .. spans.SelectMany((span, i) => RandomOffsets(random, random.Next(4)).Select(offset => Onset(random, span, i, offset, verses))),
        ]);

    private static PlacementPhrase PhraseOf(Random random, PlacementSpan span, IReadOnlyList<Span[]> figures) => new(
        [.. figures.Select(_ => span)], [.. figures.SelectMany((figure, i) => figure.Select(offset => Onset(random, span, i, offset, 1) with { Place = offset == Span.Zero ? 0 : null }))]);

    private static PlacementOnset Onset(Random random, PlacementSpan span, int i, Span offset, int verses) => new(i, offset, Weight(offset))
    {
        Place = offset == Span.Zero && random.Next(3) > 0 ? 0 : random.Next(12) == 0 ? random.Next(span.Places) : null,
        Stresses = [.. Enumerable.Range(0, verses).Select(_ => (SyllableStress)random.Next(4))],
    };

    private static PlacementCosts RandomCosts(Random random) => new()
    {
        Moved = random.Next(3) * 0.5,
        IntervalChanged = random.Next(3) * 0.3,
        FigureReversed = random.Next(3) * 0.3,
        StressOnWeakPlace = random.Next(3) * 0.4,
        TooShort = random.Next(2),
        WeightLost = random.Next(3) * 0.1,
        WeakLengthened = random.Next(3) * 0.3,
    };
}
