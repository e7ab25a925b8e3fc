using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>Checks that a roll has variety and keeps its shape, on 32 bars of the chart's first meter over one chord, so that only the
/// roll itself varies. Common practice, no source.</summary>
public static class RollChecks
{
    /// <summary>Number of bars of one chord that are checked.</summary>
    public const int Bars = 32;

    private const int FewestPatterns = 4;
    private const int MostRunning = 2;

    /// <summary>Bars with fewer notes than this are too short for four figures.</summary>
    private const int FewestNotes = 4;

    // The distance of compared bars if the chart has no bar groups.
    private const int UsualGroup = 4;

    /// <summary>The chart's first meter over its first chord, 32 bars, without tune.</summary>
    public static Chart OneChord(Chart chart)
    {
        var first = chart.Sections[chart.Form[0].Section];
        var meter = first.Bars[0].Meter;
        var chord = first.Bars.SelectMany(bar => bar.Chords).Select(span => span.Symbol).FirstOrDefault(symbol => !symbol.IsNoChord)
            ?? ChordSymbol.Parse(chart.Key.Tonic.ToString());
        var bar = new ChartBar(meter, [new ChordSpan(Span.Zero, meter.Length, chord)], Inserted: false);
        var section = first with
        {
            Bars = [.. Enumerable.Repeat(bar, Bars)],
            Tempo = null,
            Join = null,
            Tune = null,
            Playing = null,
            StopTime = false,
            BreakBars = 0,
            HoldSeconds = 0,
            Vamp = false,
        };
        return chart with { Sections = [section], Form = [new FormStep(0, 1)], Times = 1, Ending = false };
    }

    /// <summary>All checks, on bars of one chord from <see cref="OneChord"/>.</summary>
    public static IEnumerable<CheckResult> Of(BandBars oneChord)
    {
        int? patterns = null, running = null;
        double? likeness = null;
        foreach (var (part, notes) in oneChord.PartsIn(Role.Roll))
        {
            var bars = oneChord.Form.Select(bar => (Bar: bar, Notes: notes.Where(placed => placed.Bar.Index == bar.Index).Select(placed => placed.Note).ToArray())).ToArray();
            if (bars.All(bar => bar.Notes.Length < FewestNotes))
            {
                continue;
            }

            var figures = bars.Select(bar => string.Join(' ', bar.Notes.Select(note => $"{note.Onset}:{note.Key}"))).ToArray();
            patterns = Math.Min(patterns ?? int.MaxValue, figures.Distinct().Count());
            running = Math.Max(running ?? 0, LongestRun(figures));
            // Free cells do not realign with the bars at bar groups.
            if (oneChord.SettingsOf<RollSettings>(part).Crossing != Crossing.Free)
            {
                likeness = Math.Min(likeness ?? double.MaxValue, Likeness(bars));
            }
        }

        yield return new CheckResult
        {
            Name = "roll patterns",
            Value = patterns,
            Unit = $"different in {Bars} bars",
            AtLeast = FewestPatterns,
        };
        yield return new CheckResult
        {
            Name = "roll repeats",
            Value = running,
            Unit = "times in a row at most",
            AtMost = MostRunning,
        };
        yield return new CheckResult
        {
            Name = "roll form",
            Value = likeness,
            Unit = "% more alike a bar group apart than side by side",
            AtLeast = 0,
        };
    }

    private static int LongestRun(string[] figures)
    {
        var longest = 1;
        var running = 1;
        for (var i = 1; i < figures.Length; i++)
        {
            running = figures[i] == figures[i - 1] ? running + 1 : 1;
            longest = Math.Max(longest, running);
        }

        return longest;
    }

    private static double Likeness((Bar Bar, NoteEvent[] Notes)[] bars)
    {
        var beside = new List<double>();
        var apart = new List<double>();
        var grouped = bars.Any(bar => bar.Bar.GroupPlace.Size > 1);
        for (var i = 0; i + 1 < bars.Length; i++)
        {
            beside.Add(Alike(bars[i].Notes, bars[i + 1].Notes));
            var place = bars[i].Bar.GroupPlace;
            var next = grouped
                ? Array.FindIndex(bars, i + 1, bar => bar.Bar.GroupPlace.Group == place.Group + 1 && bar.Bar.GroupPlace.Index == place.Index)
                : i + UsualGroup < bars.Length ? i + UsualGroup : -1;
            if (next >= 0)
            {
                apart.Add(Alike(bars[i].Notes, bars[next].Notes));
            }
        }

        return apart.Count == 0 ? 0 : 100 * (apart.Average() - beside.Average());
    }

    // The share of places with the same key in both bars.
    private static double Alike(NoteEvent[] a, NoteEvent[] b)
    {
        var keys = b.ToLookup(note => note.Onset, note => note.Key);
        var same = a.Count(note => keys[note.Onset].Contains(note.Key));
        return (double)same / Math.Max(1, Math.Max(a.Length, b.Length));
    }
}
