using System.Runtime.CompilerServices;
using System.Text.RegularExpressions;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>
/// Checks the audio thread's folder for banned keywords, which the list of banned symbols cannot cover. The build enforces the list itself.
/// </summary>
public sealed partial class AudioThreadSourceTests
{
    [Fact]
    public void Engine_Source_WaitsForNothingAndStartsNothing()
    {
        var files = Directory.GetFiles(Path.Combine(Root(), "src", "GrooveLab.Audio", "Playback", "Engine"), "*.cs");

        Assert.NotEmpty(files);
        Assert.All(files, file => Assert.DoesNotMatch(Waiting(), Code(file)));
    }

    [Fact]
    public void Engine_Source_IsUnderTheBan()
    {
        var settings = File.ReadAllText(Path.Combine(Root(), ".editorconfig"));
        var list = File.ReadAllLines(Path.Combine(Root(), "src", "GrooveLab.Audio", "BannedSymbols.txt"));

        Assert.Matches(@"\[src/GrooveLab\.Audio/\{Playback/Engine,Synthesis\}/\*\*\.cs\]\s+dotnet_diagnostic\.RS0030\.severity = error", settings);
        Assert.Contains(list, line => line.StartsWith("T:System.Threading.Monitor;", StringComparison.Ordinal));
        Assert.Contains(list, line => line.StartsWith("N:System.IO;", StringComparison.Ordinal));
    }

    [GeneratedRegex(@"\b(lock|async|await|yield)\b", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Waiting();

    private static string Code(string file) =>
        string.Join('\n', File.ReadLines(file).Where(line => !line.TrimStart().StartsWith("//", StringComparison.Ordinal)));

    private static string Root([CallerFilePath] string path = "") =>
        Path.GetFullPath(Path.Combine(Path.GetDirectoryName(path)!, "..", "..", ".."));
}
