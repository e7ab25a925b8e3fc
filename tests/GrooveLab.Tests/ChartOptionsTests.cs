using System.CommandLine;
using GrooveLab.Commands;
using Xunit;

namespace GrooveLab.Tests;

public sealed class ChartOptionsTests
{
    [Theory]
    [InlineData("key E minor", "--key", "E minor")]
    [InlineData("up -14", "--up", "-14")]
    [InlineData("tempo 80%", "--tempo", "80 %")]
    [InlineData("tempo learner", "--tempo", "Learner")]
    [InlineData("tempo dotted quarter = 1201/20", "--tempo", "dotted quarter = 60.05")]
    [InlineData("feel bar-group", "--feel", "bar-group")]
    public void Start_OneOption_IsInItsWordsAndReadBackFromThem(string words, string option, string value)
    {
        var command = new Command("play");
        var options = new ChartOptions(command);

        var start = options.Start(command.Parse([option, value]));

        Assert.Equal([words], start.Words);
        Assert.Equal(start, Music.Performance.StartOptions.None.With(words));
    }
}
