using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>
/// The sound's purity: limits slightly above the measured values, which are in <c>docs/synthesizer.md</c>. They have no outside source;
/// they show when a change makes the sound worse.
/// </summary>
public class QualityTests
{
    private readonly ITestOutputHelper _output;

    public QualityTests(ITestOutputHelper output) => _output = output;

    [Theory]
    [InlineData(Interpolation.FourPoint, 8, -42)]
    [InlineData(Interpolation.EightPoint, 8, -65)]
    [InlineData(Interpolation.FourPoint, 32, -78)]
    [InlineData(Interpolation.EightPoint, 32, -75)]
    public void Interpolation_SineOfFewPointsACycle_LeavesImagesBelow(Interpolation interpolation, int pointsPerCycle, double limit)
    {
        // The sine is played two octaves and a fifth below its pitch, where all its images are in the audible range.
        var residue = Residue(interpolation, pointsPerCycle, -31);
        _output.WriteLine($"{interpolation}, {pointsPerCycle} points a cycle: {residue:F1} dB");

        Assert.True(residue < limit, $"{residue:F1} dB");
    }

    [Theory]
    [InlineData(Interpolation.FourPoint, -88)]
    [InlineData(Interpolation.EightPoint, -81)]
    public void Interpolation_HighNote_LeavesAliasesBelow(Interpolation interpolation, double limit)
    {
        // A sine of 64 points a cycle, two octaves and a fifth above its pitch.
        var residue = Residue(interpolation, 64, 31);
        _output.WriteLine($"{interpolation}, 31 keys up: {residue:F1} dB");

        Assert.True(residue < limit, $"{residue:F1} dB");
    }

    [Fact]
    public void NoiseFloor_LoudestToQuietest_IsThatOfTheSample()
    {
        // A full-scale sine of 16-bit points, played as recorded: everything except the tone is the sample's own rounding, near -98 dB.
        var residue = Residue(Interpolation.FourPoint, 64, 0);
        _output.WriteLine($"as recorded: {residue:F1} dB");

        Assert.True(residue < -97, $"{residue:F1} dB");
    }

    [Theory]
    [InlineData(false, -54)]
    [InlineData(true, -51)]
    public void NoteEndAndSteal_OfALoudSine_LeaveNoClick(bool steal, double limit)
    {
        var synth = new SoundFontSynth(
            TestBanks.Sine(), Playing.Rate, new SoundFontSynthOptions { Dry = true, Gain = 2 * MathF.Sqrt(2), MaxVoices = steal ? 1 : 8 });
        synth.Control(0, 7, 127);
        synth.NoteOn(0, 69, 127);
        synth.Left(Playing.Frames(0.5));
        if (steal)
            synth.NoteOn(0, 69 - 120 + 51, 1);
        else
            synth.NoteOff(0, 69);
        var sound = synth.Left(Playing.Frames(0.1));
        // A click is energy far above the tone: the part above 4 kHz.
        var click = HighPart(sound);
        _output.WriteLine($"{(steal ? "steal" : "note end")}: {Playing.Decibels(click):F1} dB");

        Assert.True(Playing.Decibels(click) < limit, $"{Playing.Decibels(click):F1} dB");
    }

    /// <summary>Everything except the tone, relative to the tone, in dB.</summary>
    private static double Residue(Interpolation interpolation, int pointsPerCycle, int keys)
    {
        var builder = new BankBuilder();
        const int Cycles = 64;
        short[] points =
        [
            .. Enumerable.Range(0, (Cycles + 8) * pointsPerCycle).Select(i => (short)Math.Round(32767 * Math.Sin(2 * Math.PI * i / pointsPerCycle))),
        ];
        var sample = builder.AddSample(points, Playing.Rate, 60, 4 * pointsPerCycle, (Cycles + 4) * pointsPerCycle);
        var instrument = builder.AddInstrument(TestBanks.Sounding(new BankBuilder.Zone(), sample, 1));
        builder.AddPreset(0, 0, "sine", new BankBuilder.Zone((GeneratorEnum.Instrument, instrument)));
        var synth = new SoundFontSynth(TestBanks.Load(builder.Build()), Playing.Rate, new SoundFontSynthOptions
        {
            Dry = true,
            Gain = 1,
            Interpolation = interpolation,
        });
        synth.Control(0, 7, 127);
        synth.NoteOn(0, 60 + keys, 127);
        synth.Left(Playing.Frames(0.1));
        var sound = synth.Left(1 << 15);
        var hertz = Playing.Frequency(sound, (double)Playing.Rate / pointsPerCycle * Math.Pow(2, keys / 12.0));

        // Fits the tone's two components by least squares and subtracts them.
        double cc = 0, ss = 0, cs = 0, xc = 0, xs = 0, all = 0;
        for (var i = 0; i < sound.Length; i++)
        {
            var (s, c) = Math.SinCos(2 * Math.PI * hertz * i / Playing.Rate);
            cc += c * c;
            ss += s * s;
            cs += c * s;
            xc += sound[i] * c;
            xs += sound[i] * s;
            all += (double)sound[i] * sound[i];
        }
        var determinant = (cc * ss) - (cs * cs);
        var (a, b) = (((xc * ss) - (xs * cs)) / determinant, ((xs * cc) - (xc * cs)) / determinant);
        var rest = 0.0;
        for (var i = 0; i < sound.Length; i++)
        {
            var (s, c) = Math.SinCos(2 * Math.PI * hertz * i / Playing.Rate);
            rest += Math.Pow(sound[i] - (a * c) - (b * s), 2);
        }
        return 10 * Math.Log10(rest / (all - rest));
    }

    /// <summary>The greatest value of a signal above about 4 kHz: two windows of a Hann-shaped high-pass, long enough to reject a tone of 440 Hz.</summary>
    private static double HighPart(float[] sound)
    {
        const int Taps = 97;
        var kernel = new double[Taps];
        for (var i = 0; i < Taps; i++)
        {
            var t = i - (Taps / 2);
            var low = t == 0 ? 1.0 / 6 : Math.Sin(Math.PI * t / 6) / (Math.PI * t);
            kernel[i] = -low * (0.42 - (0.5 * Math.Cos(2 * Math.PI * i / (Taps - 1))) + (0.08 * Math.Cos(4 * Math.PI * i / (Taps - 1))));
        }
        kernel[Taps / 2] += 1 - (kernel.Sum() + 1);
        var greatest = 0.0;
        for (var at = 0; at + Taps <= sound.Length; at++)
        {
            var sum = 0.0;
            for (var i = 0; i < Taps; i++)
                sum += kernel[i] * sound[at + i];
            greatest = Math.Max(greatest, Math.Abs(sum));
        }
        return greatest;
    }
}
