using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;
using Xunit;

namespace GrooveLab.Music.Tests.Recast;

/// <summary>Stress by the score's strong beats, and then by a dictionary. The songs' words are made for these tests; common practice, no source.</summary>
public sealed class SungStressesTests
{
    // Syllables with - inside a word and a space between words; below each syllable its stress by the dictionary (S, u, ?), whether it is on a strong beat
    // (x, .), and the result.
    [Theory]
    [InlineData("lan tern", "SS", "..", "SS")]
    [InlineData("and the light", "uuS", ".x.", "uSS")]
    [InlineData("and the light", "uuS", ".xx", "uSS")]
    [InlineData("la lu", "??", "x.", "S?")]
    [InlineData("glo-ry", "Su", "xx", "Su")]
    [InlineData("glo-ry", "Su", "x.", "Su")]
    [InlineData("glo-ry", "Su", ".x", "SS")]
    [InlineData("a-way", "uS", "x.", "SS")]
    [InlineData("a-way", "uS", "xx", "uS")]
    [InlineData("glo-ry the", "Suu", "x.x", "SuS")]
    [InlineData("ev-en-tide", "Su?", "x.x", "SuS")]
    public void Of_WordsOnBeats_TakesTheScoreFirst(string words, string dictionary, string beats, string expected) =>
        Assert.Equal(expected, Text(SungStresses.Of(Verse(words), Stresses(dictionary), Beats(beats))));

    [Fact]
    public void Of_MarkedSyllable_FollowsTheMark()
    {
        var verse = Verse("and the glo-ry");
        verse[1] = verse[1]! with { Stress = Stress.Weak };
        verse[2] = verse[2]! with { Stress = Stress.Weak };
        verse[3] = verse[3]! with { Stress = Stress.Strong };

        Assert.Equal("SuuS", Text(SungStresses.Of(verse, Stresses("uuSu"), Beats("xxx."))));
    }

    [Fact]
    public void Marked_MarksAndMelismas_AreAllItKnows()
    {
        Syllable?[] verse = [Syllable.HeldOver, null, .. Verse("glo-ry the"), null, null];
        verse[2] = verse[2]! with { Stress = Stress.Strong };
        verse[3] = verse[3]! with { Stress = Stress.Weak };
        verse[4] = verse[4]! with { Notes = 2 };

        Assert.Equal("_?Su?_?", Text(SungStresses.Marked(verse)));
    }

    [Fact]
    public void Of_StressMarkedOnAStrongBeat_LeavesTheWordsOtherSyllablesWeak()
    {
        var verse = Verse("rö-slein");
        verse[0] = verse[0]! with { Stress = Stress.Strong };

        Assert.Equal("Su", Text(SungStresses.Of(verse, Stresses("?u"), Beats("xx"))));
    }

    [Fact]
    public void Of_NotesWithoutASyllableOfTheirOwn_StayAsTheyAre()
    {
        Syllable?[] verse = [Syllable.HeldOver, null, .. Verse("glo-ry"), null, null];

        Assert.Equal("__Su_?", Text(SungStresses.Of(verse, Stresses("__Su_?"), Beats("xxxxxx"))));
    }

    // "gla-dly~a-way": the second note ends one word and begins the next.
    [Fact]
    public void Of_ElisionOfTwoWords_BelongsToTheWordThatGoesOn()
    {
        Syllable?[] verse = [new("glo", SyllablePlace.Begin, 1), new("ry a", SyllablePlace.Middle, 1), new("way", SyllablePlace.End, 1)];

        Assert.Equal("SSS", Text(SungStresses.Of(verse, Stresses("SuS"), Beats("xx."))));
        Assert.Equal("SuS", Text(SungStresses.Of(verse, Stresses("SuS"), Beats("xxx"))));
    }

    [Fact]
    public void Of_ListsOfOtherLengths_IsAnError()
    {
        Assert.Throws<ArgumentException>(() => SungStresses.Of(Verse("glo-ry"), Stresses("S"), Beats("xx")));
        Assert.Throws<ArgumentException>(() => SungStresses.Of(Verse("glo-ry"), Stresses("Su"), Beats("x")));
    }

    private static Syllable?[] Verse(string words) =>
    [
        .. words.Split(' ').SelectMany(word => word.Split('-').Select((text, i) => new Syllable(
            text,
            !word.Contains('-', StringComparison.Ordinal) ? SyllablePlace.Single : i == 0 ? SyllablePlace.Begin : i == word.Count(letter => letter == '-') ? SyllablePlace.End : SyllablePlace.Middle,
            1))),
    ];

    private static SyllableStress[] Stresses(string text) => [.. text.Select(sign => sign switch
    {
        'S' => SyllableStress.Stressed,
        'u' => SyllableStress.Unstressed,
        '_' => SyllableStress.Held,
        _ => SyllableStress.Unknown,
    })];

    private static bool[] Beats(string text) => [.. text.Select(sign => sign == 'x')];

    private static string Text(IReadOnlyList<SyllableStress> stresses) => string.Concat(stresses.Select(stress => "?Su_"[(int)stress]));
}
