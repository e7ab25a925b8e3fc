using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Charts;

public sealed class FormPlanTests
{
    private static readonly string[] FourChords = ["Am", "G", "F", "E"];

    // 37 1/2 whole notes per minute written in five ways; arithmetic.
    [Theory]
    [InlineData("5/8 3+2", TempoLevel.Unit, 300)]
    [InlineData("5/8 3+2", TempoLevel.Bar, 60)]
    [InlineData("5/8 3+2", TempoLevel.BarGroup, 15)]
    [InlineData("6/8 3+3", TempoLevel.Group, 100)]
    [InlineData("6/8 3+3", TempoLevel.Bar, 50)]
    public void Tempo_SaidOfAnyLevel_IsTheSameTempo(string meter, TempoLevel level, int perMinute)
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars(meter, FourChords))) with { Tempo = Sheet.Of(level, perMinute) };

        Assert.Equal(new Rational(75, 2), new FormPlan(chart).BarAt(0).Tempo.WholesPerMinute);
        Assert.Equal(Tempo.Of(Span.Of(1, 8), 300), new FormPlan(chart with { Tempo = Sheet.Of(1, 8, 300) }).BarAt(3).Tempo);
    }

    [Fact]
    public void Tempo_OfABarGroup_CountsTheBarsThatTheGroupReallyHas()
    {
        // A group of four has three bars of 5/8 left, and an inserted bar of 3/4 belongs to it: 15/8 + 6/8.
        var bars = Sheet.Bars("5/8 3+2", "Am", "G", "F").Append(Sheet.Bar("3/4", "E", inserted: true)).ToArray();
        var chart = Sheet.Chart(Sheet.Section("verse", bars)) with { Tempo = Sheet.Of(TempoLevel.BarGroup, 10) };

        Assert.Equal(new Rational(210, 8), new FormPlan(chart).BarAt(0).Tempo.WholesPerMinute);
    }

    [Fact]
    public void Tempo_BarOfFiveEighthsAt55_HasEighthsOf218AndSixteenthsOf109Milliseconds()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("5/8 3+2", FourChords))) with { Tempo = Sheet.Of(TempoLevel.Bar, 55) };
        var tempo = new FormPlan(chart).BarAt(0).Tempo;

        Assert.Equal(218.18, tempo.Seconds(Span.Of(1, 8)).ToDouble() * 1000, 2);
        Assert.Equal(109.09, tempo.Seconds(Span.Of(1, 16)).ToDouble() * 1000, 2);
    }

    [Fact]
    public void Tempo_OfAGroupWhereGroupsDiffer_SaysWhatToWriteInstead()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("5/8 3+2", FourChords))) with { Tempo = Sheet.Of(TempoLevel.Group, 100) };

        var problem = Assert.Throws<ChartProblemException>(() => new FormPlan(chart));
        Assert.Contains("those of 5/8 3+2 differ; use the unit, a note or the bar", problem.Message, StringComparison.Ordinal);
        Assert.Equal("verse", problem.Section);
    }

    [Theory]
    [InlineData(1, 64, 1)]
    [InlineData(1, 1, 1001)]
    public void Tempo_OutOfRange_SaysWhichAreAccepted(int above, int below, int perMinute)
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("5/8", FourChords))) with { Tempo = Sheet.Of(above, below, perMinute) };

        var problem = Assert.Throws<ChartProblemException>(() => new FormPlan(chart));
        Assert.Contains("1/4 to 1000 are accepted", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Tempo_AfterAChangeOfMeter_KeepsTheNoteValue()
    {
        var chart = Sheet.Chart(
            Sheet.Section("verse", Sheet.Bars("5/8 3+2", FourChords)),
            Sheet.Section("chorus", Sheet.Bars("7/8 2+2+3", FourChords))) with
        { Tempo = Sheet.Of(TempoLevel.Bar, 60) };

        var plan = new FormPlan(chart);
        Assert.Equal(plan.BarAt(0).Tempo, plan.BarAt(7).Tempo);
    }

    [Fact]
    public void Ramp_OverTwoBars_IsTheExactMeanOfEveryHalfUnitAndThenTheTarget()
    {
        var section = Sheet.Section("verse", Sheet.Bars("5/8 3+2", FourChords)) with
        {
            Tempo = new TempoChange(Sheet.Of(1, 8, 200), Sheet.Of(1, 8, 240), 2),
        };
        var plan = new FormPlan(Sheet.Chart(section, Sheet.Section("chorus", Sheet.Bars("7/8 2+2+3", FourChords))));

        // 200 to 240 eighths per minute are 25 to 30 whole notes; ten units make twenty steps.
        var seconds = 0.0;
        for (var step = 0; step < 20; step++)
        {
            var (onset, tempo) = plan.BarAt(step / 10).Tempi[step % 10];
            Assert.Equal(Span.Of(step % 10, 16), onset);
            Assert.Equal(25 + (5 * new Rational((2 * step) + 1, 40)), tempo.WholesPerMinute);
            seconds += tempo.Seconds(Span.Of(1, 16)).ToDouble();
        }

        Assert.Equal([(Span.Zero, new Tempo(30))], plan.BarAt(2).Tempi);
        Assert.Equal([(Span.Zero, new Tempo(30))], plan.BarAt(3).Tempi);
        Assert.Equal(new Tempo(30), plan.BarAt(4).Tempo);
        // A tempo that rises evenly over a length takes its length times ln(v1/v0)/(v1-v0).
        Assert.Equal(60 * 1.25 * Math.Log(30.0 / 25) / 5, seconds, 3);
    }

    [Fact]
    public void Ramp_SectionPlayedTwice_GoesOnFromItsTargetUnlessItSaysWhereItStarts()
    {
        var bars = Sheet.Bars("5/8 3+2", FourChords);
        var to = new TempoChange(null, Sheet.Of(1, 8, 280), null);
        Chart Twice(TempoChange change) => Sheet.Chart(Sheet.Section("verse", bars) with { Tempo = change }) with { Form = [new FormStep(0, 2)] };

        var on = new FormPlan(Twice(to));
        Assert.Equal([(Span.Zero, Tempo.Of(Span.Of(1, 8), 280))], on.BarAt(4).Tempi);
        var again = new FormPlan(Twice(to with { From = Sheet.Eighth240 }));
        Assert.Equal(again.BarAt(0).Tempi, again.BarAt(4).Tempi);
        Assert.True(again.BarAt(3).Tempi[^1].Tempo < Tempo.Of(Span.Of(1, 8), 280));
    }

    [Fact]
    public void Ramp_DownOverMixedMeters_NeverTurnsBack()
    {
        var bars = Sheet.Bars("5/8 3+2", "Am", "G").Concat(Sheet.Bars("7/12 none", "F", "E")).ToArray();
        var section = Sheet.Section("verse", bars) with { Tempo = new TempoChange(null, Sheet.Of(1, 8, 90), null) };
        var plan = new FormPlan(Sheet.Chart(section));

        var tempi = Enumerable.Range(0, 4).SelectMany(bar => plan.BarAt(bar).Tempi).Select(stretch => stretch.Tempo).ToArray();
        Assert.Equal(2 * (5 + 5 + 7 + 7), tempi.Length);
        Assert.Equal(tempi.OrderDescending(), tempi);
        Assert.True(tempi[0] < Tempo.Of(Span.Of(1, 8), 240) && tempi[^1] > Tempo.Of(Span.Of(1, 8), 90));
    }

    [Fact]
    public void Ramp_LongerThanItsSection_SaysHowLongItMayBe()
    {
        var section = Sheet.Section("verse", Sheet.Bars("5/8 3+2", FourChords)) with { Tempo = new TempoChange(null, Sheet.Of(1, 8, 280), 5) };

        var problem = Assert.Throws<ChartProblemException>(() => new FormPlan(Sheet.Chart(section)));
        Assert.Contains("make it 4 at most", problem.Message, StringComparison.Ordinal);
        Assert.Equal("verse", problem.Section);
    }

    // 4/4 at quarter = 120 joined to 7/8, worked by hand: a bar of 2 s, a quarter of 0.5 s, an eighth of 0.25 s before.
    [Theory]
    [InlineData(false, 1, 8, 1, 8, 240)]
    [InlineData(false, 1, 8, 1, 4, 480)]
    [InlineData(false, 1, 4, 1, 8, 120)]
    [InlineData(false, 1, 4, 3, 8, 360)]
    [InlineData(true, 0, 1, 0, 1, 210)]
    public void Join_BetweenSections_MakesWhatItNamesLastEquallyLong(
        bool bars, int beforeAbove, int beforeBelow, int afterAbove, int afterBelow, int eighths)
    {
        var join = new TempoJoin(bars, Span.Of(beforeAbove, beforeBelow), Span.Of(afterAbove, afterBelow));
        var chart = Sheet.Chart(
            Sheet.Section("verse", Sheet.Bars("4/4", FourChords)),
            Sheet.Section("chorus", Sheet.Bars("7/8 2+2+3", FourChords)) with { Join = join }) with
        { Tempo = Sheet.Of(1, 4, 120) };

        var tempo = new FormPlan(chart).BarAt(4).Tempo;
        Assert.Equal(Tempo.Of(Span.Of(1, 8), eighths), tempo);
        var (before, after) = bars ? (new Span(1), Span.Of(7, 8)) : (join.Before, join.After);
        Assert.Equal(Tempo.Of(Span.Of(1, 4), 120).Seconds(before), tempo.Seconds(after));
    }

    [Fact]
    public void Join_SectionRepeated_HoldsOnlyAtTheSeam()
    {
        var chart = Sheet.Chart(
            Sheet.Section("verse", Sheet.Bars("4/4", FourChords)),
            Sheet.Section("chorus", Sheet.Bars("7/8 2+2+3", FourChords)) with { Join = new TempoJoin(false, Span.Of(1, 8), Span.Of(1, 4)) });
        var plan = new FormPlan(chart with { Form = [new FormStep(0, 1), new FormStep(1, 3)] });

        Assert.Equal(Tempo.Of(Span.Of(1, 8), 480), plan.BarAt(4).Tempo);
        Assert.Equal(plan.BarAt(4).Tempo, plan.BarAt(12).Tempo);
    }

    [Fact]
    public void Join_LeadingOutOfRange_NamesTheSectionAndTheRange()
    {
        var chart = Sheet.Chart(
            Sheet.Section("verse", Sheet.Bars("4/4", FourChords)),
            Sheet.Section("chorus", Sheet.Bars("4/4", FourChords)) with { Join = new TempoJoin(false, Span.Of(1, 64), new Span(1)) });

        var problem = Assert.Throws<ChartProblemException>(() => new FormPlan(chart));
        Assert.Equal("chorus", problem.Section);
        Assert.Contains("1/4 to 1000 are accepted", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void GroupPlace_InsertedBar_BelongsToTheGroupBeforeIt()
    {
        var bars = Sheet.Bars("5/8 3+2", [.. FourChords, .. FourChords]).ToList();
        bars.Insert(4, Sheet.Bar("3/8", "E", inserted: true));
        bars.Insert(0, Sheet.Bar("2/8", "E", inserted: true));
        var plan = new FormPlan(Sheet.Chart(Sheet.Section("verse", bars)));

        var places = Enumerable.Range(0, bars.Count).Select(bar => plan.BarAt(bar).GroupPlace).ToArray();
        Assert.Equal([0, 0, 0, 0, 0, 0, 1, 1, 1, 1], places.Select(place => place.Group));
        Assert.Equal([0, 1, 2, 3, 4, 5, 0, 1, 2, 3], places.Select(place => place.Index));
        Assert.Equal([6, 6, 6, 6, 6, 6, 4, 4, 4, 4], places.Select(place => place.Size));
        Assert.True(plan.BarAt(5).Inserted);
        Assert.False(plan.BarAt(4).Inserted);
    }

    [Fact]
    public void GroupPlace_NewSection_StartsANewGroup()
    {
        var plan = new FormPlan(Sheet.Chart(
            Sheet.Section("verse", Sheet.Bars("5/8 3+2", "Am", "G", "F", "E", "Am", "G")),
            Sheet.Section("chorus", Sheet.Bars("5/8 3+2", FourChords), 2)));

        Assert.Equal(
            [4, 4, 4, 4, 2, 2, 2, 2, 2, 2], Enumerable.Range(0, 10).Select(bar => plan.BarAt(bar).GroupPlace.Size));
        Assert.True(plan.BarAt(6).GroupPlace.IsFirst);
    }

    [Fact]
    public void Form_RepeatsAndLaps_NumberRunsVersesAndBarsOn()
    {
        var chart = Sheet.Chart(
            Sheet.Section("A", Sheet.Bars("5/8 3+2", "Am", "G", "F")),
            Sheet.Section("B", Sheet.Bars("7/12 none", "E", "Am"))) with
        {
            Form = [new FormStep(0, 2), new FormStep(1, 1), new FormStep(0, 1)],
            Times = 3,
        };
        var plan = new FormPlan(chart);

        Assert.Equal(11, plan.BarsInPass);
        Assert.Equal(33, plan.Bars);
        Assert.Equal(Span.Of(45, 8) + Span.Of(14, 12), plan.PassLength);
        var at = Position.Zero;
        var runs = new List<SectionRun>();
        for (var index = 0; index < 44; index++)
        {
            var bar = plan.BarAt(index);
            Assert.Equal(index, bar.Index);
            Assert.Equal(at, bar.Start);
            Assert.Equal(plan.BarAt(index % 11).Meter, bar.Meter);
            Assert.Equal(index - bar.Run.FirstBar, bar.IndexInRun);
            Assert.Equal(bar.IndexInRun == bar.Run.Bars - 1, bar.IsLastOfRun);
            Assert.InRange(index, bar.Run.FirstBar, bar.Run.EndBar - 1);
            if (bar.IndexInRun == 0)
            {
                Assert.Equal(at, bar.Run.Start);
                runs.Add(bar.Run);
            }

            at = bar.End;
        }

        Assert.Equal(Enumerable.Range(0, 16), runs.Select(run => run.Number));
        Assert.Equal(["A", "A", "B", "A", "A", "A", "B", "A"], runs.Take(8).Select(run => run.Section.Name));
        Assert.Equal([0, 1, 0, 2, 3, 4, 1, 5, 6, 7, 2, 8], runs.Take(12).Select(run => run.Verse));
        for (var i = 0; i + 1 < runs.Count; i++)
        {
            Assert.Equal(runs[i + 1], plan.RunAfter(runs[i]));
        }
    }

    [Fact]
    public void BarAt_Negative_Throws() =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new FormPlan(Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8", "Am")))).BarAt(-1));

    [Fact]
    public void Form_TooManyBars_SaysToUseTimes()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8", FourChords))) with { Form = [new FormStep(0, 5001)] };

        Assert.Contains("with times instead", Assert.Throws<ChartProblemException>(() => new FormPlan(chart)).Message, StringComparison.Ordinal);
        Assert.Equal(20_000, new FormPlan(chart with { Form = [new FormStep(0, 5000)] }).Bars);
    }

    // Compound meters count their groups, and so do meters with units faster than 200 ms. Common practice, no source.
    [Theory]
    [InlineData("6/8", 120, Counted.Groups, FeltLevel.Group)]
    [InlineData("9/8 3+3+3", 120, Counted.Groups, FeltLevel.Group)]
    [InlineData("9/8 2+2+2+3", 240, Counted.Units, FeltLevel.Unit)]
    [InlineData("5/8 3+2", 300, Counted.Units, FeltLevel.Unit)]
    [InlineData("5/8 3+2", 301, Counted.Groups, FeltLevel.Group)]
    [InlineData("5/8 none", 301, Counted.Groups, FeltLevel.Bar)]
    [InlineData("3/4", 240, Counted.Units, FeltLevel.Unit)]
    public void CountedAndFelt_NothingSaid_FollowMeterAndTempo(string meter, int eighths, Counted counted, FeltLevel felt)
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars(meter, FourChords))) with { Tempo = Sheet.Of(1, 8, eighths) };

        var bar = new FormPlan(chart).BarAt(1);
        Assert.Equal((counted, felt), (bar.Counted, bar.Felt));
    }

    [Fact]
    public void CountedAndFelt_Said_TheSectionGoesBeforeTheChart()
    {
        var plan = new FormPlan(Sheet.Chart(
            Sheet.Section("A", Sheet.Bars("5/8 3+2", FourChords)),
            Sheet.Section("B", Sheet.Bars("5/8 3+2", FourChords)) with { Feel = FeltLevel.BarGroup, Counted = Counted.Units, Key = Key.Parse("D major") })
            with
        { Feel = FeltLevel.Bar, Counted = Counted.Groups });

        Assert.Equal((Counted.Groups, FeltLevel.Bar), (plan.BarAt(0).Counted, plan.BarAt(0).Felt));
        Assert.Equal((Counted.Units, FeltLevel.BarGroup), (plan.BarAt(4).Counted, plan.BarAt(4).Felt));
        Assert.Equal(Key.Parse("A minor"), plan.BarAt(0).Run.Key);
        Assert.Equal(Key.Parse("D major"), plan.BarAt(4).Run.Key);
    }

    [Fact]
    public void ChordAt_BarOfTwoChords_ChangesWithTheGroup()
    {
        var bar = new FormPlan(Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8 3+2", "Gm7 Cm/Eb")))).BarAt(0);

        Assert.Equal("Gm7", bar.Chords.ChordAt(Span.Zero).ToString());
        Assert.Equal("Gm7", bar.Chords.ChordAt(Span.Of(5, 16)).ToString());
        Assert.Equal("Cm/Eb", bar.Chords.ChordAt(Span.Of(3, 8)).ToString());
    }

    [Fact]
    public void Layout_ManyDifferentDenominators_IsAProblemOfTheChart()
    {
        var primes = new[] { 61, 59, 53, 47, 43, 41, 37, 31, 29, 23, 19, 17, 13, 11, 7 };
        var bars = primes.Select(below => Sheet.Bar($"1/{below} none")).ToArray();

        var problem = Assert.Throws<ChartProblemException>(() => new FormPlan(Sheet.Chart(Sheet.Section("A", bars))));
        Assert.Contains("use fewer different denominators", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Layout_DenominatorsThatOverflowOnALaterPass_AreAProblemOfTheChart()
    {
        // One pass just fits; a thousand do not.
        var bars = new[] { 61, 59, 53, 47, 43, 41, 37, 31, 29, 23 }.Select(below => Sheet.Bar($"1/{below} none")).ToArray();
        var chart = Sheet.Chart(Sheet.Section("A", bars));

        Assert.Equal(10, new FormPlan(chart).Bars);
        Assert.Throws<ChartProblemException>(() => new FormPlan(chart with { Times = 1_000_000 }));
    }

    [Fact]
    public void Layout_MoreBarsInAllThanCanBeNumbered_IsAProblemOfTheChart()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8", FourChords))) with { Times = int.MaxValue };

        Assert.Contains("times", Assert.Throws<ChartProblemException>(() => new FormPlan(chart)).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(TempoLevel.Note, 300, "eighth = 300")]
    [InlineData(TempoLevel.Unit, 300, "unit = 300")]
    [InlineData(TempoLevel.Group, 100, "group = 100")]
    [InlineData(TempoLevel.Bar, 60, "bar = 60")]
    [InlineData(TempoLevel.BarGroup, 14, "bar group = 14")]
    public void ToString_TempoMark_IsAsAChartSaysIt(TempoLevel level, int perMinute, string wanted) =>
        Assert.Equal(wanted, new TempoMark(level, Span.Of(1, 8), perMinute).ToString());

    [Fact]
    public void ToString_TempoMarkWithAFraction_IsADecimal() =>
        Assert.Equal("dotted quarter = 66.5", Sheet.Of(3, 8, new Rational(133, 2)).ToString());
}
