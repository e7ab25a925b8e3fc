using CsCheck;
using GrooveLab.Music.Analysis;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Ensemble.Checks;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>The checks of the band: the band passes them on any chart, and each fails on a band with the mistake.</summary>
public sealed class CheckTests
{
    private const long Charts = 200;

    /// <summary>The checks that must pass on any chart, however odd.</summary>
    private static readonly string[] Absolute =
    [
        "repeated finger or string", "out of reach", "too many notes at once", "stretch", "shortest roll note", "close low intervals", "shared pitches", "clicks off the felt beats",
        "longest bow", "roll after the final downbeat",
    ];

    public static TheoryData<string> Spoilt => [.. Spoilers.Keys];

    private static Dictionary<string, Func<Played, BandBars>> Spoilers { get; } = new()
    {
        ["repeated finger or string"] = played => Change(played, note => note.Role == Role.Roll ? note with { Finger = "thumb" } : note),
        ["riff inside bar groups"] = played => Change(played, note => note, (bar, note) => note.Role == Role.Roll ? note with { Key = 60 + (Scattered(bar, note) % 20) } : note),
        ["riff four bars apart"] = played => Change(played, note => note, (bar, note) => note.Role == Role.Roll ? note with { Key = 60 + (Scattered(bar, note) % 20) } : note),
        ["riff answered"] = played => Change(played, note => note, (bar, note) => note.Role == Role.Roll ? note with { Key = 60 + ((int)(note.Onset / Span.Of(1, 16)).Floor() % 5) } : note),
        ["steps in the roll"] = played => Change(played, note => note.Role == Role.Roll ? note with { Key = 60 + ((int)(note.Onset / Span.Of(1, 16)).Floor() % 3 * 4) } : note),
        ["plain alternation"] = played => Change(played, note => note.Role == Role.Roll ? note with { Key = 60 + ((int)(note.Onset / Span.Of(1, 16)).Floor() % 2 * 4) } : note),
        ["pulse and roll as one"] = played => Change(Laid(played, [.. played.Bars.Select(bar => bar with { Notes = [.. bar.Notes.Where(note => note.Role != Role.Roll || (note.Onset / bar.Meter.Unit).IsInteger)] })]), note => note.Role is Role.Roll or Role.Pulse ? note with { Key = 55 } : note),
        ["out of reach"] = played => Change(played, note => note.Role == Role.Bass ? note with { Key = 20 } : note),
        ["too many notes at once"] = played => Add(played, bar => [.. bar.Notes.Where(note => note.Role == Role.Pulse)]),
        ["stretch"] = played => Change(played, note => note.Role != Role.Pulse ? note : note.String == 2 ? note with { Key = 51 } : note.String == 3 ? note with { Key = 66 } : note),
        ["shortest roll note"] = played => Change(played, note => note, slower: new Rational(1, 3)),
        ["voicing movement"] = played => Change(played, note => note, (bar, note) => Leaps(bar, note)),
        ["voicing leaps"] = played => Change(played, note => note, (bar, note) => Leaps(bar, note)),
        ["close low intervals"] = played => Change(played, note => note.Role == Role.Sustain ? note with { Key = 40 } : note.Role == Role.Bass ? note with { Key = 37 } : note),
        ["clashes with the tune"] = played => Change(played, note => note.Role == Role.Roll ? note with { Key = 70 } : note),
        ["shared pitches"] = played => Change(played, note => note.Role is Role.Sustain or Role.Bass ? note with { Key = 50 } : note),
        ["chord tones on group starts"] = played => Change(played, note => note.Role == Role.Roll ? note with { Key = 61 } : note),
        ["onsets repeat at the bar"] = played => Turned(played, bar => bar * bar % 7),
        ["accents repeat at the felt beat"] = played => Turned(played, bar => bar * bar % 7),
        ["onsets fit the meter"] = played => Turned(played, _ => 1),
        ["accents fit the meter"] = played => Turned(played, _ => 1),
        ["clicks off the felt beats"] = played => Change(played, note => note.Role == Role.Count ? note with { Onset = note.Onset + Span.Of(1, 8) } : note),
        ["sustain length"] = played => Change(played, note => note.Role == Role.Sustain ? note with { Length = Span.Of(1, 32) } : note),
        ["longest bow"] = played => Change(played, note => note.Role == Role.Sustain ? note with { Length = Span.Of(8, 1) } : note),
        ["bass length in beats"] = played => Change(played, note => note.Role == Role.Bass ? note with { Length = note.Length / 4 } : note),
        ["roll after the final downbeat"] = played => Change(played, note => note.Role == Role.Roll ? note with { Length = note.Length * 3 } : note),
    };

