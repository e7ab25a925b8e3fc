using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Notation;
using GrooveLab.Music.ToScore;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>The scores of all presets with other random seeds.</summary>
public sealed class PresetScoreTests
{
    public static TheoryData<string, ulong> Presets
    {
        get
        {
            var data = new TheoryData<string, ulong>();
            foreach (var file in Directory.EnumerateFiles(ChartTexts.Folder("presets"), "*.toml").Order(StringComparer.Ordinal))
            {
                data.Add(Path.GetFileName(file), 7);
                data.Add(Path.GetFileName(file), 1234);
            }

            return data;
        }
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Score_AnyPresetAndSeed_FillsItsVoicesWithWrittenValues(string preset, ulong seed)
    {
        var score = ScoreOf(preset, seed);

        Assert.Empty(VoiceCheck.Faults(score));
        Assert.All(
            score.Parts.SelectMany(part => part.Measures).SelectMany(measure => measure.Voices).SelectMany(voice => voice.Events),
            one => Assert.True(one.Value is not null || one is RestEvent { IsWholeMeasure: true }));
    }

    // An engraver draws a line to nowhere otherwise.
    [Theory]
    [MemberData(nameof(Presets))]
    public void Lines_AnyPresetAndSeed_BeginAndEnd(string preset, ulong seed)
    {
        foreach (var part in ScoreOf(preset, seed).Parts)
        {
            var open = new HashSet<(MarkKind Kind, int? Number)>();
            foreach (var measure in part.Measures)
            {
                var lines = measure.Marks.Select(placed => (placed.At, placed.Mark))
                    .Concat(measure.Voices.SelectMany(voice => voice.Events.Select((one, index) => (one.Length, one, index))).SelectMany(one => one.one.Marks.Select(mark => (one.Length, mark))))
                    .Select(line => line.Item2)
                    .Where(mark => mark.Edge is MarkEdge.Start or MarkEdge.Stop)
                    .ToList();
                foreach (var mark in lines)
                {
                    var changed = mark.Edge == MarkEdge.Start ? open.Add((mark.Kind, mark.Number)) : open.Remove((mark.Kind, mark.Number));
                    Assert.True(changed, $"{part.Name}, measure {part.Measures.ToList().IndexOf(measure)}: {mark.Kind} {mark.Number} {mark.Edge}");
                }
            }

            Assert.Empty(open);
        }
    }

    private static WrittenMusic ScoreOf(string preset, ulong seed)
    {
        var chart = ChartReader.Read(Path.Combine(ChartTexts.Folder("presets"), preset)).Chart!;
        return BandScore.Of(new BarComposer(chart, new ComposerOptions { Seed = seed }), token: TestContext.Current.CancellationToken);
    }

    [Fact]
    public void AllBars_SeveralThreads_AreThoseOfTheBandInOrder()
    {
        var band = new BarComposer(DemoChartOf());

        var bars = AllBars.Of(band, TestContext.Current.CancellationToken).ToList();

        Assert.Equal(Enumerable.Range(-1, band.End!.Value + 1), bars.Select(bar => bar.Index));
        Assert.Equal(band.BarAt(5).Notes, bars[6].Notes);
        Assert.Throws<ArgumentException>(() => AllBars.Of(new BarComposer(DemoChartOf(), new ComposerOptions { Endless = true }), TestContext.Current.CancellationToken));
    }

    private static Music.Charts.Chart DemoChartOf() => ChartReader.ReadText(DemoChart.Text, DemoChart.Name).Chart!;
}
