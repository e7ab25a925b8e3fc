using GrooveLab.Audio.Playback.Engine;
using NAudio.Wave;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class StartGainTests
{
    private const int Rate = 48000;

    [Fact]
    public void Read_FromTheStart_FadesInToTheGentleLevelOnItsFrame()
    {
        StartGain gain = new(new Ones());
        var left = Read(gain, 80_000, 480);
        var level = (float)Math.Pow(10, -12 / 20.0);

        Assert.Equal(72_000, gain.FadeInFrames);
        Assert.Equal(0, left[0]);
        Assert.True(left[(int)gain.FadeInFrames - 100] < level);
        Assert.All(left[(int)gain.FadeInFrames..], sample => Assert.Equal(level, sample));
        for (var i = 1; i < left.Length; i++)
        {
            Assert.True(left[i] >= left[i - 1]);
            Assert.True(left[i] - left[i - 1] < 0.0001);
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(64)]
    [InlineData(441)]
    [InlineData(4096)]
    public void Read_AnyBlockSize_GivesTheSameBits(int block)
    {
        float[] Play(int size)
        {
            StartGain gain = new(new Ones());
            List<float> all = [.. Read(gain, 30_000, size)];
            gain.LevelDecibels = -3;
            all.AddRange(Read(gain, 1000, size));
            gain.LevelDecibels = -30;
            all.AddRange(Read(gain, 60_000, size));
            gain.FadeInAgain();
            all.AddRange(Read(gain, 30_000, size));
            return [.. all];
        }

        Assert.Equal(Play(1_000_000), Play(block));
    }

    [Fact]
    public void LevelDecibels_Changed_EasesOverToItExactly()
    {
        StartGain gain = new(new Ones(), 0);
        _ = Read(gain, 80_000, 480);
        gain.LevelDecibels = -20;
        var left = Read(gain, 5000, 480);

        Assert.Equal(1, left[0]);
        Assert.True(left[2399] > 0.1f);
        Assert.All(left[2400..], sample => Assert.Equal(0.1f, sample));
        for (var i = 1; i < left.Length; i++)
        {
            Assert.InRange(left[i - 1] - left[i], 0, 0.001);
        }
    }

    [Fact]
    public void LevelDecibels_AboveZero_IsZero()
    {
        StartGain gain = new(new Ones(), 20);
        Assert.Equal(0, gain.LevelDecibels);
        Assert.Equal(1, Read(gain, 80_000, 480)[^1]);
    }

    [Fact]
    public void LevelDecibels_VeryLow_IsSilence()
    {
        StartGain gain = new(new Ones(), -200);
        Assert.Equal(0, Read(gain, 80_000, 480)[^1]);
    }

    [Fact]
    public void FadeInAgain_LaterOn_BeginsFromSilence()
    {
        StartGain gain = new(new Ones());
        _ = Read(gain, 80_000, 480);
        gain.FadeInAgain();
        var left = Read(gain, 80_000, 480);
        Assert.Equal(0, left[0]);
        Assert.Equal((float)Math.Pow(10, -12 / 20.0), left[^1]);
    }

    [Fact]
    public void Read_Warm_AllocatesNothing()
    {
        StartGain gain = new(new Ones());
        var block = new float[960];
        gain.Read(block);
        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var i = 0; i < 100; i++)
        {
            gain.Read(block);
        }

        Assert.Equal(before, GC.GetAllocatedBytesForCurrentThread());
    }

    private static float[] Read(StartGain gain, int frames, int block)
    {
        var left = new float[frames];
        var buffer = new float[Math.Min(block, frames) * 2];
        for (var at = 0; at < frames;)
        {
            var read = gain.Read(buffer.AsSpan(0, Math.Min(buffer.Length, (frames - at) * 2)));
            for (var i = 0; i < read; i += 2)
            {
                Assert.Equal(buffer[i], buffer[i + 1]);
                left[at++] = buffer[i];
            }
        }

        return left;
    }

    private sealed class Ones : ISampleProvider
    {
        public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(Rate, 2);

        public int Read(Span<float> buffer)
        {
            buffer.Fill(1);
            return buffer.Length;
        }
    }
}