    /// <summary>Breaks on purpose what <paramref name="check"/> measures, in bars that the band played well.</summary>
    [Theory]
    [MemberData(nameof(Spoilt))]
    public void Check_BandThatDoesItWrong_Fails(string check)
    {
        var played = new Played(Sung());
        var good = Assert.Single(BandChecks.OfBars(Laid(played)), result => result.Name == check);
        var bad = Assert.Single(BandChecks.OfBars(Spoilers[check](played)), result => result.Name == check);
        Assert.True(good.Value is not null && good.Holds, $"{good.Value} {good.Unit}: {string.Join("; ", good.Places)}");
        Assert.False(bad.Holds, $"{bad.Value} {bad.Unit}");
    }

    [Fact]
    public void OfBars_AnyChart_NothingImpossible()
    {
        var charts = 0;
        var failed = new List<(string Check, string What)>();
        Gigs.Steady.Sample(
            gig =>
            {
                charts++;
                var found = Failed(gig);
                failed.AddRange(found);
                NothingImpossible(found);
            },
            iter: Charts,
            threads: 1);

        // Quantitative limits may be impossible for a chart without room (a bar of one sixteenth, a chord for each unit).
        var often = failed.GroupBy(failure => failure.Check).Select(check => (check.Key, Share: 100.0 * check.Count() / charts, check.First().What));
        Assert.Empty(often.Where(check => check.Share > MostOdd(check.Key)).Select(c => (c.Key, c.Share, c.What[..Math.Min(300, c.What.Length)])));
    }

    [Fact]
    public void OfBars_ChartThatLeavesNoRoom_NothingImpossible() =>
        Gigs.Crowded.Sample(gig => NothingImpossible(Failed(gig)), iter: Charts / 4, threads: 1);

    [Fact]
    public void OfBars_AnyChartThatStops_NothingImpossible_AndNothingRubs()
    {
        const string rubs = "clashes with the tune";
        var odd = 0;
        Gigs.Stopping.Sample(
            gig =>
            {
                var played = new Played(gig.Chart);
                var failed = BandChecks.OfBars(Laid(played)).Where(result => !result.Holds).ToList();
                odd += failed.Exists(result => result.Name == rubs) ? 1 : 0;
                Assert.Empty(failed.Where(result => Absolute.Contains(result.Name)).Select(result => $"{result.Name} {result.Value}: {string.Join("; ", result.Places)}; {gig}"));
                // All parts that can play the last chord do, and the lead-in has the tempo of the piece, not of a hold.
                var first = played.Plan.BarAt(0);
                Assert.Equal(first.Tempo, played.Bars[0].Tempi[0].Tempo);
                Assert.Equal(
                    gig.Chart.Parts.Where(part => part.Role is Role.Pulse or Role.Roll).Select(part => part.Role).Order(),
                    played.Bars[^1].Notes.Select(note => note.Role).Where(role => role is Role.Pulse or Role.Roll).Distinct().Order());
                foreach (var bar in played.Form.Where(bar => bar.Stop == BandStop.Hold))
                {
                    var place = played.Plan.BarAt(bar.Index);
                    Assert.True(place.Tempi[0].Tempo.Seconds(place.HeldFor) >= place.Run.Section.HoldSeconds);
                    Assert.True(place.Tempi[0].Tempo <= place.Tempo);
                }
            },
            iter: Charts,
            threads: 1);
        // A tune that moves through a held chord of two tones leaves no other key free.
        Assert.True(100.0 * odd / Charts <= MostOdd(rubs), $"{odd} of {Charts} rub");
    }

