using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Charts;

public sealed class ChartChangesTests
{
    private static readonly Chart Ramped = Sheet.Chart(
        Sheet.Section("A", Sheet.Bars("5/8 3+2", "Am")),
        Sheet.Section("B", Sheet.Bars("5/8 3+2", "Am")) with { Tempo = new TempoChange(Sheet.Of(1, 8, 200), Sheet.Of(1, 8, 270), 1) });

    [Fact]
    public void AtPace_Factor_ScalesEveryTempo()
    {
        var chart = Ramped.AtPace(new Rational(10, 7));
        Assert.Equal([new Rational(2400, 7), new Rational(2000, 7), new Rational(2700, 7)], Figures(chart));
    }

    [Fact]
    public void AtPace_ToBeRead_RoundsOnlyWhatNoReaderWants()
    {
        var chart = Ramped.AtPace(new Rational(10_007, 30_011), largestDenominator: 1000);
        Assert.Equal([new Rational(80_027, 1000), new Rational(66_689, 1000), new Rational(9003, 100)], Figures(chart));
        Assert.Equal([80, new Rational(200, 3), 90], Figures(Ramped.AtPace(new Rational(1, 3), largestDenominator: 1000)));
    }

    [Fact]
    public void AtPace_One_IsTheChartItself() => Assert.Same(Ramped, Ramped.AtPace(Rational.One, largestDenominator: 1));

    private static Rational[] Figures(Chart chart)
    {
        var change = chart.Sections[1].Tempo!;
        return [chart.Tempo.PerMinute, change.From!.Value.PerMinute, change.To!.Value.PerMinute];
    }
}
