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

    // Likeness of contours, in percent: of neighbours inside a bar group, of bars four apart, and of the last bar and the one before.
    private const double LeastBeside = 65;
    private const double LeastApart = 80;
    private const double LeastAnswered = 30;
    private const double MostAnswered = 60;

    // Percent of the moves, and of the bars.
    private const double LeastSteps = 10;
    private const double MostPlain = 5;

    // Half steps between the mean pitches of pulse and roll that tell them apart.
    private const double LeastApartInRegister = 5;

    // Fewer than these say nothing.
    private const int FewestPairs = 4;
    private const int FewestMoves = 32;
    private const int FewestBars = 8;

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

    /// <summary>The checks of the riff, on the bars as played.</summary>
    public static IEnumerable<CheckResult> InForm(BandBars band)
    {
        var beside = new List<double>();
        var apart = new List<double>();
        var answers = new List<double>();
        int steps = 0, moves = 0, plain = 0, bars = 0, gallops = 0, same = 0;
        var places = new List<string>();
        foreach (var (part, notes) in band.PartsIn(Role.Roll))
        {
            var byBar = notes.GroupBy(placed => placed.Bar.Index).ToDictionary(group => group.Key, group => group.ToArray());
            var form = band.Form.ToArray();
            for (var i = 0; i < form.Length; i++)
            {
                if (!byBar.TryGetValue(form[i].Index, out var here) || form[i].Stop != BandStop.None)
                {
                    continue;
                }

                bars++;
                plain += IsPlain(here) ? 1 : 0;
                gallops += Gallops(form[i], here);
                if (IsOneWithThePulse(form[i], here))
                {
                    same++;
                    places.Add($"bar {form[i].Index}: pulse and roll are one");
                }

                // Free cells do not realign with the bars.
                if (band.SettingsOf<RollSettings>(part).Crossing != Crossing.Follow)
                {
                    continue;
                }

                var place = form[i].GroupPlace;
                if (i > 0 && place.Index > 0 && form[i].IndexInSection > 0 && byBar.TryGetValue(form[i - 1].Index, out var before) && Likeness(form[i - 1], before, form[i], here) is { } likeness)
                {
                    if (place.Index < place.Size - 1)
                    {
                        beside.Add(likeness);
                    }
                    else if (place.Size >= 3)
                    {
                        answers.Add(likeness);
                    }
                }

                if (i >= UsualGroup && place.Size == UsualGroup && form[i].IndexInSection >= UsualGroup && form[i - UsualGroup].GroupPlace.Size == UsualGroup
                    && byBar.TryGetValue(form[i - UsualGroup].Index, out var earlier) && Likeness(form[i - UsualGroup], earlier, form[i], here) is { } alike)
                {
                    apart.Add(alike);
                }
            }
        }

        foreach (var (a, b) in HandChecks.RollPairs(band))
        {
            moves++;
            steps += Math.Abs(a.Note.Key - b.Note.Key) is 1 or 2 ? 1 : 0;
        }

        yield return Mean("riff inside bar groups", beside, LeastBeside, null);
        yield return Mean("riff four bars apart", apart, LeastApart, null);
        yield return Mean("riff answered", answers, LeastAnswered, MostAnswered);
        yield return Share("steps in the roll", "% of the moves", steps, moves, FewestMoves) with { AtLeast = LeastSteps };
        yield return Share("plain alternation", "% of the bars", plain, bars, FewestBars) with { AtMost = MostPlain };
        yield return new CheckResult { Name = "galloping units", Value = bars > 0 ? gallops : null, Unit = "units", AtMost = 0 };
        yield return new CheckResult
        {
            Name = "pulse and roll as one",
            Value = bars > 0 ? same : null,
            Unit = "bars",
            AtMost = 0,
            Places = [.. places.Take(CheckResult.MostPlaces)],
        };
    }

    private static CheckResult Mean(string name, List<double> values, double least, double? most) => new()
    {
        Name = name,
        Value = values.Count >= FewestPairs ? 100 * values.Average() : null,
        Unit = "% of the moves alike",
        AtLeast = least,
        AtMost = most,
    };

    private static CheckResult Share(string name, string unit, int count, int of, int fewest) => new()
    {
        Name = name,
        Value = of >= fewest ? 100.0 * count / of : null,
        Unit = unit,
    };

    // The share of the places at which two bars go the same way, up, down or nowhere; a place that only one has counts as different. Null
    // for bars of other meters, or with fewer than three moves.
    private static double? Likeness(Bar first, PlacedNote[] one, Bar second, PlacedNote[] two)
    {
        if (!first.Meter.Equals(second.Meter))
        {
            return null;
        }

        var (a, b) = (Contour(one), Contour(two));
        var places = a.Keys.Union(b.Keys).ToArray();
        return places.Length < 3 ? null
            : (double)places.Count(at => a.TryGetValue(at, out var up) && b.TryGetValue(at, out var other) && up == other) / places.Length;
    }

    // The direction of each move, by the place it leads to and the highest note there.
    private static Dictionary<Span, int> Contour(PlacedNote[] notes)
    {
        var tops = notes.GroupBy(placed => placed.Note.Onset).OrderBy(group => group.Key).Select(group => (At: group.Key, Key: group.Max(placed => placed.Note.Key))).ToArray();
        return tops.Zip(tops.Skip(1), (before, after) => (after.At, Way: Math.Sign(after.Key - before.Key))).ToDictionary(move => move.At, move => move.Way);
    }

    private static bool IsPlain(PlacedNote[] notes) => notes.Length >= FewestNotes
        && notes.Select(placed => placed.Note.Key).Distinct().Count() == 2
        && notes.Zip(notes.Skip(1), (a, b) => a.Note.Key != b.Note.Key).All(moves => moves);

    // Units with three notes or more, one of them longer than another by more than a tenth.
    private static int Gallops(Bar bar, PlacedNote[] notes)
    {
        if (bar.Swing.IsStraight)
        {
            return 0;
        }

        var found = 0;
        for (var unit = 0; unit < bar.Meter.Units; unit++)
        {
            var (from, to) = (bar.Meter.Unit * unit, bar.Meter.Unit * (unit + 1));
            var inside = notes.Select(placed => placed.Note.Onset).Where(at => at >= from && at < to).Distinct().Order().Append(to).ToArray();
            var gaps = inside.Zip(inside.Skip(1), (a, b) => b - a).ToArray();
            found += gaps.Length >= 3 && gaps.Max() > gaps.Min() * new Rational(11, 10) ? 1 : 0;
        }

        return found;
    }

    private static bool IsOneWithThePulse(Bar bar, PlacedNote[] roll)
    {
        // A player in another register is heard as another player.
        var places = roll.Select(placed => placed.Note.Onset).Distinct().ToArray();
        var middle = roll.Average(placed => placed.Note.Key);
        var near = bar.Notes.Where(note => note.Role == Role.Pulse).GroupBy(note => note.Part)
            .Where(player => Math.Abs(player.Average(note => note.Key) - middle) < LeastApartInRegister)
            .SelectMany(player => player.Select(note => note.Onset)).Distinct().ToArray();
        return near.Length > 0 && near.Order().SequenceEqual(places.Order()) && (roll.Length - places.Length) * 4 < places.Length;
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