    [Fact]
    public void StringSkips_PlectrumOverStrings_Fails()
    {
        var chart = Sung() with { Parts = Players.Band(Players.Bouzouki), Tempo = Sheet.Of(1, 16, 600) };
        var played = new Played(chart);
        var good = HandChecks.StringSkips(Laid(played));
        Assert.True(good.Value is not null && good.Holds, $"{good.Value}: {string.Join("; ", good.Places)}");
        var count = 0;
        Assert.False(HandChecks.StringSkips(Change(played, note => note.Role == Role.Roll ? note with { String = 1 + (count++ % 2 * 2) } : note)).Holds);
    }

    [Theory]
    [InlineData(50, 62, false)]
    [InlineData(50, 57, true)]
    [InlineData(48, 55, true)]
    [InlineData(49, 70, false)]
    [InlineData(62, 70, true)]
    public void CanStopTogether_Viola_NeighbouringStringsInsideTheHand(int one, int other, bool possible) =>
        Assert.Equal(possible, Music.Harmony.StringVoicings.CanStopTogether([48, 55, 62, 69], one, other, 5));

    [Fact]
    public void BassInOne_ShortNotes_Fails()
    {
        var played = new Played(Sung().FeltAs(FeltLevel.Bar));
        Assert.True(LengthChecks.BassInOne(Laid(played)).Holds);
        Assert.False(LengthChecks.BassInOne(Change(played, note => note.Role == Role.Bass ? note with { Length = note.Length / 2 } : note)).Holds);
    }

    [Fact]
    public void SwungNotes_ShorterThanATenth_Fails()
    {
        var swung = Sung("5/4 3+2") with { Swing = 2, Tempo = Sheet.Of(1, 4, 110) };
        var played = new Played(swung);
        var good = LengthChecks.SwungNotes(Laid(played));
        Assert.True(good.Value is not null && good.Holds, $"{good.Value}");
        Assert.False(LengthChecks.SwungNotes(Change(played, note => note, slower: new Rational(1, 2))).Holds);
        Assert.Null(LengthChecks.SwungNotes(Laid(new Played(Sung("5/4 3+2")))).Value);
    }

    [Theory]
    [InlineData("5/8 3+2")]
    [InlineData("7/8 2+2+3")]
    [InlineData("9/8 3+3+3")]
    [InlineData("11/8 2+2+3+2+2")]
    [InlineData("4/4")]
    public void Roll_OneChord_HasPatternsAndForm_OneFigure_Fails(string meter)
    {
        var chart = RollChecks.OneChord(Sung(meter));
        var played = new Played(chart, new ComposerOptions { Bars = RollChecks.Bars, CountIn = false });
        var good = RollChecks.Of(Laid(played)).ToList();
        Assert.All(good, result => Assert.True(result.Value is not null && result.Holds, $"{result.Name} {result.Value}"));

        var first = played.Bars[0];
        var same = RollChecks.Of(Laid(played, [.. played.Bars.Select(bar => bar with { Notes = first.Notes })])).ToList();
        Assert.False(same[0].Holds);
        Assert.False(same[1].Holds);

        // Each pair of bars is alike and differs from the pair before: nothing recurs at the start of a group.
        var paired = played.Bars.Select((bar, i) => bar with
        {
            Notes = [.. first.Notes.Select(note => note.Role == Role.Roll ? note with { Key = note.Key + (i / 2 % 12) } : note)],
        });
        Assert.False(RollChecks.Of(Laid(played, [.. paired])).ElementAt(2).Holds);
    }

