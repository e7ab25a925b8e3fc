using System.Diagnostics;
using GrooveLab.Audio.Devices;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

public sealed class AudioOutputsTests
{
    [Theory]
    [InlineData(0)]
    [InlineData(1001)]
    public void Open_BufferOutOfRange_Throws(int milliseconds) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => AudioOutputs.Open(null, 48000, milliseconds, new CountingSource(1)));

    [Theory]
    [InlineData(AudioDeviceErrorKind.NoLibrary, false)]
    [InlineData(AudioDeviceErrorKind.NoDevice, true)]
    [InlineData(AudioDeviceErrorKind.Busy, true)]
    [InlineData(AudioDeviceErrorKind.Lost, true)]
    [InlineData(AudioDeviceErrorKind.Unsupported, false)]
    [InlineData(AudioDeviceErrorKind.Failed, true)]
    public void RetryHelps_EachKind_SaysWhetherWaitingIsWorthIt(AudioDeviceErrorKind kind, bool helps) =>
        Assert.Equal(helps, new AudioDeviceException(kind, "x").RetryHelps);

    [Fact]
    public void AudibleFrame_BetweenPulls_GoesOnWithTheClockButNotBeyondWhatWasPulled()
    {
        var second = Stopwatch.Frequency;
        OutputClock clock = new(FramesPulled: 10_000, DelayFrames: 1920, Timestamp: 5 * second);
        Assert.Equal(8080, clock.AudibleFrame(5 * second, 48000));
        Assert.Equal(8560, clock.AudibleFrame((5 * second) + (second / 100), 48000), 3);
        Assert.Equal(10_000, clock.AudibleFrame(6 * second, 48000));
        Assert.Equal(0, default(OutputClock).AudibleFrame(second, 48000));
    }

    [Fact]
    public async Task PacedClock_ShortSource_RunsToItsEndInSilence()
    {
        CountingSource source = new(1000);
        using var output = PacedClockOutput.Open(48000, source);
        output.Start();
        await output.Completion.WaitAsync(TimeSpan.FromSeconds(60), TestContext.Current.CancellationToken);
        Assert.Equal(AudioOutputState.Ended, output.State);
        Assert.Equal(1000, source.Position);
    }

    // 16-bit: 1.0 is 32768 steps, so positive full scale is clipped by one step (common practice, no source).
    [Theory]
    [InlineData(0f, 0)]
    [InlineData(1f, 32767)]
    [InlineData(-1f, -32768)]
    [InlineData(7f, 32767)]
    [InlineData(0.5f, 16384)]
    [InlineData(1f / 32768, 1)]
    [InlineData(-0.4f / 32768, 0)]
    [InlineData(float.NaN, 0)]
    [InlineData(float.PositiveInfinity, 32767)]
    public void ToInt16_Sample_IsRoundedAndClipped(float sample, short expected) =>
        Assert.Equal(expected, SampleFormats.ToInt16(sample));

    [Fact]
    public void ToInt16_Samples_AreWhatEachIsAlone()
    {
        // Halves on either side, values out of range and not-a-number, at any place in a run of any length.
        float[] kinds =
        [
            0.5f / 32768, 1.5f / 32768, -0.5f / 32768, -2.5f / 32768, float.NaN, float.PositiveInfinity, float.NegativeInfinity, 1f, -1f, 0.3f, -7f,
        ];
        for (var length = 0; length < 70; length++)
        {
            float[] samples = [.. Enumerable.Range(0, length).Select(i => kinds[(i + length) % kinds.Length])];
            var converted = new short[length];
            SampleFormats.ToInt16(samples, converted);
            Assert.Equal(samples.Select(SampleFormats.ToInt16), converted);
        }
    }

    [Theory]
    [InlineData(1f, int.MaxValue)]
    [InlineData(-1f, int.MinValue)]
    [InlineData(0.5f, 1 << 30)]
    [InlineData(float.NaN, 0)]
    public void ToInt32_Sample_IsRoundedAndClipped(float sample, int expected) =>
        Assert.Equal(expected, SampleFormats.ToInt32(sample));

    [Fact]
    public void FrameCounter_WholeRecording_HasNoGap()
    {
        var report = Analyse(Record(20_000));
        Assert.Equal(new FrameCounterReport(20_000, 0, 0, 0, -1), report);
    }

    [Fact]
    public void FrameCounter_SilenceAndLoss_AreBothFound()
    {
        var whole = Record(20_000);
        byte[] broken = [.. new byte[400], .. whole[..20_000], .. new byte[4 * 50], .. whole[20_000..60_000], .. whole[60_028..], .. new byte[80]];
        Assert.Equal(new FrameCounterReport(19_993, 2, 50, 7, 5000), Analyse(broken));
    }

    [Fact]
    public void Standstills_OfAMachine_ExplainOnlyWhatTheyMade()
    {
        (long, long)[] still = [(135, 160), (110, 130), (120, 140), (500, 503), (990, 1020)];
        // Not late; late only through stalls; late through stalls for a third of its time; late without a stall; late with one that ends inside.
        Assert.Equal((0, 0), Standstills.Judge([(100, 115)], still, patience: 15));
        Assert.Equal((1, 1), Standstills.Judge([(100, 165)], still, patience: 15));
        Assert.Equal((1, 0), Standstills.Judge([(100, 166)], still, patience: 15));
        Assert.Equal((2, 0), Standstills.Judge([(490, 520), (700, 716)], still, patience: 15));

        // Time lost to an emptied buffer does not count again; later time does.
        Assert.Equal((1, 1), Standstills.Judge([(100, 165), (170, 215)], still, patience: 15));
        Assert.Equal((2, 1), Standstills.Judge([(226, 271), (100, 165)], still, patience: 15));
        Assert.Equal((1, 1), Standstills.Judge([(1000, 1035)], still, patience: 15));
        Assert.Equal((1, 0), Standstills.Judge([(1000, 1036)], [], patience: 15));
    }

    private static byte[] Record(int frames)
    {
        var samples = new float[frames * 2];
        _ = new FrameCounterTap(new CountingSource(frames)).Read(samples);
        var bytes = new byte[frames * 4];
        SampleFormats.ToInt16(samples, System.Runtime.InteropServices.MemoryMarshal.Cast<byte, short>(bytes.AsSpan()));
        return bytes;
    }

    private static FrameCounterReport Analyse(byte[] recording)
    {
        using MemoryStream stream = new(recording);
        return FrameCounterAnalyser.Analyse(stream, FrameCounterTap.Period, FrameCounterTap.Step);
    }
}
