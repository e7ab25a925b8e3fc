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
    public void FromChart_MakesATextOfTheChart()
    {
        var chart = ChartTexts.Chart(DemoChart.Text);

        Assert.Equal(ChartDescription.Of(chart), ChartDescription.Of(ChartDocument.FromChart(chart, "demo").Read().Chart!));
    }
}
