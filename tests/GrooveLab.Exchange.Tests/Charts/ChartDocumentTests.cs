using GrooveLab.Exchange.Charts;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

public sealed class ChartDocumentTests
{
    private static readonly string Text = ChartTexts.WithSection("chords = \"| Dm | C |\"  # odd\n\n");

    [Fact]
    public void Read_OfAText_IsDoneOnce()
    {
        var document = ChartDocument.FromText(Text, "song.toml");

        Assert.Same(document.Read(), document.Read());
        Assert.Equal(Text, document.Text);
    }

    [Fact]
    public void Read_OfABrokenText_TellsItsProblems()
    {
        var document = ChartDocument.FromText("format = 1\nkey = \"D\n", "song.toml");

        Assert.StartsWith("song.toml:2:", document.Read().Problems[0].ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Read_OfATextThatIsTooLong_TellsSo()
    {
        var document = ChartDocument.FromText(Text + new string('#', ChartReader.LargestFile), "song.toml");

        Assert.Contains("larger than 1 MB", Assert.Single(document.Read().Problems).What, StringComparison.Ordinal);
    }

    [Fact]
    public void Save_KeepsAFileUnlessTold_AndLeavesNothingBeside()
    {
        var folder = Directory.CreateTempSubdirectory("groovelab-test");
        try
        {
            var path = Path.Combine(folder.FullName, "song.toml");
            var document = ChartDocument.FromText(Text, "song.toml");
            document.Save(path, overwrite: false);
            Assert.Equal(Text, ChartDocument.Open(path).Text);
            var chart = document.Read().Chart!;
            var other = ChartDifference.Write(document, chart, chart with { Seed = 3 }).Document;
            Assert.Throws<IOException>(() => other.Save(path, overwrite: false));
            Assert.Equal(Text, File.ReadAllText(path));
            other.Save(path, overwrite: true);
            Assert.Equal(3UL, ChartReader.Read(path).Chart!.Seed);
            Assert.Single(folder.GetFiles());
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    [Fact]
    public void FromChart_MakesATextOfTheChart()
    {
        var chart = ChartTexts.Chart(DemoChart.Text);

        Assert.Equal(ChartDescription.Of(chart), ChartDescription.Of(ChartDocument.FromChart(chart, "demo").Read().Chart!));
    }

    [Fact]
    public void ReadChords_AsTyped_GivesTheChartWithThem()
    {
        var chart = ChartTexts.Chart(Text);

        Assert.Equal(["F", "Am", "G"], ChartReader.ReadChords(chart, chart.Sections[0], "| F | Am G |").Chart!.Sections[0].Bars
            .SelectMany(bar => bar.Chords).Select(chord => chord.Symbol.Text));
        Assert.Contains("'H'", ChartReader.ReadChords(chart, chart.Sections[0], "| H |").Problems[0].What, StringComparison.Ordinal);
    }
}
