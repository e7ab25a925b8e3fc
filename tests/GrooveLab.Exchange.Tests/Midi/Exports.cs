using System.Collections.Concurrent;
using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Midi;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>A chart's bars and their MIDI files, with and without human feel.</summary>
internal sealed record Exported(string Name, BarComposer Band, IReadOnlyList<Bar> Bars, MidiExportResult Exact, MidiExportResult Felt);

/// <summary>Every preset, and charts in odd meters, exported once for all tests.</summary>
internal static class Exports
{
    private static readonly ConcurrentDictionary<string, Lazy<Exported>> Made = new(StringComparer.Ordinal);

    /// <summary>The presets' names.</summary>
    public static IReadOnlyList<string> Presets { get; } =
        [.. Directory.EnumerateFiles(ChartTexts.Folder("presets"), "*.toml").Select(path => Path.GetFileNameWithoutExtension(path)!).Order(StringComparer.Ordinal)];

    /// <summary>Charts whose bars have every number of units from 1 to 64, over each unit that a file supports; and over units that it
    /// does not support.</summary>
    public static IReadOnlyList<string> OddMeters { get; } = ["units of 1 to 8", "units of 8", "units of 16", "units of 32", "units of 64", "other units"];

    /// <summary>All of them, in order.</summary>
    public static IEnumerable<Exported> All => Presets.Concat(OddMeters).Select(Of);

    /// <summary>The export with that name.</summary>
    public static Exported Of(string name) => Made.GetOrAdd(name, _ => new Lazy<Exported>(() => Make(name))).Value;

    /// <summary>A chart's text, exported.</summary>
    public static Exported OfText(string name, string text, bool countIn = true)
    {
        var band = new BarComposer(ChartTexts.Chart(text), new ComposerOptions { CountIn = countIn });
        var bars = Enumerable.Range(band.First, band.End!.Value - band.First).Select(band.BarAt).ToList();
        return new Exported(
            name, band, bars, MidiExport.Of(band, new MidiExportOptions { HumanFeel = false }), MidiExport.Of(band));
    }

    /// <summary>The meters of a chart of odd meters.</summary>
    public static IEnumerable<string> MetersOf(string name) => name switch
    {
        "units of 1 to 8" => new[] { 1, 2, 4, 8 }.SelectMany(below => Enumerable.Range(1, 6).Select(above => $"{above}/{below} none")),
        "other units" => ["7/12 3+2+2", "5/6 3+2", "4/3", "9/20", "11/24 3+3+3+2", "2/5", "3/7", "4/9", "5/11", "6/13", "33/48", "1/3"],
        _ => Enumerable.Range(1, 64).Select(above => $"{above}/{name[9..]}"),
    };

    private static Exported Make(string name)
    {
        if (!OddMeters.Contains(name))
        {
            return OfText(name, File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), name + ".toml")));
        }

        var text = new StringBuilder("format = 1\ntitle = \"Odd – ungerade\"\nkey = \"D dorian\"\ntempo = \"eighth = 260\"\nmeter = \"5/8 3+2\"\n");
        foreach (var (number, meter) in MetersOf(name).Index())
        {
            text.Append(CultureInfo.InvariantCulture, $"[[section]]\nname = \"s{number}\"\nmeter = \"{meter}\"\nchords = \"| Dm |\"\n");
        }

        return OfText(name, text.ToString());
    }

    /// <summary>The bar lines in ticks from the written time signatures, computed independently of the program's own grid.</summary>
    public static IReadOnlyList<long> BarTicks(Exported export)
    {
        var ticks = new List<long>();
        var at = 0L;
        foreach (var bar in export.Bars)
        {
            ticks.Add(at);
            var below = bar.Meter.Signature.Denominator;
            var written = 64;
            while (written > below)
            {
                written /= 2;
            }

            var units = bar.Length / bar.Meter.Unit;
            Assert.True(units.IsInteger);
            at += units.Numerator * 4 * export.Exact.File.Division.Ticks / written;
        }

        ticks.Add(at);
        return ticks;
    }
}
