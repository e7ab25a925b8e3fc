using System.Text.RegularExpressions;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The program does what the README and the first-minutes page show.</summary>
public sealed partial class DocumentationTests : IDisposable
{
    private static readonly string[] Playing = ["play", "render", "show", "inspect"];

    private readonly Running _program = new();

    public static TheoryData<string> Lines => [.. Pages().SelectMany(page => Line().Matches(page).Select(match => match.Groups["line"].Value)).Distinct()];

    [Fact]
    public void Readme_FirstChart_IsShownAsPrinted()
    {
        var page = File.ReadAllText(Path.Combine(Running.Checkout(), "README.md"));
        var chart = _program.Write("two-lamps.toml", Fence().Matches(page).First(match => match.Groups["kind"].Value == "toml").Groups["body"].Value);
        var printed = Fence().Matches(page).First(match => match.Groups["kind"].Value == "text").Groups["body"].Value.TrimEnd();

        Assert.Equal(0, _program.Run("check", chart).ExitCode);
        Assert.Contains(printed, _program.Run("show", chart, "--bars", "4").Out.ReplaceLineEndings("\n"), StringComparison.Ordinal);
    }

    /// <summary>Every printed command line runs; commands that play show two bars instead.</summary>
    [Theory]
    [MemberData(nameof(Lines))]
    public void CommandLine_AsPrinted_Runs(string line)
    {
        var words = Word().Matches(line).Select(match => match.Value.Trim('"')).ToList();
        if (!Playing.Contains(words[0]) || !words[1].StartsWith("presets/", StringComparison.Ordinal))
        {
            Assert.Equal(0, _program.Run(words[0], "--help").ExitCode);
            return;
        }

        if (words.Count(word => word.StartsWith("presets/", StringComparison.Ordinal)) > 1)
        {
            // A set is played on the screen; here every song of it is read, and every option must be one of the command's.
            Assert.All(words.Skip(1).Where(word => word.StartsWith("presets/", StringComparison.Ordinal)), chart =>
                Assert.Equal(0, _program.Run("check", Path.Combine(Running.Checkout(), chart)).ExitCode));
            var help = _program.Run(words[0], "--help").Out;
            Assert.All(words.Where(word => word.StartsWith("--", StringComparison.Ordinal)), option => Assert.Contains(option, help, StringComparison.Ordinal));
            return;
        }

        words[1] = Path.Combine(Running.Checkout(), words[1]);
        Assert.True(File.Exists(words[1]), line);
        if (words[0] is "play" or "show")
        {
            words[0] = "show";
            words.AddRange(words.Contains("--bars") ? [] : ["--bars", "2"]);
        }
        else if (words[0] == "render")
        {
            words.AddRange(words.Contains("--bars") ? ["--dry", "--rate", "16000"] : ["--bars", "2"]);
        }

        var ran = _program.Run([.. words]);
        Assert.Equal("", ran.Error);
        Assert.Equal(0, ran.ExitCode);
    }

    public void Dispose() => _program.Dispose();

    private static IEnumerable<string> Pages() => new[] { "README.md", Path.Combine("docs", "first-minutes.md"), Path.Combine("docs", "felt-levels.md"), Path.Combine("docs", "midi.md"), Path.Combine("docs", "midi-out.md"), Path.Combine("docs", "on-stage.md"), Path.Combine("docs", "rehearsal-pack.md") }
        .Select(page => File.ReadAllText(Path.Combine(Running.Checkout(), page)));

    [GeneratedRegex(@"^(?: {4})?(?:groovelab|dotnet run --project src/GrooveLab --) (?<line>[a-z][^#\n]*?)(?:\s+#.*)?$", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 2000)]
    private static partial Regex Line();

    [GeneratedRegex(@"""[^""]*""|\S+", RegexOptions.None, 2000)]
    private static partial Regex Word();

    [GeneratedRegex(@"^```(?<kind>\w+)[^\n]*\n(?<body>.*?)^```$", RegexOptions.Multiline | RegexOptions.Singleline | RegexOptions.ExplicitCapture, 2000)]
    private static partial Regex Fence();
}
