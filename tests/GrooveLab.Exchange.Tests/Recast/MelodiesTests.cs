using System.Globalization;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>Twenty syncopated melodies and real songs in other meters, compared with nearest places. What the melodies keep is counted from the charts alone.</summary>
public sealed class MelodiesTests(ITestOutputHelper output)
{
    private static readonly string[] Collections = ["openscore-common-time", "open-hymnal"];

    public static TheoryData<string> All => [.. Melodies.Names];

    /// <summary>Meters, what becomes one bar, and the eighth on which beat three is (0: on a downbeat of its own).</summary>
    public static TheoryData<string, SourceSpan, int> Conversions => new()
    {
        { "5/8 3+2", SourceSpan.HalfBar, 0 },
        { "5/8 2+3", SourceSpan.HalfBar, 0 },
        { "7/8 2+2+3", SourceSpan.Bar, 4 },
        { "7/8 3+2+2", SourceSpan.Bar, 3 },
        { "5/4 2+3", SourceSpan.Bar, 4 },
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
    public void Of_TwentyMelodies_KeepsBeatsNotesAndSyllables(string meter, SourceSpan span, int beatThree)
    {
        foreach (var name in Melodies.Names)
        {
            var (_, _, counts) = Counted(name, meter, span, beatThree);

            Assert.Equal((name, counts.StrongBeats, counts.HeldBeats), (name, counts.StrongBeatsKept, counts.HeldBeatsKept));
            Assert.Equal((name, 0, 0), (name, counts.NotesLost, counts.SyllablesLost));
        }
    }

    // The second note is held over beat three or one and ends soon after it; in the new bar the nearest place of its end is that beat itself.
    [Theory]
    [InlineData("7/8 2+2+3", SourceSpan.Bar, 4, "| B4:1/4 G4:1/8 E4:3/8 z:1/8 G4:1/16 G4 | A4:4 |")] // a breath and two notes in what is left of the bar
    [InlineData("5/8 3+2", SourceSpan.HalfBar, 0, "| B4:7/16 G4:1/8 z:1/16 G4:3/8 | A4:4 |")]
    [InlineData("7/8 2+2+3", SourceSpan.Bar, 4, "| G4:3/8 E4:3/16 z:3/16 G4:1/4 | A4:4 |")]
    [InlineData("7/8 3+2+2", SourceSpan.Bar, 3, "| G4:7/8 E4:1/8- | E4:1/16 z:3/16 A4:3/4 |")]
    [InlineData("7/8 2+2+3", SourceSpan.Bar, 4, "| G4:4 | G4:3/8 A4:3/16 z:7/16 |")] // the last note
    [InlineData("5/4 3+2", SourceSpan.Bar, 6, "| B4:7/16 G4:1/8 z:1/16 G4:3/8 | A4:4 |")]
    public void Of_NoteHeldOverAStrongBeatAndThenARest_StillSoundsThere(string meter, SourceSpan span, int beatThree, string notes)
    {
        var source = ChartTexts.Chart(
            "format = 2\nkey = \"E minor\"\ntempo = \"quarter = 82\"\nmeter = \"4/4\"\n[[section]]\nname = \"verse\"\nchords = \"| Em | Em |\"\n"
            + $"[section.tune]\nnotes = \"{notes}\"\n");

        var counts = RecastCounts.Of(source, SongRecast.Of(source, Options(meter, span)).Result, Rule(beatThree));

        Assert.Equal((counts.HeldBeats, counts.StrongBeats), (counts.HeldBeatsKept, counts.StrongBeatsKept));
        Assert.NotEqual(0, counts.HeldBeats);
    }

    [Theory]
    [MemberData(nameof(Conversions))]
    public void Of_TwentyMelodies_KeepsFiguresAtLeastAsWellAsNearestPlaces(string meter, SourceSpan span, int beatThree)
    {
        var sum = new RecastCounts();
        var nearestSum = new RecastCounts();
        foreach (var name in Melodies.Names)
        {
            var (recasting, nearest, counts) = Counted(name, meter, span, beatThree);
            var costs = Costs(recasting);
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"| {recasting.Source.Title} | {Row(nearest, counts)} | {costs.Nearest:0.00} | {costs.Found:0.00} |"));
            sum += counts;
            nearestSum += nearest;
        }

