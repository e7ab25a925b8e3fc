using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using NAudio.SoundFont;
using Xunit;
using Zone = GrooveLab.Audio.Tests.SoundFonts.BankBuilder.Zone;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Sostenuto, mono and poly mode and legato (MIDI 1.0 Detailed Specification), measured in the sound.</summary>
public class PedalAndModeTests
{
    private const int Sostenuto = 66;
    private const int Legato = 68;
    private const int Mono = 126;
    private const int Poly = 127;

    [Fact]
    public void Sostenuto_PressedWhileAKeyIsDown_HoldsThatNoteAndNoLaterOne()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Control(0, Sostenuto, 64);
        synth.NoteOn(0, 81, 127);
        synth.Left(100);
        synth.NoteOff(0, 69);
        synth.NoteOff(0, 81);
        synth.Left(4800);

        Assert.True(HasTone(synth, 440));
        Assert.False(HasTone(synth, 880));
        synth.Control(0, Sostenuto, 63);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void Sostenuto_ReleasedWhileTheKeyIsDown_LeavesTheNoteToItsKey()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Control(0, Sostenuto, 127);
        synth.Left(1000);
        synth.Control(0, Sostenuto, 0);
        synth.Left(4800);
        Assert.True(HasTone(synth, 440));

        synth.NoteOff(0, 69);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void Sostenuto_WithSustainPedal_EachHoldsItsOwnNotes()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Control(0, Sostenuto, 127);
        synth.Control(0, 64, 127);
        synth.NoteOn(0, 81, 127);
        synth.Left(100);
        synth.NoteOff(0, 69);
        synth.NoteOff(0, 81);
        synth.Left(4800);
        Assert.True(HasTone(synth, 440) && HasTone(synth, 880));

