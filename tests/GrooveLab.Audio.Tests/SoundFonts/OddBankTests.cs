using System.Buffers.Binary;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Testing;
using NAudio.SoundFont;
using Xunit;
using Zone = GrooveLab.Audio.Tests.SoundFonts.BankBuilder.Zone;

namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>Files that break the rules of RIFF as banks on people's disks do.</summary>
public class OddBankTests
{
    [Fact]
    public void Load_ProperBank_HasNoOddities()
    {
        Assert.Empty(TestBanks.Load(TestBanks.VariedFile()).Oddities);
        Assert.Empty(TestBanks.Load(OddLength()).Oddities);
    }

    // As several sf3 banks are shipped: the list of the sound has an odd length, and the next begins right behind it.
    [Fact]
    public void Load_NoPaddingByte_IsReadAndSaid()
    {
        var file = WithoutPadding(OddLength(), listCountsIt: false, riffCountsIt: false);

        Assert.Equal([$"The LIST chunk at byte {SoundList(file)} has no padding byte."], Read(file));
    }

    [Fact]
    public void Load_PaddingByteCountedButNotWritten_IsReadAndSaid()
    {
        var file = WithoutPadding(OddLength(), listCountsIt: true, riffCountsIt: true);

        Assert.Equal(
            [$"The LIST chunk at byte {SoundList(file)} has no padding byte.", "Its RIFF size is 1 byte too large."], Read(file));
    }

    [Fact]
    public void Load_NoPaddingByteBetweenSounds_IsReadAndSaid()
    {
        var proper = OddLength(new byte[3]);
        var at = proper.AsSpan().IndexOf("sm24"u8);
        byte[] file = [.. proper[..(at - 1)], .. proper[at..]];
        Grow(file, 4, -1);
        Grow(file, SoundList(file) + 4, -1);

        // The list has an odd length then, too.
        Assert.Equal(
            [$"The smpl chunk at byte {SoundList(file) + 12} has no padding byte.", $"The LIST chunk at byte {SoundList(file)} has no padding byte."],
            Read(file));
    }

    [Fact]
    public void Load_VeryManyChunks_IsRefusedSoon()
    {
        var proper = TestBanks.VariedFile();
        var empty = Enumerable.Repeat("junk\0\0\0\0"u8.ToArray(), 20_000).SelectMany(chunk => chunk).ToArray();
        byte[] file = [.. proper[..12], .. empty, .. proper[12..]];
        Grow(file, 4, empty.Length);

        var failure = Assert.Throws<SoundFontException>(() => TestBanks.Load(file));

        Assert.Contains("byte 80012: the file has more than 10000 chunks; it is damaged", failure.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(1, "Its RIFF size is 1 byte too large.")]
    [InlineData(8, "Its RIFF size is 8 bytes too large.")]
    [InlineData(-1, "Its RIFF size is 1 byte too small.")]
    [InlineData(-46, "Its RIFF size is 46 bytes too small.")]
    public void Load_WrongRiffSize_IsReadAndSaid(int difference, string said)
    {
        var file = OddLength();
        Grow(file, 4, difference);

        Assert.Equal([said], Read(file));
    }

    [Fact]
    public void Load_BytesBehindTheBank_AreLeftOutAndSaid() =>
        Assert.Equal(["100 bytes follow its last chunk."], Read([.. OddLength(), .. new byte[100]]));

    // Places in a sample's header after section 7.10: end 24, rate 36.
    [Theory]
    [InlineData(36, 0, "invalid sample rate 0 Hz")]
    [InlineData(24, 9999, "the sample ends at 9999, past the")]
    public void Load_OneSampleHasAWrongHeader_LeavesItsRegionsOutAndSaysSo(int field, int value, string reason)
    {
        var builder = new BankBuilder();
        var samples = new[] { "good", "bad" }.Select(name => builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112, name: name)).ToArray();
        builder.AddPreset(0, 0, "both", new Zone((GeneratorEnum.Instrument, builder.AddInstrument([.. samples.Select(sample => TestBanks.Sounding(new Zone(), sample, 1))]))));
        builder.AddPreset(0, 1, "bad", new Zone((GeneratorEnum.Instrument, builder.AddInstrument(TestBanks.Sounding(new Zone(), samples[1], 1)))));
        var file = builder.Build();
        BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(file.AsSpan().IndexOf("shdr"u8) + 8 + 46 + field), value);

