using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>A note on the timeline of the whole piece, at its exact place: without human feel, spread and overlap.</summary>
/// <param name="Bar">The bar in which it starts.</param>
/// <param name="Note">The note.</param>
/// <param name="From">Its start.</param>
/// <param name="To">Its end; a grace note sounds before its place and ends there.</param>
public readonly record struct PlacedNote(Bar Bar, NoteEvent Note, Position From, Position To)
{
    /// <summary>True for a grace note of a tune.</summary>
    public bool IsGrace => To == From;

    /// <summary>"bar 3: roll 62 at 3/8".</summary>
    public override string ToString() => $"bar {Bar.Index}: {Note.Role.Name()} {Note.Key} at {Note.Onset}";
}

/// <summary>Bars of a band, in order and without gaps, prepared for measuring. Immutable.</summary>
public sealed class BandBars
{
    private readonly (Position At, double Seconds, Tempo Tempo)[] _tempi;

    /// <summary>Prepares bars.</summary>
    /// <param name="band">The parts of the band.</param>
    /// <param name="bars">The bars, each starting where the one before ends; not empty.</param>
    /// <param name="chart">The chart, for the settings of its parts; null for the default settings of each role.</param>
    public BandBars(IReadOnlyList<PartChannels> band, IReadOnlyList<Bar> bars, Chart? chart = null)
    {
        Band = band;
        Bars = bars;
        Chart = chart;
        Notes = [.. bars.SelectMany(bar => bar.Notes.Select(note =>
            new PlacedNote(bar, note, bar.Start + note.Onset, bar.Start + (note.IsGrace ? note.Onset : note.End))))];
        _tempi = Tempi(bars);
    }

    /// <summary>The parts of the band.</summary>
    public IReadOnlyList<PartChannels> Band { get; }

    /// <summary>The bars.</summary>
    public IReadOnlyList<Bar> Bars { get; }

    /// <summary>The chart; null when the bars have another source.</summary>
    public Chart? Chart { get; }

    /// <summary>All notes in the order of the bars.</summary>
    public IReadOnlyList<PlacedNote> Notes { get; }

    /// <summary>The bars without lead-in and ending.</summary>
    public IEnumerable<Bar> Form => Bars.Where(bar => bar.Index >= 0 && !bar.IsEnding);

    /// <summary>The notes of <see cref="Form"/>.</summary>
    public IEnumerable<PlacedNote> FormNotes => Notes.Where(placed => placed.Bar.Index >= 0 && !placed.Bar.IsEnding);

    /// <summary>Creates it from all bars of a source that has an end.</summary>
    /// <exception cref="ArgumentException">The source has no end.</exception>
    public static BandBars Of(IBarSource source, Chart? chart = null)
    {
        var end = source.End ?? throw new ArgumentException("Endless bars cannot be measured; set a number of bars.", nameof(source));
        return new BandBars(source.Band, [.. Enumerable.Range(source.First, end - source.First).Select(source.BarAt)], chart);
    }

    /// <summary>The notes of the parts in a role, per part, in order; without lead-in and ending.</summary>
    public IEnumerable<(int Part, IReadOnlyList<PlacedNote> Notes)> PartsIn(params Role[] roles)
    {
        for (var part = 0; part < Band.Count; part++)
        {
            if (roles.Contains(Band[part].Role))
            {
                var index = part;
                yield return (part, [.. FormNotes.Where(placed => placed.Note.Part == index)]);
            }
        }
    }

    /// <summary>The settings of a part, or without a chart the defaults of its role.</summary>
    public T SettingsOf<T>(int part)
        where T : RoleSettings, new() =>
        Chart is { } chart && part < chart.Parts.Count && chart.Parts[part].Settings is T settings ? settings : new T();

    /// <summary>Seconds from the first bar line to a place, following all tempi.</summary>
    public double SecondsAt(Position at)
    {
        var low = 0;
        var high = _tempi.Length - 1;
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            if (_tempi[middle].At <= at)
            {
                low = middle;
            }
            else
            {
                high = middle - 1;
            }
        }

        return _tempi[low].Seconds + ((at - _tempi[low].At).Wholes.ToDouble() * 60 / _tempi[low].Tempo.WholesPerMinute.ToDouble());
    }

    /// <summary>Seconds between two places.</summary>
    public double Seconds(Position from, Position to) => SecondsAt(to) - SecondsAt(from);

    /// <summary>Pairs of notes of different parts in given roles that overlap in time. Two parts that play in unison are not
    /// distinguished: a pair is reported once per overlap.</summary>
    internal IEnumerable<(PlacedNote A, PlacedNote B)> Together(params Role[] roles)
    {
        var active = new List<PlacedNote>();
        foreach (var next in Notes.Where(placed => roles.Contains(placed.Note.Role) && !placed.IsGrace).OrderBy(placed => placed.From))
        {
            active.RemoveAll(placed => placed.To <= next.From);
            foreach (var other in active)
            {
                if (other.Note.Part != next.Note.Part)
                {
                    yield return (other, next);
                }
            }

            active.Add(next);
        }
    }

    private static (Position At, double Seconds, Tempo Tempo)[] Tempi(IReadOnlyList<Bar> bars)
    {
        var tempi = new List<(Position At, double Seconds, Tempo Tempo)>();
        foreach (var bar in bars)
        {
            foreach (var (onset, tempo) in bar.Tempi)
            {
                var at = bar.Start + onset;
                var seconds = tempi.Count == 0
                    ? 0
                    : tempi[^1].Seconds + ((at - tempi[^1].At).Wholes.ToDouble() * 60 / tempi[^1].Tempo.WholesPerMinute.ToDouble());
                tempi.Add((at, seconds, tempo));
            }
        }

        return [.. tempi];
    }
}
