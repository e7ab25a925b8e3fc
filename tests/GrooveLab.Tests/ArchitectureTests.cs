using ArchUnitNET.Domain;
using ArchUnitNET.Loader;
using ArchUnitNET.xUnitV3;
using Xunit;
using static ArchUnitNET.Fluent.ArchRuleDefinition;

namespace GrooveLab.Tests;

/// <summary>
/// The direction of references: Music and Files refer to no other project, Exchange and Audio refer to these two but not to each other;
/// inside each project a folder uses only the folders before it in the project's order.
/// </summary>
public sealed class ArchitectureTests
{
    private const string Music = "GrooveLab.Music";
    private const string Exchange = "GrooveLab.Exchange";
    private const string Audio = "GrooveLab.Audio";
    private const string Files = "GrooveLab.Files";
    private const string Program = "groovelab";

    private static readonly Architecture House = new ArchLoader().LoadAssemblies(
        System.Reflection.Assembly.Load(Music),
        System.Reflection.Assembly.Load(Exchange),
        System.Reflection.Assembly.Load(Audio),
        System.Reflection.Assembly.Load(Files),
        System.Reflection.Assembly.Load(Program)).Build();

    // The order of the folders of each project: each may use those above it. docs/how-it-works.md lists their contents.
    private static readonly Dictionary<string, string[]> Order = new(StringComparer.Ordinal)
    {
        [Music] =
        [
            "GrooveLab.Music.Wording", "GrooveLab.Music.Time", "GrooveLab.Music.Meter", "GrooveLab.Music.Harmony", "GrooveLab.Music.Analysis",
            "GrooveLab.Music.Feel", "GrooveLab.Music.Band", "GrooveLab.Music.Notation", "GrooveLab.Music.Charts", "GrooveLab.Music.FromScore",
            "GrooveLab.Music.Bars", "GrooveLab.Music.Recast", "GrooveLab.Music.Ensemble", "GrooveLab.Music.Ensemble.Checks", "GrooveLab.Music.ToScore", "GrooveLab.Music.Sheets", "GrooveLab.Music.Performance",
            "GrooveLab.Music.Survey", "GrooveLab.Music.Practice",
        ],
        [Exchange] = ["GrooveLab.Exchange", "GrooveLab.Exchange.Toml", "GrooveLab.Exchange.Settings", "GrooveLab.Exchange.Instruments", "GrooveLab.Exchange.Charts",
            "GrooveLab.Exchange.Scores", "GrooveLab.Exchange.Midi", "GrooveLab.Exchange.Sheets", "GrooveLab.Exchange.MusicXml", "GrooveLab.Exchange.Abc",
            "GrooveLab.Exchange.SongTexts", "GrooveLab.Exchange.Import"],
        [Audio] =
        [
            "GrooveLab.Audio.Failures", "GrooveLab.Audio.Vorbis", "GrooveLab.Audio.Flac", "GrooveLab.Audio.Opus", "GrooveLab.Audio.SoundFonts", "GrooveLab.Audio.Synthesis", "GrooveLab.Audio.BuiltInSounds",
            "GrooveLab.Audio.Devices", "GrooveLab.Audio.SoundFiles", "GrooveLab.Audio.Playback.Engine", "GrooveLab.Audio.Playback", "GrooveLab.Audio.Conducting",
        ],
        [Files] = ["GrooveLab.Files.Posix", "GrooveLab.Files"],
        [Program] =
        [
            "GrooveLab.Store", "GrooveLab.Inputs", "GrooveLab.Screen", "GrooveLab.Outputs", "GrooveLab.Export", "GrooveLab.Pack", "GrooveLab.Commands", "GrooveLab",
        ],
    };

    [Theory]
    [InlineData(Music, Exchange)]
    [InlineData(Music, Audio)]
    [InlineData(Music, Program)]
    [InlineData(Music, Files)]
    [InlineData(Files, Music)]
    [InlineData(Files, Exchange)]
    [InlineData(Files, Audio)]
    [InlineData(Files, Program)]
    [InlineData(Exchange, Audio)]
    [InlineData(Exchange, Program)]
    [InlineData(Audio, Exchange)]
    [InlineData(Audio, Program)]
    public void Project_OfTheHouse_KnowsNothingOutsideItsDirection(string from, string to)
    {
        var rule = Types().That().ResideInAssembly(System.Reflection.Assembly.Load(from))
            .Should().NotDependOnAny(Types().That().ResideInAssembly(System.Reflection.Assembly.Load(to)));
        rule.Check(House);
    }

