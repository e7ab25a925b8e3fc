using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>The default modulators (SoundFont 2.04, section 8.4) and the controllers of MIDI 1.0, measured in the sound.</summary>
public class ControllerTests
{
    private const int Key = 60;

    [Theory]
    [InlineData(127)]
    [InlineData(100)]
    [InlineData(64)]
    [InlineData(20)]
    [MeasuresModulator(1)]
    public void Velocity_Default_AttenuatesByFortyLogarithms(int velocity)
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, velocity);

        Assert.Equal(40 * Math.Log10(velocity / 127.0), Playing.Decibels(synth.Left(1000)[^1]), 0.05);
    }

    [Theory]
    [InlineData(7)]
    [InlineData(11)]
    [MeasuresModulator(5, 7)]
    public void VolumeAndExpression_Default_AttenuateByFortyLogarithms(int controller)
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, 127);
        synth.Left(1000);
        synth.Control(0, controller, 64);

        Assert.Equal(40 * Math.Log10(64 / 127.0), Playing.Decibels(synth.Left(1000)[^1]), 0.05);
    }

    [Fact]
    public void Channel_AtTheStart_HasVolumeOfAHundred()
    {
        // General MIDI: volume 100, which is 4.15 dB of attenuation.
        var synth = new SoundFontSynth(TestBanks.Constant(), Playing.Rate, new SoundFontSynthOptions { Dry = true });
        synth.NoteOn(0, Key, 127);

        Assert.Equal(-6.02 - 3.01 - 4.15, Playing.Decibels(synth.Left(1000)[^1]), 0.05);
    }

    [Theory]
    [InlineData(0, 1.4142, 0)]
    [InlineData(32, 1.3066, 0.5412)]
    [InlineData(64, 1, 1)]
    [InlineData(96, 0.5412, 1.3066)]
    [InlineData(127, 0.0174, 1.4141)]
    [MeasuresModulator(6)]
    public void Pan_Default_SweepsTheWholeWidth(int value, double left, double right)
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.Control(0, 10, value);
        synth.NoteOn(0, Key, 127);
        var (l, r) = synth.Both(500);

        Assert.Equal(left, l[^1], 0.003);
        Assert.Equal(right, r[^1], 0.003);
    }

    [Fact]
    [MeasuresModulator(2)]
    public void Velocity_Default_ClosesTheFilter()
    {
        // 2,400 cents down at velocity 0 and three quarters of that at 32, so 13,500 - 1,800 = 11,700 cents: 7,040 Hz, 3 dB down there.
        double Level(int velocity, BankBuilder.Zone zone)
        {
            var synth = Playing.Dry(TestBanks.Sine(zone));
            synth.NoteOn(0, 117, velocity);
            synth.Left(4000);
            return Playing.Rms(synth.Left(9600));
        }

        var without = new BankBuilder.Zone { Modulators = [(0x0102, GeneratorEnum.InitialFilterCutoffFrequency, 0, 0, 0)] };

        Assert.Equal(-3, Playing.Decibels(Level(32, new BankBuilder.Zone()) / Level(32, without)), 0.3);
    }

    [Theory]
    [InlineData(16383, 2, 0, 200)]
    [InlineData(0, 2, 0, -200)]
    [InlineData(16383, 12, 0, 1200)]
    [InlineData(16383, 0, 50, 50)]
    [InlineData(12288, 2, 0, 100)]
    [MeasuresModulator(10)]
    public void PitchWheel_WithItsRange_BendsByThatMany(int wheel, int semitones, int cents, double expected)
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        Parameter(synth, 0, semitones, cents);
        synth.PitchWheel(0, wheel);

        Assert.Equal(expected, CentsOf(synth, expected), 0.3);
    }

    [Theory]
    [InlineData(1, 96, 0, 50)] // fine: 64 is the middle
    [InlineData(1, 64, 64, 0.78125)] // one of 128 low steps is 100/8192 cents times 64
    [InlineData(2, 67, 0, 300)] // coarse: semitones
    public void RegisteredParameters_Tuning_MovesThePitch(int parameter, int msb, int lsb, double expected)
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        Parameter(synth, parameter, msb, lsb);

        Assert.Equal(expected, CentsOf(synth, expected), 0.1);
    }

    [Fact]
    public void DataEntry_AfterNonRegisteredParameter_ChangesNothing()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Control(0, 101, 0);
        synth.Control(0, 100, 2);
        synth.Control(0, 99, 1);
        synth.Control(0, 6, 80);

        Assert.Equal(0, CentsOf(synth, 0), 0.1);
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    [MeasuresModulator(3, 4)]
    public void ModulationWheelAndPressure_Default_AddFiftyCentsOfVibrato(bool pressure)
    {
        var synth = Playing.Dry(TestBanks.Sine((GeneratorEnum.FrequencyVibratoLFO, -3600)));
        if (pressure)
            synth.ChannelPressure(0, 127);
        else
            synth.Control(0, 1, 127);
        synth.NoteOn(0, 69, 127);
        var sound = synth.Left(Playing.Frames(1));
        const double Peak = 0.25 / 1.02197;
        var part = sound.AsSpan(Playing.Frames(Peak - 0.015), Playing.Frames(0.03));

        Assert.Equal(50, Playing.Cents(Playing.Frequency(part, 452), 440), 3.0);
    }

    [Fact]
    public void KeyPressure_AsASource_MovesItsOwnKeyOnly()
    {
        // Source 10, polyphonic pressure, linear, unipolar, positive (8.2.1): an octave up at 128 of 128.
        var zone = new BankBuilder.Zone { Modulators = [(0x000A, GeneratorEnum.FineTune, 1200, 0, 0)] };
        var synth = Playing.Dry(TestBanks.Sine(zone));
        synth.NoteOn(0, 69, 127);
        synth.Left(1000);
        Assert.Equal(440, Playing.Frequency(synth.Left(4800), 440), 0.1);

        synth.KeyPressure(0, 70, 64);
        Assert.Equal(440, Playing.Frequency(synth.Left(4800), 440), 0.1);
        synth.KeyPressure(0, 69, 64);
        synth.Left(1000);
        Assert.Equal(440 * Math.Pow(2, 0.5), Playing.Frequency(synth.Left(4800), 622), 0.2);

        synth.Control(0, 121, 0);
        synth.Left(1000);
        Assert.Equal(440, Playing.Frequency(synth.Left(4800), 440), 0.1);
    }

    [Theory]
    [InlineData(91)]
    [InlineData(93)]
    [MeasuresModulator(8, 9)]
    public void EffectSends_Default_AddAFifthAtMost(int controller)
    {
        double Wet(int value, int amount)
        {
            var send = controller == 91 ? GeneratorEnum.ReverbEffectsSend : GeneratorEnum.ChorusEffectsSend;
            float[] Sound(bool dry)
            {
                var synth = new SoundFontSynth(TestBanks.Noise((send, amount)), Playing.Rate, new SoundFontSynthOptions { Dry = dry });
                synth.Control(0, 91, 0);
                synth.Control(0, controller, value);
                synth.NoteOn(0, Key, 127);
                return synth.Left(Playing.Frames(1));
            }

            return Playing.Rms([.. Sound(false).Zip(Sound(true), (w, d) => w - d)]);
        }

        Assert.Equal(200.0 * 127 / 128 / 1000, Wet(127, 0) / Wet(0, 1000), 0.002);
    }

    [Fact]
    public void Sustain_PedalDown_HoldsUntilItGoesUp()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.Control(0, 64, 127);
        synth.NoteOn(0, Key, 127);
        synth.NoteOff(0, Key);
        Assert.Equal(1, synth.Left(4800)[^1], 0.01);

        synth.Control(0, 64, 63);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Theory]
    [InlineData(120)]
    [InlineData(123)]
    [InlineData(126)]
    public void ChannelMode_Messages_EndTheNotesOfTheirChannelOnly(int controller)
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, 127);
        synth.NoteOn(1, Key, 127);
        synth.Control(0, controller, 0);
        synth.Left(4800);

        Assert.Equal(1, synth.ActiveVoices);
    }

    [Fact]
    public void ResetAllControllers_RP015_KeepsVolumeAndPanResetsTheRest()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.Control(0, 7, 64);
        synth.Control(0, 11, 10);
        synth.PitchWheel(0, 16383);
        synth.NoteOn(0, 69, 127);
        synth.Control(0, 121, 0);
        synth.Left(2000);

        Assert.Equal(0, CentsOf(synth, 0), 0.1);
        Assert.Equal(40 * Math.Log10(64 / 127.0), Playing.Decibels(Playing.Rms(synth.Left(4800)) * Math.Sqrt(2)), 0.1);
    }

    [Fact]
    public void BankSelectAndProgram_Numbers_ChooseThePresetOfLaterNotes()
    {
        var synth = new SoundFontSynth(TestBanks.Load(TestBanks.VariedFile()), Playing.Rate);
        synth.Control(0, 0, 5);
        synth.Program(0, 40);

        Assert.Equal("layered", synth.PresetOn(0)!.Name);
        Assert.Equal("drums", synth.PresetOn(9)!.Name);
        Assert.Equal(1, synth.SubstitutedPrograms);
        synth.SetPercussion(1, true);
        synth.Program(1, 0);
        Assert.Equal("drums", synth.PresetOn(1)!.Name);
    }

    [Fact]
    public void NoteOn_VelocityZero_IsANoteOff()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.NoteOn(0, Key, 127);
        synth.Left(100);
        synth.NoteOn(0, Key, 0);
        synth.Left(4800);

        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void Modulator_OfTheBank_FollowsItsController()
    {
        // Breath (2), bipolar and linear, 1,200 cents of pitch, absolute value: both ends raise the pitch.
        var zone = new BankBuilder.Zone { Modulators = [(0x0282, GeneratorEnum.FineTune, 1200, 0, 2)] };
        var synth = Playing.Dry(TestBanks.Sine(zone));
        synth.Control(0, 2, 32);
        synth.NoteOn(0, 69, 127);
        Assert.Equal(600, CentsOf(synth, 600), 0.1);

        synth.Control(0, 2, 96);
        Assert.Equal(600, CentsOf(synth, 600), 0.1);
        synth.Control(0, 2, 64);
        Assert.Equal(0, CentsOf(synth, 0), 0.1);
    }

    private static void Parameter(SoundFontSynth synth, int number, int msb, int lsb)
    {
        synth.Control(0, 101, 0);
        synth.Control(0, 100, number);
        synth.Control(0, 6, msb);
        synth.Control(0, 38, lsb);
    }

    private static double CentsOf(SoundFontSynth synth, double expected)
    {
        synth.Left(2000);
        return Playing.Cents(Playing.Frequency(synth.Left(Playing.Frames(0.5)), 440 * Math.Pow(2, expected / 1200)), 440);
    }
}
