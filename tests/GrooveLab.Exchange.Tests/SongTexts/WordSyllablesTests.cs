using GrooveLab.Exchange.SongTexts;
using Xunit;

namespace GrooveLab.Exchange.Tests.SongTexts;

/// <summary>How words divide into syllables.</summary>
public sealed class WordSyllablesTests
{
    // From memory, as hymn books and song sheets divide them.
    [Theory]
    [InlineData("lantern,", "lan-tern,")]
    [InlineData("swinging", "swing-ing")]
    [InlineData("table", "ta-ble")]
    [InlineData("home", "home")]
    [InlineData("rowed", "rowed")]
    [InlineData("wanted", "wan-ted")]
    [InlineData("father", "fa-ther")]
    [InlineData("nation", "na-tion")]
    [InlineData("being", "be-ing")]
    [InlineData("lion", "li-on")]
    [InlineData("yes", "yes")]
    [InlineData("beyond", "be-yond")]
    [InlineData("mor-ning", "mor-ning")]
    [InlineData("\"O", "\"O")]
    [InlineData("---", "---")]
    public void Of_EnglishWord_DividesAsSung(string word, string expected) => Assert.Equal(expected, string.Join('-', WordSyllables.Of(word, isEnglish: true)));

    [Theory]
    [InlineData("Liebe", "Lie-be")]
    [InlineData("Mädchen", "Mäd-chen")]
    [InlineData("måne", "må-ne")]
    public void Of_OtherLanguage_SingsTheLastE(string word, string expected) => Assert.Equal(expected, string.Join('-', WordSyllables.Of(word, isEnglish: false)));

    /// <summary>The number of syllables against the CMU Pronouncing Dictionary (npm cmu-pronouncing-dictionary 3.0.0, ISC): one for each stress digit.</summary>
    [Fact]
    public void Of_WordsOfThePronouncingDictionary_CountsAsItDoesInNineOfTen()
    {
        var lines = PronouncingDictionary.Lines();
        var right = 0;
        var count = 0;
        foreach (var line in lines)
        {
            var (word, sounds) = (line.Split('\t')[0], line.Split('\t')[1]);
            if (word.All(letter => letter is >= 'a' and <= 'z') && word.Length > 1)
            {
                count++;
                right += WordSyllables.Of(word, isEnglish: true).Count == sounds.Count(char.IsDigit) ? 1 : 0;
            }
        }

        Assert.True(count > 100_000, $"{count} words");
        Assert.True(right >= 0.84 * count, $"{right} of {count}");
    }

    [Fact]
    public void Of_AnyWord_LosesNothing()
    {
        var random = new Random(3);
        const string signs = "aeiouybcdfghklmnprstwxz'-éßñ.,!";
        for (var i = 0; i < 20_000; i++)
        {
            var word = string.Concat(Enumerable.Range(0, random.Next(1, 14)).Select(_ => signs[random.Next(signs.Length)]));
            if (word.Any(char.IsLetter))
            {
                Assert.Equal(word.Replace("-", ""), string.Concat(WordSyllables.Of(word, i % 2 == 0)).Replace("-", ""));
            }
        }
    }
}
