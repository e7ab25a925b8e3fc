using System.Text;
using CsCheck;
using GrooveLab.Audio.BuiltInSounds;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>Tests of the SoundFont writer against an independent parser.</summary>
public sealed class SoundFontWriterTests
{
    private static readonly SoundFontInfo Info = new("Name", "Engineer", "Software");

    [Fact]
    public void Write_SmallBank_IsReadBackInEveryRecord()
    {
        var sample = new SoundFontSample("tone", [.. Enumerable.Range(0, 100).Select(i => (short)(i * 100))], 22050, 60, -7, 20, 80);
        var global = new SoundFontZone<SoundFontSample>().With(SoundFontGenerator.ReverbSend, 120);
        global.Modulators.Add(new(0x0102, SoundFontGenerator.InitialFilterCutoff, -1200));
        var zone = new SoundFontZone<SoundFontSample> { Target = sample, Keys = (40, 72), Velocities = (10, 90) }
            .With(SoundFontGenerator.SampleModes, 1)
            .With(SoundFontGenerator.VolumeEnvelopeRelease, -2400.4);
        var instrument = new SoundFontInstrument("inst", [global, zone]);
        SoundFontPreset[] presets =
        [
            new("later", 128, 0, [new() { Target = instrument }]),
            new("first", 0, 5, [new() { Target = instrument, Keys = (50, 60) }]),
        ];

        var read = Read(SoundFontWriter.Write(Info, presets));

        Assert.Equal(["first", "later"], read.Presets.Select(p => p.Name));
        var header = read.SampleHeaders.First(h => h.SampleName == "tone");
        Assert.Equal((0u, 100u, 20u, 80u, 22050u), (header.Start, header.End, header.StartLoop, header.EndLoop, header.SampleRate));
        Assert.Equal((60, -7), (header.OriginalPitch, header.PitchCorrection));
        Assert.Equal((100 + 46) * 2, read.SampleData.Length);
        var region = Assert.Single(read.Presets[0].ResolveRegions());
        Assert.Equal((50, 60, 10, 90), (region.LowKey, region.HighKey, region.LowVelocity, region.HighVelocity));
        Assert.Equal(120, region.Generators[GeneratorEnum.ReverbEffectsSend]);
        Assert.Equal(-2400, region.Generators[GeneratorEnum.ReleaseVolumeEnvelope]);
        Assert.Equal(SampleMode.LoopContinuously, region.Generators.SampleModes);
        Assert.Equal(-1200, Assert.Single(region.InstrumentModulators).Amount);
    }

    [Fact]
    public void Write_AnyFrames_ComeBackAsTheyWere() => Gen.Short.Array[1, 300].Sample(frames =>
    {
        var sample = new SoundFontSample("any", frames, 44100, 60);
        var instrument = new SoundFontInstrument("any", [new() { Target = sample }]);
        var bytes = SoundFontWriter.Write(Info, [new("any", 0, 0, [new() { Target = instrument }])]);
        var data = Read(bytes).SampleData;
        return SoundFontWriter.IsIntact(bytes)
            && frames.Select((f, i) => f == BitConverter.ToInt16(data, 2 * i)).All(same => same);
    });

    [Fact]
    public void Write_Form_FollowsTheSpecification()
    {
        var bytes = SoundFontWriter.Write(Info, []);

        Assert.Equal("RIFF", Encoding.ASCII.GetString(bytes, 0, 4));
        Assert.Equal(bytes.Length - 8, BitConverter.ToInt32(bytes, 4));
        Assert.Equal("sfbk", Encoding.ASCII.GetString(bytes, 8, 4));

        // Section 7: nine sub-chunks in this order, each with its terminal record even in an empty bank (sizes of 7.2-7.10).
        var text = Encoding.Latin1.GetString(bytes);
        var at = text.IndexOf("pdta", StringComparison.Ordinal) + 4;
        foreach (var (id, size) in new[]
        {
            ("phdr", 38), ("pbag", 4), ("pmod", 10), ("pgen", 4), ("inst", 22), ("ibag", 4), ("imod", 10), ("igen", 4), ("shdr", 46),
        })
        {
            Assert.Equal(id, text.Substring(at, 4));
            Assert.Equal(size, BitConverter.ToInt32(bytes, at + 4));
            at += 8 + size;
        }

        Assert.Equal(bytes.Length, at);
    }

    [Fact]
    public void IsIntact_AnyByteChanged_IsFalse()
    {
        var bytes = SoundFontWriter.Write(Info, []);
        var pdta = Encoding.Latin1.GetString(bytes).IndexOf("sdta", StringComparison.Ordinal) - 8;
        Gen.Select(Gen.Int[pdta, bytes.Length - 1], Gen.Int[0, 7]).Sample((at, bit) =>
        {
            var changed = bytes.ToArray();
            changed[at] ^= (byte)(1 << bit);
            return !SoundFontWriter.IsIntact(changed);
        });
    }

    [Theory]
    [InlineData("a name of more than twenty characters", 0, 0, 0, 127)]
    [InlineData("na\u00efve", 0, 0, 0, 127)]
    [InlineData("bank", 129, 0, 0, 127)]
    [InlineData("program", 0, 128, 0, 127)]
    [InlineData("keys", 0, 0, 60, 59)]
    [InlineData("keys", 0, 0, 0, 128)]
    public void Write_WhatTheFormatCannotHold_Throws(string name, int bank, int program, int low, int high)
    {
        var instrument = new SoundFontInstrument("inst", [new() { Target = new("s", [1, 2, 3], 44100, 60) }]);

        Assert.Throws<ArgumentException>(
            () => SoundFontWriter.Write(Info, [new(name, bank, program, [new() { Target = instrument, Keys = (low, high) }])]));
    }

    [Fact]
    public void Write_GlobalZoneNotFirst_Throws()
    {
        var instrument = new SoundFontInstrument("inst", [new() { Target = new("s", [1, 2, 3], 44100, 60) }, new()]);

        Assert.Throws<ArgumentException>(() => SoundFontWriter.Write(Info, [new("p", 0, 0, [new() { Target = instrument }])]));
    }

    private static SoundFont Read(byte[] bytes)
    {
        using var stream = new MemoryStream(bytes);
        return new SoundFont(stream);
    }
}
