using GrooveLab.Audio.Devices;
using GrooveLab.Audio.LiveMidi;
using Xunit;

namespace GrooveLab.Audio.Tests.LiveMidi;

public sealed class OutputTimeTests
{
    private const int Rate = 48_000;
    private const long Ticks = 1_000_000_000;

    // Periods of 10 ms; the frame that is heard is told late by up to some milliseconds.
    private static OutputClock Reading(int period, double lateSeconds, double startSeconds = 5, long delay = 480) =>
        new(480L * (period + 1), delay, (long)(((period * 0.01) + startSeconds + lateSeconds) * Ticks));

    [Fact]
    public void TicksAt_ExactReadings_IsExact()
    {
        var time = new OutputTime(Rate, Ticks);
        Assert.False(time.IsKnown);
        for (var period = 0; period < 50; period++)
        {
            time.Add(Reading(period, 0));
        }

        // Frame 48,000 is heard a second after frame 0, which is heard at 5 s.
        Assert.Equal(6e9, time.TicksAt(48_000), 1000.0);
        Assert.Equal(48_000, time.FrameAt(6_000_000_000), 0.1);
    }

    [Fact]
    public void TicksAt_LateReadings_StaysWithinHalfAMillisecondOfTheirMean()
    {
        var random = new Random(7);
        var time = new OutputTime(Rate, Ticks);
        var worst = 0.0;
        for (var period = 0; period < 1000; period++)
        {
            time.Add(Reading(period, random.NextDouble() * 0.002));
            if (period > 130)
            {
                worst = Math.Max(worst, Math.Abs((time.TicksAt(480.0 * (period + 1)) / Ticks) - (5 + (0.01 * (period + 1)) + 0.001)));
            }
        }

        Assert.InRange(worst, 0, 0.0005);
    }

    [Fact]
    public void TicksAt_CardOfADeviatingRate_Follows()
    {
        // A card that is 300 parts in a million slow: 3 microseconds more for each period.
        var time = new OutputTime(Rate, Ticks);
        for (var period = 0; period < 3000; period++)
        {
            time.Add(Reading(period, period * 0.000003));
        }

        Assert.Equal(5 + (3000 * 0.010003), time.TicksAt(480.0 * 3000) / Ticks, 0.00005);
    }

    [Fact]
    public void TicksAt_GapInTheSound_IsKnownAfterSevenPeriods()
    {
        var time = new OutputTime(Rate, Ticks);
        for (var period = 0; period < 200; period++)
        {
            time.Add(Reading(period, 0));
        }

        for (var period = 200; period < 207; period++)
        {
            time.Add(Reading(period, 0.02));
        }

        Assert.Equal(5 + 0.02 + (0.01 * 208), time.TicksAt(480.0 * 208) / Ticks, 0.0005);
    }

    [Fact]
    public void Add_BeforeAnythingIsHeard_KnowsNothing()
    {
        var time = new OutputTime(Rate, Ticks);
        time.Add(default);
        time.Add(Reading(0, 0, delay: 1920));
        Assert.False(time.IsKnown);
    }
}