    [Fact]
    public void Feel_ManyBars_IsABands_AndFailsWhereItIsNot()
    {
        var played = new Played(Sung(), new ComposerOptions { Bars = FeelChecks.Bars, CountIn = false });
        Assert.All(FeelChecks.Of(Laid(played)), result => Assert.True(result.Value is not null && result.Holds, $"{result.Name} {result.Value}"));

        Assert.False(Feel("offset correlation", (note, i) => i % 2 == 0 ? 4000 : -4000).Holds);
        Assert.False(Feel("offset memory", (_, i) => i / 200 % 2 == 0 ? 4000 : -4000).Holds);
        Assert.False(Feel("note-to-note offset", (_, i) => i / 200 % 2 == 0 ? 4000 : -4000).Holds);
        Assert.False(Feel("offset bias", (note, _) => note.Onset == Span.Zero ? 8000 : 0).Holds);
        Assert.False(Feel("offset deviation", (_, i) => i / 50 % 2 == 0 ? 20_000 : -20_000).Holds);
        Assert.False(Feel("shared drift", (note, i) => (note.Role == Role.Pulse ? 1 : -1) * (i / 90 % 2 == 0 ? 5000 : -5000)).Holds);
        Assert.False(Feel("asynchrony", (note, i) => (note.Role == Role.Pulse ? 1 : -1) * (i / 90 % 2 == 0 ? 60_000 : -60_000)).Holds);

        CheckResult Feel(string name, Func<NoteEvent, int, int> offset)
        {
            var i = 0;
            return Assert.Single(
                FeelChecks.Of(Change(played, note => note with { OffsetMicroseconds = offset(note, i++) })), result => result.Name == name);
        }
    }

    [Fact]
    public void Feel_ExactBand_IsNotMeasured() => Assert.All(
        FeelChecks.Of(Laid(new Played(Sung() with { Looseness = 0 }, new ComposerOptions { Bars = 64, CountIn = false }))),
        result => Assert.Null(result.Value));

    [Fact]
    public void RankMatch_EqualPlaces_MayComeInAnyOrder()
    {
        Assert.Equal(1, Statistics.RankMatch([9, 0, 4, 0, 0], [5, 1, 3, 2, 0]), 9);
        Assert.Equal(1, Statistics.RankMatch([9, 0, 4, 0, 0], [5, 0, 3, 1, 2]), 9);
        Assert.True(Statistics.RankMatch([9, 0, 4, 0, 0], [5, 4, 3, 2, 1]) < 0.95);
        Assert.True(Statistics.RankMatch([9, 0, 4], [0, 9, 4]) < 0);
    }

    [Fact]
    public void Autocorrelation_OfACycle_IsOneAtItsPeriod()
    {
        double[] cycle = [3, 0, 1, 0, 1, 3, 0, 1, 0, 1, 3, 0, 1, 0, 1, 3, 0, 1, 0, 1];
        var found = Statistics.Autocorrelation(cycle, 8);
        Assert.Equal(1, found[0], 9);
        Assert.Equal(1, found[5], 9);
        Assert.All(Enumerable.Range(1, 4), lag => Assert.True(found[lag] < 0.7));
        Assert.All(Statistics.Autocorrelation([2, 2, 2, 2], 4), value => Assert.Equal(0, value));
    }

    private static List<(string Check, string What)> Failed(Gig gig) =>
        [.. BandChecks.OfBars(Laid(new Played(gig.Chart))).Where(result => !result.Holds)
            .Select(result => (result.Name, $"{result.Name}: {result.Value} {result.Unit}: {string.Join("; ", result.Places)}; {gig}"))];

    // Thrown inside the sample, so that the seed is reported and the chart minimized.
    private static void NothingImpossible(List<(string Check, string What)> failed) =>
        Assert.True(!failed.Exists(failure => Absolute.Contains(failure.Check)), string.Join('\n', failed.Select(failure => failure.What)));

