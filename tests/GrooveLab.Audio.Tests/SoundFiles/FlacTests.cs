using GrooveLab.Audio.Flac;
using GrooveLab.Audio.SoundFiles;
using Xunit;

namespace GrooveLab.Audio.Tests.SoundFiles;

/// <summary>Files written, read back by Debian's flac.</summary>
public sealed class FlacTests : IDisposable
{
    // RFC 9639, section 8.2: the number of samples has 36 bits.
    [Fact]
    public void Begin_MoreFramesThanTheFormatCounts_IsRefusedAndStartsNoFile()
    {
        var folder = Directory.CreateTempSubdirectory("groovelab-flac-");
        try
        {
            var refused = Assert.Throws<WaveFileTooLargeException>(() => SoundFile.Begin(
                Path.Combine(folder.FullName, "long.flac"), 48_000, 2, new SoundFileOptions { Format = SoundFormat.Flac }, 1L << 36));

            Assert.StartsWith("A FLAC file of this format holds at most 68719476735 frames", refused.Message, StringComparison.Ordinal);
            Assert.Empty(folder.EnumerateFiles());
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private readonly string _folder = Directory.CreateTempSubdirectory().FullName;

    public static TheoryData<string, WaveDepth> Sounds
    {
        get
        {
            var data = new TheoryData<string, WaveDepth>();
            foreach (var name in Signals.All.Keys)
            {
                data.Add(name, WaveDepth.Sixteen);
                data.Add(name, WaveDepth.TwentyFour);
            }

            return data;
        }
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [MemberData(nameof(Sounds))]
    public void Write_AnySound_ReadsBackAsTheWavFileSampleForSample(string name, WaveDepth depth)
    {
        var (samples, channels) = Signals.All[name];
        var (flac, wav, back) = (At("a.flac"), At("a.wav"), At("back.wav"));
        Signals.Save(flac, samples, channels, SoundFormat.Flac, depth);
        Signals.Save(wav, samples, channels, SoundFormat.Wave, depth);

        // -t also compares the checksum of the samples; -w makes a warning an error.
        if (samples.Length == 0)
        {
            // No frames and an unknown number of frames are the same number in the header, which is worth a warning.
            Tool.Run("flac", "-s", "-t", flac);
        }
        else
        {
            Tool.Run("flac", "-s", "-w", "-t", flac);
            Tool.Run("flac", "-s", "-w", "-d", "-o", back, flac);
            Assert.Equal(WaveFile.Read(wav), WaveFile.Read(back), SameSound.Comparer);
        }

        Assert.Equal($"{samples.Length / channels}", Tool.Run("metaflac", "--show-total-samples", flac).Trim());
    }

    // The tool with fixed predictors only (-l 0), the same blocks and as many partitions.
    [Theory]
    [MemberData(nameof(Sounds))]
    public void Write_AnySound_IsNoLargerThanFixedPredictorsMakeIt(string name, WaveDepth depth)
    {
        var (samples, channels) = Signals.All[name];
        if (samples.Length == 0 || channels > 2)
        {
            // The tool refuses such a WAV file.
            return;
        }

        var (flac, wav, theirs) = (At("a.flac"), At("a.wav"), At("theirs.flac"));
        Signals.Save(flac, samples, channels, SoundFormat.Flac, depth);
        Signals.Save(wav, samples, channels, SoundFormat.Wave, depth);
        string[] stereo = channels == 2 ? ["-m"] : [];
        Tool.Run("flac", ["-s", "--no-padding", "--no-seektable", "-b", "4096", "-l", "0", "-r", "6", .. stereo, "-o", theirs, wav]);
        Assert.InRange(new FileInfo(flac).Length, 0, new FileInfo(theirs).Length);
    }

    [Theory]
    [InlineData(8_000)]
    [InlineData(11_025)]
    [InlineData(12_345)]
    [InlineData(22_050)]
    [InlineData(44_100)]
    [InlineData(64_000)]
    [InlineData(88_200)]
    [InlineData(96_010)]
    [InlineData(99_999)]
    [InlineData(176_400)]
    [InlineData(192_000)]
    public void Write_AnyRate_IsReadAtThatRate(int rate)
    {
        var flac = At("a.flac");
        var samples = Signals.Stereo(5000, Signals.Music);
        Signals.Save(flac, samples, 2, SoundFormat.Flac, rate: rate);
        Tool.Run("flac", "-s", "-w", "-d", "-o", At("back.wav"), flac);
        var back = WaveFile.Read(At("back.wav"));
        Assert.Equal((rate, 5000), (back.SampleRate, back.Frames));
    }

    // The number of a frame takes two bytes from 128 and three from 2,048; the decoder compares it with the place.
    [Fact]
    public void Write_MoreThan2048Blocks_NumbersThem()
    {
        var flac = At("a.flac");
        Signals.Save(flac, new float[(FlacEncoder.BlockFrames * 2050) + 1], 1, SoundFormat.Flac);
        Tool.Run("flac", "-s", "-w", "-t", flac);
        Tool.Run("flac", "-s", "-w", "-d", $"--skip={FlacEncoder.BlockFrames * 2049}", "-o", At("back.wav"), flac);
        Assert.Equal(FlacEncoder.BlockFrames + 1, WaveFile.Read(At("back.wav")).Frames);
    }

    [Fact]
    public void Write_Title_IsItsComment()
    {
        Signals.Save(At("a.flac"), [0, 0], 2, SoundFormat.Flac, title: "Grüße 7/8");
        Assert.Equal("TITLE=Grüße 7/8", Tool.Run("metaflac", "--show-tag=TITLE", "--no-utf8-convert", At("a.flac")).Trim());
    }

    [Fact]
    public void Write_Twice_GivesTheSameBytes()
    {
        var samples = Signals.All["music"].Samples;
        Signals.Save(At("a.flac"), samples, 2, SoundFormat.Flac, title: "A");
        Signals.Save(At("b.flac"), samples, 2, SoundFormat.Flac, title: "A");
        Assert.Equal(File.ReadAllBytes(At("a.flac")), File.ReadAllBytes(At("b.flac")));
    }

    // RFC 9639, section 8.2: both sizes are those of every block but the last, and the checksum is that of the samples.
    [Fact]
    public void Write_ShortSound_HasTheWholeStreamInfo()
    {
        Signals.Save(At("a.flac"), [0, 0, 0, 0], 2, SoundFormat.Flac);
        var listed = Tool.Run(
            "metaflac", "--show-min-blocksize", "--show-max-blocksize", "--show-bps", "--show-channels", "--show-md5sum", At("a.flac"));
#pragma warning disable CA5351 // As the format demands.
        var sum = Convert.ToHexStringLower(System.Security.Cryptography.MD5.HashData(new byte[8]));
#pragma warning restore CA5351
        Assert.Equal(["4096", "4096", "16", "2", sum], listed.Split('\n', StringSplitOptions.RemoveEmptyEntries));
    }

    // From the RFC's own examples: appendix D.1.3, the header of example 1 and its checksums.
    [Fact]
    public void Checksums_OfTheExampleOfTheFormat_AreThose()
    {
        byte[] frame = [0xFF, 0xF8, 0x69, 0x18, 0x00, 0x00, 0xBF, 0x03, 0x58, 0xFD, 0x03, 0x12, 0x8B, 0xAA, 0x9A];
        Assert.Equal(0xBF, FlacChecksums.OfHeader(frame.AsSpan(0, 6)));
        Assert.Equal(0xAA9A, FlacChecksums.OfFrame(frame.AsSpan(0, 13)));
    }

    private string At(string name) => Path.Combine(_folder, name);

    private static class SameSound
    {
        public static IEqualityComparer<WaveSound> Comparer { get; } = EqualityComparer<WaveSound>.Create((a, b) =>
            a is not null && b is not null && a.SampleRate == b.SampleRate && a.Channels == b.Channels && a.Samples.AsSpan().SequenceEqual(b.Samples));
    }
}
