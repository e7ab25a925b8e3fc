using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

public class VoiceTests
{
    private const int Key = 60;

    // 400 points of 8,000, a loop of 200 at 16,000, then 1,000 at 4,000.
    private static short[] Steps() =>
    [
        .. Enumerable.Repeat((short)8000, 400), .. Enumerable.Repeat((short)16000, 200), .. Enumerable.Repeat((short)4000, 1000),
    ];

    [Fact]
    public void SampleMode_Zero_PlaysOnceAndEnds()
    {
        var synth = Playing.Dry(TestBanks.Of(Steps(), 0, 400, 600));
        synth.NoteOn(0, Key, 127);
        var sound = synth.Left(2400);

        Assert.Equal(4000 / 16384.0, sound[1500], 0.01);
        Assert.Equal(0, sound[^1], 1e-6);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void SampleMode_One_LoopsThroughTheRelease()
    {
        var synth = Playing.Dry(TestBanks.Of(Steps(), 1, 400, 600, (GeneratorEnum.ReleaseVolumeEnvelope, 4800)));
        synth.NoteOn(0, Key, 127);
        Assert.Equal(16000 / 16384.0, synth.Left(5000)[^1], 0.01);

        synth.NoteOff(0, Key);
        // 100 dB in 16 s is less than a decibel in 0.1 s.
        Assert.Equal(16000 / 16384.0 * 0.931, synth.Left(Playing.Frames(0.1))[^1], 0.01);
    }

    [Fact]
    [Measures(GeneratorEnum.SampleModes)]
    public void SampleMode_Three_PlaysTheRestAfterTheRelease()
    {
        var synth = Playing.Dry(TestBanks.Of(Steps(), 3, 400, 600, (GeneratorEnum.ReleaseVolumeEnvelope, 8000)));
        synth.NoteOn(0, Key, 127);
        Assert.Equal(16000 / 16384.0, synth.Left(5000)[^1], 0.01);

        synth.NoteOff(0, Key);
        var rest = synth.Left(1500);
        Assert.Equal(4000 / 16384.0, rest[800], 0.01);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void Loop_ShorterThanOneStep_KeepsSounding()
    {
        // A loop of two points, ten octaves up: one step is far longer than the loop.
        var synth = Playing.Dry(TestBanks.Of(TestBanks.ConstantPoints(), 1, 60, 62, (GeneratorEnum.CoarseTune, 120)));
        synth.NoteOn(0, Key, 127);

        Assert.Equal(1, synth.Left(5000)[^1], 0.01);
    }

    [Fact]
    public void Loop_SineOverTheSeam_HasNoStep()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Left(1000);
        var sound = synth.Left(9600);

        // Everything except the tone is at least 80 dB below it.
        var tone = Playing.Amplitude(sound, 440);
        Assert.Equal(1, tone, 0.01);
        var residue = Math.Sqrt(Math.Max(0, Math.Pow(Playing.Rms(sound), 2) - (tone * tone / 2)));
        Assert.True(Playing.Decibels(Largest(sound) / tone) < 0.1);
        Assert.True(residue < 0.01, $"{residue}");
    }

    [Fact]
    public void Stealing_WithAllVoicesInUse_IsASlopeNotAStep()
    {
        var synth = new SoundFontSynth(
            TestBanks.Constant((GeneratorEnum.AttackVolumeEnvelope, -2400)), Playing.Rate,
            new SoundFontSynthOptions { Dry = true, MaxVoices = 4 });
        for (var key = 60; key < 64; key++)
            synth.NoteOn(0, key, 127);
        synth.Left(Playing.Frames(0.5));
        Assert.Equal(4, synth.ActiveVoices);

        synth.NoteOn(0, 70, 127);
        var sound = synth.Left(Playing.Frames(0.05));

        Assert.Equal(1, synth.StolenVoices);
        Assert.Equal(4, synth.ActiveVoices);
        // One voice of about 0.22 fades out in 5 ms: a thousandth of full scale a frame.
        Assert.True(LargestStep(sound) < 0.0015, $"{LargestStep(sound)}");
    }

    [Fact]
    public void Stealing_ReleasedVoices_GoFirst()
    {
        var synth = new SoundFontSynth(
            TestBanks.Sine((GeneratorEnum.ReleaseVolumeEnvelope, 4800)), Playing.Rate,
            new SoundFontSynthOptions { Dry = true, MaxVoices = 3 });
        foreach (var key in new[] { 57, 69, 81 })
            synth.NoteOn(0, key, 127);
        synth.Left(4800);
        synth.NoteOff(0, 69);
        synth.NoteOn(0, 93, 127);
        synth.Left(4800);
        var sound = synth.Left(9600);

        Assert.True(Playing.Amplitude(sound, 220) > 0.1);
        Assert.True(Playing.Amplitude(sound, 440) < 0.001);
        Assert.True(Playing.Amplitude(sound, 880) > 0.1);
    }

    [Fact]
    public void Stealing_ThousandNotesInOneFrame_StaysWithinItsVoices()
    {
        var synth = new SoundFontSynth(TestBanks.Constant(), Playing.Rate, new SoundFontSynthOptions { Dry = true, MaxVoices = 8 });
        for (var i = 0; i < 1000; i++)
            synth.NoteOn(i % 16, i % 128, 100);
        synth.Left(Playing.Frames(0.02));

        Assert.Equal(8, synth.ActiveVoices);
    }

    [Fact]
    public void NoteOff_ShortestRelease_DoesNotClick()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, 127);
        synth.Left(1000);
        synth.NoteOff(0, Key);

