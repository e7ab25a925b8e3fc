using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Score;

namespace GrooveLab.Music.Charts;

/// <summary>Changes of a whole chart; each gives a new chart and leaves the old one as it is.</summary>
public static class ChartChanges
{
    /// <summary>The chart with key, chords and tune moved by an interval.</summary>
    public static Chart Transposed(this Chart chart, Interval interval) => interval == Interval.Unison
        ? chart
        : chart with
        {
            Key = Moved(chart.Key, interval),
            EndingChord = chart.EndingChord?.Transpose(interval),
            Sections = [.. chart.Sections.Select(section => Transposed(section, interval))],
        };

    /// <summary>The chart felt at one level throughout.</summary>
    public static Chart FeltAs(this Chart chart, FeltLevel felt) => chart with
    {
        Feel = felt,
        Sections = [.. chart.Sections.Select(section => section with { Feel = null })],
    };

    private static Section Transposed(Section section, Interval interval) => section with
    {
        Key = section.Key is { } key ? Moved(key, interval) : null,
        Bars = [.. section.Bars.Select(bar => bar with { Chords = [.. bar.Chords.Select(chord => Transposed(chord, interval))] })],
        Tune = section.Tune is { } tune ? tune with { Notes = [.. tune.Notes.Select(note => Transposed(note, interval))] } : null,
    };

    private static ChordSpan Transposed(ChordSpan chord, Interval interval) =>
        chord with { Symbol = chord.Symbol.Transpose(interval) };

    private static TuneNote Transposed(TuneNote note, Interval interval) => note with
    {
        Pitch = note.Pitch.Transpose(interval),
        Graces = [.. note.Graces.Select(grace => grace.Transpose(interval))],
    };

    private static Key Moved(Key key, Interval interval) => new(key.Tonic.Transpose(interval).Simplified(), key.Mode);
}
