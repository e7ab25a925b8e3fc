using CsCheck;
using GrooveLab.Audio.Playback.Engine;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class LimiterTests
{
    private const int Rate = 48000;

    [Fact]
    public void Process_BelowTheCeiling_IsTheInputLaterBitForBit()
    {
        Limiter limiter = new(Rate);
        var left = Noise(1, 20_000, limiter.Ceiling);
        var right = Noise(2, 20_000, limiter.Ceiling);
        (var outLeft, var outRight) = Run(limiter, left, right, 512);
        var late = limiter.LatencyFrames;

        Assert.Equal(new float[late], outLeft[..late]);
        Assert.Equal(left[..^late], outLeft[late..]);
        Assert.Equal(right[..^late], outRight[late..]);
        Assert.Equal(0, limiter.ReducedFrames);
    }

    [Fact]
    public void LatencyFrames_UsualRates_IsAboutFourMilliseconds()
    {
        foreach (var rate in new[] { 44100, 48000, 96000, 192000 })
        {
            Assert.InRange(new Limiter(rate).LatencyFrames, 0.0038 * rate, 0.004 * rate);
        }
    }

    [Fact]
    public void Process_AnyInput_NeverLeavesTheCeiling() =>
        Gen.Select(Gen.Int[0, 10000], Gen.Double[0.5, 40], Gen.Int[1, 2000], Gen.Int[1, 800]).Sample((seed, loudness, gap, block) =>
        {
            Limiter limiter = new(Rate);
            var left = Bursts(seed, 12_000, (float)loudness, gap);
            var right = Bursts(seed + 1, 12_000, (float)loudness, gap + 3);
            (var outLeft, var outRight) = Run(limiter, left, right, block);
            return outLeft.Concat(outRight).All(sample => Math.Abs(sample) <= limiter.Ceiling);
        }, iter: 100);

    [Theory]
    [InlineData(1)]
    [InlineData(64)]
    [InlineData(441)]
    [InlineData(4096)]
    public void Process_AnyBlockSize_GivesTheSameBits(int block)
    {
        var left = Bursts(7, 48_000, 3, 500);
        var right = Bursts(8, 48_000, 3, 700);
        (var wholeLeft, var wholeRight) = Run(new Limiter(Rate), left, right, left.Length);
        (var chopLeft, var chopRight) = Run(new Limiter(Rate), left, right, block);

        Assert.Equal(wholeLeft, chopLeft);
        Assert.Equal(wholeRight, chopRight);
    }

    [Fact]
    public void Process_AfterAPeak_ComesBackToTheInputBitForBit()
    {
        Limiter limiter = new(Rate);
        var left = Noise(3, 4 * Rate, 0.5f);
        left[1000] = 4;
        (var outLeft, _) = Run(limiter, left, new float[left.Length], 480);
        var late = limiter.LatencyFrames;

        Assert.Equal(left[..700], outLeft[late..(700 + late)]);
        Assert.Equal(limiter.Ceiling, outLeft[1000 + late], 5);
        Assert.Equal(left[(3 * Rate)..^late], outLeft[((3 * Rate) + late)..]);
        Assert.InRange(limiter.ReducedFrames, 1000, 3 * Rate);
    }

    [Fact]
    public void Process_LoudTone_GainMovesWithoutAStep()
    {
        Limiter limiter = new(Rate);
        var left = new float[Rate];
        for (var i = 0; i < left.Length; i++)
        {
            left[i] = i < Rate / 2 ? 0.5f : 2f;
        }

        (var outLeft, _) = Run(limiter, left, new float[left.Length], 480);
        double largest = 0;
        double previous = 1;
        for (var i = limiter.LatencyFrames; i < left.Length; i++)
        {
            double gain = outLeft[i] / left[i - limiter.LatencyFrames];
            largest = Math.Max(largest, Math.Abs(gain - previous));
            previous = gain;
        }

        // From 1 to 0.446 over 4 ms: a straight line has steps of 0.003, the smooth curve twice that in its middle.
        Assert.InRange(largest, 0.002, 0.007);
    }

    [Fact]
    public void Process_BothChannels_GetTheSameGain()
    {
        Limiter limiter = new(Rate);
        var left = Bursts(11, 20_000, 4, 300);
        float[] right = [.. left.Select(sample => sample * 0.25f)];
        (var outLeft, var outRight) = Run(limiter, left, right, 100);
        for (var i = 0; i < outLeft.Length; i++)
        {
            Assert.Equal(outLeft[i] * 0.25f, outRight[i], 6);
        }
    }

    [Fact]
    public void Process_NotANumber_IsSilenceAndCounted()
    {
        Limiter limiter = new(Rate);
        var left = Noise(5, 5000, 0.5f);
        left[100] = float.NaN;
        left[200] = float.PositiveInfinity;
        float[] expected = [.. left];
        expected[100] = expected[200] = 0;
        (var outLeft, _) = Run(limiter, left, new float[5000], 333);

        Assert.Equal(expected[..^limiter.LatencyFrames], outLeft[limiter.LatencyFrames..]);
        Assert.Equal(2, limiter.UnusableSamples);
    }

    [Fact]
    public void Reset_AfterLoudness_BehavesAsNew()
    {
        Limiter used = new(Rate);
        Run(used, Bursts(1, 5000, 9, 10), Bursts(2, 5000, 9, 10), 100);
        used.Reset();
        var left = Bursts(3, 5000, 2, 100);
        var right = Bursts(4, 5000, 2, 100);
        Assert.Equal(Run(new Limiter(Rate), left, right, 64).Left, Run(used, left, right, 64).Left);
    }

    [Fact]
    public void Process_Warm_AllocatesNothing()
    {
        Limiter limiter = new(Rate);
        var left = Bursts(1, 4800, 3, 50);
        var right = Bursts(2, 4800, 3, 50);
        limiter.Process(left, right);
        using AudioThreadStandIn audio = new(new Processed(limiter, left, right), 1);
        for (var i = 0; i < 20; i++)
        {
            audio.Read();
        }

        Assert.Equal(0, audio.AllocatedBytes);
    }

    private sealed class Processed(Limiter limiter, float[] left, float[] right) : NAudio.Wave.ISampleProvider
    {
        public NAudio.Wave.WaveFormat WaveFormat { get; } = NAudio.Wave.WaveFormat.CreateIeeeFloatWaveFormat(Rate, 2);

        public int Read(Span<float> buffer)
        {
            limiter.Process(left, right);
            return buffer.Length;
        }
    }

    private static (float[] Left, float[] Right) Run(Limiter limiter, float[] left, float[] right, int block)
    {
        float[] outLeft = [.. left];
        float[] outRight = [.. right];
        for (var at = 0; at < left.Length; at += block)
        {
            var size = Math.Min(block, left.Length - at);
            limiter.Process(outLeft.AsSpan(at, size), outRight.AsSpan(at, size));
        }

        return (outLeft, outRight);
    }

    private static float[] Noise(int seed, int frames, float peak)
    {
        var state = (uint)seed;
        var noise = new float[frames];
        for (var i = 0; i < frames; i++)
        {
            state = unchecked((state * 1664525) + 1013904223);
            noise[i] = ((int)(state >> 8) - (1 << 23)) / (float)(1 << 23) * peak;
        }

        return noise;
    }

    private static float[] Bursts(int seed, int frames, float peak, int gap)
    {
        var noise = Noise(seed, frames, peak);
        for (var i = 0; i < frames; i++)
        {
            noise[i] *= i / gap % 3 == 0 ? 1 : 0.05f;
        }

        return noise;
    }
}
