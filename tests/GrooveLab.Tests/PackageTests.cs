using System.Text.Json;
using System.Text.RegularExpressions;
using System.Xml.Linq;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>What is given away with the program: the package's metadata, notices and texts. <c>.ci/tool</c> and <c>.ci/archives</c> try the packages themselves.</summary>
public sealed partial class PackageTests : IDisposable
{
    private static readonly string Program = Path.Combine(Running.Checkout(), "src", "GrooveLab");
    private static readonly string Package = Path.Combine(Program, "Package");
    private static readonly string Notices = Plain(File.ReadAllText(Path.Combine(Package, "THIRD-PARTY-NOTICES.txt")));

    private readonly Running _program = new();

    public static TheoryData<string> FirstSteps => ["linux", "macos", "windows"];

    /// <summary>Names, versions, licences and copyright lines, as the packages that were restored state them.</summary>
    [Fact]
    public void Notices_OfThePackages_AreThoseThatWereRestored()
    {
        var listed = Entry().Matches(Notices).Select(match => match.Value).ToArray();

        Assert.Equal(Packages().Select(package => package.Entry), listed);
    }

    /// <summary>MIT and BSD require that their text is passed on: a package's own licence and notice files stand in the notices whole.</summary>
    [Fact]
    public void Notices_TextsInThePackages_StandThereWhole()
    {
        var texts = Packages().SelectMany(package => Directory.EnumerateFiles(package.Folder))
            .Where(file => LicenceFile().IsMatch(Path.GetFileName(file)))
            .ToArray();

        Assert.NotEmpty(texts);
        Assert.All(texts, file => Assert.Contains(Plain(File.ReadAllText(file)).Trim(), Notices, StringComparison.Ordinal));
    }

    [Fact]
    public void Notices_EveryLicenceNamed_HasItsText()
    {
        var named = Entry().Matches(Notices).Select(match => match.Groups["licence"].Value).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).ToArray();

