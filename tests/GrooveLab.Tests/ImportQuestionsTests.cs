using System.Text;
using GrooveLab.Commands;
using GrooveLab.Exchange.Scores;
using Xunit;

namespace GrooveLab.Tests;

public sealed class ImportQuestionsTests
{
    private const string Words = "Dm        C\nLan-terns on the ri-ver\n";

    private static (ScoreOptions Options, string Said) Asked(string answers, ScoreOptions? options = null, string text = Words)
    {
        using var said = new StringWriter();
        var found = new ImportQuestions(new StringReader(answers), said).Ask(Encoding.UTF8.GetBytes(text), options ?? new ScoreOptions { Name = "words.txt" });
        return (found, said.ToString());
    }

    [Fact]
    public void Ask_NeitherMeterNorBars_AsksForBothWithADefaultAndAnExample()
    {
        var (options, said) = Asked("7/8 2+2+3\n4\n");
        Assert.Equal(("7/8 2+2+3", 4), (options.Meter, options.BarsInLine));
        Assert.Equal("Meter, such as 7/8 2+2+3 [4/4]: Bars for each line of words, such as 4 [2]: ", said);
    }

    [Theory]
    [InlineData("\n\n")]
    [InlineData("")]
    public void Ask_EmptyAnswersOrNone_TakesTheDefaults(string answers)
    {
        var (options, _) = Asked(answers);
        Assert.Equal(("4/4", 2), (options.Meter, options.BarsInLine));
    }

    [Fact]
    public void Ask_WrongAnswers_AsksAgain()
    {
        var (options, said) = Asked("7/9x\n5/8 3+2\nmany\n65\n1\n");
        Assert.Equal(("5/8 3+2", 1), (options.Meter, options.BarsInLine));
        Assert.Equal(2, said.Split("Meter, such").Length - 1);
        Assert.Contains("write a number from 1 to 64", said, StringComparison.Ordinal);
    }

    [Fact]
    public void Ask_GivenInTheTextOrByOptions_AsksNothing()
    {
        Assert.Equal(string.Empty, Asked("x\n", text: "Meter: 5/8 3+2\n\n| Dm | C |\nLan-terns on the ri-ver\n").Said);
        Assert.Equal(string.Empty, Asked("x\n", new ScoreOptions { Name = "w", Meter = "5/8", BarsInLine = 2 }).Said);
    }
}