        Assert.True(LargestStep(synth.Left(2000)) < 0.02);
    }

    [Fact]
    public void NoteOff_OnTheFrameOfItsNoteOn_StillSoundsTheAttack()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, 127);
        synth.NoteOff(0, Key);
        var sound = synth.Left(Playing.Frames(0.1));

        Assert.Equal(1, Largest(sound), 0.01);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void Control_VolumeToNothing_SlidesInFourMilliseconds()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, 127);
        synth.Left(1000);
        synth.Control(0, 7, 0);
        var sound = synth.Left(1000);

        Assert.True(LargestStep(sound) < 0.006, $"{LargestStep(sound)}");
        Assert.True(sound[200] < 0.001);
    }

    [Fact]
    public void NoteOn_SameKeyAgain_ReleasesTheOlderVoice()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, 127);
        synth.Left(1000);
        synth.NoteOn(0, Key, 127);
        Assert.Equal(2, synth.ActiveVoices);
        synth.Left(2000);

        Assert.Equal(1, synth.ActiveVoices);
    }

    [Fact]
    public void Effects_AfterTheLastNote_FallSilentAndStayFinite()
    {
        var synth = new SoundFontSynth(TestBanks.Noise((GeneratorEnum.ReverbEffectsSend, 1000), (GeneratorEnum.ChorusEffectsSend, 1000)), Playing.Rate);
        synth.NoteOn(0, Key, 127);
        synth.Left(Playing.Frames(0.3));
        synth.NoteOff(0, Key);
        synth.Left(Playing.Frames(0.2));
        var early = Playing.Rms(synth.Left(Playing.Frames(0.2)));
        synth.Left(Playing.Frames(0.8));
        var late = Playing.Rms(synth.Left(Playing.Frames(0.2)));

        // A second later: 60 dB in 0.9 to 1.1 s.
        Assert.InRange(Playing.Decibels(late / early), -67, -54);
        synth.Left(Playing.Frames(8));
        Assert.All(synth.Left(1000), v => Assert.Equal(0, v));
    }

    [Fact]
    public void Reverb_TwoSides_AreNotAlike()
    {
        var synth = new SoundFontSynth(TestBanks.Noise((GeneratorEnum.ReverbEffectsSend, 1000)), Playing.Rate);
        synth.NoteOn(0, Key, 127);
        synth.Left(Playing.Frames(0.5));
        synth.Control(0, 120, 0);
        synth.Left(Playing.Frames(0.05));
        var (left, right) = synth.Both(Playing.Frames(0.5));
        var correlation = left.Zip(right, (l, r) => (double)l * r).Average() / (Playing.Rms(left) * Playing.Rms(right));

        Assert.True(Math.Abs(correlation) < 0.2, $"{correlation}");
        Assert.Equal(0, Playing.Decibels(Playing.Rms(left) / Playing.Rms(right)), 1.5);
    }

    [Theory]
    [InlineData(7_999, 16, 256)]
    [InlineData(48_000, 0, 256)]
    [InlineData(48_000, 65, 256)]
    [InlineData(48_000, 16, 0)]
    public void Constructor_NumberOutsideItsRange_Throws(int rate, int channels, int voices) =>
        Assert.Throws<ArgumentOutOfRangeException>(() =>
            new SoundFontSynth(TestBanks.Constant(), rate, new SoundFontSynthOptions { ChannelCount = channels, MaxVoices = voices }));

    [Theory]
    [InlineData(8_000)]
    [InlineData(384_000)]
    public void Render_ExtremeRates_SoundsAndStaysFinite(int rate)
    {
        var synth = new SoundFontSynth(TestBanks.Load(TestBanks.VariedFile()), rate);
        synth.NoteOn(0, 60, 100);
        synth.NoteOn(9, 50, 100);
        var sound = synth.Left(5000);

        Assert.All(sound, v => Assert.True(float.IsFinite(v)));
        Assert.True(Largest(sound) > 0.01);
    }

    private static double Largest(float[] sound) => sound.Max(Math.Abs);

    private static double LargestStep(float[] sound) => sound.Zip(sound.Skip(1), (a, b) => Math.Abs(a - b)).Max();
}