        Assert.Equal(["BSD-2-Clause", "MIT", "its own, below"], named);
        Assert.All(named.Take(2), name => Assert.Contains($"\nLicence {name}\n", Notices, StringComparison.Ordinal));
        // The sentences that decide: MIT's and BSD's, from the SPDX licence list.
        Assert.Contains("The above copyright notice and this permission notice shall be included in all\ncopies or substantial portions of the Software.", Notices, StringComparison.Ordinal);
        Assert.Contains("Redistributions in binary form must reproduce the above copyright notice,", Notices, StringComparison.Ordinal);
        Assert.Contains("Given by Concentus 2.2.2\n", Notices, StringComparison.Ordinal);
    }

    /// <summary>The licence of the table of word stresses must be beside every copy.</summary>
    [Fact]
    public void StressLicence_OfThePackage_IsTheTablesOwn()
    {
        var licence = Path.GetFullPath(Path.Combine(Program, Property("EnglishStressLicence").Replace("$(MSBuildThisFileDirectory)", "", StringComparison.Ordinal)));

        Assert.Contains("Carnegie Mellon University", File.ReadAllText(licence), StringComparison.Ordinal);
        Assert.Contains(Path.GetFileName(licence), Notices, StringComparison.Ordinal);
        Assert.True(File.Exists(Path.Combine(AppContext.BaseDirectory, Path.GetFileName(licence))), "It is not beside the built program.");
    }

    [Fact]
    public void Metadata_OfTheTool_NamesTheCommandAndItsFiles()
    {
        Assert.Equal("GrooveLab", Property("PackageId"));
        Assert.Equal("groovelab", Property("ToolCommandName"));
        Assert.Equal("true", Property("PackAsTool"));
        Assert.True(File.Exists(Path.Combine(Package, Property("PackageReadmeFile"))));
        Assert.InRange(Property("Description").Length, 80, 4000);
        var packed = Targets().Descendants("None").Where(item => (string?)item.Attribute("Pack") == "true").Select(item => (string?)item.Attribute("Include")).ToArray();
        Assert.Contains("$(MSBuildThisFileDirectory)Package/README.md", packed);
        Assert.Contains("$(PackageNotices)", packed);
        Assert.Contains("$(EnglishStressLicence)", packed);
    }

    [Fact]
    public void Metadata_Kinds_AreNativeOnLinuxAndOneForTheRest()
    {
        var kinds = Targets().Descendants("ToolPackageRuntimeIdentifiers").Select(one => (one.Value, (string?)one.Attribute("Condition"))).ToArray();

        Assert.Equal([("any", null), ("linux-x64;any", "'$(PacksNative)' == 'true'")], kinds);
    }

    [Fact]
    public void Version_ThatTheProgramPrints_IsThePackages()
    {
        var version = XDocument.Load(Path.Combine(Running.Checkout(), "Directory.Build.props")).Descendants("Version").Single().Value;
        var said = _program.Run("--version");

        Assert.Equal(0, said.ExitCode);
        Assert.Equal(version, said.Out.Trim().Split('+')[0]);
    }

    /// <summary>The built-in sounds, presets and demo are in the program's own libraries: the packages have no other file that they need.</summary>
    [Fact]
    public void Sounds_OfThePackage_AreInTheLibraries()
    {
        Assert.Contains("general-midi.tsv", System.Reflection.Assembly.Load("GrooveLab.Audio").GetManifestResourceNames());
        var exchange = System.Reflection.Assembly.Load("GrooveLab.Exchange").GetManifestResourceNames();
        Assert.Contains("instruments.toml", exchange);
        Assert.Contains("ferry-lanterns.toml", exchange);
        Assert.Equal(Running.Presets.Count, exchange.Count(name => name.StartsWith("presets/", StringComparison.Ordinal)));
    }

    [Fact]
    public void PackageReadme_Chart_IsReadAndItsCommandsExist()
    {
        var page = File.ReadAllText(Path.Combine(Package, "README.md"));
        var chart = _program.Write("two-lamps.toml", Regex.Match(page, "```toml\n(?<chart>.*?)```", RegexOptions.Singleline | RegexOptions.NonBacktracking | RegexOptions.ExplicitCapture).Groups["chart"].Value);

        Assert.Equal(0, _program.Run("check", chart).ExitCode);
        Assert.All(["demo", "check", "play", "render", "export"], command =>
        {
            Assert.Contains($"\ngroovelab {command}", page, StringComparison.Ordinal);
            Assert.Equal(0, _program.Run(command, "--help").ExitCode);
        });
        Assert.Equal(0, _program.Run("show", "seven-eight-2-2-3", "--bars", "1").ExitCode);
    }

    /// <summary>The texts in the archives: wide enough for a plain terminal, with the warning for the ears first, and frank about what was never run.</summary>
    [Theory]
    [MemberData(nameof(FirstSteps))]
    public void FirstSteps_OfASystem_AreShortAndFrank(string system)
    {
        var text = File.ReadAllText(Path.Combine(Package, $"first-steps-{system}.txt"));

        Assert.All(text.Split('\n'), line => Assert.InRange(line.Length, 0, 110));
        Assert.Contains("1. Start with the volume down", text, StringComparison.Ordinal);
        Assert.Contains("groovelab demo", text, StringComparison.Ordinal);
        Assert.Contains("THIRD-PARTY-NOTICES.txt", text, StringComparison.Ordinal);
        Assert.Contains("{own}", text, StringComparison.Ordinal);
        Assert.Equal(system != "linux", text.Contains("has never been run on", StringComparison.Ordinal));
        Assert.Equal(system == "macos", text.Contains("xattr -r -d com.apple.quarantine .", StringComparison.Ordinal));
        Assert.Equal(system == "windows", text.Contains("Unblock-File *", StringComparison.Ordinal));
    }

    /// <summary>The page for users names every archive that the script makes, and no other.</summary>
    [Fact]
    public void InstallPage_Archives_AreThoseOfTheScript()
    {
        var script = File.ReadAllText(Path.Combine(Running.Checkout(), ".ci", "archives"));
        var page = File.ReadAllText(Path.Combine(Running.Checkout(), "docs", "install.md"));
        var made = Regex.Matches(script, """^    "(?<name>[a-z0-9-]+)": \("[a-z0-9-]+", "(?<ending>[a-z.]+)", """, RegexOptions.Multiline | RegexOptions.NonBacktracking | RegexOptions.ExplicitCapture)
            .Select(match => $"`groovelab-VERSION-{match.Groups["name"].Value}{match.Groups["ending"].Value}`").ToArray();

        Assert.Equal(4, made.Length);
        Assert.Equal(made, Regex.Matches(page, "`groovelab-VERSION-[^`]+`", RegexOptions.NonBacktracking).Select(match => match.Value));
    }

    public void Dispose() => _program.Dispose();

    private static XDocument Targets() => XDocument.Load(Path.Combine(Program, "Package.targets"));

    private static string Property(string name) => Targets().Descendants(name).First().Value;

    private static string Plain(string text) => string.Join('\n', text.ReplaceLineEndings("\n").Split('\n').Select(line => line.TrimEnd()));

    // Every package of the restore that has code in the program, in alphabetical order, with its lines in the notices.
    private static IEnumerable<(string Folder, string Entry)> Packages()
    {
        using var assets = JsonDocument.Parse(File.ReadAllText(Path.Combine(Program, "obj", "project.assets.json")));
        var root = assets.RootElement;
        var folders = root.GetProperty("packageFolders").EnumerateObject().Select(one => one.Name).ToArray();
        return [.. root.GetProperty("targets").GetProperty("net10.0").EnumerateObject()
            .Where(one => one.Value.GetProperty("type").GetString() == "package" && HasCode(one.Value))
            .Select(one => Read(one.Name, folders
                .Select(folder => Path.Combine(folder, root.GetProperty("libraries").GetProperty(one.Name).GetProperty("path").GetString()!))
                .First(Directory.Exists)))
            .OrderBy(one => one.Entry.Split(' ')[0].ToLowerInvariant(), StringComparer.Ordinal)];
    }

    private static bool HasCode(JsonElement library) => new[] { "runtime", "runtimeTargets" }
        .Any(kind => library.TryGetProperty(kind, out var files) && files.EnumerateObject().Any(file => !file.Name.EndsWith("/_._", StringComparison.Ordinal)));

    private static (string Folder, string Entry) Read(string name, string folder)
    {
        var said = XDocument.Load(Directory.EnumerateFiles(folder, "*.nuspec").Single()).Descendants().ToLookup(one => one.Name.LocalName, StringComparer.Ordinal);
        var licence = said["license"].First();
        var copyright = said["copyright"].Concat(said["authors"]).Select(one => one.Value.Trim()).First(text => text.Length > 0);
        var kind = (string?)licence.Attribute("type") == "expression" ? licence.Value : "its own, below";
        return (folder, $"{name.Replace('/', ' ')}\n    licence: {kind}\n    copyright: {copyright}");
    }

    [GeneratedRegex(@"^(?<name>\S+ \S+)\n    licence: (?<licence>[^\n]+)\n    copyright: [^\n]+", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 2000)]
    private static partial Regex Entry();

    [GeneratedRegex("^(licen|notice|third-?party)", RegexOptions.IgnoreCase | RegexOptions.NonBacktracking | RegexOptions.ExplicitCapture)]
    private static partial Regex LicenceFile();
}
