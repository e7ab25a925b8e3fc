using System.Text.RegularExpressions;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The page about bringing one's own song: its scores and commands, in order.</summary>
public sealed partial class YourOwnSongTests : IDisposable
{
    private readonly Running _program = new();

    [Fact]
    public void Commands_InTheOrderOfThePage_Run()
    {
        var page = File.ReadAllText(Path.Combine(Running.Checkout(), "docs", "your-own-song.md"));
        var folder = Path.GetDirectoryName(_program.Write("here.txt", ""))!;
        foreach (Match score in Score().Matches(page))
        {
            File.WriteAllText(Path.Combine(folder, score.Groups["name"].Value), score.Groups["body"].Value);
        }

        var count = 0;
        foreach (Match line in Line().Matches(page))
        {
            var words = line.Groups["line"].Value.Split(' ', StringSplitOptions.RemoveEmptyEntries)
                .Select(word => word.StartsWith("presets/", StringComparison.Ordinal) ? Path.Combine(Running.Checkout(), word)
                    : word.Contains('.', StringComparison.Ordinal) && !word.StartsWith('-') ? Path.Combine(folder, word) : word);
            var ran = _program.Run([.. words]);
            Assert.True(ran.ExitCode == 0, $"{line.Value}: {ran.Error}");
            count++;
        }

        Assert.Equal(9, count);
        var nets = File.ReadAllText(Path.Combine(folder, "net-menders.toml"));
        Assert.Contains("name = \"refrain\"", nets, StringComparison.OrdinalIgnoreCase);
        Assert.Contains("key = \"D dorian\"", nets, StringComparison.Ordinal);
        Assert.Contains("meter = \"5/8 3+2\"", nets, StringComparison.Ordinal);
        Assert.Contains("Tar on", nets, StringComparison.Ordinal);
        Assert.Contains("[[section.ending]]", File.ReadAllText(Path.Combine(folder, "rope-walk.toml")), StringComparison.Ordinal);
    }

    public void Dispose() => _program.Dispose();

    [GeneratedRegex(@"^```text (?<name>\S+)\n(?<body>.*?)^```$", RegexOptions.Multiline | RegexOptions.Singleline | RegexOptions.ExplicitCapture, 2000)]
    private static partial Regex Score();

    [GeneratedRegex(@"^ {4}groovelab (?<line>[a-z][^\n]*)$", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 2000)]
    private static partial Regex Line();
}
