using CsCheck;
using GrooveLab.Music.Harmony;
using Xunit;

namespace GrooveLab.Music.Tests.Harmony;

public class PitchTests
{
    private static readonly Gen<Pitch> GenPitch = Gen.Select(
        Gen.Int[0, 6], Gen.Int[-2, 2], Gen.Int[0, 8], (letter, accidental, octave) => new Pitch(new PitchName((NoteLetter)letter, accidental), octave));

    // ISO 16:1975, A4 = 440 Hz; f = 440 * 2^((m - 69) / 12), to three decimals.
    [Theory]
    [InlineData("A0", 21, 27.500)]
    [InlineData("E1", 28, 41.203)]
    [InlineData("A1", 33, 55.000)]
    [InlineData("C2", 36, 65.406)]
    [InlineData("D2", 38, 73.416)]
    [InlineData("E2", 40, 82.407)]
    [InlineData("G2", 43, 97.999)]
    [InlineData("A2", 45, 110.000)]
    [InlineData("D3", 50, 146.832)]
    [InlineData("G3", 55, 195.998)]
    [InlineData("B3", 59, 246.942)]
    [InlineData("C4", 60, 261.626)]
    [InlineData("D4", 62, 293.665)]
    [InlineData("E4", 64, 329.628)]
    [InlineData("G4", 67, 391.995)]
    [InlineData("A4", 69, 440.000)]
    [InlineData("E5", 76, 659.255)]
    [InlineData("C8", 108, 4186.009)]
    public void Frequency_NamedPitch_IsThatOfIso16(string name, int midi, double hertz)
    {
        var pitch = Pitch.Parse(name);
        Assert.Equal(midi, pitch.Midi);
        Assert.Equal(hertz, pitch.Frequency, 0.0006);
        Assert.Equal(name, Pitch.FromMidi(midi).ToString());
    }

    [Theory]
    [InlineData("F#4", 66, "F#4")]
    [InlineData("Bb3", 58, "Bb3")]
    [InlineData("E♭5", 75, "Eb5")]
    [InlineData("F♯4", 66, "F#4")]
    [InlineData("F𝄪4", 67, "F##4")]
    [InlineData("B𝄫3", 57, "Bbb3")]
    [InlineData("B#3", 60, "B#3")]
    [InlineData("Cb4", 59, "Cb4")]
    [InlineData("C-1", 0, "C-1")]
    public void Parse_SpelledPitch_KeepsItsSpelling(string text, int midi, string canonical)
    {
        Assert.Equal(midi, Pitch.Parse(text).Midi);
        Assert.Equal(canonical, Pitch.Parse(text).ToString());
    }

    [Theory]
    [InlineData("H4")]
    [InlineData("c4")]
    [InlineData("F#")]
    [InlineData("4")]
    [InlineData("F###4")]
    [InlineData("C99")]
    [InlineData("C4 ")]
    [InlineData("")]
    [InlineData(null)]
    public void TryParse_NoPitch_IsRefused(string? text)
    {
        Assert.False(Pitch.TryParse(text, out _));
        Assert.Throws<FormatException>(() => Pitch.Parse(text!));
    }

    [Theory]
    [InlineData("C4", "A4", "F#4")]
    [InlineData("C4", "d5", "Gb4")]
    [InlineData("B3", "m2", "C4")]
    [InlineData("C4", "-m2", "B3")]
    [InlineData("F4", "-M3", "Db4")]
    [InlineData("E4", "M9", "F#5")]
    [InlineData("C4", "A1", "C#4")]
    [InlineData("Cb4", "-P8", "Cb3")]
    public void Transpose_ByInterval_SpellsAsTheIntervalSays(string from, string interval, string to)
    {
        Assert.Equal(to, Pitch.Parse(from).Transpose(Interval.Parse(interval)).ToString());
        Assert.Equal(interval, Interval.Between(Pitch.Parse(from), Pitch.Parse(to)).ToString());
    }

    [Fact]
    public void Transpose_ThereAndBack_IsTheSamePitch() => Gen.Select(GenPitch, GenPitch).Sample((from, to) =>
    {
        var interval = Interval.Between(from, to);
        Assert.Equal(to, from.Transpose(interval));
        Assert.Equal(from, to.Transpose(-interval));
        Assert.Equal(interval, Interval.Parse(interval.ToString()));
        Assert.Equal(from, Pitch.Parse(from.ToString()));
    });

    [Fact]
    public void Transpose_BeyondThreeAccidentals_KeepsTheSound()
    {
        var pitch = Pitch.Parse("F##4").Transpose(Interval.Parse("AA4"));
        Assert.Equal(Pitch.Parse("F##4").Midi + 7, pitch.Midi);
    }

    [Fact]
    public void FromFifths_EveryName_IsFoundAgain()
    {
        for (var fifths = -22; fifths <= 26; fifths++)
            Assert.Equal(fifths, PitchName.FromFifths(fifths).Fifths);
        Assert.Equal("Bb", PitchName.FromFifths(-2).ToString());
        Assert.Equal("F♯", PitchName.FromFifths(6).ToSigns());
    }

    [Fact]
    public void FromPitchClass_EverySound_HasThatSound()
    {
        for (var pc = 0; pc < 12; pc++)
        {
            Assert.Equal(pc, PitchName.FromPitchClass(pc).PitchClass);
            Assert.Equal(pc, PitchName.FromPitchClass(pc, flats: true).PitchClass);
        }

        Assert.Equal("C C# D D# E F F# G G# A A# B", string.Join(' ', Enumerable.Range(0, 12).Select(pc => PitchName.FromPitchClass(pc))));
        Assert.Equal("C Db D Eb E F Gb G Ab A Bb B", string.Join(' ', Enumerable.Range(0, 12).Select(pc => PitchName.FromPitchClass(pc, true))));
    }

    [Fact]
    public void CompareTo_Pitches_OrdersBySound()
    {
        Assert.True(Pitch.Parse("B#3") < Pitch.Parse("C#4"));
        Assert.True(Pitch.Parse("B#3") < Pitch.Parse("C4"));
        Assert.True(Pitch.Parse("A4") > Pitch.Parse("Gb4"));
    }
}
