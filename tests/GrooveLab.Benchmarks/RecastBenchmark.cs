using System.Diagnostics;
using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;

namespace GrooveLab.Benchmarks;

/// <summary>How long it takes to move a song with words into another meter, and how that grows with its bars. The peer is the chart reader, which reads the same song.</summary>
internal static class RecastBenchmark
{
    private const int Runs = 5;
    private const int BarsInSection = 250;
    private const int RankedBars = 32;
    private static readonly int[] Sizes = [50, 500, 5000];
    private static readonly string[] Figures =
    [
        "C4:1/2 D4:1/4 E4", "C4:3/8 D4:1/8 E4:1/4 D4", "C4:1/4 D4 E4 F4", "C4:1/8 D4:1/4 E4:1/8 F4:1/4 E4", "C4:3/8 D4 E4:1/4", "C4:3/4 D4:1/4",
        "C4:1/8 D4 E4:1/4 F4 E4", "C4:1/4 D4:3/8 E4", "C4:4",
    ];

    public static int Run()
    {
        Console.WriteLine("| bars | recast, ms | per bar, µs | read, ms | recast to read |");
        Console.WriteLine("|---:|---:|---:|---:|---:|");
        var options = new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar));
        foreach (var bars in Sizes)
        {
            var text = Song(bars);
            var chart = ChartReader.ReadText(text, "song.toml").Chart!;
            var recast = Best(() => _ = SongRecast.Of(chart, options).Result);
            var read = Best(() => _ = ChartReader.ReadText(text, "song.toml"));
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {bars} | {recast:0.0} | {recast * 1000 / bars:0} | {read:0.0} | {recast / read:0.00} |"));
        }

        var ranked = ChartReader.ReadText(Song(RankedBars), "song.toml").Chart!;
        var count = TreatmentRanking.Of(ranked, null, options).Count;
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{count} ways for {RankedBars} bars: {Best(() => _ = TreatmentRanking.Of(ranked, null, options)):0} ms"));
        return 0;
    }

    // The least of several runs.
    private static double Best(Action work) => Enumerable.Range(0, Runs).Min(_ =>
    {
        var watch = Stopwatch.StartNew();
        work();
        return watch.Elapsed.TotalMilliseconds;
    });

    private static BarMeter Meter(string text) => BarMeter.TryParse(text, out var meter, out var problem) ? meter : throw new ArgumentException(problem);

    private static string Song(int bars)
    {
        var random = new Random(5);
        var text = new System.Text.StringBuilder("format = 2\ntitle = \"Long\"\nkey = \"C\"\ntempo = \"quarter = 100\"\nmeter = \"4/4\"\n");
        for (var from = 0; from < bars; from += BarsInSection)
        {
            var figures = Enumerable.Range(0, Math.Min(BarsInSection, bars - from)).Select(_ => Figures[random.Next(Figures.Length)]).ToList();
            var notes = figures.Sum(figure => figure.Split(' ').Length);
            text.Append(CultureInfo.InvariantCulture, $"\n[[section]]\nname = \"part {from}\"\nchords = \"| {string.Join(" | ", figures.Select(_ => "C"))} |\"\n[section.tune]\n");
            text.Append(CultureInfo.InvariantCulture, $"notes = \"| {string.Join(" | ", figures)} |\"\nwords = [\"{string.Join(' ', Enumerable.Range(0, notes).Select(i => i % 3 == 2 ? "the" : "light"))}\"]\n");
        }

        return text.ToString();
    }
}
