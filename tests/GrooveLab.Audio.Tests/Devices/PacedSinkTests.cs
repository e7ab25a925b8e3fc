using CsCheck;
using GrooveLab.Audio.Devices;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

public sealed class PacedSinkTests
{
    [Theory]
    [InlineData(48000)]
    [InlineData(44100)]
    [InlineData(22050)]
    public void Write_ManyPeriods_KeepsPaceWithTheClockWithoutDrift(int rate)
    {
        ManualTime time = new();
        var start = time.GetTimestamp();
        PacedSink sink = new(rate, time, time.Advance, 0);
        for (long frames = 0; frames < 600L * rate; frames += sink.PeriodFrames)
        {
            sink.WaitForRoom();
            var due = (double)frames / rate;
            var now = (time.GetTimestamp() - start) / 1e9;
            Assert.InRange(now, due - 1e-6, due + 1e-6);
            Write(sink);
        }
    }

    [Fact]
    public void WaitForRoom_SleepsThatComeLate_AreMadeUpFor() =>
        Gen.Double[0, 0.2].List[50, 300].Sample(delays =>
        {
            ManualTime time = new();
            var start = time.GetTimestamp();
            var next = 0;
            PacedSink sink = new(48000, time, wanted => time.Advance(wanted + TimeSpan.FromSeconds(delays[next++ % delays.Count])), 0);
            long frames = 0;
            for (var i = 0; i < delays.Count; i++)
            {
                sink.WaitForRoom();
                var now = (time.GetTimestamp() - start) / 1e9;

                // Never early, and never later than the last sleep.
                Assert.True((double)frames / 48000 <= now + 1e-6);
                Assert.True((double)frames / 48000 >= now - 0.2 - 1e-6);
                Write(sink);
                frames += sink.PeriodFrames;
            }
        });

    [Fact]
    public void WaitForRoom_HeadStart_WaitsItOutFirst()
    {
        ManualTime time = new();
        var start = time.GetTimestamp();
        PacedSink sink = new(48000, time, time.Advance, 1920);
        sink.WaitForRoom();
        Assert.Equal(0.040, (time.GetTimestamp() - start) / 1e9, 6);
    }

    [Fact]
    public void WaitForRoom_TakenOverLate_PullsWhatIsDueAtOnce()
    {
        ManualTime time = new();
        var start = time.GetTimestamp();
        PacedSink sink = new(48000, time, time.Advance, -960);
        for (var i = 0; i < 3; i++)
        {
            sink.WaitForRoom();
            Assert.Equal(start, time.GetTimestamp());
            Write(sink);
        }

        sink.WaitForRoom();
        Assert.Equal(0.010, (time.GetTimestamp() - start) / 1e9, 6);
    }

    [Fact]
    public void WaitForRoom_ProcessHeldUpForLong_DoesNotRaceThroughWhatWasMissed()
    {
        ManualTime time = new();
        PacedSink sink = new(48000, time, time.Advance, 0);
        sink.WaitForRoom();
        Write(sink);
        time.Advance(TimeSpan.FromMinutes(10));
        sink.WaitForRoom();
        Write(sink);
        var before = time.GetTimestamp();
        sink.WaitForRoom();
        Assert.Equal(0.010, (time.GetTimestamp() - before) / 1e9, 6);
    }

    private static void Write(PacedSink sink) => sink.Write(new float[sink.PeriodFrames * 2]);
}