    /// <summary>How many of a hundred random charts may fail a quantitative check. Most for voicings: a new chord of any kind on each
    /// unit, two to four voices in two octaves, a tune through the middle.</summary>
    private static double MostOdd(string check) => check switch
    {
        "voicing leaps" or "riff inside bar groups" or "riff four bars apart" or "riff answered" or "steps in the roll" => 45,
        "impossible double stops" or "plain alternation" => 25,
        // In a quarter of them, give or take; both strike each unit where nothing is between.
        "pulse and roll as one" => 35,
        "voicing movement" or "sustain length" => 25,
        "bass length in one" => 10,
        // Fills, off-beats and thin bars of short sections hide the bar from a count of onsets alone.
        "onsets repeat at the bar" => 12,
        _ => 5,
    };

    // A song with chords for two sections and a tune: it contains everything that is measured.
    private static Chart Sung(string meter = "7/8 2+2+3")
    {
        string[] chords = ["Am", "G", "F", "Am", "Dm7", "C/E", "G", "Am"];
        var bars = Enumerable.Range(0, 16).Select(bar => Sheet.Bar(meter, chords[bar % chords.Length])).ToArray();
        var notes = bars.SelectMany((bar, i) => new[]
        {
            new TuneNote(bar.Meter.Length * i, bar.Meter.Unit * 2, Music.Harmony.Pitch.FromMidi(69 + (i % 3)), []),
            new TuneNote((bar.Meter.Length * i) + (bar.Meter.Unit * 2), bar.Meter.Unit, Music.Harmony.Pitch.FromMidi(72), []),
        }).ToArray();
        var section = Sheet.Section("A", bars) with { Tune = Tune.Of(notes, [], bars) };
        return Sheet.Chart(section) with { Parts = Players.Band(), Feel = FeltLevel.Group };
    }

    private static BandBars Laid(Played played, IReadOnlyList<Bar>? bars = null) => new(played.Composer.Band, bars ?? played.Bars, played.Composer.Chart);

    private static BandBars Add(Played played, Func<Bar, NoteEvent[]> more) =>
        Laid(played, [.. played.Bars.Select(bar => bar with { Notes = [.. bar.Notes.Concat(more(bar)).OrderBy(note => note.Onset)] })]);

    private static BandBars Change(Played played, Func<NoteEvent, NoteEvent> change, Rational? slower = null, Role? only = null) => Laid(
        played,
        [
            .. played.Bars.Select(bar => bar with
            {
                Notes = [.. bar.Notes.Where(note => only is null || note.Role == only).Select(change)],
                Tempi = [.. bar.Tempi.Select(tempo => (tempo.Onset, new Tempo(tempo.Tempo.WholesPerMinute / (slower ?? Rational.One))))],
            }),
        ]);

    private static BandBars Change(Played played, Func<NoteEvent, NoteEvent> change, Func<Bar, NoteEvent, NoteEvent> inBar) =>
        Laid(played, [.. played.Bars.Select(bar => bar with { Notes = [.. bar.Notes.Select(note => inBar(bar, change(note)))] })]);

    private static BandBars Change(BandBars band, Func<NoteEvent, NoteEvent> change) =>
        new(band.Band, [.. band.Bars.Select(bar => bar with { Notes = [.. bar.Notes.Select(change)] })], band.Chart);

    // A number without order, for each note another.
    private static int Scattered(Bar bar, NoteEvent note) => (int)(((bar.Index + 2) * 7919L * ((note.Onset / Span.Of(1, 16)).Floor() + 3) * 104729L / 31) % 9973);

    // Every other bar a sixth higher.
    private static NoteEvent Leaps(Bar bar, NoteEvent note) => note.Role == Role.Pulse ? note with { Key = note.Key + (bar.Index % 2 * 9) } : note;

    // Bars some units late: the notes on the last units move to the first.
    private static BandBars Turned(Played played, Func<int, int> units) => Change(played, note => note, (bar, note) => note with
    {
        Onset = new Span((note.Onset + (bar.Meter.Unit * units(Math.Max(0, bar.Index)))).Wholes.Modulo(bar.Meter.Length.Wholes)),
    });
}
