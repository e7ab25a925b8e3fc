using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Performance;

public sealed class TapTempoTests
{
    private static readonly Tempo Eighth300 = Tempo.Of(Span.Of(1, 8), 300);

    private static BarMeter Meter(string text) => BarMeter.TryParse(text, out var meter, out _) ? meter : throw new ArgumentException(text);

    private static double[] Taps(int count, Func<int, double> interval, double start = 3)
    {
        var taps = new double[count];
        taps[0] = start;
        for (var i = 1; i < count; i++)
        {
            taps[i] = taps[i - 1] + interval(i - 1);
        }

        return taps;
    }

    [Theory]
    [InlineData("5/8 3+2", 0.2, FeltLevel.Unit, false)]
    [InlineData("5/8 3+2", 1.0, FeltLevel.Bar, false)]
    [InlineData("5/8 3+2", 1.1, FeltLevel.Bar, false)]
    [InlineData("5/8 3+2", 4.0, FeltLevel.BarGroup, false)]
    [InlineData("6/8 3+3", 0.6, FeltLevel.Group, false)]
    [InlineData("5/8 none", 1.0, FeltLevel.Bar, false)]
    [InlineData("7/8 2+2+3", 0.45, FeltLevel.Group, false)]
    public void Hear_EvenTaps_FindsTheLevelNearestToTheTempo(string meter, double interval, FeltLevel level, bool longShort)
    {
        var heard = TapTempo.Hear(Taps(5, _ => interval), Meter(meter), 4, Eighth300);
        Assert.Equal((level, longShort), (heard!.Value.Level, heard.Value.LongShort));
    }

    [Theory]
    [InlineData("5/8 3+2", 0)]
    [InlineData("5/8 3+2", 1)]
    [InlineData("7/8 2+2+3", 0)]
    [InlineData("7/8 2+2+3", 2)]
    [InlineData("8/8 3+3+2", 1)]
    public void Hear_LongAndShortTaps_FindsTheGroupsWhereverTheyBegin(string text, int start)
    {
        var meter = Meter(text);
        var taps = Taps(8, i => 0.19 * meter.GroupSizes[(start + i) % meter.GroupSizes.Count]);
        var heard = TapTempo.Hear(taps, meter, 4, Eighth300)!.Value;
        Assert.Equal((FeltLevel.Group, true), (heard.Level, heard.LongShort));
        Assert.Equal(60 / 0.19 / 8, heard.WholesPerMinute, 6);
    }

    [Fact]
    public void Hear_OneTap_HearsNothing() => Assert.Null(TapTempo.Hear([1.0], Meter("4/4"), 1, Eighth300));

    [Fact]
    public void NewestRow_AfterAPause_BeginsAnew()
    {
        double[] taps = [.. Taps(4, _ => 0.5), .. Taps(5, _ => 0.6, start: 9)];
        Assert.Equal(Taps(5, _ => 0.6, start: 9), TapTempo.NewestRow(taps));
        Assert.Equal(4, TapTempo.NewestRow(taps[..4]).Count);
    }

    // Wing and Kristofferson (1973): I = C + M' - M. Standard deviations of 15 ms (clock) and 8 ms (motor), as in figures checked by
    // simulation: variance of intervals 353, lag one -0.1813.
    [Theory]
    [InlineData(4)]
    [InlineData(8)]
    [InlineData(16)]
    public void Period_OfTapsWithKnownJitter_IsUnbiasedAndItsErrorIsTheModels(int intervals)
    {
        const double Clock = 0.015;
        const double Motor = 0.008;
        const double True = 0.5;
        const int Rows = 20_000;
        var chance = new Normal(4);
        var ones = Enumerable.Repeat(1.0, intervals).ToArray();
        double sum = 0, squares = 0, variance = 0, lag = 0;
        for (var row = 0; row < Rows; row++)
        {
            var delay = Motor * chance.Next();
            var played = new double[intervals];
            for (var i = 0; i < intervals; i++)
            {
                var next = Motor * chance.Next();
                played[i] = True + (Clock * chance.Next()) + next - delay;
                delay = next;
            }

            var error = TapTempo.Period(played, ones, out _) - True;
            sum += error;
            squares += error * error;
            variance += (played[0] - True) * (played[0] - True);
            lag += (played[0] - True) * (played[1] - True);
        }

        Assert.Equal(353e-6, variance / Rows, 353e-6 * 0.05);
        Assert.Equal(-64e-6, lag / Rows, 353e-6 * 0.05);
        var predicted = TapTempo.PredictedError(intervals, Clock, Motor);

        // Four standard errors of a mean and of a standard deviation over that many series.
        Assert.Equal(0, sum / Rows, 4 * predicted / Math.Sqrt(Rows));
        Assert.Equal(predicted, Math.Sqrt(squares / Rows), 4 * predicted / Math.Sqrt(2.0 * Rows));

        // It is also better than dividing first to last, as the model predicts.
        var endToEnd = Math.Sqrt((Clock * Clock / intervals) + (2 * Motor * Motor / (intervals * (double)intervals)));
        Assert.InRange(predicted, 0, endToEnd);
    }

    [Fact]
    public void Period_RelativeError_CoversTheTruthAboutAsOftenAsItShould()
    {
        var chance = new Normal(9);
        var ones = Enumerable.Repeat(1.0, 12).ToArray();
        var inside = 0;
        for (var row = 0; row < 4000; row++)
        {
            var delay = 0.01 * chance.Next();
            var played = new double[12];
            for (var i = 0; i < played.Length; i++)
            {
                var next = 0.01 * chance.Next();
                played[i] = 0.6 + (0.02 * chance.Next()) + next - delay;
                delay = next;
            }

            var period = TapTempo.Period(played, ones, out var error);
            inside += Math.Abs(period - 0.6) < 2.2 * error * period ? 1 : 0;
        }

        // Student's t with 11 degrees of freedom: 95 % within 2.20.
        Assert.InRange(inside / 4000.0, 0.93, 0.97);
    }

    private sealed class Normal(int seed)
    {
        private readonly Random _chance = new(seed);

        public double Next() => Math.Sqrt(-2 * Math.Log(1 - _chance.NextDouble())) * Math.Cos(2 * Math.PI * _chance.NextDouble());
    }
}
