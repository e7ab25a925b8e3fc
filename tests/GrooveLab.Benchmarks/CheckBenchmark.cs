using System.Diagnostics;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Measures what <c>check</c> does, reading a chart and composing every bar, on one long section and on many short ones: four times the bars
/// must take about four times as long.
/// </summary>
internal static class CheckBenchmark
{
    private const int Runs = 3;
    private const int BarsOfShortSection = 8;

    // The most that four times the bars may take.
    private const double MostGrowth = 5;

    private static readonly int[] Lengths = [1_000, 4_000, 16_000];

    public static int Run()
    {
        Console.WriteLine($"cost of checking a chart, shortest of {Runs} runs");
        Console.WriteLine($"{"sections",-12}{"bars",8}{"ms",10}{"us/bar",10}{"times a quarter of the bars",28}");
        var grows = false;
        foreach (var (name, barsOfSection) in new[] { ("one", int.MaxValue), ("many", BarsOfShortSection) })
        {
            var before = double.NaN;
            Check(Chart(Lengths[0], barsOfSection));
            foreach (var bars in Lengths)
            {
                var text = Chart(bars, barsOfSection);
                var milliseconds = Enumerable.Range(0, Runs).Min(_ => Check(text));
                var growth = milliseconds / before;
                grows |= growth > MostGrowth;
                Console.WriteLine(
                    $"{name,-12}{bars,8}{milliseconds,10:0}{milliseconds * 1000 / bars,10:0.0}{(double.IsNaN(growth) ? "" : $"{growth:0.00}"),28}");
                before = milliseconds;
            }
        }

        if (grows)
        {
            Console.Error.WriteLine($"four times the bars take more than {MostGrowth} times as long");
        }

        return grows ? 1 : 0;
    }

    private static double Check(string text)
    {
        var start = Stopwatch.GetTimestamp();
        var chart = ChartReader.ReadText(text, "long.toml").Chart ?? throw new InvalidOperationException("The chart is not read.");
        var band = new BarComposer(chart);
        for (var i = 0; i < band.Plan.BarsInPass; i++)
        {
            _ = band.BarAt(i);
        }

        return Stopwatch.GetElapsedTime(start).TotalMilliseconds;
    }

    private static string Chart(int bars, int barsOfSection)
    {
        var text = new System.Text.StringBuilder(
            "format = 1\ntitle = \"Long\"\nkey = \"G major\"\ntempo = \"quarter = 120\"\nmeter = \"4/4\"\n");
        foreach (var (role, instrument) in new[]
        {
            ("pulse", "mandolin"), ("roll", "guitar"), ("bass", "plucked bass"), ("sustain", "concertina"), ("tune", "fiddle"),
        })
        {
            text.Append($"[[part]]\nrole = \"{role}\"\ninstrument = \"{instrument}\"\n");
        }

        for (var done = 0; done < bars; done += barsOfSection)
        {
            barsOfSection = Math.Min(barsOfSection, bars - done);
            text.Append($"[[section]]\nname = \"s{done}\"\nchords = \"\"\"\n");
            text.Insert(text.Length, "| G | C | Em | D |\n", barsOfSection / 4);
            text.Append("\"\"\"\n[section.tune]\nnotes = \"\"\"\n");
            text.Insert(text.Length, "| G4:1 B4 D5 B4 | C5:1 E5 C5:2 | B4:1 G4 A4 B4 | A4:4 |\n", barsOfSection / 4);
            text.Append("\"\"\"\n");
        }

        return text.ToString();
    }
}
