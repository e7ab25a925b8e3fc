using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Tests.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Feel;

public sealed class LevelFitTests
{
    // Computed from London's and Parncutt's limits of 100 ms, 1.8 s and 6 s.
    [Theory]
    [InlineData("5/8 3+2", 200, 1.500)]
    [InlineData("7/8 2+2+3", 240, 1.750)]
    [InlineData("11/8 3+3+3+2", 240, 2.750)]
    public void Of_BarsOfEighths_LastUnitsTimesSixtyOverTempo(string meter, int eighths, double seconds) =>
        Assert.Equal(seconds, Fit(meter, eighths, 4, FeltLevel.Bar).Seconds, 12);

    [Theory]
    [InlineData(150, true)]
    [InlineData(151, false)]
    public void Of_SixteenthUnits_ReachOneHundredMillisecondsUpToQuarter150(int quarters, bool reach)
    {
        var unit = LevelFit.Of(Meters.Read("7/16 2+2+3"), Tempo.Of(Span.Of(1, 4), quarters), 1)[0];
        Assert.Equal(reach, unit.Seconds >= PulseSalience.FastestUnit);
    }

    [Theory]
    [InlineData(300, true)]
    [InlineData(240, false)]
    public void Of_FourBarsOfSevenEighths_AreOneCycleAt300ButNotAt240(int eighths, bool one) =>
        Assert.Equal(one, Fit("7/8 2+2+3", eighths, 4, FeltLevel.BarGroup).Seconds <= PulseSalience.LongestCycle);

    [Fact]
    public void Of_FiveEighthsAt300InOne_TheBarSitsWellAndItsEighthDoesNot()
    {
        // Bar = 60: a bar of 1 s can be a beat; an eighth of 200 ms only just.
        Assert.Equal(BeatSpeed.Comfortable, Fit("5/8 3+2", 300, 4, FeltLevel.Bar).Speed);
        Assert.Equal(BeatSpeed.Fast, Fit("5/8 3+2", 300, 4, FeltLevel.Unit).Speed);
        Assert.Equal(BeatSpeed.TooFast, Fit("5/8 3+2", 301, 4, FeltLevel.Unit).Speed);
        Assert.Equal(BeatSpeed.TooSlow, Fit("5/8 3+2", 300, 4, FeltLevel.BarGroup).Speed);
    }

    // Common practice, no source: a fast 3/4 is felt one beat to the bar, and four such bars make one of its groups.
    [Fact]
    public void Of_FastWaltz_TheBarIsTheBeatAndFourBarsStayOneCycle()
    {
        var fits = LevelFit.Of(Meters.Read("3/4"), Tempo.Of(Span.Of(3, 4), 70), 4);

        Assert.Equal(FeltLevel.Bar, fits.MaxBy(fit => fit.Salience).Level);
        Assert.Equal(BeatSpeed.Comfortable, fits.Single(fit => fit.Level == FeltLevel.Bar).Speed);
        Assert.True(fits.Single(fit => fit.Level == FeltLevel.BarGroup).Seconds <= PulseSalience.LongestCycle);
        Assert.DoesNotContain(fits, fit => fit.Level == FeltLevel.Group);
    }

    [Fact]
    public void Of_AnyMeter_HasEveryLevelThatIsThereFastestFirst() =>
        Gen.Select(Meters.All, Gen.Int[1, 400], Gen.Int[1, 8]).Sample((meter, wholes, bars) =>
        {
            var fits = LevelFit.Of(meter, new Tempo(wholes), bars);
            var wanted = new List<FeltLevel> { FeltLevel.Unit, FeltLevel.Bar };
            if (!meter.Grouping.IsUndivided)
            {
                wanted.Add(FeltLevel.Group);
            }

            if (bars > 1)
            {
                wanted.Add(FeltLevel.BarGroup);
            }

            Assert.Equal(wanted.Order(), fits.Select(fit => fit.Level));
            for (var i = 0; i < fits.Count; i++)
            {
                Assert.True(i == 0 || fits[i].Seconds >= fits[i - 1].Seconds);
                Assert.Equal(PulseSalience.Parncutt(fits[i].Seconds), fits[i].Salience);
                Assert.Equal(fits[i].Seconds < PulseSalience.FastestBeat, fits[i].Speed == BeatSpeed.TooFast);
                Assert.Equal(fits[i].Seconds > PulseSalience.SlowestBeat, fits[i].Speed == BeatSpeed.TooSlow);
            }
        });

    [Theory]
    [InlineData("unit", FeltLevel.Unit)]
    [InlineData("Groups", FeltLevel.Group)]
    [InlineData(" bar ", FeltLevel.Bar)]
    [InlineData("bar group", FeltLevel.BarGroup)]
    [InlineData("bar-groups", FeltLevel.BarGroup)]
    public void TryParse_NameOfALevel_IsRead(string text, FeltLevel wanted)
    {
        Assert.True(FeltLevels.TryParse(text, out var level));
        Assert.Equal(wanted, level);
        Assert.True(FeltLevels.TryParse(level.Name(), out var again));
        Assert.Equal(level, again);
    }

    [Fact]
    public void TryParse_OtherWords_AreRefused()
    {
        Assert.False(FeltLevels.TryParse("beat", out _));
        Assert.False(FeltLevels.TryParse(null, out _));
    }

    [Fact]
    public void BeatsIn_FiveEighths_AreFiveTwoOneAndEveryGroup()
    {
        var meter = Meters.Read("5/8 3+2");
        var (first, second) = (new BarGroupPlace(0, 0, 4), new BarGroupPlace(0, 1, 4));

        Assert.Equal(5, FeltLevel.Unit.BeatsIn(meter, second).Count);
        Assert.Equal([Span.Zero, Span.Of(3, 8)], FeltLevel.Group.BeatsIn(meter, second));
        Assert.Equal([Span.Zero], FeltLevel.Bar.BeatsIn(meter, second));
        Assert.Equal([Span.Zero], FeltLevel.BarGroup.BeatsIn(meter, first));
        Assert.Empty(FeltLevel.BarGroup.BeatsIn(meter, second));
    }

    private static LevelFit Fit(string meter, int eighths, int bars, FeltLevel level) =>
        LevelFit.Of(Meters.Read(meter), Tempo.Of(Span.Of(1, 8), eighths), bars).Single(fit => fit.Level == level);
}
