using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Exchange.Charts;

/// <summary>Compares charts, or things in them, as far as a text distinguishes them: signs for sharps and flats equal their letters, and
/// a bar in brackets equals a bar in the meter that applies there anyway.</summary>
internal static class SameChart
{
    /// <summary>True when a chart as read equals the intended one.</summary>
    public static bool IsRead(Chart a, Chart b) =>
        a.Title == b.Title && a.Trains == b.Trains && a.Key == b.Key && a.Tempo == b.Tempo && a.LearnerTempo == b.LearnerTempo
        && a.Counted == b.Counted && a.Feel == b.Feel && a.Swing == b.Swing && a.Looseness.Equals(b.Looseness) && a.GroupRatio.Equals(b.GroupRatio) && a.IsArranged == b.IsArranged && a.Seed == b.Seed
        && a.DroneSeconds == b.DroneSeconds && a.Times == b.Times && a.Ending == b.Ending
        && (!a.Ending || Chords(a.EndingChord, b.EndingChord)) && Equals(a.Recast, b.Recast)
        && a.Form.SequenceEqual(b.Form) && a.Tag.SequenceEqual(b.Tag)
        && a.Parts.Count == b.Parts.Count && a.Parts.Zip(b.Parts).All(pair => Parts(pair.First, pair.Second))
        && a.Sections.Count == b.Sections.Count && a.Sections.Zip(b.Sections).All(pair => IsRead(pair.First, pair.Second));

    private static bool IsRead(Section a, Section b) =>
        a.Name == b.Name && a.BarGroups == b.BarGroups && a.Tempo == b.Tempo && a.Ramps.SequenceEqual(b.Ramps) && a.Join == b.Join && a.Feel == b.Feel && a.Counted == b.Counted
        && a.Key == b.Key && Playing(a.Playing, b.Playing) && a.StopTime == b.StopTime && a.BreakBars == b.BreakBars
        && a.HoldSeconds == b.HoldSeconds && a.Vamp == b.Vamp && Equals(a.Orders, b.Orders) && AreRead(a.Bars, b.Bars) && AreRead(a.Tune, b.Tune, a)
        && a.Endings.Count == b.Endings.Count && a.Endings.Zip(b.Endings).All(pair => AreRead(pair.First.Bars, pair.Second.Bars)
            && AreRead(pair.First.Tune, pair.Second.Tune, a with { Bars = pair.First.Bars, Endings = [] }));

    public static bool Endings(IReadOnlyList<SectionEnding> a, IReadOnlyList<SectionEnding> b) => ReferenceEquals(a, b)
        || (a.Count == b.Count && a.Zip(b).All(pair => Bars(pair.First.Bars, pair.Second.Bars) && Equals(pair.First.Tune, pair.Second.Tune)));

    /// <summary>True when bars as read equal the intended ones.</summary>
    public static bool AreRead(IReadOnlyList<ChartBar> meant, IReadOnlyList<ChartBar> read) =>
        meant.Count == read.Count && meant.Zip(read).All(pair =>
            pair.First.Meter == pair.Second.Meter && (pair.First.Inserted || !pair.Second.Inserted) && Chords(pair.First.Chords, pair.Second.Chords));

    public static bool Bars(IReadOnlyList<ChartBar> a, IReadOnlyList<ChartBar> b) =>
        ReferenceEquals(a, b) || (a.Count == b.Count && a.Zip(b).All(pair => Bars(pair.First, pair.Second)));

    public static bool Bars(ChartBar a, ChartBar b) =>
        ReferenceEquals(a, b) || (a.Meter == b.Meter && a.Inserted == b.Inserted && Chords(a.Chords, b.Chords));

    public static bool Chords(IReadOnlyList<ChordSpan> a, IReadOnlyList<ChordSpan> b) =>
        a.Count == b.Count
        && a.Zip(b).All(pair => pair.First.Onset == pair.Second.Onset && pair.First.Length == pair.Second.Length
            && Chords(pair.First.Symbol, pair.Second.Symbol));

    public static bool Chords(ChordSymbol? a, ChordSymbol? b) =>
        ReferenceEquals(a, b) || (a is not null && b is not null && Plain(a.Text) == Plain(b.Text));

    public static bool Parts(Part a, Part b) =>
        a.Name == b.Name && a.Role == b.Role && a.Instrument.Name == b.Instrument.Name && a.Lowest == b.Lowest && a.Highest == b.Highest
        && a.LevelDecibels.Equals(b.LevelDecibels) && a.Pan == b.Pan && a.Silent == b.Silent && a.Settings == b.Settings;

    public static bool Playing(IReadOnlyList<int>? a, IReadOnlyList<int>? b) =>
        a is null || b is null ? a is null && b is null : a.SequenceEqual(b);

    // True when a tune as read equals the intended one, in the bars of its section.
    private static bool AreRead(Tune? meant, Tune? read, Section section)
    {
        if (ReferenceEquals(meant, read) || meant is null || read is null)
        {
            return ReferenceEquals(meant, read);
        }

        var meters = section.Bars.Select(bar => bar.Meter).ToList();
        return meant.Lines.Count == read.Lines.Count && Enumerable.Range(0, 1 + meant.Lines.Count).All(line =>
            (line == 0 || meant.Voice(line)!.Name == read.Voice(line)!.Name)
            && Verses(meant.Voice(line)!.Verses, read.Voice(line)!.Verses)
            && TuneBars.Of(meant, line, meters, section.Name).SaysThe(TuneBars.Of(read, line, meters, section.Name)));
    }

    private static bool Verses(IReadOnlyList<IReadOnlyList<Syllable?>> a, IReadOnlyList<IReadOnlyList<Syllable?>> b) =>
        a.Count == b.Count && a.Zip(b).All(pair => Verses(pair.First, pair.Second));

    public static bool Verses(IReadOnlyList<Syllable?> a, IReadOnlyList<Syllable?> b)
    {
        // Notes without a syllable at the end are not written.
        var count = Math.Max(a.Count, b.Count);
        for (var i = 0; i < count; i++)
        {
            var (one, other) = (i < a.Count ? a[i] : null, i < b.Count ? b[i] : null);
            if (one is null || other is null ? one is not null || other is not null
                : (one.Place, one.Notes, one.Stress, one.Late) != (other.Place, other.Notes, other.Stress, other.Late) || TuneWords.Plain(one.Text) != TuneWords.Plain(other.Text))
            {
                return false;
            }
        }

        return true;
    }

    private static string Plain(string chord) => chord
        .Replace('♯', '#')
        .Replace('♭', 'b')
        .Replace("𝄪", "##", StringComparison.Ordinal)
        .Replace("𝄫", "bb", StringComparison.Ordinal);
}
