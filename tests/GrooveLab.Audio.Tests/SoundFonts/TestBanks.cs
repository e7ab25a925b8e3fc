using GrooveLab.Audio.SoundFonts;
using NAudio.SoundFont;
using Zone = GrooveLab.Audio.Tests.SoundFonts.BankBuilder.Zone;

namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>Banks whose output can be calculated.</summary>
internal static class TestBanks
{
    /// <summary>The default sample rate of the tests, in Hz.</summary>
    public const int Rate = 48000;

    /// <summary>Points in one cycle of <see cref="Sine"/>; at its rate and root key 69 it sounds at 440 Hz.</summary>
    public const int SinePeriod = 64;

    /// <summary>A looped constant at half of full scale: the output is the gain itself.</summary>
    public static SoundFontBank Constant(params (GeneratorEnum, int)[] generators) => Load(ConstantFile(new Zone(generators)));

    /// <summary>The same with modulators in its instrument zone.</summary>
    public static SoundFontBank Constant(Zone zone) => Load(ConstantFile(zone));

    /// <summary>A constant with a preset zone over it.</summary>
    public static SoundFontBank ConstantWithPresetZone(Zone instrument, Zone preset)
    {
        var builder = new BankBuilder();
        var sample = builder.AddSample(ConstantPoints(), loopStart: 16, loopEnd: 112);
        var index = builder.AddInstrument(Sounding(instrument, sample, 1));
        builder.AddPreset(0, 0, "constant", preset.With() with { Generators = [.. preset.Generators, (GeneratorEnum.Instrument, index)] });
        return Load(builder.Build());
    }

    /// <summary>A looped sine at half of full scale, 440 Hz at key 69.</summary>
    public static SoundFontBank Sine(params (GeneratorEnum, int)[] generators) => Sine(new Zone(generators));

    /// <summary>The same with modulators.</summary>
    public static SoundFontBank Sine(Zone zone)
    {
        var builder = new BankBuilder();
        var sample = builder.AddSample(SinePoints(4), 440 * SinePeriod, 69, SinePeriod, 3 * SinePeriod);
        AddPreset(builder, Sounding(zone, sample, 1));
        return Load(builder.Build());
    }

    /// <summary>White noise of uniform distribution, long and not looped, played as recorded at key 60.</summary>
    public static SoundFontBank Noise(params (GeneratorEnum, int)[] generators) => Load(NoiseFile(generators));

    /// <summary>The same as a file.</summary>
    public static byte[] NoiseFile(params (GeneratorEnum, int)[] generators)
    {
        var random = new Random(1);
        var builder = new BankBuilder();
        var sample = builder.AddSample([.. Enumerable.Range(0, 2 * Rate).Select(_ => (short)random.Next(-16384, 16384))], Rate);
        AddPreset(builder, Sounding(new Zone(generators), sample, 0));
        return builder.Build();
    }

    /// <summary>Any points as a single sample at key 60.</summary>
    public static SoundFontBank Of(short[] points, int mode, int loopStart, int loopEnd, params (GeneratorEnum, int)[] generators)
    {
        var builder = new BankBuilder();
        var sample = builder.AddSample(points, Rate, 60, loopStart, loopEnd);
        AddPreset(builder, Sounding(new Zone(generators), sample, mode));
        return Load(builder.Build());
    }

    public static SoundFontBank Load(byte[] file) => SoundFontBank.Load(file, "test.sf2", attenuationShare: 1);

    public static byte[] ConstantFile(Zone zone)
    {
        var builder = new BankBuilder();
        var sample = builder.AddSample(ConstantPoints(), Rate, 60, 16, 112);
        AddPreset(builder, Sounding(zone, sample, 1));
        return builder.Build();
    }

    /// <summary>A bank with every feature: ranges, layers, global zones, modulators, all loop modes, classes, percussion.</summary>
    public static byte[] VariedFile()
    {
        var builder = new BankBuilder();
        AddVaried(builder, 0);
        return builder.Build();
    }

