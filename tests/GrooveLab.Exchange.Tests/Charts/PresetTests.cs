using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

public sealed class PresetTests
{
    public static TheoryData<string> Presets => [.. Files()];

    [Fact]
    public void Presets_AreThere_AndTheReadmeNamesThemAll()
    {
        var readme = File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), "README.md"));

        Assert.True(Files().Count >= 8);
        Assert.All(Files(), file => Assert.Contains(file, readme, StringComparison.Ordinal));
        Assert.All(Files(), file => Assert.Contains(Read(file).Title, readme, StringComparison.Ordinal));
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Preset_IsReadWithoutProblems_AndHasRoomForAGroove(string file)
    {
        var chart = Read(file);

        Assert.InRange(chart.Sections.Sum(section => section.Bars.Count), 8, 32);
        Assert.InRange(chart.Parts.Count, 4, 8);
        Assert.Contains(chart.Parts, part => part.Role == Role.Count);
        var unit = new FormPlan(chart).BarAt(0).Tempo.Seconds(chart.Sections[0].Bars[0].Meter.Unit);
        Assert.InRange(unit.ToDouble(), 0.18, 0.6);
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Preset_Band_IsAUsualOne(string file) =>
        Assert.Empty(ChartReader.Read(Path.Combine(ChartTexts.Folder("presets"), file)).Remarks);

    [Theory]
    [MemberData(nameof(Presets))]
    public void Preset_BeginsWithARemarkThatTeaches(string file) =>
        Assert.StartsWith("# ", File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), file)), StringComparison.Ordinal);

    [Fact]
    public void Presets_Meters_AreTheEightThatAreWanted()
    {
        var meters = Files().Select(file => string.Join(", ", Read(file).Sections.SelectMany(section => section.Bars).Select(bar => bar.Meter.ToString()).Distinct()));

        Assert.Superset(
            new HashSet<string>(StringComparer.Ordinal)
            {
                "5/8 none", "5/8 3+2", "5/8 2+3", "7/8 2+2+3", "5/4 none", "9/8 2+2+2+3", "5/8 3+2, 7/8 2+2+3", "4/4 2+2, 2/4 none",
            },
            meters.ToHashSet(StringComparer.Ordinal));
    }

    [Fact]
    public void DemoChart_IsReadWithoutProblems_AndIsASongOfTwentyFourBars()
    {
        var chart = ChartTexts.Chart(DemoChart.Text);

        Assert.Equal("Ferry Lanterns", chart.Title);
        Assert.Equal(Enum.GetValues<Role>(), chart.Parts.Select(part => part.Role));
        Assert.Equal(24, chart.Sections.Sum(section => section.Bars.Count));
        Assert.All(chart.Sections, section => Assert.All(section.Bars, bar => Assert.Equal("5/8 3+2", bar.Meter.ToString())));
        Assert.Equal([2, 1], chart.Sections.Select(section => section.Tune!.Verses.Count));
    }

    [Fact]
    public void DemoChart_EveryWord_StartsOnABarLineOrInsideIt()
    {
        // Plain singing: the first syllable of a word of several stands on a bar line or a group start. Common practice, no source.
        foreach (var section in ChartTexts.Chart(DemoChart.Text).Sections)
        {
            foreach (var verse in section.Tune!.Verses)
            {
                var bars = 0;
                for (var i = 0; i < verse.Count; i++)
                {
                    if (verse[i] is not null && (section.Tune.Notes[i].Onset.Wholes / Span.Of(5, 8).Wholes).IsInteger)
                    {
                        bars++;
                    }
                }

                Assert.Equal(section.Bars.Count, bars);
            }
        }
    }

    private static Chart Read(string file) => ChartTexts.Chart(File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), file)));

    private static List<string> Files() =>
        [.. Directory.EnumerateFiles(ChartTexts.Folder("presets"), "*.toml").Select(path => Path.GetFileName(path)!).Order(StringComparer.Ordinal)];
}