        var bank = TestBanks.Load(file);

        Assert.StartsWith($"A sample is left out: shdr record 1 (bad): {reason}", Assert.Single(bank.Oddities), StringComparison.Ordinal);
        Assert.Single(bank.Resolve(bank.Presets[0]).Regions);
        Assert.Contains(reason, Assert.Throws<SoundFontException>(() => bank.Resolve(bank.Presets[1])).Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Load_MuchMoreThanTheFileClaimed_IsRefused()
    {
        var file = OddLength();
        Grow(file, 4, 9);

        Assert.Contains("should be", Assert.Throws<SoundFontException>(() => TestBanks.Load(file)).Reason, StringComparison.Ordinal);
    }

    // Debian's fluidr3mono-gm-soundfont, timgm6mb-soundfont, fluid-soundfont-gm and csound-soundfont; numbers as listed by fluidsynth 2.3.1.
    [Theory]
    [InlineData("/usr/share/sounds/sf3/FluidR3Mono_GM.sf3", 1)]
    [InlineData("/usr/share/sounds/sf2/TimGM6mb.sf2", 0)]
    [InlineData("/usr/share/sounds/sf2/FluidR3_GM.sf2", 0)]
    [InlineData("/usr/share/sounds/sf2/sf_GMbank.sf2", 0)]
    public void Open_RealBank_PreparesEveryPreset(string path, int oddities)
    {
        References.Require(File.Exists(path), $"{path} is not installed");
        var bank = SoundFontBank.Open(path);

        Assert.Equal(oddities, bank.Oddities.Count);
        Assert.All(bank.Presets, preset => Assert.NotEmpty(bank.Resolve(preset).Regions));
    }

    private static IReadOnlyList<string> Read(byte[] file)
    {
        var bank = TestBanks.Load(file);
        var proper = TestBanks.Load(OddLength());

        Assert.Equal(Points(proper), Points(bank));
        return bank.Oddities;

        static float[] Points(SoundFontBank bank)
        {
            var region = bank.Resolve(bank.Presets[0]).Regions.Single();
            return [.. Enumerable.Range(region.Start, region.End - region.Start).Select(i => region.Pool[i])];
        }
    }

    /// <summary>A bank whose sample chunk has an odd number of bytes: the last one belongs to no point.</summary>
    private static byte[] OddLength(byte[]? lowBits = null)
    {
        var builder = new BankBuilder { LowBits = lowBits };
        var sample = builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112);
        builder.AddCompressed([7], 48000, 60, 0, 0);
        var instrument = builder.AddInstrument(TestBanks.Sounding(new Zone(), sample, 1));
        builder.AddPreset(0, 0, "odd", new Zone((GeneratorEnum.Instrument, instrument)));
        return builder.Build();
    }

    private static byte[] WithoutPadding(byte[] proper, bool listCountsIt, bool riffCountsIt)
    {
        var next = proper.AsSpan().IndexOf("pdta"u8) - 8;
        byte[] file = [.. proper[..(next - 1)], .. proper[next..]];
        Grow(file, 4, riffCountsIt ? 0 : -1);
        Grow(file, SoundList(file) + 4, listCountsIt ? 0 : -1);
        return file;
    }

    private static int SoundList(byte[] file) => file.AsSpan().IndexOf("sdta"u8) - 8;

    private static void Grow(byte[] file, int at, int difference) =>
        BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(at), BinaryPrimitives.ReadInt32LittleEndian(file.AsSpan(at)) + difference);
}
