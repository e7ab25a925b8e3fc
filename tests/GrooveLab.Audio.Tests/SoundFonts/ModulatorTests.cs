using GrooveLab.Audio.SoundFonts;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.SoundFonts;

public class ModulatorTests
{
    // SoundFont 2.04, 8.2: bits 10-15 curve, 9 polarity, 8 direction, 7 palette. Ends of the linear mappings: 0 to 127/128 and
    // -1 to 126/128; the curves are 20/96 of the logarithm of the square.
    [Theory]
    [InlineData(0x0081, 0, 0)]
    [InlineData(0x0081, 127, 127f / 128)]
    [InlineData(0x0181, 0, 1)]
    [InlineData(0x0281, 0, -1)]
    [InlineData(0x0281, 64, 0)]
    [InlineData(0x0381, 0, 1)]
    [InlineData(0x0481, 0, 0)]
    [InlineData(0x0481, 127, 1)]
    [InlineData(0x0481, 64, 0.12694)] // -(40/96) log10(63/127)
    [InlineData(0x0581, 127, 0)]
    [InlineData(0x0581, 64, 0.12402)] // -(40/96) log10(64/127)
    [InlineData(0x0581, 0, 1)]
    [InlineData(0x0881, 0, 0)]
    [InlineData(0x0881, 127, 1)]
    [InlineData(0x0881, 64, 0.87598)]
    [InlineData(0x0c81, 63, 0)]
    [InlineData(0x0c81, 64, 1)]
    [InlineData(0x0e81, 63, -1)]
    [InlineData(0x0e81, 64, 1)]
    [InlineData(0x0681, 0, -1)] // concave, both ways
    [InlineData(0x0681, 64, 0)]
    [InlineData(0x0a81, 0, -1)] // convex, both ways
    public void Map_EveryCurveDirectionAndPolarity_FollowsSection82(int raw, int value, double expected) =>
        Assert.Equal(expected, new ModulatorSource((ushort)raw).Map(value), 4);

    [Theory]
    [InlineData(0x020e, 8192, 0)]
    [InlineData(0x020e, 0, -1)]
    [InlineData(0x020e, 16383, 0.99988)]
    [InlineData(0x0000, 5, 1)] // no controller is 1
    public void Map_GeneralController_FollowsItsRange(int raw, int value, double expected) =>
        Assert.Equal(expected, new ModulatorSource((ushort)raw).Map(value), 4);

    [Theory]
    [InlineData(0x0001, false)] // no such general controller
    [InlineData(0x007f, false)] // a link
    [InlineData(0x0080, false)] // bank select
    [InlineData(0x0086, false)] // data entry
    [InlineData(0x00e2, false)] // parameter number
    [InlineData(0x00f8, false)] // a channel-mode message
    [InlineData(0x1081, false)] // no such curve
    [InlineData(0x0081, true)]
    [InlineData(0x0002, true)]
    [InlineData(0x0010, true)]
    public void IsValid_Sources_AreThoseOfSection821(int raw, bool expected) =>
        Assert.Equal(expected, new ModulatorSource((ushort)raw).IsValid);

    // Section 8.4, with two corrections from the project's check values: CC7 is 0x0587, pan is 500 to either side.
    [Fact]
    public void All_DefaultModulators_AreThoseOfSection84() => Assert.Equal(
        [
            (0x0502, 0, GeneratorEnum.InitialAttenuation, 960f),
            (0x0102, 0, GeneratorEnum.InitialFilterCutoffFrequency, -2400f),
            (0x000d, 0, GeneratorEnum.VibratoLFOToPitch, 50f),
            (0x0081, 0, GeneratorEnum.VibratoLFOToPitch, 50f),
            (0x0587, 0, GeneratorEnum.InitialAttenuation, 960f),
            (0x028a, 0, GeneratorEnum.Pan, 500f),
            (0x058b, 0, GeneratorEnum.InitialAttenuation, 960f),
            (0x00db, 0, GeneratorEnum.ReverbEffectsSend, 200f),
            (0x00dd, 0, GeneratorEnum.ChorusEffectsSend, 200f),
            (0x020e, 0x10, GeneratorEnum.FineTune, 12700f),
        ],
        DefaultModulators.All.Select(m => ((int)m.Source.Raw, (int)m.AmountSource.Raw, m.Destination, m.Amount)));

