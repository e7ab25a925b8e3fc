using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>
/// The effect of each generator, measured in the sound, in the units of SoundFont 2.04, section 8.1.3. The constant sample shows gains,
/// the sine shows pitch, the noise shows the filter.
/// </summary>
public class GeneratorTests
{
    private const int Key = 60;

    private static float[] Constant(int frames, params (GeneratorEnum, int)[] generators)
    {
        var synth = Playing.Dry(TestBanks.Constant(generators));
        synth.NoteOn(0, Key, 127);
        return synth.Left(frames);
    }

    [Fact]
    [Measures(GeneratorEnum.AttackVolumeEnvelope)]
    public void AttackVolumeEnvelope_OneSecond_RisesStraightInAmplitude()
    {
        var sound = Constant(Playing.Frames(1.2), (GeneratorEnum.AttackVolumeEnvelope, 0));

        Assert.Equal(0.25, sound[Playing.Frames(0.25)], 0.005);
        Assert.Equal(0.75, sound[Playing.Frames(0.75)], 0.005);
        Assert.Equal(1, sound[Playing.Frames(1.01)], 0.001);
    }

    [Fact]
    public void AttackVolumeEnvelope_Default_IsOverAfterAMillisecond()
    {
        var sound = Constant(200);

        Assert.True(sound[0] > 0);
        Assert.Equal(1, sound[60], 0.01);
    }

    [Fact]
    [Measures(GeneratorEnum.DelayVolumeEnvelope)]
    public void DelayVolumeEnvelope_QuarterSecond_IsSilentUntilThen()
    {
        var sound = Constant(Playing.Frames(0.3), (GeneratorEnum.DelayVolumeEnvelope, -2400));

        Assert.Equal(Playing.Frames(0.25), Array.FindIndex(sound, v => v != 0));
    }

    [Fact]
    [Measures(GeneratorEnum.HoldVolumeEnvelope)]
    public void HoldVolumeEnvelope_HalfSecond_StaysAtFullLevelBeforeTheDecay()
    {
        var sound = Constant(
            Playing.Frames(0.8), (GeneratorEnum.HoldVolumeEnvelope, -1200), (GeneratorEnum.DecayVolumeEnvelope, 0),
            (GeneratorEnum.SustainVolumeEnvelope, 1000));

        Assert.Equal(1, sound[Playing.Frames(0.49)], 0.001);
        // 0.2 s after attack and hold: a fifth of 100 dB.
        Assert.Equal(-20, Playing.Decibels(sound[Playing.Frames(0.501 + 0.2)]), 0.1);
    }

    [Theory]
    [InlineData(0, 1.0)]
    [InlineData(1200, 2.0)]
    [InlineData(-1200, 0.5)]
    [Measures(GeneratorEnum.DecayVolumeEnvelope)]
    public void DecayVolumeEnvelope_Timecents_IsTheTimeOfAHundredDecibels(int timecents, double seconds)
    {
        var sound = Constant(
            Playing.Frames(seconds), (GeneratorEnum.DecayVolumeEnvelope, timecents), (GeneratorEnum.SustainVolumeEnvelope, 1000));

        Assert.Equal(-50, Playing.Decibels(sound[Playing.Frames((seconds / 2) + 0.001)]), 0.2);
    }

    [Theory]
    [InlineData(120, -12)]
    [InlineData(0, 0)]
    [InlineData(400, -40)]
    [Measures(GeneratorEnum.SustainVolumeEnvelope)]
    public void SustainVolumeEnvelope_Centibels_IsTheLevelAfterTheDecay(int centibels, double decibels)
    {
        var sound = Constant(Playing.Frames(1), (GeneratorEnum.DecayVolumeEnvelope, -2400), (GeneratorEnum.SustainVolumeEnvelope, centibels));

        Assert.Equal(decibels, Playing.Decibels(sound[^1]), 0.05);
    }

