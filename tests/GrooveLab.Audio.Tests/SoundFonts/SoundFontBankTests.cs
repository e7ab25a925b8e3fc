using System.Buffers.Binary;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Testing;
using NAudio.SoundFont;
using Xunit;
using Zone = GrooveLab.Audio.Tests.SoundFonts.BankBuilder.Zone;

namespace GrooveLab.Audio.Tests.SoundFonts;

public class SoundFontBankTests
{
    [Fact]
    public void Load_VariedBank_ListsPresetsByBankProgramAndName()
    {
        var bank = TestBanks.Load(TestBanks.VariedFile());

        Assert.Equal("test.sf2", bank.Name);
        Assert.Equal("Test", bank.Title);
        Assert.Equal([(0, 0, "tonal"), (0, 40, "layered"), (128, 0, "drums")], bank.Presets.Select(p => (p.Bank, p.Program, p.Name)));
    }

    [Fact]
    public void Open_FileAndMemory_ResolveToTheSameRegions()
    {
        var path = Path.GetTempFileName();
        File.WriteAllBytes(path, TestBanks.VariedFile());
        var opened = SoundFontBank.Open(path);
        using var stream = File.OpenRead(path);
        var loaded = SoundFontBank.Load(stream, "copy");

        foreach (var preset in opened.Presets)
        {
            var a = opened.Resolve(preset);
            var b = loaded.Resolve(loaded.Presets[preset.Index]);
            Assert.Equal(b.Regions.Length, a.Regions.Length);
            Assert.Equal(b.Regions.SelectMany(r => r.Generators), a.Regions.SelectMany(r => r.Generators));
            Assert.All(a.Regions.Zip(b.Regions), pair => Assert.Equal(pair.Second.Pool[pair.Second.Start], pair.First.Pool[pair.First.Start]));
        }
        File.Delete(path);
    }

    [Fact]
    public void Resolve_LayeredPreset_AddsPresetOffsetsToInstrumentAmounts()
    {
        var bank = TestBanks.Load(TestBanks.VariedFile());

        var regions = bank.Resolve(bank.FindPreset(0, 40).Preset).Regions;

        Assert.Equal(4, regions.Length);
        // The preset's first zone is its global zone and applies to both others.
        Assert.All(regions, r => Assert.Equal(30, r[GeneratorEnum.InitialAttenuation]));
        Assert.Equal([0, 0, 12, 12], regions.Select(r => (int)r[GeneratorEnum.CoarseTune]).Order());
        Assert.All(regions, r => Assert.Equal(-2400, r[GeneratorEnum.ReleaseVolumeEnvelope]));
    }

    // Indices are unsigned words of 16 bits (SoundFont 2.04, sections 7.2-7.8): tables may have up to 65,535 records.
    [Theory]
    [InlineData(40_000, 1, 0)] // zones and their generators past 32,767
    [InlineData(900, 60, 0)] // generators past 32,767 in few zones
    [InlineData(900, 1, 60)] // modulators past 32,767
    public void Resolve_TablesPast32767Records_FindsTheLastZonesOwn(int zones, int generatorsEach, int modulatorsEach)
    {
        const int ZonesEach = 450;
        var builder = new BankBuilder();
        var sample = builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112);
        var instruments = new List<int>();
        for (var first = 0; first < zones; first += ZonesEach)
        {
            instruments.Add(builder.AddInstrument([.. Enumerable.Range(first, Math.Min(ZonesEach, zones - first)).Select(i =>
                new Zone([
                    .. Enumerable.Repeat((GeneratorEnum.InitialAttenuation, i % 1000), generatorsEach - 1), (GeneratorEnum.SampleID, sample),
                ])
                {
                    Modulators = [.. Enumerable.Repeat((0x81, GeneratorEnum.Pan, i % 500, 0, 0), modulatorsEach)],
                })]));
        }
        for (var i = 0; i < instruments.Count; i++)
            builder.AddPreset(i / 128, i % 128, "large", new Zone((GeneratorEnum.Instrument, instruments[i])));

        var bank = TestBanks.Load(builder.Build());
        var regions = bank.Resolve(bank.Presets[^1]).Regions;

