namespace GrooveLab.SameMusic.Charts;

/// <summary>A random chart.</summary>
/// <param name="Number">Its number.</param>
/// <param name="Text">The chart in format 1.</param>
/// <param name="Features">What it contains.</param>
internal sealed record RandomChart(int Number, string Text, IReadOnlySet<ChartFeature> Features)
{
    /// <summary>An instrument defined by some charts; its file is beside them.</summary>
    public const string OwnInstruments = """
        [[instrument]]
        name = "octave mandolin"
        also = ["big mandolin"]
        technique = "plectrum"
        range = "G2-E5"
        strings = ["G2", "D3", "A3", "E4"]
        frets = 19
        voices = 4
        hand-limit-ms = 90
        stretch = 5
        low-interval = "C3"
        program = 25
        damped-program = 28
        registers = { pulse = "G2-A4", roll = "D3-C5" }
        suits = ["pulse", "roll"]

        """;

    /// <summary>The name of its file.</summary>
    public string FileName => $"random-{Number:000}.toml";
}
