using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Tests.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Tests.Charts;

/// <summary>Charts written in a line or two, without a file.</summary>
internal static class Sheet
{
    public static readonly TempoMark Eighth240 = new(TempoLevel.Note, Span.Of(1, 8), 240);

    /// <summary>A bar with one chord, one per group, or one per unit.</summary>
    public static ChartBar Bar(string meter, string chords = "Am", bool inserted = false) => Bar(Meters.Read(meter), chords, inserted);

    public static ChartBar Bar(BarMeter meter, string chords, bool inserted = false)
    {
        var symbols = chords.Split(' ', StringSplitOptions.RemoveEmptyEntries)
            .Select(text => text == "N.C." ? ChordSymbol.NoChord : ChordSymbol.Parse(text)).ToArray();
        var starts = symbols.Length == 1 ? [0]
            : symbols.Length == meter.GroupStartUnits.Count ? meter.GroupStartUnits
            : symbols.Length == meter.Units ? [.. Enumerable.Range(0, meter.Units)]
            : throw new ArgumentException("One chord, or one for each group, or one for each unit.");
        return new ChartBar(
            meter,
            [.. symbols.Select((symbol, i) => new ChordSpan(
                meter.Unit * starts[i],
                meter.Unit * ((i + 1 < starts.Count ? starts[i + 1] : meter.Units) - starts[i]),
                symbol))],
            inserted);
    }

    /// <summary>Bars of one meter, one for each chord string.</summary>
    public static ChartBar[] Bars(string meter, params string[] chords) => [.. chords.Select(chord => Bar(meter, chord))];

    public static Section Section(string name, IReadOnlyList<ChartBar> bars, params int[] groups) => new()
    {
        Name = name,
        Bars = bars,
        BarGroups = new BarGroups(groups.Length == 0 ? [4] : groups),
    };

    public static Chart Chart(params Section[] sections) => new()
    {
        Title = "A sheet",
        IsArranged = false,
        Key = Key.Parse("A minor"),
        Tempo = Eighth240,
        Parts = [Players.Clicks()],
        Sections = sections,
        Form = [.. sections.Select((_, i) => new FormStep(i, 1))],
    };

    public static TempoMark Of(TempoLevel level, Rational perMinute) => new(level, Span.Zero, perMinute);

    public static TempoMark Of(long above, long below, Rational perMinute) => new(TempoLevel.Note, Span.Of(above, below), perMinute);
}
