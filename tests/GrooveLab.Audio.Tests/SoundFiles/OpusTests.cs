using GrooveLab.Audio.SoundFiles;
using Xunit;

namespace GrooveLab.Audio.Tests.SoundFiles;

/// <summary>Files written, read back by Debian's opus-tools at 48 kHz.</summary>
public sealed class OpusTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory().FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    // Around the pre-skip of 312 frames, the packets of 960 and the pages of 48,000.
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(311)]
    [InlineData(647)]
    [InlineData(648)]
    [InlineData(649)]
    [InlineData(960)]
    [InlineData(47_687)]
    [InlineData(47_688)]
    [InlineData(47_689)]
    [InlineData(48_000)]
    [InlineData(100_001)]
    public void Write_AnyLength_IsReadWithThatLength(int frames)
    {
        Signals.Save(At("a.opus"), Signals.Stereo(frames, Signals.Music), 2, SoundFormat.Opus);
        Assert.Equal(frames, Read().Frames);
    }

    [Fact]
    public void Write_Nothing_IsAStreamWithoutFrames()
    {
        Signals.Save(At("a.opus"), [], 2, SoundFormat.Opus);
        Assert.Contains("Playback length: 0m:00.000s", Listed(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(8_000)]
    [InlineData(11_025)]
    [InlineData(22_050)]
    [InlineData(44_100)]
    [InlineData(96_000)]
    [InlineData(192_000)]
    public void Write_OtherRate_IsReadInTimeAndAsLong(int rate)
    {
        var frames = rate + 17;
        const double Hz = 2500;
        Signals.Save(At("a.opus"), Signals.Stereo(frames, (i, _) => 0.5f * (float)Math.Sin(2 * Math.PI * Hz * i / rate)), 2, SoundFormat.Opus, rate: rate);
        var read = Read();
        Assert.Equal(((frames * 48_000L) + rate - 1) / rate, read.Frames);

        // A frame too early or too late turns the phase by 19 degrees: 0.946.
        var expected = Signals.Stereo(read.Frames, (i, _) => 0.5f * (float)Math.Sin(2 * Math.PI * Hz * i / 48_000));
        Assert.InRange(Likeness(expected, read.Samples), 0.98, 1.0001);
    }

    // The codec's own tolerance: the level of a steady tone changes by less than a quarter of a decibel.
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void Write_Tone_KeepsItsLevelAndPlace(int channels)
    {
        float[] samples = [.. Enumerable.Range(0, 96_000 * channels).Select(i => 0.25f * (float)Math.Sin(2 * Math.PI * 997 * (i / channels) / 48_000))];
        Signals.Save(At("a.opus"), samples, channels, SoundFormat.Opus);
        var read = Read();
        Assert.Equal((48_000, channels, 96_000), (read.SampleRate, read.Channels, read.Frames));
        Assert.InRange(20 * Math.Log10(Rms(read.Samples) / Rms(samples)), -0.25, 0.25);
        Assert.InRange(Likeness(samples, read.Samples), 0.99, 1.0001);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    public void Write_OneSide_StaysOnThatSide(int side)
    {
        Signals.Save(At("a.opus"), Signals.Stereo(60_000, (i, channel) => channel == side ? Signals.Music(i, 0) : 0), 2, SoundFormat.Opus);
        var read = Read().Samples;
        float[] on = [.. read.Where((_, i) => i % 2 == side)];
        float[] off = [.. read.Where((_, i) => i % 2 != side)];
        Assert.InRange(20 * Math.Log10(Rms(off) / Rms(on)), double.NegativeInfinity, -35);
    }

    [Theory]
    [InlineData("full-scale square", 0, 0.5)]
    [InlineData("music", 0, 0.25)]

    // RFC 6716, section 2: the widest band ends at 20 kHz, which leaves 20 of 24 parts of the power.
    [InlineData("white noise", -0.79, 0.1)]
    public void Write_Signal_KeepsItsLevel(string name, double expected, double tolerance)
    {
        var (samples, channels) = Signals.All[name];
        Signals.Save(At("a.opus"), samples, channels, SoundFormat.Opus);
        Assert.Equal(expected, 20 * Math.Log10(Rms(Read().Samples) / Rms(samples)), tolerance);
    }

    [Fact]
    public void Write_Silence_IsSilent()
    {
        Signals.Save(At("a.opus"), new float[40_000], 2, SoundFormat.Opus);
        Assert.InRange(Read().Samples.Max(Math.Abs), 0, 1e-4f);
    }

    [Theory]
    [InlineData(float.NaN)]
    [InlineData(float.PositiveInfinity)]
    [InlineData(1e30f)]
    public void Write_NoProperSample_SoundsLikeSilenceOrFullScale(float sample)
    {
        Signals.Save(At("a.opus"), Signals.Stereo(5000, (i, _) => i == 2000 ? sample : 0), 2, SoundFormat.Opus);
        Assert.All(Read().Samples, read => Assert.InRange(read, -1.1f, 1.1f));
    }

    // A page holds 65,025 bytes, and the rest of the header is 35 bytes long: shorter, as long, longer, and more than two pages.
    [Theory]
    [InlineData(10)]
    [InlineData(64_989)]
    [InlineData(64_990)]
    [InlineData(64_991)]
    [InlineData(70_000)]
    [InlineData(200_000)]
    public void Write_TitleOfAnyLength_IsItsComment(int length)
    {
        var title = new string('x', length);
        Signals.Save(At("a.opus"), [0, 0], 2, SoundFormat.Opus, title: title);
        Assert.Contains($"TITLE={title}\n", Listed(), StringComparison.Ordinal);
        Assert.Equal(1, Read().Frames);
    }

    [Fact]
    public void Write_Twice_GivesTheSameBytes()
    {
        var samples = Signals.All["music"].Samples;
        Signals.Save(At("a.opus"), samples, 2, SoundFormat.Opus, title: "A");
        Signals.Save(At("b.opus"), samples, 2, SoundFormat.Opus, title: "A");
        Assert.Equal(File.ReadAllBytes(At("a.opus")), File.ReadAllBytes(At("b.opus")));
    }

    [Fact]
    public void Write_ThreeChannels_IsRefusedAndLeavesNoFile()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => Signals.Save(At("a.opus"), [0, 0, 0], 3, SoundFormat.Opus));
        Assert.Empty(Directory.GetFileSystemEntries(_folder));
    }

    private static double Rms(float[] samples) => Math.Sqrt(samples.Sum(sample => (double)sample * sample) / samples.Length);

    // The correlation of two sounds at the same place: 1 if they differ only in level.
    private static double Likeness(float[] a, float[] b) => a.Zip(b, (x, y) => (double)x * y).Sum() / (Rms(a) * Rms(b) * a.Length);

    private string At(string name) => Path.Combine(_folder, name);

    private string Listed()
    {
        var listed = Tool.Run("opusinfo", At("a.opus"));
        Assert.DoesNotContain("WARNING", listed, StringComparison.OrdinalIgnoreCase);
        return listed;
    }

    private WaveSound Read()
    {
        Listed();
        Tool.Run("opusdec", "--quiet", "--rate", "48000", "--float", At("a.opus"), At("back.wav"));
        return WaveFile.Read(At("back.wav"));
    }
}
