using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Music.FromScore;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

public sealed class SectionsFoundTests(ITestOutputHelper output)
{
    // Measured on the presets; docs/import.md gives the same numbers.
    private const double LeastFound = 0.84;
    private const double LeastTrue = 1;

    [Fact]
    public void Make_PresetsAsOneRowOfBars_FindsMostSectionsAgain()
    {
        var (there, found, right) = (0, 0, 0);
        foreach (var name in PresetCharts.Names)
        {
            var chart = ChartReader.ReadText(PresetCharts.Text(name)!, name).Chart!;
            var music = FlatChart.Of(chart);
            var song = ChartMaker.Make(music, ImportedChartText.Options());
            var (truth, made) = (FlatChart.BordersOf(chart), FlatChart.BordersOf(song.Chart));
            (there, found, right) = (there + truth.Count, found + made.Count, right + made.Count(truth.Contains));
            output.WriteLine($"{name}: {string.Join(' ', truth.Order())} | {string.Join(' ', made.Order())}");
            if (song.TunePart is not null && chart.Sections.Any(section => section.Tune is not null))
            {
                Assert.Equal(PlayedOut.Notes(music, 0, "1", 0), PlayedOut.Notes(song.Chart, "tune", 0));
            }

            Same.WhenRead(song);
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"found {right} of {there} ({(double)right / there:P1}); {right} of {found} borders are true ({(double)right / found:P1})"));
        Assert.InRange((double)right / there, LeastFound, 1);
        Assert.InRange((double)right / found, LeastTrue, 1);
    }
}
