using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>Twenty syncopated melodies in other meters, compared with nearest places by counts that know nothing of how the places were found.</summary>
public sealed class MelodiesTests(ITestOutputHelper output)
{
    public static TheoryData<string> All => [.. Melodies.Names];

    /// <summary>Meters, what becomes one bar, and the eighth on which beat three is (0: on a downbeat of its own).</summary>
    public static TheoryData<string, SourceSpan, int> Conversions => new()
    {
        { "5/8 3+2", SourceSpan.HalfBar, 0 },
        { "7/8 2+2+3", SourceSpan.Bar, 4 },
        { "7/8 3+2+2", SourceSpan.Bar, 3 },
        { "5/4 3+2", SourceSpan.Bar, 6 },
    };

    [Fact]
    public void Names_AreTwenty() => Assert.Equal(20, Melodies.Names.Count);

    [Theory]
    [MemberData(nameof(All))]
    public void Chart_OfAMelody_HasFourToEightBarsAndAllNotesAreSung(string name)
    {
        var section = Assert.Single(Melodies.Chart(name).Sections);
        var tune = section.Tune!;

        Assert.InRange(section.Bars.Count, 4, 8);
        Assert.All(section.Bars, bar => Assert.Equal(new TimeSignature(4, 4), bar.Meter.Signature));
        Assert.NotEmpty(tune.Verses);
        Assert.All(tune.Verses, verse => Assert.Equal(tune.Notes.Count, verse.Sum(syllable => syllable?.Notes ?? 0)));
        Assert.All(tune.Verses, verse => Assert.True(verse.Count(syllable => syllable is { Stress: not Stress.Unknown }) >= verse.Count(syllable => syllable is not null) * 3 / 4));
    }

    [Theory]
    [MemberData(nameof(Conversions))]
    public void Of_TwentyMelodies_KeepFiguresBetterThanNearestPlaces(string meter, SourceSpan span, int beatThree)
    {
        var sum = new RecastCounts();
        var nearestSum = new RecastCounts();
        var dear = new List<string>();
        foreach (var name in Melodies.Names)
        {
            var source = Melodies.Chart(name);
            var recasting = SongRecast.Of(source, Options(meter, span));
            var rule = beatThree == 0 ? RecastRule.HalfBar : new RecastRule(Span.Of(beatThree, 8));
            var counts = RecastCounts.Of(source, recasting.Result, rule);
            var voice = source.Sections[0].Tune!.Melody;
            var layout = new RecastLayout(source.Sections[0], recasting.Result.Sections[0], rule);
            var nearest = RecastCounts.Of(voice, NearestPlaces.Of(voice, layout), layout);
            var (cost, nearestCost) = Costs(recasting);
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"| {source.Title} | {voice.Notes.Count} | {counts.StrongBeatsKept}/{counts.StrongBeats} | {counts.HeldBeatsKept}/{counts.HeldBeats} | {Row(nearest, counts)} | {nearestCost:0.00} | {cost:0.00} |"));

            dear.AddRange(cost > nearestCost + 1e-9 ? [$"{source.Title}: {cost}, nearest places {nearestCost}"] : []);
            sum += counts;
            nearestSum += nearest;
        }

        output.WriteLine($"| all | | {sum.StrongBeatsKept}/{sum.StrongBeats} | {sum.HeldBeatsKept}/{sum.HeldBeats} | {Row(nearestSum, sum)} | | |");
        Assert.Empty(dear);
        Assert.Equal((0, 0), (sum.NotesLost, sum.SyllablesLost));
        Assert.Equal((sum.StrongBeats, sum.HeldBeats), (sum.StrongBeatsKept, sum.HeldBeatsKept));
        Assert.True(sum.ReversedFigures < nearestSum.ReversedFigures, $"{sum.ReversedFigures} reversed figures, {nearestSum.ReversedFigures} with nearest places.");
        Assert.True(sum.WeakLengthened < nearestSum.WeakLengthened, $"{sum.WeakLengthened} weak syllables lengthened, {nearestSum.WeakLengthened} with nearest places.");
    }

    private static string Row(RecastCounts nearest, RecastCounts counts) =>
        $"{nearest.ReversedFigures} | {counts.ReversedFigures} | {nearest.EvenedFigures} | {counts.EvenedFigures} | {nearest.WeakLengthened} | {counts.WeakLengthened} | "
        + $"{nearest.StressedOnWeaker} | {counts.StressedOnWeaker}";

    private static RecastOptions Options(string meter, SourceSpan span)
    {
        Assert.True(BarMeter.TryParse(meter, out var to, out _));
        return new RecastOptions(new Treatment(to, span));
    }

    // The nearest places of the phrases as they were asked for. Like figures have the same nearest places, so none is unlike.
    private static (double Found, double Nearest) Costs(SongRecasting recasting) => (
        recasting.Places.Cost,
        recasting.Phrases.Sum(phrase => PlacementCost.Of(
            phrase,
            NearestPlaces.Of([.. phrase.Onsets.Select(onset => new SourceOnset(
                onset.SpanIndex, onset.Offset / phrase.Spans[onset.SpanIndex].Source, phrase.Spans[onset.SpanIndex].Places, onset.Place) { Earliest = onset.Earliest })])!,
            PlacementCosts.Usual).Total));
}
