using System.IO.Compression;
using System.Xml.Linq;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>Scores that the program writes, as a user runs it.</summary>
public sealed class ScoreExportTests : IDisposable
{
    private const string Chart = """
        format = 1
        title = "Lantern Stairs"
        key = "D dorian"
        tempo = "bar = 60"
        meter = "5/8 3+2"
        [[section]]
        name = "a"
        chords = "| Dm | G |"
        """;

    private readonly Running _program = new();

    // The bars of the chart and the one in which the last notes ring; the parts of the house band.
    [Fact]
    public void Export_Chart_WritesTheScoreOfItsBand()
    {
        var ran = _program.Run("export", _program.Write("a.toml", Chart), "-o", "a.musicxml");
        Assert.Equal("", ran.Error);
        Assert.Equal(0, ran.ExitCode);
        var score = XDocument.Load(_program.Path("a.musicxml"));
        var parts = score.Root!.Elements("part").ToList();
        Assert.Contains($"a.musicxml: {parts[0].Elements("measure").Count()} bars, {parts.Count} parts", ran.Out, StringComparison.Ordinal);
        Assert.Equal("Lantern Stairs", score.Descendants("work-title").Single().Value);
        Assert.All(parts, part => Assert.Equal("3+2", part.Descendants("beats").First().Value));
        Assert.Equal(["Dm", "G"], parts[0].Descendants("harmony").Take(2).Select(chord => chord.Descendants("root-step").First().Value + chord.Element("kind")!.Attribute("text")?.Value));
    }

    [Fact]
    public void Export_OnePartCompressed_WritesItAlone()
    {
        var ran = _program.Run("export", _program.Write("a.toml", Chart), "-o", "bass.mxl", "--part", "bass");
        Assert.Equal("", ran.Error);
        Assert.Equal(0, ran.ExitCode);
        using var archive = ZipFile.OpenRead(_program.Path("bass.mxl"));
        using var score = archive.GetEntry("score.musicxml")!.Open();
        var document = XDocument.Load(score);
        Assert.Single(document.Descendants("score-part"));
        Assert.Equal("bass", document.Descendants("miscellaneous-field").Single().Value);
        Assert.NotEmpty(document.Descendants("rehearsal"));
    }

    [Fact]
    public void Export_OptionThatAScoreDoesNotTake_IsRefusedWithItsReason()
    {
        var chart = _program.Write("a.toml", Chart);
        var ran = _program.Run("export", chart, "-o", "a.musicxml", "--exact");
        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("a score has every note on its written place anyway", ran.Error, StringComparison.Ordinal);
        Assert.False(File.Exists(_program.Path("a.musicxml")));
    }

    // What was exported is imported: the same meter and chords, and no tune, since the chart has none.
    [Fact]
    public void Import_ExportedScore_HasTheSameBars()
    {
        Assert.Equal(0, _program.Run("export", _program.Write("a.toml", Chart), "-o", "a.mxl").ExitCode);
        var ran = _program.Run("import", "a.mxl", "-o", "again.toml");
        Assert.Equal(0, ran.ExitCode);
        var text = File.ReadAllText(_program.Path("again.toml"));
        Assert.Contains("meter = \"5/8 3+2\"", text, StringComparison.Ordinal);
        Assert.Contains("| Dm | G |", text, StringComparison.Ordinal);
        Assert.DoesNotContain("[section.tune]", text, StringComparison.Ordinal);
    }

    public void Dispose() => _program.Dispose();
}
