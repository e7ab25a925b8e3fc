using System.Text.RegularExpressions;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
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

        Assert.True(Files().Count >= 24);
        Assert.All(Files(), file => Assert.Matches(
            $@"\| `{Regex.Escape(file)}` \| {Regex.Escape(Read(file).Title)} \| .* \| {Regex.Escape(Read(file).Trains!)} \|", readme));
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
        Assert.InRange(unit.ToDouble(), 0.1, 0.7);
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Preset_SaysWhatItTrains_AndASlowerTempoToBeginWith(string file)
    {
        var chart = Read(file);

        Assert.False(string.IsNullOrWhiteSpace(chart.Trains));
        Assert.NotNull(chart.LearnerTempo);
        var tempo = new FormPlan(chart).BarAt(0).Tempo.WholesPerMinute;
        var slower = new FormPlan(chart with { Tempo = chart.LearnerTempo.Value }).BarAt(0).Tempo.WholesPerMinute;
        Assert.InRange((slower / tempo).ToDouble(), 0.5, 0.85);
    }

    [Fact]
    public void Presets_WithoutMeterAndTitle_AreAllDifferent()
    {
        var music = Files().Select(file => string.Join('\n', Music(Read(file)))).ToList();

        Assert.Equal(music.Count, music.Distinct(StringComparer.Ordinal).Count());
    }

    [Fact]
    public void Presets_AThirdAtLeast_AreSongsWithWords() =>
        Assert.True(Files().Count(file => Read(file).Sections.Any(section => section.Tune?.Verses.Count > 0)) * 3 >= Files().Count);

    [Theory]
    [InlineData("five-eight-3-2.toml")]
    [InlineData("five-eight-2-3.toml")]
    public void Presets_TheThreeFives_HaveTheSameChords(string file) => Assert.Equal(Chords("five-eight-undivided.toml"), Chords(file));

    [Fact]
    public void Presets_FerryLanterns_LastsAsLongInFourAsInFive()
    {
        var four = new FormPlan(Read("ferry-lanterns-four.toml"));
        var five = new FormPlan(Read("ferry-lanterns-five.toml"));

        Assert.Equal(
            four.BarAt(0).Tempo.Seconds(four.PassLength),
            five.BarAt(0).Tempo.Seconds(five.PassLength));
        Assert.Equal(Syllables("ferry-lanterns-four.toml"), Syllables("ferry-lanterns-five.toml"));
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Preset_Words_BeginOnBarLines(string file)
    {
        // Plain singing: if a bar of a verse has a syllable, one is on its bar line. Common practice, no source.
        foreach (var section in Read(file).Sections.Where(section => section.Tune is not null))
        {
            foreach (var verse in section.Tune!.Verses)
            {
                var line = Span.Zero;
                foreach (var bar in section.Bars)
                {
                    var inBar = Enumerable.Range(0, verse.Count)
                        .Where(i => verse[i] is not null && section.Tune.Notes[i].Onset >= line && section.Tune.Notes[i].Onset < line + bar.Meter.Length)
                        .ToList();
                    Assert.True(inBar.Count == 0 || section.Tune.Notes[inBar[0]].Onset == line, $"{section.Name}: {verse[inBar.FirstOrDefault()]}");
                    line += bar.Meter.Length;
                }
            }
        }
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
    public void Presets_Meters_AreThoseThatAreWanted()
    {
        var meters = Files().Select(file => string.Join(", ", Read(file).Sections.SelectMany(section => section.Bars).Select(bar => bar.Meter.ToString()).Distinct()));

        Assert.Superset(
            new HashSet<string>(StringComparer.Ordinal)
            {
                "5/8 none", "5/8 3+2", "5/8 2+3", "7/8 2+2+3", "5/4 none", "9/8 2+2+2+3", "5/8 3+2, 7/8 2+2+3", "4/4 2+2, 2/4 none",
                "5/4 2+2+1", "5/4 3+2", "7/8 3+2+2", "7/8 2+3+2", "7/4 4+3", "8/8 3+3+2", "9/4 2+2+2+3", "9/8 3+3+3", "10/8 3+2+2+3",
                "11/8 2+2+3+2+2", "11/8 3+3+3+2", "13/16 2+2+2+3+2+2", "15/16 2+2+2+2+3+2+2", "6/8 3+3, 3/4 none", "4/4 2+2, 5/4 2+3",
                "3/4 none", "3/8 none", "4/4 2+2", "4/4 2+2, 5/8 3+2", "7/8 2+2+3, 7/4 2+2+3",
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
        // Plain singing: the first syllable of a longer word is on a bar line or a group start. Common practice, no source.
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

    // Key, pace, band, chords in their bars, tunes: the rest after removing title, meter and everything silent.
    private static IEnumerable<string> Music(Chart chart)
    {
        yield return $"{chart.Key} {chart.Tempo} {chart.Feel} {chart.Swing} {chart.DroneSeconds}";
        foreach (var part in chart.Parts)
        {
            yield return $"{part.Role} {part.Instrument.Name} {part.Settings}";
        }

        foreach (var section in chart.Sections)
        {
            yield return $"{section.BarGroups} {section.Key} {section.Feel} {section.StopTime} {section.BreakBars} {section.HoldSeconds} {(section.Playing is { } playing ? string.Join(' ', playing) : "all")}";
            yield return string.Join('|', section.Bars.Select(bar => string.Join(' ', bar.Chords.Select(chord => chord.Symbol.Text))));
            yield return string.Join(' ', section.Tune?.Notes.Select(note => $"{note.Pitch}:{note.Length}") ?? []);
        }
    }

    private static IEnumerable<string> Chords(string file) =>
        Read(file).Sections.SelectMany(section => section.Bars).SelectMany(bar => bar.Chords).Select(chord => chord.Symbol.Text);

    private static IEnumerable<string> Syllables(string file) =>
        Read(file).Sections.SelectMany(section => section.Tune?.Verses ?? []).SelectMany(verse => verse).OfType<Syllable>().Select(syllable => syllable.Text);

    internal static Chart Read(string file) => ChartTexts.Chart(File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), file)));

    internal static List<string> Files() =>
        [.. Directory.EnumerateFiles(ChartTexts.Folder("presets"), "*.toml").Select(path => Path.GetFileName(path)!).Order(StringComparer.Ordinal)];
}