        output.WriteLine($"| all | {Row(nearestSum, sum)} | | |");
        Assert.True(sum.ReversedFigures <= nearestSum.ReversedFigures, $"{sum.ReversedFigures} reversed figures, {nearestSum.ReversedFigures} with nearest places.");
        Assert.True(sum.EvenedFigures < nearestSum.EvenedFigures, $"{sum.EvenedFigures} figures made even, {nearestSum.EvenedFigures} with nearest places.");
        Assert.True(sum.WeakLengthened < nearestSum.WeakLengthened, $"{sum.WeakLengthened} weak syllables lengthened, {nearestSum.WeakLengthened} with nearest places.");
    }

    [Fact]
    public void Of_TwentyMelodiesInAllMeters_ReversesFewerFiguresThanNearestPlaces()
    {
        var reversed = 0;
        var nearestReversed = 0;
        foreach (var row in Conversions)
        {
            var (meter, span, beatThree) = row.Data;
            foreach (var name in Melodies.Names)
            {
                var (_, nearest, counts) = Counted(name, meter, span, beatThree);
                reversed += counts.ReversedFigures;
                nearestReversed += nearest.ReversedFigures;
            }
        }

        Assert.True(reversed < nearestReversed, $"{reversed} reversed figures, {nearestReversed} with nearest places.");
    }

    [Theory]
    [MemberData(nameof(Conversions))]
    public void Of_TwentyMelodies_CostsLessThanNearestPlacesWhereTheyDiffer(string meter, SourceSpan span, int beatThree)
    {
        _ = beatThree;
        foreach (var name in Melodies.Names)
        {
            CostsLess(name, SongRecast.Of(Melodies.Chart(name), Options(meter, span)));
        }
    }

    [Theory]
    [MemberData(nameof(Conversions))]
    public void Of_RealSongs_CostsLessThanNearestPlacesWhereTheyDiffer(string meter, SourceSpan span, int beatThree)
    {
        _ = beatThree;
        foreach (var file in Collections.SelectMany(name => Directory.EnumerateFiles(References.RequireData(name)))
            .Where(file => Path.GetExtension(file) is ".musicxml" or ".abc").Order(StringComparer.Ordinal))
        {
            var bytes = File.ReadAllBytes(file);
            var name = Path.GetFileName(file);
            var read = ScoreFiles.Read(bytes, ScoreFiles.FormatOf(bytes, name), new ScoreOptions { Name = name });
            CostsLess(name, SongRecast.Of(ChartMaker.Make(read.Music!, ImportedChartText.Options()).Chart, Options(meter, span)));
        }
    }

    // Equal only where nothing differs, or where the report says that other places cost the same: of two places equally near, nearest places take the earlier one.
    private static void CostsLess(string name, SongRecasting recasting)
    {
        var (found, nearest, different) = Costs(recasting);

        Assert.True(found <= nearest + 1e-6, $"{name} costs {found}, and {nearest} with nearest places.");
        Assert.True(
            found < nearest - 1e-6 || different.All(phrase => recasting.Places.Ties.Any(tie => tie.Phrase == phrase)),
            $"{name} costs {found} with other places than the nearest, and as much with these.");
    }

    private static string Row(RecastCounts nearest, RecastCounts counts) =>
        $"{counts.StrongBeatsKept + counts.HeldBeatsKept}/{counts.StrongBeats + counts.HeldBeats} | {nearest.ReversedFigures} | {counts.ReversedFigures} | "
        + $"{nearest.EvenedFigures} | {counts.EvenedFigures} | {nearest.WeakLengthened} | {counts.WeakLengthened} | {nearest.StressedOnWeaker} | {counts.StressedOnWeaker}";

    private static (SongRecasting Recasting, RecastCounts Nearest, RecastCounts Counts) Counted(string name, string meter, SourceSpan span, int beatThree)
    {
        var source = Melodies.Chart(name);
        var recasting = SongRecast.Of(source, Options(meter, span));
        var rule = Rule(beatThree);
        var voice = source.Sections[0].Tune!.Melody;
        var layout = new RecastLayout(source.Sections[0], recasting.Result.Sections[0], rule);
        return (recasting, RecastCounts.Of(voice, NearestPlaces.Of(voice, layout), layout), RecastCounts.Of(source, recasting.Result, rule));
    }

    private static RecastRule Rule(int beatThree) => beatThree == 0 ? RecastRule.HalfBar : new RecastRule(Span.Of(beatThree, 8));

    private static RecastOptions Options(string meter, SourceSpan span)
    {
        Assert.True(BarMeter.TryParse(meter, out var to, out _));
        return new RecastOptions(new Treatment(to, span));
    }

    // The nearest places of the phrases as they were asked for. Like figures have the same nearest places, so that none is recast unlike.
    private static (double Found, double Nearest, IReadOnlyList<int> Different) Costs(SongRecasting recasting)
    {
        var nearest = recasting.Phrases.Select(phrase => NearestPlaces.Of([.. phrase.Onsets.Select(onset => new SourceOnset(
            onset.SpanIndex, onset.Offset / phrase.Spans[onset.SpanIndex].Source, phrase.Spans[onset.SpanIndex].Places, onset.Place) { Earliest = onset.Earliest })])!).ToList();
        return (
            CostOf(recasting.Places.Phrases) + (PlacementCosts.Usual.UnlikeFigure * recasting.Places.UnlikeFigures),
            CostOf(nearest),
            [.. Enumerable.Range(0, nearest.Count).Where(i => !recasting.Places.Phrases[i].SequenceEqual(nearest[i]))]);

        double CostOf(IReadOnlyList<IReadOnlyList<int>> all) => recasting.Phrases.Zip(all, (phrase, places) => PlacementCost.Of(phrase, places, PlacementCosts.Usual).Total).Sum();
    }
}
