using System.Diagnostics;
using System.Text.Json;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Measures the cost of composing a bar, compared with known work on the same bars: the framework's JSON writer printing their notes.
/// </summary>
internal static class BandBenchmark
{
    private const int Bars = 400;
    private const int Runs = 7;

    public static int Run(string presets)
    {
        Console.WriteLine($"cost of composing a bar, {Bars} bars of each chart, median of {Runs} runs");
        Console.WriteLine($"{"chart",-28}{"notes/bar",10}{"us/bar",10}{"bytes/bar",12}{"JSON us/bar",13}{"ratio",8}{"jump us",10}");
        foreach (var path in Directory.EnumerateFiles(presets, "*.toml").Order(StringComparer.Ordinal))
        {
            if (ChartReader.Read(path).Chart is { } chart)
            {
                Measure(Path.GetFileNameWithoutExtension(path), chart);
            }
        }

        return 0;
    }

    private static void Measure(string name, Chart chart)
    {
        var compose = new List<double>();
        var peer = new List<double>();
        var jump = new List<double>();
        long bytes = 0;
        var notes = 0;
        for (var run = 0; run < Runs; run++)
        {
            var band = new BarComposer(chart, new ComposerOptions { Bars = Bars });
            var bars = new Bar[Bars];
            var before = GC.GetAllocatedBytesForCurrentThread();
            var start = Stopwatch.GetTimestamp();
            for (var i = 0; i < Bars; i++)
            {
                bars[i] = band.BarAt(i);
            }

            compose.Add(Microseconds(start) / Bars);
            bytes = (GC.GetAllocatedBytesForCurrentThread() - before) / Bars;
            notes = bars.Sum(bar => bar.Notes.Count);
            start = Stopwatch.GetTimestamp();
            foreach (var bar in bars)
            {
                Print(bar);
            }

            peer.Add(Microseconds(start) / Bars);

            // The cost of a jump: another bar, with nothing cached.
            var other = new BarComposer(chart, new ComposerOptions { Bars = Bars });
            start = Stopwatch.GetTimestamp();
            other.BarAt(Bars - 1);
            jump.Add(Microseconds(start));
        }

        var (mine, its) = (Median(compose), Median(peer));
        Console.WriteLine(
            $"{name,-28}{(double)notes / Bars,10:0.0}{mine,10:0.0}{bytes,12}{its,13:0.0}{mine / its,8:0.00}{Median(jump),10:0}");
    }

    private static void Print(Bar bar)
    {
        using var json = new Utf8JsonWriter(Stream.Null);
        json.WriteStartArray();
        foreach (var note in bar.Notes)
        {
            json.WriteStartObject();
            json.WriteString("onset", note.Onset.ToString());
            json.WriteString("length", note.Length.ToString());
            json.WriteNumber("key", note.Key);
            json.WriteNumber("velocity", note.Velocity);
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }

    private static double Microseconds(long since) => Stopwatch.GetElapsedTime(since).TotalMicroseconds;

    private static double Median(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
