using CsCheck;
using GrooveLab.Music.Harmony;
using Xunit;

namespace GrooveLab.Music.Tests.Harmony;

public sealed class SpellingTests
{
    // Common practice, no source.
    [Theory]
    [InlineData(63, "C minor", "Cm", "Eb4")]
    [InlineData(66, "D", "D", "F#4")]
    [InlineData(70, "F", "C7", "Bb4")]
    [InlineData(70, "G", "F#7", "A#4")]
    [InlineData(68, "A minor", "E7", "G#4")]
    [InlineData(68, "C", "Fm", "Ab4")]
    [InlineData(63, "E minor", "B7", "D#4")]
    [InlineData(61, "D minor", "A7", "C#4")]
    [InlineData(61, "Ab", "Db", "Db4")]
    [InlineData(59, "Eb", "Abm", "Cb4")]
    [InlineData(60, "F#", "G#7", "B#3")]
    [InlineData(67, "D# minor", "D#", "F##4")]
    [InlineData(51, "C minor", "Cm/Eb", "Eb3")]
    [InlineData(46, "C", "C/Bb", "Bb2")]
    public void Of_ToneOfTheChord_IsSpelledAsTheChordHasIt(int midi, string key, string chord, string expected) =>
        Assert.Equal(expected, Spelling.Of(midi, Key.Parse(key), ChordSymbol.Parse(chord)).ToString());

    // Common practice, no source.
    [Theory]
    [InlineData(70, "F", "F", "Bb4")]
    [InlineData(66, "E minor", "Am", "F#4")]
    [InlineData(65, "F#", "C#7sus4", "E#4")]
    [InlineData(59, "Gb", "Db", "Cb4")]
    [InlineData(71, "D dorian", "Am", "B4")]
    public void Of_ToneOfTheScale_IsSpelledAsTheKeyHasIt(int midi, string key, string chord, string expected) =>
        Assert.Equal(expected, Spelling.Of(midi, Key.Parse(key), ChordSymbol.Parse(chord)).ToString());

    // Rising chromatic notes are sharps and falling ones flats; a lower neighbour is a leading note, G# to A and D# to E:
    // mymusictheory.com, "Chromatic decoration". The double sharp of a leading note: common practice, no source.
    [Theory]
    [InlineData(66, "C", "F", "G4", "F#4")]
    [InlineData(66, "C", "G7", "F4", "Gb4")]
    [InlineData(61, "C", "C", "D4", "C#4")]
    [InlineData(61, "C", "Dm", "C4", "Db4")]
    [InlineData(70, "C", "C", "B4", "A#4")]
    [InlineData(70, "C", "F", "A4", "Bb4")]
    [InlineData(68, "C", "C", "A4", "G#4")]
    [InlineData(63, "C", "C", "E4", "D#4")]
    [InlineData(63, "G", "G", "E4", "D#4")]
    [InlineData(63, "G", "G", "D4", "Eb4")]
    [InlineData(71, "F", "F", "C5", "B4")]
    [InlineData(60, "E", "E", "C#4", "B#3")]
    [InlineData(67, "B", "B", "G#4", "F##4")]
    public void Of_ChromaticToneThatLeads_IsALetterAwayFromItsGoal(int midi, string key, string chord, string next, string expected) =>
        Assert.Equal(expected, Spelling.Of(midi, Key.Parse(key), ChordSymbol.Parse(chord), Pitch.Parse(next)).ToString());

    // The harmonic chromatic scale: common practice, no source.
    [Theory]
    [InlineData(66, "C", null, "F#4")]
    [InlineData(70, "C", "G4", "Bb4")]
    [InlineData(68, "A minor", null, "G#4")]
    [InlineData(70, "A minor", null, "Bb4")]
    [InlineData(61, "F", null, "Db4")]
    [InlineData(61, "D minor", null, "C#4")]
    [InlineData(63, "D", "F#4", "Eb4")]
    public void Of_ChromaticToneThatLeadsNowhere_IsSpelledByTheKeysChromaticScale(int midi, string key, string? next, string expected) =>
        Assert.Equal(expected, Spelling.Of(midi, Key.Parse(key), ChordSymbol.NoChord, next is null ? null : Pitch.Parse(next)).ToString());

    [Fact]
    public void Of_AnySoundKeyChordAndGoal_SoundsAsAsked()
    {
        var keys = new[] { "C", "F# minor", "Gb", "Cb", "C#", "Eb mixolydian", "B locrian", "D# minor" }.Select(Key.Parse).ToArray();
        var chords = new[] { "C", "F#dim7", "Ebm7b5", "G#7#9", "N.C.", "Cb/Eb", "A#m", "Dbmaj7#11" }.Select(ChordSymbol.Parse).ToArray();
        Gen.Select(Gen.Int[0, 127], Gen.OneOf(keys), Gen.OneOf(chords), Gen.Int[-2, 2], Gen.OneOf(keys)).Sample((midi, key, chord, by, other) =>
        {
            var next = other.SpellPitch(midi + by);
            return Spelling.Of(midi, key, chord).Midi == midi && Spelling.Of(midi, key, chord, next).Midi == midi;
        });
    }

    [Theory]
    [InlineData("Bb", 47, "Bb2")]
    [InlineData("Bb", 40, "Bb1")]
    [InlineData("E", 46, "E2")]
    [InlineData("B#", 60, "B#3")]
    [InlineData("Cb", 60, "Cb4")]
    public void Nearest_NameAndSound_IsTheNearestOfThatNameAndTheLowerOfTwo(string name, int midi, string expected) =>
        Assert.Equal(expected, Spelling.Nearest(PitchName.Parse(name), midi).ToString());
}
