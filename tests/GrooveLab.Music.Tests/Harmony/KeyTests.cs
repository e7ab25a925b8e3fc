using GrooveLab.Music.Harmony;
using Xunit;

namespace GrooveLab.Music.Tests.Harmony;

public class KeyTests
{
    public static TheoryData<string> EveryKey
    {
        get
        {
            var keys = new TheoryData<string>();
            foreach (var mode in Enum.GetValues<KeyMode>())
            {
                for (var fifths = -13; fifths <= 13; fifths++)
                {
                    var text = $"{PitchName.FromFifths(fifths)} {mode}";
                    if (Key.TryParse(text, out _, out _))
                        keys.Add(text);
                }
            }

            return keys;
        }
    }

    // Signatures and scales: common practice, no source.
    [Theory]
    [InlineData("C", 0, "C D E F G A B")]
    [InlineData("D dorian", 0, "D E F G A B C")]
    [InlineData("Bb", -2, "Bb C D Eb F G A")]
    [InlineData("F# minor", 3, "F# G# A B C# D E")]
    [InlineData("Am", 0, "A B C D E F G")]
    [InlineData("E♭ major", -3, "Eb F G Ab Bb C D")]
    [InlineData("E phrygian", 0, "E F G A B C D")]
    [InlineData("F lydian", 0, "F G A B C D E")]
    [InlineData("G mixolydian", 0, "G A B C D E F")]
    [InlineData("B locrian", 0, "B C D E F G A")]
    [InlineData("A aeolian", 0, "A B C D E F G")]
    [InlineData("C Ionian", 0, "C D E F G A B")]
    [InlineData("G dorian", -1, "G A Bb C D E F")]
    [InlineData("C# major", 7, "C# D# E# F# G# A# B#")]
    [InlineData("Abm", -7, "Ab Bb Cb Db Eb Fb Gb")]
    [InlineData("D mix", 1, "D E F# G A B C")]
    public void Parse_Key_HasItsSignatureAndScale(string text, int fifths, string scale)
    {
        var key = Key.Parse(text);
        Assert.Equal(fifths, key.Fifths);
        Assert.Equal(scale, string.Join(' ', key.Scale));
        Assert.Equal(key, Key.Parse(key.ToString()));
    }

    [Theory]
    [InlineData("H major", "A to G")]
    [InlineData("c minor", "capital")]
    [InlineData("C blues", "not a mode")]
    [InlineData("G# major", "write Ab major")]
    [InlineData("Fb locrian", "write E locrian")]
    [InlineData("", "A to G")]
    [InlineData(null, "A to G")]
    public void TryParse_NoKey_SaysWhatIsAccepted(string? text, string expected)
    {
        Assert.False(Key.TryParse(text, out _, out var error));
        Assert.Contains(expected, error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("C", 1, "Db major")]
    [InlineData("C", 6, "F# major")]
    [InlineData("F", 1, "Gb major")]
    [InlineData("E", 2, "F# major")]
    [InlineData("Am", 1, "Bb minor")]
    [InlineData("Em", -1, "Eb minor")]
    [InlineData("Em", 6, "Bb minor")]
    [InlineData("Bm", 4, "Eb minor")]
    [InlineData("G", -1, "F# major")]
    [InlineData("D dorian", 2, "E dorian")]
    [InlineData("D dorian", -1, "C# dorian")]
    [InlineData("C# major", 12, "C# major")]
    [InlineData("B", -24, "B major")]
    public void Up_Semitones_GivesTheKeyWithFewestAccidentals(string from, int semitones, string to) =>
        Assert.Equal(to, Key.Parse(from).Up(semitones).ToString());

    [Theory]
    [MemberData(nameof(EveryKey))]
    public void Up_AnyKey_MovesItsScaleByTheInterval(string text)
    {
        var key = Key.Parse(text);
        for (var semitones = -13; semitones <= 13; semitones++)
        {
            var moved = key.Up(semitones);
            var interval = key.IntervalUp(semitones);
            Assert.Equal(semitones, interval.Semitones);
            Assert.Equal(moved.Scale, key.Scale.Select(name => name.Transpose(interval)));
            Assert.True(Math.Abs(moved.Fifths) <= 6 || semitones % 12 == 0);
            var back = key.To(moved);
            Assert.InRange(back.Semitones, -5, 6);
            Assert.Equal(moved.Tonic, key.Tonic.Transpose(back));
        }
    }

    [Theory]
    [MemberData(nameof(EveryKey))]
    public void Spell_AnyKey_NamesTheScaleAsItIsAndEverySoundOnce(string text)
    {
        var key = Key.Parse(text);
        for (var midi = 60; midi < 72; midi++)
        {
            Assert.Equal(midi % 12, key.Spell(midi).PitchClass);
            Assert.Equal(midi, key.SpellPitch(midi).Midi);
            Assert.Equal(key.Scale.Contains(key.Spell(midi)), key.Contains(midi));
        }
    }

    [Theory]
    [InlineData("Am", 8, "G#")]
    [InlineData("C", 6, "F#")]
    [InlineData("C", 10, "Bb")]
    [InlineData("D", 0, "C")]
    [InlineData("Eb", 11, "Cb")]
    [InlineData("F# minor", 5, "E#")]
    public void Spell_ToneBetweenTheScales_FollowsTheHarmonicChromaticScale(string key, int pitchClass, string name) =>
        Assert.Equal(name, Key.Parse(key).Spell(pitchClass).ToString());

    [Fact]
    public void To_AnotherKey_GoesTheNearerWay()
    {
        Assert.Equal("-M2", Key.Parse("D").To(Key.Parse("C")).ToString());
        Assert.Equal("P4", Key.Parse("C").To(Key.Parse("F minor")).ToString());
        Assert.Equal("-P4", Key.Parse("C").To(Key.Parse("G")).ToString());
        Assert.Equal("d5", Key.Parse("C").To(Key.Parse("Gb")).ToString());
        Assert.Equal("P1", Key.Parse("A").To(Key.Parse("Am")).ToString());
    }
}
