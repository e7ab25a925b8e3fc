using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Charts laid out by hand, each in a different style, and typical changes of a band.</summary>
internal static class HandWrittenCharts
{
    public static IReadOnlyList<string> Names { get; } =
        ["columns", "oneline", "remarks", "windows", "braces", "dotted", "literal", "marks", "melody", "plain", "voices", "endings", "returning"];

    public static IReadOnlyDictionary<string, Func<Chart, Chart>> Changes { get; } = new Dictionary<string, Func<Chart, Chart>>(StringComparer.Ordinal)
    {
        ["a whole step up"] = chart => chart.Transposed(chart.Key.IntervalUp(2)),
        ["a half step down"] = chart => chart.Transposed(chart.Key.IntervalUp(-1)),
        ["faster by a sixth"] = chart => chart.AtPace(new Rational(7, 6)),
        ["last section in seven"] = chart => With(chart, chart.Sections.Count - 1, InSeven),
        ["first section grouped the other way"] = chart => With(chart, 0, Regrouped),
        ["felt in one"] = chart => chart.FeltAs(FeltLevel.Bar),
        ["first part softer"] = chart => With(chart, 0, part => part with { LevelDecibels = -7.5 }),
        ["another instrument"] = chart => With(chart, ChordsOf(chart), part => On(part, "cello")),
        ["a part more"] = chart => chart with { Parts = [.. chart.Parts, HouseBand.Part(Role.Roll, Instrument("banjo"), InstrumentFile.BuiltIn) with { Name = "new banjo" }] },
        ["without the second part"] = chart => Without(chart, 1),
        ["other chords"] = chart => With(chart, 0, OtherChords),
    };

    /// <summary>The text of a chart.</summary>
    public static string Text(string name)
    {
        var text = File.ReadAllText(Path.Combine(Folder, name + ".toml")).Replace("\r\n", "\n", StringComparison.Ordinal);
        return name == "windows" ? '\uFEFF' + text.Replace("\n", "\r\n", StringComparison.Ordinal) : text;
    }

    public static string Folder => ChartTexts.Folder("tests/GrooveLab.Exchange.Tests/Charts/HandWritten");

    private static Instrument Instrument(string name) => InstrumentFile.BuiltIn.ByName(name);

    private static Chart With(Chart chart, int section, Func<Section, Section> change) =>
        chart with { Sections = [.. chart.Sections.Select((other, i) => i == section ? change(other) : other)] };

    private static Chart With(Chart chart, int part, Func<Part, Part> change) =>
        chart with { Parts = [.. chart.Parts.Select((other, i) => i == part ? change(other) : other)] };

    private static int ChordsOf(Chart chart) => chart.Parts.ToList().FindLastIndex(part => part.Role is Role.Bass or Role.Pulse);

    private static Part On(Part part, string instrument)
    {
        var (lowest, highest) = InstrumentFile.BuiltIn.Register(Instrument(instrument), part.Role);
        return part with { Instrument = Instrument(instrument), Lowest = lowest, Highest = highest };
    }

    private static Chart Without(Chart chart, int part) => chart with
    {
        Parts = [.. chart.Parts.Where((_, i) => i != part)],
        Sections =
        [
            .. chart.Sections.Select(section => section with
            {
                Playing = section.Playing is { } playing ? [.. playing.Where(other => other != part).Select(other => other > part ? other - 1 : other)] : null,
            }),
        ],
    };

    // The written tune fits only the old meter.
    private static Section InSeven(Section section)
    {
        var seven = new BarMeter(new TimeSignature(7, 8), Grouping.Of(2, 2, 3));
        return section with { Tune = null, Bars = [.. section.Bars.Select(bar => new ChartBar(seven, Spread([bar.Chords[0].Symbol], seven), Inserted: false))] };
    }

    private static Section Regrouped(Section section)
    {
        var meter = section.Bars[0].Meter;
        var sizes = meter.GroupSizes.Count > 1 && meter.GroupSizes.Distinct().Count() > 1 ? meter.GroupSizes.Reverse().ToList() : [meter.Units - 1, 1];
        var other = new BarMeter(meter.Signature, Grouping.Of([.. sizes]));
        return section with { Bars = Others(section.Bars), Endings = [.. section.Endings.Select(ending => ending with { Bars = Others(ending.Bars) })] };

        IReadOnlyList<ChartBar> Others(IReadOnlyList<ChartBar> bars) =>
            [.. bars.Select(bar => bar.Meter != meter ? bar : bar with { Meter = other, Chords = Moved(bar, other) })];
    }

    // Chords that change with the groups still do.
    private static IReadOnlyList<ChordSpan> Moved(ChartBar bar, BarMeter other) =>
        bar.Chords.Count > 1 && bar.Chords.Count == other.GroupSizes.Count
        && bar.Chords.Zip(bar.Meter.GroupSizes).All(pair => pair.First.Length == bar.Meter.Unit * pair.Second)
            ? Spread([.. bar.Chords.Select(chord => chord.Symbol)], other)
            : bar.Chords;

    private static List<ChordSpan> Spread(IReadOnlyList<ChordSymbol> chords, BarMeter meter)
    {
        var spans = new List<ChordSpan>();
        var at = Span.Zero;
        for (var i = 0; i < chords.Count; i++)
        {
            var length = chords.Count == 1 ? meter.Length : meter.Unit * meter.GroupSizes[i];
            spans.Add(new ChordSpan(at, length, chords[i]));
            at += length;
        }

        return spans;
    }

    // The second bar gets another chord, the last bar a chord on its last unit.
    private static Section OtherChords(Section section)
    {
        var bars = section.Bars.ToArray();
        bars[1] = bars[1] with { Chords = Spread([ChordSymbol.Parse("Dsus4")], bars[1].Meter) };
        var last = bars[^1];
        bars[^1] = last with
        {
            Chords =
            [
                new ChordSpan(Span.Zero, last.Meter.Length - last.Meter.Unit, last.Chords[0].Symbol),
                new ChordSpan(last.Meter.Length - last.Meter.Unit, last.Meter.Unit, ChordSymbol.Parse("C#dim7")),
            ],
        };
        return section with { Bars = bars };
    }
}
