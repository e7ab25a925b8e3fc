using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>SoundFont's non-registered parameters (SoundFont 2.04, section 9.6), measured in the sound.</summary>
public class SoundFontParameterTests
{
    [Theory]
    [InlineData(GeneratorEnum.FineTune, 50, 50)]
    [InlineData(GeneratorEnum.FineTune, -2400, -2400)]
    [InlineData(GeneratorEnum.CoarseTune, -5, -500)]
    public void Set_Tuning_MovesASoundingNote(GeneratorEnum generator, int steps, double cents)
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Left(1000);
        Set(synth, generator, steps);

        Assert.Equal(cents, CentsOf(synth, cents), 0.3);
    }

    [Fact]
    public void Set_Attenuation_LowersSoundingAndLaterNotesByCentibels()
    {
        var synth = Playing.Dry(TestBanks.Constant((GeneratorEnum.InitialAttenuation, 30)));
        synth.NoteOn(0, 60, 127);
        Set(synth, GeneratorEnum.InitialAttenuation, 100);
        Assert.Equal(-13, Playing.Decibels(synth.Left(1000)[^1]), 0.05);

        synth.Control(0, 120, 0);
        synth.Left(1000);
        synth.NoteOn(0, 60, 127);
        Assert.Equal(-13, Playing.Decibels(synth.Left(1000)[^1]), 0.05);
        Set(synth, GeneratorEnum.InitialAttenuation, 0);
        Assert.Equal(-3, Playing.Decibels(synth.Left(1000)[^1]), 0.05);
    }

    [Fact]
    public void Set_FilterCutoff_CountsInStepsOfTwoCents()
    {
        // From 13,500 cents down by 2 x 2,400 to 8,700: 1,245 Hz, where the level is 3 dB lower.
        double Level(int steps)
        {
            var synth = Playing.Dry(TestBanks.Sine());
            Set(synth, GeneratorEnum.InitialFilterCutoffFrequency, steps);
            synth.NoteOn(0, 87, 127);
            synth.Left(4000);
            return Playing.Rms(synth.Left(9600));
        }

        Assert.Equal(-3, Playing.Decibels(Level(-2400) / Level(0)), 0.3);
    }

    [Fact]
    public void Set_Release_LengthensIt()
    {
        // From -12,000 timecents up by 2 x 6,000 to one second for 100 dB.
        var synth = Playing.Dry(TestBanks.Constant());
        Set(synth, GeneratorEnum.ReleaseVolumeEnvelope, 6000);
        synth.NoteOn(0, 60, 127);
        synth.Left(1000);
        synth.NoteOff(0, 60);

        Assert.Equal(-50, Playing.Decibels(synth.Left(Playing.Frames(0.5))[^1]), 0.5);
    }

    [Fact]
    public void Set_OneChannel_LeavesTheOthers()
    {
        var synth = Playing.Dry(TestBanks.Constant());
        synth.Control(1, 7, 127);
        Set(synth, GeneratorEnum.InitialAttenuation, 200);
        synth.NoteOn(1, 60, 127);

        Assert.Equal(0, Playing.Decibels(synth.Left(1000)[^1]), 0.05);
    }

    [Fact]
    public void DataEntry_LowByteAlone_WaitsForTheHighByte()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        Select(synth, (int)GeneratorEnum.FineTune);
        synth.Control(0, 38, 99);
        Assert.Equal(0, CentsOf(synth, 0), 0.1);

        synth.Control(0, 6, 64);
        Assert.Equal(99, CentsOf(synth, 99), 0.1);
    }

    [Theory]
    [InlineData(100)]
    [InlineData(101)]
    [InlineData(102)]
    public void Select_HundredsBeforeTheNumber_AddToIt(int hundreds)
    {
        // 100 + 52 and so on are no generators; the number 52 after them counts alone again.
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        synth.Control(0, 99, 120);
        synth.Control(0, 98, hundreds);
        synth.Control(0, 98, 52);
        Data(synth, 80);
        Assert.Equal(0, CentsOf(synth, 0), 0.1);

        synth.Control(0, 98, 52);
        Data(synth, 80);
        Assert.Equal(80, CentsOf(synth, 80), 0.1);
    }

    [Fact]
    public void Select_NumberAbove102_IsIgnored()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        Select(synth, (int)GeneratorEnum.FineTune);
        synth.Control(0, 98, 103);
        Data(synth, 40);

        Assert.Equal(40, CentsOf(synth, 40), 0.1);
    }

    [Theory]
    [InlineData(GeneratorEnum.OverridingRootKey)]
    [InlineData(GeneratorEnum.KeyNumber)]
    [InlineData(GeneratorEnum.StartAddressOffset)]
    public void Select_WhatCannotChangeInRealTime_SelectsNothing(GeneratorEnum generator)
    {
        var synth = Playing.Dry(TestBanks.Sine());
        Select(synth, (int)GeneratorEnum.FineTune);
        Select(synth, (int)generator);
        Data(synth, 30);
        synth.NoteOn(0, 69, 127);

        Assert.Equal(0, CentsOf(synth, 0), 0.1);
    }

    [Theory]
    [InlineData(99, 98)]
    [InlineData(101, 100)]
    public void DataEntry_AfterNull_ChangesNothing(int msb, int lsb)
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        Select(synth, (int)GeneratorEnum.FineTune);
        synth.Control(0, msb, 127);
        synth.Control(0, lsb, 127);
        Data(synth, 90);

        Assert.Equal(0, CentsOf(synth, 0), 0.1);
    }

    [Fact]
    public void DataEntry_RegisteredParameterSelectedLast_SetsThatOne()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        synth.NoteOn(0, 69, 127);
        Select(synth, (int)GeneratorEnum.FineTune);
        synth.Control(0, 101, 0);
        synth.Control(0, 100, 2);
        synth.Control(0, 6, 66);

        Assert.Equal(200, CentsOf(synth, 200), 0.1);
    }

    [Fact]
    public void ResetAllControllers_AfterSet_KeepsTheOffsetAndDeselects()
    {
        // RP-015: parameter values stay, parameter numbers are set to null. From memory.
        var synth = Playing.Dry(TestBanks.Sine());
        Set(synth, GeneratorEnum.FineTune, 70);
        synth.Control(0, 121, 0);
        Data(synth, 20);
        synth.NoteOn(0, 69, 127);

        Assert.Equal(70, CentsOf(synth, 70), 0.1);
    }

    [Fact]
    public void Program_AfterSet_KeepsTheOffset()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        Set(synth, GeneratorEnum.FineTune, 70);
        synth.Program(0, 0);
        synth.NoteOn(0, 69, 127);

        Assert.Equal(70, CentsOf(synth, 70), 0.1);
    }

    [Fact]
    public void Reset_AfterSet_ClearsTheOffset()
    {
        var synth = Playing.Dry(TestBanks.Sine());
        Set(synth, GeneratorEnum.FineTune, 70);
        synth.Reset();
        synth.NoteOn(0, 69, 127);

        Assert.Equal(0, CentsOf(synth, 0), 0.1);
    }

    private static void Set(SoundFontSynth synth, GeneratorEnum generator, int steps)
    {
        Select(synth, (int)generator);
        Data(synth, steps);
    }

    private static void Select(SoundFontSynth synth, int generator)
    {
        synth.Control(0, 99, 120);
        synth.Control(0, 98, generator);
    }

    private static void Data(SoundFontSynth synth, int steps)
    {
        synth.Control(0, 38, (steps + 8192) & 127);
        synth.Control(0, 6, (steps + 8192) >> 7);
    }

    private static double CentsOf(SoundFontSynth synth, double expected)
    {
        synth.Left(2000);
        return Playing.Cents(Playing.Frequency(synth.Left(Playing.Frames(0.5)), 440 * Math.Pow(2, expected / 1200)), 440);
    }
}