    [Fact]
    public void SustainVolumeEnvelope_Silence_EndsTheVoice()
    {
        var synth = Playing.Dry(
            TestBanks.Constant((GeneratorEnum.DecayVolumeEnvelope, -4800), (GeneratorEnum.SustainVolumeEnvelope, 1000)));
        synth.NoteOn(0, Key, 127);
        synth.Left(Playing.Frames(0.1));

        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    [Measures(GeneratorEnum.ReleaseVolumeEnvelope)]
    public void ReleaseVolumeEnvelope_OneSecond_FallsAHundredDecibelsInIt()
    {
        var synth = Playing.Dry(TestBanks.Constant((GeneratorEnum.ReleaseVolumeEnvelope, 0)));
        synth.NoteOn(0, Key, 127);
        synth.Left(1000);
        synth.NoteOff(0, Key);
        var sound = synth.Left(Playing.Frames(1));

        Assert.Equal(-30, Playing.Decibels(sound[Playing.Frames(0.3) - 1]), 0.1);
        Assert.Equal(-60, Playing.Decibels(sound[Playing.Frames(0.6) - 1]), 0.1);
        synth.Left(100);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void ReleaseVolumeEnvelope_FromHalfTheAttack_StartsAtThatLevel()
    {
        var synth = Playing.Dry(TestBanks.Constant((GeneratorEnum.AttackVolumeEnvelope, 0), (GeneratorEnum.ReleaseVolumeEnvelope, 0)));
        synth.NoteOn(0, Key, 127);
        synth.Left(Playing.Frames(0.5));
        synth.NoteOff(0, Key);
        var sound = synth.Left(Playing.Frames(0.2));

        Assert.Equal(0.5, sound[0], 0.005);
        Assert.Equal(Playing.Decibels(0.5) - 20, Playing.Decibels(sound[^1]), 0.1);
    }

    [Theory]
    [InlineData(72, 0.5)]
    [InlineData(60, 1.0)]
    [InlineData(48, 2.0)]
    [Measures(GeneratorEnum.KeyNumberToVolumeEnvelopeHold)]
    public void KeyNumberToVolumeEnvelopeHold_Hundred_HalvesTheHoldPerOctaveUp(int key, double seconds)
    {
        var synth = Playing.Dry(TestBanks.Constant(
            (GeneratorEnum.HoldVolumeEnvelope, 0), (GeneratorEnum.DecayVolumeEnvelope, 0), (GeneratorEnum.SustainVolumeEnvelope, 1000),
            (GeneratorEnum.KeyNumberToVolumeEnvelopeHold, 100)));
        synth.NoteOn(0, key, 127);
        var sound = synth.Left(Playing.Frames(2.5));

        Assert.Equal(-10, Playing.Decibels(sound[Playing.Frames(seconds + 0.101)]), 0.1);
    }

    [Fact]
    [Measures(GeneratorEnum.KeyNumberToVolumeEnvelopeDecay)]
    public void KeyNumberToVolumeEnvelopeDecay_Hundred_HalvesTheDecayPerOctaveUp()
    {
        var synth = Playing.Dry(TestBanks.Constant(
            (GeneratorEnum.DecayVolumeEnvelope, 0), (GeneratorEnum.SustainVolumeEnvelope, 1000),
            (GeneratorEnum.KeyNumberToVolumeEnvelopeDecay, 100)));
        synth.NoteOn(0, 72, 127);

        Assert.Equal(-20, Playing.Decibels(synth.Left(Playing.Frames(0.101))[^1]), 0.2);
    }

    [Theory]
    [InlineData(60, -6)]
    [InlineData(200, -20)]
    [Measures(GeneratorEnum.InitialAttenuation)]
    public void InitialAttenuation_Centibels_LowersTheLevel(int centibels, double decibels) =>
        Assert.Equal(decibels, Playing.Decibels(Constant(200, (GeneratorEnum.InitialAttenuation, centibels))[^1]), 0.05);

    [Theory]
    [InlineData(-500, 1.4142, 0)]
    [InlineData(0, 1, 1)]
    [InlineData(250, 0.5412, 1.3066)]
    [InlineData(500, 0, 1.4142)]
    [Measures(GeneratorEnum.Pan)]
    public void Pan_TenthsOfAPercent_SharesEqualPower(int pan, double left, double right)
    {
        var synth = Playing.Dry(TestBanks.Constant((GeneratorEnum.Pan, pan)));
        synth.NoteOn(0, Key, 127);
        var (l, r) = synth.Both(200);

        Assert.Equal(left, l[^1], 0.002);
        Assert.Equal(right, r[^1], 0.002);
    }

    [Theory]
    [InlineData(69, 440.0)]
    [InlineData(57, 220.0)]
    [InlineData(81, 880.0)]
    [InlineData(60, 261.626)]
    [InlineData(96, 2093.005)]
    public void NoteOn_Keys_SoundTheirFrequencyWithinACent(int key, double hertz) => AssertPitch(hertz, key);

    [Theory]
    [InlineData(GeneratorEnum.CoarseTune, 7, 700)]
    [InlineData(GeneratorEnum.CoarseTune, -12, -1200)]
    [InlineData(GeneratorEnum.FineTune, 37, 37)]
    [InlineData(GeneratorEnum.OverridingRootKey, 72, -300)]
    [InlineData(GeneratorEnum.KeyNumber, 81, 1200)]
    [Measures(GeneratorEnum.CoarseTune, GeneratorEnum.FineTune, GeneratorEnum.OverridingRootKey, GeneratorEnum.KeyNumber)]
    public void TuningGenerators_Amounts_MoveThePitchByTheirCents(GeneratorEnum generator, int amount, double cents) =>
        AssertPitch(440 * Math.Pow(2, cents / 1200), 69, (generator, amount));

    [Theory]
    [InlineData(50, 81, 600)]
    [InlineData(0, 100, 0)]
    [InlineData(200, 72, 600)]
    [Measures(GeneratorEnum.ScaleTuning)]
    public void ScaleTuning_CentsPerKey_SpreadsKeysAroundTheRoot(int scale, int key, double cents) =>
        AssertPitch(440 * Math.Pow(2, cents / 1200), key, (GeneratorEnum.ScaleTuning, scale));

    [Fact]
    [Measures(GeneratorEnum.VibratoLFOToPitch, GeneratorEnum.FrequencyVibratoLFO)]
    public void VibratoLFOToPitch_Cents_SwingsByThatMuchAtItsFrequency()
    {
        // 8.176 Hz is 0 absolute cents; -3600 three octaves lower: about 1.022 Hz.
        var synth = Playing.Dry(TestBanks.Sine((GeneratorEnum.VibratoLFOToPitch, 100), (GeneratorEnum.FrequencyVibratoLFO, -3600)));
        synth.NoteOn(0, 69, 127);
        var sound = synth.Left(Playing.Frames(1));
        const double Period = 1 / 1.02197;

        AssertPeak(sound, Period / 4, 100);
        AssertPeak(sound, Period * 3 / 4, -100);
    }

    [Fact]
    [Measures(GeneratorEnum.ModulationLFOToPitch, GeneratorEnum.DelayModulationLFO, GeneratorEnum.FrequencyModulationLFO)]
    public void ModulationLFOToPitch_WithDelay_StartsUpwardsAfterIt()
    {
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.ModulationLFOToPitch, 200), (GeneratorEnum.FrequencyModulationLFO, -3600),
            (GeneratorEnum.DelayModulationLFO, -1200)));
        synth.NoteOn(0, 69, 127);
        var sound = synth.Left(Playing.Frames(1));
        const double Period = 1 / 1.02197;