    [Theory]
    [InlineData(Music)]
    [InlineData(Files)]
    public void Project_ThatKnowsNobody_RefersToTheBaseLibraryOnly(string project)
    {
        var references = System.Reflection.Assembly.Load(project).GetReferencedAssemblies().Select(name => name.Name!).ToArray();
        Assert.All(references, name => Assert.True(name.StartsWith("System", StringComparison.Ordinal) || name == "Microsoft.Win32.Primitives", name));
    }

    [Theory]
    [InlineData("System.IO.File")]
    [InlineData("System.IO.FileStream")]
    [InlineData("System.Console")]
    [InlineData("System.DateTime")]
    [InlineData("System.Random")]
    [InlineData("System.Diagnostics.Stopwatch")]
    [InlineData("System.Guid")]
    public void Music_IsPure_TouchesNeitherFilesNorClocksNorChance(string type)
    {
        var users = House.Types
            .Where(user => user.Assembly.Name.StartsWith(Music, StringComparison.Ordinal))
            .Where(user => user.Dependencies.Any(dependency => dependency.Target.FullName == type))
            .Select(user => user.FullName);
        Assert.Empty(users);
    }

    [Theory]
    [InlineData(Music)]
    [InlineData(Exchange)]
    [InlineData(Audio)]
    [InlineData(Files)]
    [InlineData(Program)]
    public void Folder_OfAProject_KnowsOnlyThoseAboveIt(string project)
    {
        var order = Order[project];
        var wrong = new SortedSet<string>(StringComparer.Ordinal);
        foreach (var type in House.Types.Where(type => Is(type, project)))
        {
            var from = Array.IndexOf(order, type.Namespace.FullName);
            foreach (var target in type.Dependencies.Select(dependency => dependency.Target).Where(target => Is(target, project)))
            {
                var to = Array.IndexOf(order, target.Namespace.FullName);
                if (from < 0 || to < 0)
                {
                    wrong.Add($"{(from < 0 ? type : target).Namespace.FullName} has no place in the order");
                }
                else if (to > from)
                {
                    wrong.Add($"{type.FullName} uses {target.FullName}, but {order[from]} comes before {order[to]}");
                }
            }
        }

        Assert.Empty(wrong);
    }

    [Fact]
    public void Namespace_OfEverySourceFile_IsItsFolder()
    {
        var root = Running.Checkout();
        var wrong = Directory.EnumerateFiles(Path.Combine(root, "src"), "*.cs", SearchOption.AllDirectories)
            .Select(file => Path.GetRelativePath(Path.Combine(root, "src"), file).Replace('\\', '/'))
            .Where(file => !file.Contains("/obj/", StringComparison.Ordinal) && !file.Contains("/bin/", StringComparison.Ordinal))
            .Where(file => Declared(Path.Combine(root, "src", file)) is { } declared
                && declared != Path.GetDirectoryName(file)!.Replace('\\', '/').Replace('/', '.'));
        Assert.Empty(wrong);
    }

    // Files that a build or a tool makes are in .gitignore.
    [Fact]
    public void TopLevel_OfTheRepository_HasOnlyItsRooms()
    {
        string[] rooms =
        [
            "README.md", "DEVELOPERS.md", "GrooveLab.sln", "src", "tests", "presets", "soundfonts-readme", "docs", "global.json", "nuget.config",
            "Directory.Build.props", "Directory.Packages.props",
        ];
        var root = Running.Checkout();
        var made = File.ReadLines(Path.Combine(root, ".gitignore")).Select(line => line.Trim('/'));

        Assert.Empty(new DirectoryInfo(root).EnumerateFileSystemInfos().Select(one => one.Name).Where(name => name[0] != '.').Except(rooms).Except(made));
    }

    private static string? Declared(string file) => File.ReadLines(file)
        .Where(line => line.StartsWith("namespace ", StringComparison.Ordinal))
        .Select(line => line["namespace ".Length..].TrimEnd(';', ' '))
        .FirstOrDefault();

    private static bool Is(IType type, string project) =>
        type.Assembly?.Name.Split(',')[0] == project && type.Namespace?.FullName.StartsWith("GrooveLab", StringComparison.Ordinal) == true;
}
