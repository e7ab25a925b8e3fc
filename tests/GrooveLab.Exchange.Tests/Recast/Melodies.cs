using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>Twenty syncopated melodies with words in 4/4, laid out by hand before any of them was moved into another meter. The stress of each syllable is written
/// beside it, except where a word can be sung either way.</summary>
internal static class Melodies
{
    public static IReadOnlyList<string> Names { get; } =
        [.. Directory.EnumerateFiles(Folder, "*.toml").Select(file => Path.GetFileNameWithoutExtension(file)).Order(StringComparer.Ordinal)];

    private static string Folder => ChartTexts.Folder("tests/GrooveLab.Exchange.Tests/Recast/Melodies");

    public static Chart Chart(string name) => ChartTexts.Chart(File.ReadAllText(Path.Combine(Folder, name + ".toml")));
}
