using System.Buffers.Binary;
using GrooveLab.Audio.BuiltInSounds;
using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>The built-in bank, read back by NAudio's parser and resolver, which share no code with its writer.</summary>
internal sealed class BankUnderTest
{
    private static readonly Lazy<BankUnderTest> Made = new(() => new(BuiltInBank.Create()));

    private readonly Dictionary<(int Bank, int Program), IReadOnlyList<SoundFontRegion>> _regions;

    private BankUnderTest(byte[] bytes)
    {
        Bytes = bytes;
        using var stream = new MemoryStream(bytes);
        File = new SoundFont(stream);
        Frames = new short[File.SampleData.Length / 2];
        for (var i = 0; i < Frames.Length; i++)
        {
            Frames[i] = BinaryPrimitives.ReadInt16LittleEndian(File.SampleData.AsSpan(2 * i));
        }

        _regions = File.Presets.ToDictionary(p => ((int)p.Bank, (int)p.PatchNumber), p => p.ResolveRegions());
    }

    public static BankUnderTest Instance => Made.Value;

    public byte[] Bytes { get; }

    public SoundFont File { get; }

    public short[] Frames { get; }

    public IReadOnlyList<SoundFontRegion> Regions(int program, int bank = 0) => _regions[(bank, program)];

    public SoundFontRegion[] Regions(int program, int key, int velocity, int bank = 0) =>
        [.. Regions(program, bank).Where(r => r.Matches(key, velocity))];

    /// <summary>The regions of a note without the strings that ring along, which have no attack and are intentionally out of tune.</summary>
    public SoundFontRegion[] Strings(int program, int key, int velocity) =>
        [.. Regions(program, key, velocity).Where(r => !IsHalo(r.Sample))];

    /// <summary>Whether a sample is that of strings that ring along.</summary>
    public static bool IsHalo(SampleHeader? sample) => sample?.SampleName?.EndsWith("halo", StringComparison.Ordinal) == true;

    /// <summary>The frames of one sample, from -1 to 1.</summary>
    public double[] Sample(SampleHeader header)
    {
        var frames = new double[header.End - header.Start];
        for (var i = 0; i < frames.Length; i++)
        {
            frames[i] = Frames[header.Start + i] / 32768.0;
        }

        return frames;
    }

    /// <summary>Frequency of a region's sample when transposed to a key, from the frequency of the stored sample.</summary>
    public static double Transposed(SoundFontRegion region, int key, double stored)
    {
        var root = region.Generators.OverridingRootKey is >= 0 and <= 127 and int over ? over : region.Sample.OriginalPitch;
        var cents = (region.Generators[GeneratorEnum.ScaleTuning] * (key - root))
            + region.Sample.PitchCorrection + region.Generators[GeneratorEnum.FineTune] + (100.0 * region.Generators[GeneratorEnum.CoarseTune]);
        return stored * Math.Pow(2, cents / 1200);
    }

    /// <summary>
    /// One note at velocity 127 without filter, reverb and vibrato; with pitch, loops, delays, attenuation and the decay of the volume
    /// envelope, in the units of SoundFont 2.04.
    /// </summary>
    public double[] Render(int program, int key, int velocity, double seconds, int rate = 48000, int bank = 0)
    {
        var output = new double[(int)(seconds * rate)];
        foreach (var region in Regions(program, key, velocity, bank))
        {
            var header = region.Sample;
            var step = Transposed(region, bank == 128 ? header.OriginalPitch : key, header.SampleRate) / rate;
            var looped = region.Generators.SampleModes == SampleMode.LoopContinuously;
            var delay = (int)(rate * Math.Pow(2, region.Generators[GeneratorEnum.DelayVolumeEnvelope] / 1200.0));
            var gain = Math.Pow(10, -region.Generators[GeneratorEnum.InitialAttenuation] / 200.0);
            var decaySeconds = Math.Pow(2, region.Generators[GeneratorEnum.DecayVolumeEnvelope] / 1200.0);
            var decays = region.Generators[GeneratorEnum.SustainVolumeEnvelope] > 0;
            var fall = decays ? Math.Pow(10, -100 / 20.0 / (decaySeconds * rate)) : 1;
            double at = region.Generators.StartAddressOffset;
            var loop = header.EndLoop - header.StartLoop;
            for (var i = delay < 100 ? 0 : delay; i < output.Length; i++)
            {
                var whole = (int)at;
                var rest = at - whole;
                if (!looped && header.Start + whole + 2 >= header.End)
                {
                    break;
                }

                output[i] += gain * Cubic(header.Start + whole, rest);
                gain *= fall;
                at += step;
                if (looped && header.Start + at >= header.EndLoop)
                {
                    at -= loop;
                }
            }
        }

        return output;
    }

    private double Cubic(long at, double t)
    {
        double a = at > 0 ? Frames[at - 1] : 0, b = Frames[at], c = Frames[at + 1], d = Frames[at + 2];
        return (b + (0.5 * t * (c - a + (t * ((2 * a) - (5 * b) + (4 * c) - d + (t * ((3 * (b - c)) + d - a))))))) / 32768;
    }
}