        var last = zones - 1;
        Assert.Equal(last % ZonesEach, regions.Length - 1);
        if (generatorsEach > 1)
            Assert.Equal(last % 1000, regions[^1][GeneratorEnum.InitialAttenuation]);
        if (modulatorsEach > 0)
            Assert.Contains(regions[^1].Modulators, m => m.Destination == GeneratorEnum.Pan && m.Amount == last % 500);
    }

    [Theory]
    [InlineData(0, 5, 0, 5, true)]
    [InlineData(8, 5, 8, 5, true)]
    [InlineData(3, 5, 0, 5, false)] // same program in bank 0
    [InlineData(0, 7, 0, 5, false)] // nearest of the same family of eight
    [InlineData(0, 15, 0, 8, false)] // 16 is closer by one but in another family
    [InlineData(0, 40, 0, 16, false)] // no family member: the nearest number
    [InlineData(128, 25, 128, 0, false)]
    [InlineData(128, 0, 128, 0, true)]
    public void FindPreset_AnyNumbers_GivesExactOrNearest(int bank, int program, int foundBank, int foundProgram, bool exact)
    {
        var builder = new BankBuilder();
        var sample = builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112);
        var instrument = builder.AddInstrument(TestBanks.Sounding(new Zone(), sample, 1));
        foreach (var (b, p) in new[] { (0, 5), (0, 8), (0, 16), (8, 5), (128, 0), (128, 16) })
            builder.AddPreset(b, p, $"{b}:{p}", new Zone((GeneratorEnum.Instrument, instrument)));

        var choice = TestBanks.Load(builder.Build()).FindPreset(bank, program);

        Assert.Equal((foundBank, foundProgram, exact), (choice.Preset.Bank, choice.Preset.Program, choice.IsExact));
    }

    [Fact]
    public void FindPreset_NothingOfTheKind_GivesFirstPreset()
    {
        var choice = TestBanks.Constant().FindPreset(SoundFontPreset.PercussionBank, 0);

        Assert.Equal((0, 0, false), (choice.Preset.Bank, choice.Preset.Program, choice.IsExact));
    }

    [Theory]
    [InlineData("RIFF", 4, 1_000_000, "byte 4")]
    [InlineData("smpl", 4, 0x7fffffff, "claims 2147483647 bytes")]
    [InlineData("shdr", 4, 183, "46-byte records")]
    [InlineData("phdr", 8 + 24, 60000, "phdr record 0")]
    [InlineData("pgen", 8 + 4 + 2, 999, "pgen record 1")]
    [InlineData("pbag", 8 + 4, 9999, "pbag record 1")]
    public void Load_DamagedField_NamesPlaceAndReason(string chunk, int offset, int value, string expected)
    {
        var file = TestBanks.VariedFile();
        var at = file.AsSpan().IndexOf(System.Text.Encoding.ASCII.GetBytes(chunk)) + offset;
        if (value > ushort.MaxValue || offset is 4 or 44 or 32)
            BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(at), value);
        else
            BinaryPrimitives.WriteUInt16LittleEndian(file.AsSpan(at), (ushort)value);

        var error = Assert.Throws<SoundFontException>(() => TestBanks.Load(file));

        Assert.StartsWith("test.sf2", error.Place, StringComparison.Ordinal);
        Assert.Contains(expected, error.Message, StringComparison.Ordinal);
    }

    // The bank has other samples.
    [Theory]
    [InlineData(24, 9_999_999, "shdr record 0")]
    [InlineData(36, 0, "sample rate")]
    [InlineData(44, 0x8001, "ROM")]
    public void Load_DamagedSampleHeader_IsLeftOutWithPlaceAndReason(int offset, int value, string expected)
    {
        var file = TestBanks.VariedFile();
        BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(file.AsSpan().IndexOf("shdr"u8) + 8 + offset), value);

        Assert.Contains(expected, Assert.Single(TestBanks.Load(file).Oddities), StringComparison.Ordinal);
    }

    [Fact]
    public void Load_EveryTruncation_ThrowsSoundFontException()
    {
        var file = TestBanks.VariedFile();
        for (var length = 0; length < file.Length; length += length < 200 ? 1 : 61)
            Assert.Throws<SoundFontException>(() => TestBanks.Load(file[..length]));
    }

    [Fact]
    public void Load_ZonesThatMultiply_AreRefused()
    {
        var builder = new BankBuilder();
        var sample = builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112);
        var instrument = builder.AddInstrument([.. Enumerable.Repeat(TestBanks.Sounding(new Zone(), sample, 1), 1000)]);
        builder.AddPreset(0, 0, "many", [.. Enumerable.Repeat(new Zone((GeneratorEnum.Instrument, instrument)), 1000)]);

        var error = Assert.Throws<SoundFontException>(() => TestBanks.Load(builder.Build()));

        Assert.Contains("1000000 regions", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Open_NoFile_ThrowsSoundFontException()
    {
        var error = Assert.Throws<SoundFontException>(() => SoundFontBank.Open(Path.Combine(Path.GetTempPath(), "no such bank.sf2")));

        Assert.Equal("no such bank.sf2", error.Place);
    }

    [Theory]
    [InlineData("/usr/share/sounds/sf2/TimGM6mb.sf2", 136)]
    [InlineData("/usr/share/sounds/sf2/FluidR3_GM.sf2", 189)]
    public void Open_RealBank_ResolvesEveryPreset(string path, int presets)
    {
        References.Require(File.Exists(path), $"{path} is not installed");
        var bank = SoundFontBank.Open(path);

        Assert.Equal(presets, bank.Presets.Count);
        Assert.All(bank.Presets, p => Assert.NotEmpty(bank.Resolve(p).Regions));
    }
}