    /// <summary>The same at program 1 instead of 0; program 0 of every bank is a steady tone that never ends.</summary>
    public static byte[] VariedBehindPlainFile()
    {
        var builder = new BankBuilder();
        var constant = builder.AddSample(ConstantPoints(), Rate, 60, 16, 112);
        var plain = builder.AddInstrument(Sounding(new Zone(), constant, 1));
        builder.AddPreset(0, 0, "plain", new Zone((GeneratorEnum.Instrument, plain)));
        builder.AddPreset(128, 0, "plain drum", new Zone((GeneratorEnum.Instrument, plain)));
        AddVaried(builder, 1);
        return builder.Build();
    }

    private static void AddVaried(BankBuilder builder, int program)
    {
        var sine = builder.AddSample(SinePoints(4), 440 * SinePeriod, 69, SinePeriod, 3 * SinePeriod);
        var random = new Random(7);
        var noise = builder.AddSample(
            [.. Enumerable.Range(0, 4000).Select(i => (short)(random.Next(-16384, 16384) * Math.Exp(-i / 900.0)))], 44100, 60, 100, 3900);
        var constant = builder.AddSample(ConstantPoints(), Rate, 60, 16, 112);
        var tonal = builder.AddInstrument(
            new Zone((GeneratorEnum.ReleaseVolumeEnvelope, -2400), (GeneratorEnum.ReverbEffectsSend, 300))
            {
                Modulators = [(0x0502, GeneratorEnum.InitialFilterCutoffFrequency, -3000, 0, 0)],
            },
            Sounding(
                new Zone(
                    (GeneratorEnum.KeyRange, Zone.Range(0, 64)), (GeneratorEnum.Pan, -300), (GeneratorEnum.VibratoLFOToPitch, 20),
                    (GeneratorEnum.AttackVolumeEnvelope, -7000)),
                sine, 1),
            Sounding(
                new Zone(
                    (GeneratorEnum.KeyRange, Zone.Range(60, 127)), (GeneratorEnum.VelocityRange, Zone.Range(1, 127)), (GeneratorEnum.Pan, 300),
                    (GeneratorEnum.InitialFilterCutoffFrequency, 9000), (GeneratorEnum.InitialFilterQ, 60),
                    (GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency, 2400), (GeneratorEnum.DecayModulationEnvelope, -1200),
                    (GeneratorEnum.SustainModulationEnvelope, 800)),
                sine, 3));
        var drums = builder.AddInstrument(
            Sounding(new Zone((GeneratorEnum.KeyRange, Zone.Range(42, 46)), (GeneratorEnum.ExclusiveClass, 1)), noise, 0),
            Sounding(new Zone((GeneratorEnum.KeyRange, Zone.Range(47, 80)), (GeneratorEnum.ModulationLFOToVolume, 60)), constant, 1));
        builder.AddPreset(0, program, "tonal", new Zone((GeneratorEnum.FineTune, 5), (GeneratorEnum.Instrument, tonal)));
        builder.AddPreset(
            0, 40, "layered", new Zone((GeneratorEnum.InitialAttenuation, 30)), new Zone((GeneratorEnum.Instrument, tonal)),
            new Zone((GeneratorEnum.CoarseTune, 12), (GeneratorEnum.ChorusEffectsSend, 400), (GeneratorEnum.Instrument, tonal)));
        builder.AddPreset(128, program, "drums", new Zone((GeneratorEnum.Instrument, drums)));
    }

    public static short[] ConstantPoints() => [.. Enumerable.Repeat((short)16384, 128)];

    public static short[] SinePoints(int cycles) =>
    [
        .. Enumerable.Range(0, cycles * SinePeriod).Select(i => (short)Math.Round(16384 * Math.Sin(2 * Math.PI * i / SinePeriod))),
    ];

    /// <summary>The zone with a sample and a loop mode added.</summary>
    public static Zone Sounding(Zone zone, int sample, int mode) => zone with
    {
        Generators = [.. zone.Generators, (GeneratorEnum.SampleModes, mode), (GeneratorEnum.SampleID, sample)],
    };

    private static void AddPreset(BankBuilder builder, Zone zone)
    {
        var instrument = builder.AddInstrument(zone);
        builder.AddPreset(0, 0, "test", new Zone((GeneratorEnum.Instrument, instrument)));
    }
}