    [Fact]
    public void Resolve_InstrumentModulatorOfSameRoute_ReplacesDefaultAndPresetOneAdds()
    {
        var bank = TestBanks.ConstantWithPresetZone(
            new BankBuilder.Zone { Modulators = [(0x0502, GeneratorEnum.InitialAttenuation, 480, 0, 0)] },
            new BankBuilder.Zone
            {
                Modulators =
                [
                    (0x0502, GeneratorEnum.InitialAttenuation, 100, 0, 0),
                    (0x0081, GeneratorEnum.InitialFilterCutoffFrequency, -500, 0, 0),
                ],
            });

        var modulators = bank.Resolve(bank.Presets[0]).Regions[0].Modulators;

        Assert.Equal(11, modulators.Length);
        Assert.Equal(580, Assert.Single(modulators, m => m.Source.Raw == 0x0502).Amount);
        Assert.Equal(-500, modulators[^1].Amount);
    }

    [Fact]
    public void Resolve_ModulatorOfZero_SwitchesTheDefaultOff()
    {
        var bank = TestBanks.Constant(
            new BankBuilder.Zone { Modulators = [(0x0102, GeneratorEnum.InitialFilterCutoffFrequency, 0, 0, 0)] });

        Assert.DoesNotContain(bank.Resolve(bank.Presets[0]).Regions[0].Modulators, m => m.Source.Raw == 0x0102);
    }

    // Ranges and defaults: SoundFont 2.04, 8.1.3, from the project's check values.
    [Theory]
    [InlineData(GeneratorEnum.InitialFilterCutoffFrequency, 1500, 13500, 13500)]
    [InlineData(GeneratorEnum.InitialFilterQ, 0, 960, 0)]
    [InlineData(GeneratorEnum.DelayModulationLFO, -12000, 5000, -12000)]
    [InlineData(GeneratorEnum.FrequencyVibratoLFO, -16000, 4500, 0)]
    [InlineData(GeneratorEnum.AttackVolumeEnvelope, -12000, 8000, -12000)]
    [InlineData(GeneratorEnum.HoldModulationEnvelope, -12000, 5000, -12000)]
    [InlineData(GeneratorEnum.SustainModulationEnvelope, 0, 1000, 0)]
    [InlineData(GeneratorEnum.SustainVolumeEnvelope, 0, 1440, 0)]
    [InlineData(GeneratorEnum.KeyNumberToVolumeEnvelopeDecay, -1200, 1200, 0)]
    [InlineData(GeneratorEnum.Pan, -500, 500, 0)]
    [InlineData(GeneratorEnum.ReverbEffectsSend, 0, 1000, 0)]
    [InlineData(GeneratorEnum.ModulationLFOToVolume, -960, 960, 0)]
    [InlineData(GeneratorEnum.KeyNumber, -1, 127, -1)]
    [InlineData(GeneratorEnum.InitialAttenuation, 0, 1440, 0)]
    [InlineData(GeneratorEnum.CoarseTune, -120, 120, 0)]
    [InlineData(GeneratorEnum.FineTune, -99, 99, 0)]
    [InlineData(GeneratorEnum.ScaleTuning, 0, 1200, 100)]
    [InlineData(GeneratorEnum.OverridingRootKey, -1, 127, -1)]
    public void Of_Generator_HasTheRangeOfSection813(GeneratorEnum generator, int minimum, int maximum, int standard) =>
        Assert.Equal((minimum, maximum, standard), GeneratorRange.Of(generator) is var r ? (r.Minimum, r.Maximum, r.Default) : default);

    [Fact]
    public void Resolve_BankWithoutGenerators_HasEveryDefault()
    {
        var bank = TestBanks.Constant();
        var region = bank.Resolve(bank.Presets[0]).Regions[0];

        for (var i = 0; i < GeneratorRange.Count; i++)
        {
            var generator = (GeneratorEnum)i;
            if (generator is GeneratorEnum.KeyRange or GeneratorEnum.VelocityRange or GeneratorEnum.SampleModes or GeneratorEnum.SampleID)
                continue;
            Assert.Equal(GeneratorRange.Of(generator).Default, region[generator]);
        }
    }
}
