using GrooveLab.Audio.LiveMidi;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Audio.Tests.LiveMidi;

public sealed class ClockFollowerTests
{
    // Seconds between the clocks of a quarter = 120: 60 / 120 / 24.
    private const double At120 = 1 / 48.0;

    private sealed class Sequencer(ClockFollower follower, double jitter)
    {
        private readonly Random _random = new(3);

        public double Now { get; set; } = 100;

        public void Run(double interval, int clocks, Action<int>? look = null)
        {
            for (var i = 0; i < clocks; i++)
            {
                follower.Clock(Now + ((_random.NextDouble() - 0.5) * 2 * jitter));
                look?.Invoke(i);
                Now += interval;
            }
        }
    }

    [Fact]
    public void PlaceAt_SteadyClock_GoesOnBetweenAndAfterClocks()
    {
        var follower = new ClockFollower();
        var sequencer = new Sequencer(follower, 0);
        sequencer.Run(At120, 10);
        follower.Start();
        Assert.True(follower.IsAboutToRun);
        sequencer.Run(At120, 25);

        // The 25th clock after start is number 24, a quarter after the start; ten more seconds are 480 clocks.
        var last = sequencer.Now - At120;
        Assert.True(follower.Runs);
        Assert.Equal(24, follower.PlaceAt(last, At120), 1e-6);
        Assert.Equal(504, follower.PlaceAt(last + 10, At120), 1e-6);
        Assert.Equal(120, follower.QuartersPerMinute!.Value, 1e-6);
    }

    // 0.4 % of a tempo is not heard as a change: from memory, of studies of the perception of tempo.
    [Theory]
    [InlineData(0.001, 0.0005, 0.0015)]
    [InlineData(0.003, 0.0015, 0.004)]
    [InlineData(0.005, 0.0025, 0.006)]
    public void PlaceAt_JitteryClock_IsSmooth(double jitter, double mostOff, double mostTempo)
    {
        var follower = new ClockFollower();
        var sequencer = new Sequencer(follower, jitter);
        var start = sequencer.Now;
        follower.Start();
        var off = 0.0;
        var tempo = 0.0;
        sequencer.Run(At120, 4800, i =>
        {
            if (i > ClockFollower.MostClocks)
            {
                off = Math.Max(off, Math.Abs(((follower.PlaceAt(start + (i * At120), At120) - i) * At120)));
                tempo = Math.Max(tempo, Math.Abs((follower.ClocksPerSecond!.Value * At120) - 1));
            }
        });

        Assert.InRange(off, 0, mostOff);
        Assert.InRange(tempo, 0, mostTempo);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.002)]
    public void ClocksPerSecond_TempoChangesAtOnce_IsKnownAfterAQuarter(double jitter)
    {
        var follower = new ClockFollower();
        var sequencer = new Sequencer(follower, jitter);
        follower.Start();
        sequencer.Run(At120, 200);
        const double At90 = 60 / 90.0 / 24;
        sequencer.Run(At90, Math.Max(ClockFollower.ClocksAfterChange, 24));

        Assert.Equal(90, follower.QuartersPerMinute!.Value, 1.5);
        Assert.Equal(223, follower.PlaceAt(sequencer.Now - At90, At90), 0.2);
    }

    [Fact]
    public void IsLost_ClockPausesAndReturns_CountsWhatWasLost()
    {
        var follower = new ClockFollower();
        var sequencer = new Sequencer(follower, 0.001);
        follower.Start();
        sequencer.Run(At120, 200);
        Assert.False(follower.IsLost(sequencer.Now + 0.1));
        Assert.True(follower.IsLost(sequencer.Now + ClockFollower.ShortestLoss + 0.05));

        // 96 clocks do not arrive.
        sequencer.Now += 96 * At120;
        sequencer.Run(At120, 1);

        Assert.False(follower.IsLost(sequencer.Now));
        Assert.Equal(296, follower.PlaceAt(sequencer.Now - At120, At120), 0.2);
        Assert.Equal(120, follower.QuartersPerMinute!.Value, 0.5);
    }

    [Fact]
    public void Continue_AfterStopAndPosition_RunsFromThere()
    {
        var follower = new ClockFollower();
        var sequencer = new Sequencer(follower, 0);
        follower.Start();
        sequencer.Run(At120, 50);
        follower.Stop();
        Assert.False(follower.Runs);
        Assert.Equal(50, follower.Place);

        // Clocks while it is stopped move nothing.
        sequencer.Run(At120, 30);
        follower.Continue();
        sequencer.Run(At120, 1);
        Assert.Equal(50, follower.PlaceAt(sequencer.Now - At120, At120), 1e-6);

        follower.Stop();
        follower.Position(14);
        follower.Continue();
        sequencer.Run(At120, 3);
        Assert.Equal(86, follower.PlaceAt(sequencer.Now - At120, At120), 1e-6);
    }

    [Fact]
    public void Position_WhileItRuns_IsIgnored()
    {
        var follower = new ClockFollower();
        var sequencer = new Sequencer(follower, 0);
        follower.Start();
        sequencer.Run(At120, 10);
        follower.Position(99);
        Assert.Equal(9, follower.PlaceAt(sequencer.Now - At120, At120), 1e-6);
    }

    [Theory]
    [InlineData(48, 0, 1)]
    [InlineData(24, 0, 0.5)]
    [InlineData(48, 100, 1.1)]
    [InlineData(48, -100, 0.9)]
    [InlineData(48, 0.02, 1)]
    public void Speed_OfABand_IsTheClocksWithALimitedReturn(double clocks, double behind, double speed) =>
        Assert.Equal(speed, FollowedSpeed.Of(clocks, 48, behind).ToDouble(), 0.0005);

    // A band of another tempo that is late as it is at its start, and a clock with jitter: the loop of the program, 60 ms by 60 ms.
    [Fact]
    public void Speed_LateBandOnAJitteryClock_ReturnsWithinTwoSecondsAndStays()
    {
        var follower = new ClockFollower();
        var sequencer = new Sequencer(follower, 0.003);
        var start = sequencer.Now;
        follower.Start();
        const double Steady = 60;
        var band = -2.4;
        var speed = Rational.One;
        var time = start;
        var worst = 0.0;
        var nextControl = start;
        sequencer.Run(At120, 48 * 30, i =>
        {
            band += (start + (i * At120) - time) * Steady * speed.ToDouble();
            time = start + (i * At120);
            if (time >= nextControl && follower.ClocksPerSecond is { } clocks)
            {
                nextControl = time + 0.06;
                speed = FollowedSpeed.Of(clocks, Steady, follower.PlaceAt(time, At120) - band);
            }

            if (i > 48 * 3)
            {
                worst = Math.Max(worst, Math.Abs(band - i) * At120);
            }
        });

        Assert.InRange(worst, 0, 0.006);
    }
}