        synth.Control(0, 64, 0);
        synth.Left(4800);
        Assert.True(HasTone(synth, 440));
        Assert.False(HasTone(synth, 880));
    }

    [Fact]
    public void Sostenuto_ReleasedUnderSustainPedal_LeavesTheNoteToIt()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Control(0, Sostenuto, 127);
        synth.NoteOff(0, 69);
        synth.Control(0, 64, 127);
        synth.Control(0, Sostenuto, 0);
        synth.Left(4800);
        Assert.True(HasTone(synth, 440));

        synth.Control(0, 64, 0);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void Sostenuto_KeyHeldOnlyBySustainPedal_IsNotTaken()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.Control(0, 64, 127);
        synth.NoteOn(0, 69, 127);
        synth.Left(100);
        synth.NoteOff(0, 69);
        synth.Control(0, Sostenuto, 127);
        synth.Control(0, 64, 0);
        synth.Left(4800);

        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void ResetAllControllers_UnderSostenuto_ReleasesTheNoteAndThePedal()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Control(0, Sostenuto, 127);
        synth.Left(100);
        synth.NoteOff(0, 69);
        synth.Control(0, 121, 0);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);

        synth.NoteOn(0, 69, 127);
        synth.Left(100);
        synth.NoteOff(0, 69);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    public void MonoMode_SecondKey_PlaysAloneFromTheStartOfItsSound(int channels)
    {
        var synth = Playing.Dry(TestBanks.Sine((GeneratorEnum.AttackVolumeEnvelope, -1200)));
        synth.Control(0, Mono, channels);
        synth.NoteOn(0, 69, 127);
        synth.Left(Playing.Frames(0.6));
        synth.NoteOn(0, 81, 127);
        synth.Left(Playing.Frames(0.02));

        Assert.Equal(1, synth.ActiveVoices);
        // An attack of half a second is at a tenth of its level after 0.05 s.
        var sound = synth.Left(2400);
        Assert.InRange(Playing.Amplitude(sound, 880), 0.03, 0.25);
        Assert.InRange(Playing.Amplitude(sound, 440), 0, 0.01);
    }

    [Fact]
    public void MonoMode_LatestKeyUp_ReturnsToTheKeyStillDown()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.Control(0, Mono, 1);
        synth.NoteOn(0, 69, 127);
        synth.NoteOn(0, 76, 127);
        synth.NoteOn(0, 81, 127);
        synth.NoteOff(0, 76);
        synth.Left(1000);
        Assert.True(HasTone(synth, 880));

        synth.NoteOff(0, 81);
        synth.Left(1000);
        Assert.True(HasTone(synth, 440));
        Assert.Equal(1, synth.ActiveVoices);

        synth.NoteOff(0, 69);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);
    }

    // Once a bug: the key that was still noted as down started when the other went up.
    [Fact]
    public void MonoMode_AllSoundOff_ForgetsTheKeysThatAreDown()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.Control(0, Mono, 1);
        synth.NoteOn(0, 69, 127);
        synth.NoteOn(0, 81, 127);
        synth.Control(0, 120, 0);
        synth.Left(4800);
        synth.NoteOff(0, 81);
        synth.Left(1000);

        Assert.Equal(0, synth.ActiveVoices);
    }

    // As switches send it; 16 channels at most can be meant.
    [Fact]
    public void MonoMode_ValueOfASwitch_CoversItsChannelAlone()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.Control(0, Mono, 127);
        foreach (var channel in new[] { 0, 1 })
        {
            synth.NoteOn(channel, 60, 100);
            synth.NoteOn(channel, 64, 100);
        }
        synth.Left(4800);

        Assert.Equal(1 + 2, synth.ActiveVoices);
    }

    // Once a bug: the old sound went on under the new one.
    [Fact]
    public void Legato_ProgramChangedInBetween_PlaysTheNewSoundAlone()
    {
        var synth = Playing.Dry(TestBanks.Load(TestBanks.VariedBehindPlainFile()));
        synth.Program(0, 1);
        synth.Control(0, Legato, 127);
        synth.NoteOn(0, 50, 100);
        synth.Left(1000);
        synth.Program(0, 0);
        synth.NoteOn(0, 52, 100);
        synth.Left(4800);

        Assert.Equal(1, synth.ActiveVoices);
    }

    [Fact]
    public void MonoMode_SeveralChannels_CoversThemAndPoly127EndsIt()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.Control(2, Mono, 3);
        for (var channel = 0; channel < 7; channel++)
        {
            synth.NoteOn(channel, 60, 100);
            synth.NoteOn(channel, 64, 100);
        }
        synth.Left(4800);
        // Channels 2, 3 and 4 have one note each, the other four have two.
        Assert.Equal(3 + 8, synth.ActiveVoices);

        synth.Control(2, Poly, 0);
        synth.Left(4800);
        Assert.Equal(8, synth.ActiveVoices);
        synth.NoteOn(4, 60, 100);
        synth.NoteOn(4, 64, 100);
        Assert.Equal(10, synth.ActiveVoices);
    }

    [Fact]
    public void MonoMode_MoreChannelsThanACableHas_EndsAtItsLast()
    {
        var synth = new SoundFontSynth(TestBanks.Constant(), Playing.Rate, new SoundFontSynthOptions { ChannelCount = 32, Dry = true });
        synth.Control(14, Mono, 16);
        foreach (var channel in new[] { 15, 16 })
        {
            synth.NoteOn(channel, 60, 100);
            synth.NoteOn(channel, 64, 100);
        }
        synth.Left(4800);

        Assert.Equal(1 + 2, synth.ActiveVoices);
    }

    [Fact]
    public void MonoMode_Percussion_KeepsAllItsKeys()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.SetPercussion(0, true);
        synth.Control(0, Mono, 1);
        synth.NoteOn(0, 60, 100);
        synth.NoteOn(0, 64, 100);
        synth.Left(4800);

        Assert.Equal(2, synth.ActiveVoices);
    }

    [Fact]
    public void Legato_NewKeyWhileOneIsDown_ChangesPitchOnItsFrameWithoutANewAttack()
    {
        var synth = Playing.Dry(TestBanks.Sine((GeneratorEnum.AttackVolumeEnvelope, -1200)));
        synth.Control(0, Legato, 127);
        synth.NoteOn(0, 69, 127);
        synth.Left(Playing.Frames(1));
        synth.NoteOn(0, 81, 127);
        var sound = synth.Left(4800);

        Assert.Equal(880, Playing.Frequency(sound, 880), 0.5);
        Assert.Equal(1, Playing.Amplitude(sound, 880), 0.02);
        Assert.Equal(1, synth.ActiveVoices);
        synth.NoteOff(0, 81);
        Assert.Equal(440, Playing.Frequency(synth.Left(4800), 440), 0.5);
        synth.NoteOff(0, 69);
        synth.Left(4800);
        Assert.Equal(0, synth.ActiveVoices);
    }

    [Fact]
    public void Legato_KeyAlreadyUp_StartsANewAttack()
    {
        var synth = Playing.Dry(TestBanks.Sine((GeneratorEnum.AttackVolumeEnvelope, -1200)));
        synth.Control(0, Legato, 127);
        synth.Control(0, 64, 127);
        synth.NoteOn(0, 69, 127);
        synth.Left(Playing.Frames(1));
        synth.NoteOff(0, 69);
        synth.NoteOn(0, 81, 127);
        synth.Left(Playing.Frames(0.02));

        Assert.InRange(Playing.Amplitude(synth.Left(2400), 880), 0.03, 0.25);
        Assert.Equal(1, synth.ActiveVoices);
    }

    [Fact]
    public void Legato_KeyOfAnotherSample_StartsIt()
    {
        // The sine answers up to key 72, the constant above.
        var builder = new BankBuilder();
        var sine = builder.AddSample(
            TestBanks.SinePoints(4), 440 * TestBanks.SinePeriod, 69, TestBanks.SinePeriod, 3 * TestBanks.SinePeriod);
        var constant = builder.AddSample(Enumerable.Repeat((short)16384, 128).ToArray(), Playing.Rate, 60, 16, 112);
        var index = builder.AddInstrument(
            TestBanks.Sounding(new Zone((GeneratorEnum.KeyRange, Zone.Range(0, 72))), sine, 1),
            TestBanks.Sounding(new Zone((GeneratorEnum.KeyRange, Zone.Range(73, 127))), constant, 1));
        builder.AddPreset(0, 0, "split", new Zone((GeneratorEnum.Instrument, index)));
        var synth = Playing.Dry(TestBanks.Load(builder.Build()));
        synth.Control(0, Legato, 127);
        synth.NoteOn(0, 69, 127);
        synth.Left(1000);
        synth.NoteOn(0, 76, 127);
        synth.Left(4800);

        Assert.Equal(1, synth.ActiveVoices);
        Assert.Equal(1, synth.Left(100)[^1], 0.01);
    }

    [Fact]
    public void Legato_FootswitchUp_PlaysChordsAgain()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.Control(0, Legato, 127);
        synth.Control(0, Legato, 0);
        synth.NoteOn(0, 60, 127);
        synth.NoteOn(0, 64, 127);
        synth.Left(4800);

        Assert.Equal(2, synth.ActiveVoices);
    }

    [Fact]
    public void Reset_AfterMonoMode_PlaysChordsAgain()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.Control(0, Mono, 1);
        synth.Reset();
        synth.NoteOn(0, 60, 127);
        synth.NoteOn(0, 64, 127);
        synth.Left(4800);

        Assert.Equal(2, synth.ActiveVoices);
    }

    private static bool HasTone(SoundFontSynth synth, double hertz) => Playing.Amplitude(synth.Left(4800), hertz) > 0.1;
}
