using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using GrooveLab.Testing.Sound;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>
/// Reverb and chorus sound as loud and as long as fluidsynth's at its own settings, so that the sends of a bank sound as its makers
/// heard them. What an effect adds is the difference of a render with it and one without.
/// </summary>
public sealed class ReferenceEffectsTests
{
    private const double Start = 0.5;
    private const double Window = 0.05;
    private const double Tolerance = 3;

    private static readonly double[] AfterTheNote = [0.1, 0.5, 1.0];

    [Theory]
    [InlineData(200)]
    [InlineData(1000)]
    public void Reverb_AfterABurstOfNoise_IsAsLoudAndFallsAsFast(int send)
    {
        const double End = Start + 0.25;
        var file = TestBanks.NoiseFile((GeneratorEnum.ReverbEffectsSend, send), (GeneratorEnum.ReleaseVolumeEnvelope, -12_000));
        var (theirs, ours) = (Theirs(file, End, reverb: true), Ours(file, End, reverb: true));
        foreach (var side in new[] { 0, 1 })
        {
            foreach (var seconds in AfterTheNote)
            {
                Assert.Equal(theirs.WetDecibels(side, End + seconds), ours.WetDecibels(side, End + seconds), Tolerance);
            }
        }
    }

    // Steady noise, so that each band has enough of it; from 500 Hz up, where the modes of a delay network lie close together.
    [Fact]
    public void Reverb_OfEachThirdOctave_FallsAsFast()
    {
        const double End = Start + 1.5;
        var file = TestBanks.NoiseFile((GeneratorEnum.ReverbEffectsSend, 1000), (GeneratorEnum.ReleaseVolumeEnvelope, -12_000));
        var (theirs, ours) = (Theirs(file, End, reverb: true), Ours(file, End, reverb: true));
        for (var band = 10; band < BandLevels.Bands; band++)
        {
            var (their, our) = (theirs.FallDecibels(band, End), ours.FallDecibels(band, End));
            Assert.True(Math.Abs(their - our) < 5, $"band {band}: {our:F1} dB in 0.7 s, fluidsynth {their:F1} dB");
        }
    }

    [Theory]
    [InlineData(200)]
    [InlineData(1000)]
    public void Chorus_OfNoise_IsAsLoud(int send)
    {
        const double End = Start + 1;
        var file = TestBanks.NoiseFile((GeneratorEnum.ChorusEffectsSend, send), (GeneratorEnum.ReleaseVolumeEnvelope, -12_000));
        var (theirs, ours) = (Theirs(file, End, reverb: false), Ours(file, End, reverb: false));
        foreach (var side in new[] { 0, 1 })
        {
            foreach (var before in AfterTheNote)
            {
                Assert.Equal(theirs.WetDecibels(side, End - (0.8 * before)), ours.WetDecibels(side, End - (0.8 * before)), Tolerance);
            }
        }
    }

    private static Effect Theirs(byte[] file, double end, bool reverb)
    {
        var path = Path.GetTempFileName();
        try
        {
            File.WriteAllBytes(path, file);
            (double, byte[])[] events =
            [
                (0, [0xb0, 7, 127]), (0, [0xb0, 91, 0]), (Start, [0x90, 60, 127]), (end, [0x80, 60, 0]), (end + 2, [0xb0, 7, 127]),
            ];
            return new Effect(ReferenceRenderer.Render(events, path, reverb, !reverb), ReferenceRenderer.Render(events, path), end);
        }
        finally
        {
            File.Delete(path);
        }
    }

    private static Effect Ours(byte[] file, double end, bool reverb)
    {
        return new Effect(Play(dry: false), Play(dry: true), end);

        (float[] Left, float[] Right) Play(bool dry)
        {
            var synth = new SoundFontSynth(SoundFontBank.Load(file, "noise.sf2"), Playing.Rate, new SoundFontSynthOptions { Dry = dry });
            synth.Control(0, 7, 127);
            synth.Control(0, 91, 0);
            var before = synth.Both(Playing.Frames(Start));
            synth.NoteOn(0, 60, 127);
            var sounding = synth.Both(Playing.Frames(end - Start));
            synth.NoteOff(0, 60);
            var after = synth.Both(Playing.Frames(2));
            return ([.. before.Left, .. sounding.Left, .. after.Left], [.. before.Right, .. sounding.Right, .. after.Right]);
        }
    }

    /// <summary>What an effect adds to a note, in relation to the note itself.</summary>
    private sealed class Effect
    {
        private readonly float[][] _wet;
        private readonly double _dryDecibels;

        public Effect((float[] Left, float[] Right) whole, (float[] Left, float[] Right) dry, double end)
        {
            _wet = [Difference(whole.Left, dry.Left), Difference(whole.Right, dry.Right)];
            _dryDecibels = Playing.Decibels(Playing.Rms(dry.Left.AsSpan(Playing.Frames(Start)..Playing.Frames(end))));
        }

        /// <summary>Level of the effect around a moment, in dB relative to the dry note.</summary>
        public double WetDecibels(int side, double seconds) =>
            Playing.Decibels(Playing.Rms(_wet[side].AsSpan(Playing.Frames(seconds - (Window / 2)), Playing.Frames(Window)))) - _dryDecibels;

        /// <summary>How far a band falls from the end of the note to 0.7 s after it, both sides and four slices together.</summary>
        public double FallDecibels(int band, double end)
        {
            return Level(end - 0.4) - Level(end + 0.7);

            double Level(double from) => 10 * Math.Log10(_wet.SelectMany(side => BandLevels.Of(side.AsSpan(Playing.Frames(from))).Take(4))
                .Average(slice => Math.Pow(10, slice[band] / 10)));
        }

        private static float[] Difference(float[] whole, float[] dry) => [.. whole.Zip(dry, (a, b) => a - b)];
    }
}
