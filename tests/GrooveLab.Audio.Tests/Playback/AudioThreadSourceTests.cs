using System.Runtime.CompilerServices;
using System.Text.RegularExpressions;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>
/// Checks the code of the audio thread for what the list of banned symbols cannot see: keywords, interpolated text, exceptions. The build enforces
/// the list itself, in the files that .editorconfig names.
/// </summary>
public sealed partial class AudioThreadSourceTests
{
    // Every class with code that runs while a device reads: from the device's loop through the engine to the samples of a bank.
    public static TheoryData<string> OnTheAudioThread =>
    [
        "Devices/BlockingOutput.Loop.cs", "Devices/AlsaSink.Loop.cs", "Devices/PortAudioSink.Loop.cs", "Devices/PacedSink.cs", "Devices/SourceLease.cs",
        "Devices/MeasuredSource.cs", "Devices/OutputClockCell.cs", "Devices/SampleFormats.cs",
        "Playback/Engine/StartGain.cs", "Playback/Engine/LimitedMix.cs", "Playback/Engine/Limiter.cs", "Playback/Engine/GrooveEngine.cs",
        "Playback/Engine/PartMixer.cs", "Playback/Engine/PendingEvents.cs", "Playback/Engine/ClockChain.cs", "Playback/Engine/Ring.cs",
        "Playback/Engine/BarQueue.cs", "Playback/Engine/Playhead.cs", "Playback/Engine/SoundingNotes.cs",
        "Synthesis/SoundFontSynth.cs", "Synthesis/Voice.cs", "Synthesis/SampleReader.cs", "Synthesis/Reverb.cs", "Synthesis/Chorus.cs",
        "SoundFonts/PresetTable.cs", "SoundFonts/Region.cs", "SoundFonts/SamplePool.cs", "SoundFonts/ModulatorSource.cs",
    ];

    [Theory]
    [MemberData(nameof(OnTheAudioThread))]
    public void Source_OfTheAudioThread_IsUnderTheBan(string file) => Assert.Contains(file, Banned());

    [Fact]
    public void Source_UnderTheBan_NeitherWaitsThrowsBoxesNorMakesText()
    {
        var files = Banned();

        Assert.NotEmpty(files);
        Assert.All(files, file =>
        {
            // Arguments are checked where things are made, which is never on the audio thread.
            var code = ArgumentCheck().Replace(Code(file), string.Empty);
            Assert.DoesNotMatch(Waiting(), code);
            Assert.DoesNotMatch(@"\bthrow\b", code);
            Assert.DoesNotMatch(MakingText(), code);
            Assert.DoesNotMatch(Boxing(), code);
        });
    }

    [Theory]
    [InlineData("T:System.Threading.Monitor")]
    [InlineData("T:System.Threading.Lock")]
    [InlineData("N:System.Threading.Tasks")]
    [InlineData("N:System.IO")]
    [InlineData("N:System.Linq")]
    [InlineData("N:System.Text")]
    [InlineData("T:System.Console")]
    [InlineData("T:System.Collections.Generic.List`1")]
    [InlineData("M:System.String.Concat(System.String,System.String)")]
    [InlineData("M:System.Object.ToString")]
    [InlineData("M:System.Enum.HasFlag(System.Enum)")]
    public void BannedSymbols_List_HasWhatWaitsWritesOrAllocates(string symbol) =>
        Assert.Contains(File.ReadLines(Path.Combine(Root(), "src", "GrooveLab.Audio", "BannedSymbols.txt")), line => line.StartsWith(symbol + ";", StringComparison.Ordinal));

    [Fact]
    public void Suppressions_InTheSources_GiveAReason()
    {
        var source = Path.Combine(Root(), "src");
        var without = Directory.EnumerateFiles(source, "*.cs", SearchOption.AllDirectories)
            .Where(file => !IsBuilt(Path.GetRelativePath(source, file)))
            .SelectMany(file => File.ReadLines(file).Where(line => Suppression().IsMatch(line) && !Reason().IsMatch(line)).Select(line => $"{file}: {line.Trim()}"));

        Assert.Empty(without);
    }

    [GeneratedRegex(@"\b(lock|async|await|yield)\b", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Waiting();

    [GeneratedRegex(@"\$""|"" \+|\+ """, RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex MakingText();

    // Boxing of values, and objects created to enumerate a collection.
    [GeneratedRegex(@"\b(object|dynamic|params|IEnumerable|IReadOnlyList|IReadOnlyCollection)\b", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Boxing();

    [GeneratedRegex(@"throw new Argument\w*Exception\([^;]*;", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex ArgumentCheck();

    [GeneratedRegex(@"#pragma warning disable|\[SuppressMessage", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Suppression();

    [GeneratedRegex(@"// \w.{10,}|Justification = ""\w.{10,}""", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Reason();

    [GeneratedRegex(@"^\[src/GrooveLab\.Audio/(?<glob>.*)\]$\s+dotnet_diagnostic\.RS0030\.severity = error$", RegexOptions.Multiline | RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex BannedSection();

    // The files of GrooveLab.Audio to which .editorconfig applies the ban, as relative paths.
    private static HashSet<string> Banned()
    {
        var project = Path.Combine(Root(), "src", "GrooveLab.Audio");
        var globs = BannedSection().Matches(File.ReadAllText(Path.Combine(Root(), ".editorconfig"))).Select(section => Expression(section.Groups["glob"].Value)).ToList();
        Assert.Equal(3, globs.Count);
        return
        [
            .. Directory.EnumerateFiles(project, "*.cs", SearchOption.AllDirectories)
                .Select(file => Path.GetRelativePath(project, file).Replace('\\', '/'))
                .Where(file => !IsBuilt(file) && globs.Exists(glob => glob.IsMatch(file))),
        ];
    }

    // The glob patterns of EditorConfig 0.17 that are used: ** for any path, * for any name, {a,b} for either.
    private static Regex Expression(string glob) => new(
        "^" + Regex.Escape(glob).Replace(@"\*\*", ".*", StringComparison.Ordinal).Replace(@"\*", "[^/]*", StringComparison.Ordinal)
            .Replace(@"\{", "(", StringComparison.Ordinal).Replace("}", ")", StringComparison.Ordinal).Replace(",", "|", StringComparison.Ordinal) + "$",
        RegexOptions.ExplicitCapture,
        TimeSpan.FromSeconds(5));

    private static bool IsBuilt(string path) => path.Replace('\\', '/').Split('/').Any(folder => folder is "bin" or "obj");

    private static string Code(string file) => string.Join(
        '\n',
        File.ReadLines(Path.Combine(Root(), "src", "GrooveLab.Audio", file)).Where(line => !line.TrimStart().StartsWith("//", StringComparison.Ordinal)));

    private static string Root([CallerFilePath] string path = "") =>
        Path.GetFullPath(Path.Combine(Path.GetDirectoryName(path)!, "..", "..", ".."));
}