        Assert.Equal(0, Playing.Cents(Playing.Frequency(sound.AsSpan(0, Playing.Frames(0.45)), 440), 440), 0.5);
        AssertPeak(sound, 0.5 + (Period / 4), 200);
    }

    [Fact]
    [Measures(GeneratorEnum.ModulationLFOToVolume)]
    public void ModulationLFOToVolume_Centibels_RaisesAndLowersByThatMuch()
    {
        var sound = Constant(
            Playing.Frames(1), (GeneratorEnum.ModulationLFOToVolume, 60), (GeneratorEnum.FrequencyModulationLFO, -3600));
        const double Period = 1 / 1.02197;

        Assert.Equal(6, Playing.Decibels(sound[Playing.Frames(Period / 4)]), 0.1);
        Assert.Equal(-6, Playing.Decibels(sound[Playing.Frames(Period * 3 / 4)]), 0.1);
    }

    [Fact]
    [Measures(GeneratorEnum.ModulationEnvelopeToPitch, GeneratorEnum.SustainModulationEnvelope)]
    public void ModulationEnvelopeToPitch_AtSustain_MovesByItsShare()
    {
        // Sustain 40 % below full: 60 % of 500 cents.
        AssertPitch(
            440 * Math.Pow(2, 300.0 / 1200), 69, (GeneratorEnum.ModulationEnvelopeToPitch, 500),
            (GeneratorEnum.DecayModulationEnvelope, -9000), (GeneratorEnum.SustainModulationEnvelope, 400));
    }

    [Fact]
    [Measures(GeneratorEnum.HoldModulationEnvelope, GeneratorEnum.DecayModulationEnvelope)]
    public void ModulationEnvelope_HoldThenDecay_KeepsFullThenFallsStraight()
    {
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.ModulationEnvelopeToPitch, 1200), (GeneratorEnum.HoldModulationEnvelope, -1200),
            (GeneratorEnum.DecayModulationEnvelope, 0), (GeneratorEnum.SustainModulationEnvelope, 1000)));
        synth.NoteOn(0, 69, 127);
        var sound = synth.Left(Playing.Frames(1.6));

        AssertCents(sound, 0.2, 0.45, 1200, 1);
        // A full decay takes a second: after half a second of hold and a quarter of the decay, three quarters remain.
        AssertCents(sound, 0.751 - 0.05, 0.751 + 0.05, 900, 8);
        AssertCents(sound, 1.52, 1.6, 0, 8);
    }

    [Fact]
    [Measures(GeneratorEnum.DelayModulationEnvelope, GeneratorEnum.AttackModulationEnvelope)]
    public void ModulationEnvelope_ConvexAttack_IsStraightInAmplitudeTerms()
    {
        // Convex: 1 + 40/96 log10(x) of the range; 0.8746 at half the attack.
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.ModulationEnvelopeToPitch, 1000), (GeneratorEnum.DelayModulationEnvelope, -1200),
            (GeneratorEnum.AttackModulationEnvelope, 0)));
        synth.NoteOn(0, 69, 127);
        var sound = synth.Left(Playing.Frames(1.6));

        AssertCents(sound, 0.05, 0.45, 0, 1);
        AssertCents(sound, 0.98, 1.02, 874.6, 8);
    }

    [Fact]
    [Measures(GeneratorEnum.ReleaseModulationEnvelope)]
    public void ReleaseModulationEnvelope_OneSecond_FallsStraightFromFull()
    {
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.ModulationEnvelopeToPitch, 1000), (GeneratorEnum.ReleaseModulationEnvelope, 0),
            (GeneratorEnum.ReleaseVolumeEnvelope, 3600)));
        synth.NoteOn(0, 69, 127);
        synth.Left(1000);
        synth.NoteOff(0, 69);
        var sound = synth.Left(Playing.Frames(1));

        AssertCents(sound, 0.48, 0.52, 500, 8);
    }

    [Theory]
    [InlineData(8000, 831)] // 8.176 Hz times 2^(8000/1200)
    [InlineData(10000, 2637)]
    [Measures(GeneratorEnum.InitialFilterCutoffFrequency)]
    public void InitialFilterCutoffFrequency_AbsoluteCents_IsThreeDecibelsDownThere(int cents, double hertz)
    {
        var flat = Spectrum(hertz, []);
        var filtered = Spectrum(hertz, [(GeneratorEnum.InitialFilterCutoffFrequency, cents)]);
        var below = Spectrum(hertz / 8, [(GeneratorEnum.InitialFilterCutoffFrequency, cents)]) / Spectrum(hertz / 8, []);
        var above = Spectrum(hertz * 4, [(GeneratorEnum.InitialFilterCutoffFrequency, cents)]) / Spectrum(hertz * 4, []);

        Assert.Equal(-3, Playing.Decibels(filtered / flat), 0.3);
        Assert.Equal(0, Playing.Decibels(below), 0.1);
        // Two poles: 12 dB an octave, slightly more near half the sample rate.
        Assert.InRange(Playing.Decibels(above), -28, -23.5);
    }

    [Fact]
    [Measures(GeneratorEnum.InitialFilterQ)]
    public void InitialFilterQ_TenDecibels_PeaksTenAboveAndLowersTheRestByFive()
    {
        // The example of section 8.1.3, generator 9.
        (GeneratorEnum, int)[] resonant = [(GeneratorEnum.InitialFilterCutoffFrequency, 8000), (GeneratorEnum.InitialFilterQ, 100)];
        var low = Playing.Decibels(Spectrum(40, resonant) / Spectrum(40, []));
        var peak = Enumerable.Range(76, 10).Max(i => Playing.Decibels(Spectrum(i * 10, resonant) / Spectrum(i * 10, [])));

        Assert.Equal(-5, low, 0.1);
        Assert.Equal(5, peak, 0.2);
    }

    [Fact]
    [Measures(GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency)]
    public void ModulationEnvelopeToFilterCutoffFrequency_Cents_OpensTheFilter()
    {
        (GeneratorEnum, int)[] opened =
        [
            (GeneratorEnum.InitialFilterCutoffFrequency, 8000), (GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency, 2000),
        ];

        Assert.Equal(-3, Playing.Decibels(Spectrum(2637, opened) / Spectrum(2637, [])), 0.3);
    }

    [Fact]
    [Measures(GeneratorEnum.ModulationLFOToFilterCutoffFrequency)]
    public void ModulationLFOToFilterCutoffFrequency_Cents_MovesTheFilterBothWays()
    {
        // With a tone at the cutoff, 1,200 cents up lets it through and 1,200 down attenuates it by 12 dB.
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.InitialFilterCutoffFrequency, 6900), (GeneratorEnum.ModulationLFOToFilterCutoffFrequency, 1200),
            (GeneratorEnum.FrequencyModulationLFO, -3600)));
        synth.NoteOn(0, 69, 127);
        var sound = synth.Left(Playing.Frames(1));
        const double Period = 1 / 1.02197;

        Assert.Equal(-0.26, LevelAt(Period / 4), 0.15);
        Assert.Equal(-12.3, LevelAt(Period * 3 / 4), 0.4);

        double LevelAt(double seconds) =>
            Playing.Decibels(Playing.Rms(sound.AsSpan(Playing.Frames(seconds) - 327, 654)) * Math.Sqrt(2));
    }

    [Theory]
    [InlineData(GeneratorEnum.ReverbEffectsSend)]
    [InlineData(GeneratorEnum.ChorusEffectsSend)]
    [Measures(GeneratorEnum.ReverbEffectsSend, GeneratorEnum.ChorusEffectsSend)]
    public void EffectsSend_TenthsOfAPercent_ScalesWhatTheEffectAdds(GeneratorEnum send)
    {
        var half = Wet(500);
        var whole = Wet(1000);

        Assert.Equal(0, Wet(0), 1e-9);
        Assert.Equal(2, whole / half, 0.01);
        // Steady noise against the dry note; ReferenceEffectsTests says why.
        Assert.Equal(send == GeneratorEnum.ReverbEffectsSend ? 0 : 16.6, Playing.Decibels(whole / DryLevel()), 3.0);

        double Wet(int amount)
        {
            var wet = Sound(amount, dry: false);
            var dry = Sound(amount, dry: true);
            return Playing.Rms([.. wet.Zip(dry, (w, d) => w - d)]);
        }

        double DryLevel() => Playing.Rms(Sound(0, dry: true));

        float[] Sound(int amount, bool dry)
        {
            var synth = new SoundFontSynth(TestBanks.Noise((send, amount)), Playing.Rate, new SoundFontSynthOptions { Dry = dry });
            synth.Control(0, 91, 0);
            synth.NoteOn(0, Key, 127);
            synth.Left(Playing.Frames(1));
            return synth.Left(Playing.Frames(0.5));
        }
    }

    [Fact]
    [Measures(GeneratorEnum.Velocity)]
    public void Velocity_Override_PlaysAtItWhateverIsStruck()
    {
        var synth = Playing.Dry(TestBanks.Constant((GeneratorEnum.Velocity, 64)));
        synth.NoteOn(0, Key, 10);

        Assert.Equal(40 * Math.Log10(64.0 / 127), Playing.Decibels(synth.Left(400)[^1]), 0.05);
    }

    [Fact]
    [Measures(GeneratorEnum.StartAddressOffset)]
    public void StartAddressOffset_Points_StartsTheSampleLater()
    {
        // A staircase of 100 points a step: the step shows the position.
        short[] stairs = [.. Enumerable.Range(0, 1000).Select(i => (short)(1000 * (1 + (i / 100))))];
        var synth = Playing.Dry(TestBanks.Of(stairs, 0, 0, 0, (GeneratorEnum.StartAddressOffset, 350)));
        synth.NoteOn(0, Key, 127);
        var sound = synth.Left(700);

        Assert.Equal(5000 / 16384.0, sound[100], 0.01);
        Assert.Equal(10000 / 16384.0, sound[620], 0.01);
    }

    [Fact]
    [Measures(GeneratorEnum.EndAddressOffset)]
    public void EndAddressOffset_Points_EndsTheSampleEarlier()
    {
        var synth = Playing.Dry(TestBanks.Of(TestBanks.ConstantPoints(), 0, 0, 0, (GeneratorEnum.EndAddressOffset, -28)));
        synth.NoteOn(0, Key, 127);
        var sound = synth.Left(400);

        Assert.True(sound[95] > 0.9);
        Assert.True(Math.Abs(sound[130]) < 0.01);
    }

    [Fact]
    [Measures(GeneratorEnum.StartLoopAddressOffset, GeneratorEnum.EndLoopAddressOffset)]
    public void LoopAddressOffsets_Points_MoveTheLoop()
    {
        short[] stairs = [.. Enumerable.Range(0, 1000).Select(i => (short)(1000 * (1 + (i / 100))))];
        var synth = Playing.Dry(TestBanks.Of(
            stairs, 1, 100, 200, (GeneratorEnum.StartLoopAddressOffset, 500), (GeneratorEnum.EndLoopAddressOffset, 500)));
        synth.NoteOn(0, Key, 127);

        // Points 600-700 hold 7,000.
        Assert.All(synth.Left(2000)[720..], v => Assert.Equal(7000 / 16384.0, v, 0.02));
    }

    [Fact]
    [Measures(
        GeneratorEnum.StartAddressCoarseOffset, GeneratorEnum.EndAddressCoarseOffset, GeneratorEnum.StartLoopAddressCoarseOffset,
        GeneratorEnum.EndLoopAddressCoarseOffset)]
    public void CoarseAddressOffsets_Units_Are32768Points()
    {
        // A step every 32,768 points shows the position.
        short[] stairs = [.. Enumerable.Range(0, 4 * 32768).Select(i => (short)(2000 * (1 + (i / 32768))))];
        var later = Playing.Dry(TestBanks.Of(stairs, 0, 0, 0, (GeneratorEnum.StartAddressCoarseOffset, 2)));
        later.NoteOn(0, Key, 127);
        Assert.Equal(6000 / 16384.0, later.Left(500)[^1], 0.001);

        var shorter = Playing.Dry(TestBanks.Of(stairs, 0, 0, 0, (GeneratorEnum.EndAddressCoarseOffset, -3)));
        shorter.NoteOn(0, Key, 127);
        Assert.Equal(2000 / 16384.0, shorter.Left(32760)[^1], 0.001);
        shorter.Left(500);
        Assert.Equal(0, shorter.ActiveVoices);

        var looped = Playing.Dry(TestBanks.Of(
            stairs, 1, 100, 200, (GeneratorEnum.StartLoopAddressCoarseOffset, 1), (GeneratorEnum.EndLoopAddressCoarseOffset, 1)));
        looped.NoteOn(0, Key, 127);
        Assert.Equal(4000 / 16384.0, looped.Left(70_000)[^1], 0.001);
    }

    [Fact]
    [Measures(GeneratorEnum.DelayVibratoLFO)]
    public void DelayVibratoLFO_HalfSecond_KeepsThePitchUntilThen()
    {
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.VibratoLFOToPitch, 200), (GeneratorEnum.FrequencyVibratoLFO, -3600), (GeneratorEnum.DelayVibratoLFO, -1200)));
        synth.NoteOn(0, 69, 127);
        var sound = synth.Left(Playing.Frames(1));

        Assert.Equal(0, Playing.Cents(Playing.Frequency(sound.AsSpan(0, Playing.Frames(0.45)), 440), 440), 0.5);
        AssertPeak(sound, 0.5 + (0.25 / 1.02197), 200);
    }

    [Theory]
    [Measures(GeneratorEnum.KeyNumberToModulationEnvelopeHold)]
    [InlineData(81, 0.25)]
    [InlineData(69, 0.42)]
    public void KeyNumberToModulationEnvelopeHold_Hundred_ShortensTheHoldPerKeyUp(int key, double seconds)
    {
        // A hold of 2^(-1/2) s at key 60: 900 and 2,100 timecents less at these keys.
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.ModulationEnvelopeToPitch, 600), (GeneratorEnum.HoldModulationEnvelope, -300),
            (GeneratorEnum.DecayModulationEnvelope, -12000), (GeneratorEnum.SustainModulationEnvelope, 1000),
            (GeneratorEnum.KeyNumberToModulationEnvelopeHold, 100)));
        synth.NoteOn(0, key, 127);
        var sound = synth.Left(Playing.Frames(0.7));
        var hertz = 440 * Math.Pow(2, (key - 69) / 12.0);

        Assert.Equal(seconds, Math.Pow(2, (-300 - ((key - 60) * 100)) / 1200.0), 0.09);
        var hold = Math.Pow(2, (-300 - ((key - 60) * 100)) / 1200.0);
        Assert.Equal(
            600, Playing.Cents(Playing.Frequency(sound.AsSpan(Playing.Frames(hold - 0.06), Playing.Frames(0.05)), hertz * 1.414), hertz), 3.0);
        Assert.Equal(
            0, Playing.Cents(Playing.Frequency(sound.AsSpan(Playing.Frames(hold + 0.01), Playing.Frames(0.05)), hertz), hertz), 3.0);
    }

    [Fact]
    [Measures(GeneratorEnum.KeyNumberToModulationEnvelopeDecay)]
    public void KeyNumberToModulationEnvelopeDecay_Hundred_HalvesTheDecayPerOctaveUp()
    {
        // One second at key 60 and half of it at 72, so half the decay is over after a quarter of a second.
        var synth = Playing.Dry(TestBanks.Sine(
            (GeneratorEnum.ModulationEnvelopeToPitch, 1000), (GeneratorEnum.DecayModulationEnvelope, 0),
            (GeneratorEnum.SustainModulationEnvelope, 1000), (GeneratorEnum.KeyNumberToModulationEnvelopeDecay, 100)));
        synth.NoteOn(0, 72, 127);
        var sound = synth.Left(Playing.Frames(0.6));
        var hertz = 440 * Math.Pow(2, 3 / 12.0);
        var part = sound.AsSpan(Playing.Frames(0.251 - 0.02), Playing.Frames(0.04));

        Assert.Equal(500, Playing.Cents(Playing.Frequency(part, hertz * Math.Pow(2, 500.0 / 1200)), hertz), 10.0);
    }

    [Theory]
    [Measures(GeneratorEnum.KeyRange, GeneratorEnum.VelocityRange)]
    [InlineData(60, 80, true)]
    [InlineData(59, 80, false)]
    [InlineData(73, 80, false)]
    [InlineData(72, 100, true)]
    [InlineData(72, 101, false)]
    [InlineData(60, 63, false)]
    public void Ranges_KeysAndVelocities_SoundInsideOnly(int key, int velocity, bool sounds)
    {
        var synth = Playing.Dry(TestBanks.Constant(
            (GeneratorEnum.KeyRange, BankBuilder.Zone.Range(60, 72)), (GeneratorEnum.VelocityRange, BankBuilder.Zone.Range(64, 100))));
        synth.NoteOn(0, key, velocity);

        Assert.Equal(sounds, synth.Left(200)[^1] > 0);
    }

    private static void AssertPitch(double hertz, int key, params (GeneratorEnum, int)[] generators)
    {
        var synth = Playing.Dry(TestBanks.Sine(generators));
        synth.NoteOn(0, key, 127);
        synth.Left(2000);

        Assert.Equal(0, Playing.Cents(Playing.Frequency(synth.Left(Playing.Frames(1)), hertz), hertz), 0.1);
    }

    private static void AssertPeak(float[] sound, double seconds, double cents) =>
        // The mean of a triangle over the 30 ms around its peak is slightly less than the peak.
        AssertCents(sound, seconds - 0.015, seconds + 0.015, cents, 5);

    private static void AssertCents(float[] sound, double from, double to, double cents, double tolerance)
    {
        var part = sound.AsSpan(Playing.Frames(from)..Playing.Frames(to));
        var expected = 440 * Math.Pow(2, cents / 1200);
        Assert.Equal(cents, Playing.Cents(Playing.Frequency(part, expected), 440), tolerance);
    }

    /// <summary>The level of noise around a frequency; the noise is always the same, so ratios are exact.</summary>
    private static double Spectrum(double hertz, (GeneratorEnum, int)[] generators)
    {
        var synth = Playing.Dry(TestBanks.Noise(generators));
        synth.NoteOn(0, Key, 127);
        var sound = synth.Left(Playing.Frames(1.5));
        // Three neighbouring lines, so that a random gap in the noise does not matter.
        return Math.Sqrt(Enumerable.Range(-1, 3).Sum(i => Math.Pow(Playing.Amplitude(sound.AsSpan(4800), hertz + i), 2)));
    }
}
