using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>All checks on bars alone, without audio.</summary>
public static class BandChecks
{
    /// <summary>The checks of given bars: hands, harmony, rhythm, lengths and the riff of the roll.</summary>
    public static IReadOnlyList<CheckResult> OfBars(BandBars band) =>
        [.. HandChecks.Of(band), .. HarmonyChecks.Of(band), .. RhythmChecks.Of(band), .. LengthChecks.Of(band), .. RollChecks.InForm(band)];

    /// <summary>The checks of a chart as a band plays it: those of its bars, and those for which the band plays more (32 bars of one
    /// chord for the roll, hundreds of bars for the human feel).</summary>
    /// <param name="composer">The band.</param>
    /// <exception cref="ArgumentException">The band has no end; set a number of bars.</exception>
    public static IReadOnlyList<CheckResult> Of(BarComposer composer)
    {
        var chart = composer.Chart;
        var oneChord = RollChecks.OneChord(chart);
        var roll = new BarComposer(oneChord, new ComposerOptions { Seed = composer.Options.Seed, Bars = RollChecks.Bars, CountIn = false });
        var many = new BarComposer(chart, new ComposerOptions { Seed = composer.Options.Seed, Bars = FeelChecks.Bars, CountIn = false });
        return
        [
            .. OfBars(BandBars.Of(composer, chart)),
            .. RollChecks.Of(BandBars.Of(roll, oneChord)),
            .. FeelChecks.Of(BandBars.Of(many, chart)),
        ];
    }
}
