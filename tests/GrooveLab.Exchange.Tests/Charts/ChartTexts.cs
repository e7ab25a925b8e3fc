using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Short charts to test with.</summary>
internal static class ChartTexts
{
    /// <summary>The top of a chart, in five lines.</summary>
    public const string Top = "format = 1\ntitle = \"Test\"\nkey = \"D dorian\"\ntempo = \"eighth = 260\"\nmeter = \"5/8 3+2\"\n";

    /// <summary>A chart of one section; its first line is line 6.</summary>
    public static string WithSection(string lines) => Top + "[[section]]\n" + lines + "\n";

    /// <summary>A chart of one section with one chord per bar and a tune; the section's header is line 6.</summary>
    public static string WithTune(int bars, string lines) => WithSection($"chords = \"Dm\"\nbars = {bars}\n[section.tune]\n{lines}");

    public static Chart Chart(string text)
    {
        var result = ChartReader.ReadText(text, "chart.toml");
        Assert.True(result.IsChart, string.Join('\n', result.Problems));
        return result.Chart;
    }

    public static Section Section(string lines) => Chart(WithSection(lines)).Sections[0];

    public static Tune Tune(int bars, string lines) => Chart(WithTune(bars, lines)).Sections[0].Tune!;

    public static IReadOnlyList<FileProblem> Problems(string text) => ChartReader.ReadText(text, "chart.toml").Problems;

    /// <summary>The project's own folder of that name.</summary>
    public static string Folder(string name)
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (!File.Exists(Path.Combine(folder.FullName, "GrooveLab.sln")))
        {
            folder = folder.Parent ?? throw new DirectoryNotFoundException("The tests run outside the project.");
        }

        return Path.Combine(folder.FullName, name);
    }
}
