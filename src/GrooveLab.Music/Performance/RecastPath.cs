using System.Collections.Immutable;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;

namespace GrooveLab.Music.Performance;

/// <summary>A move of the song into another meter: which bars became which, in each section and ending that was moved.</summary>
/// <param name="Stretches">The moved sections (ending 0) and endings, by the number of the section and of the ending.</param>
/// <param name="Meters">The meters of their bars before.</param>
public sealed record RecastMove(
    IReadOnlyDictionary<(int Section, int Ending), RecastStretch> Stretches, IReadOnlyDictionary<(int Section, int Ending), IReadOnlyList<BarMeter>> Meters)
{
    /// <summary>The move of a recasting.</summary>
    /// <param name="recasting">The recasting.</param>
    /// <param name="sectionOf">The number in the whole song of a section of the recasting.</param>
    public static RecastMove Of(SongRecasting recasting, Func<int, int> sectionOf)
    {
        (int, int) Key(RecastStretch stretch) => (sectionOf(stretch.Section), stretch.Ending);
        return new RecastMove(
            recasting.Stretches.ToDictionary(Key),
            recasting.Stretches.ToDictionary(Key, IReadOnlyList<BarMeter> (stretch) => [.. (recasting.Source.Sections[stretch.Section] is var section && stretch.Ending == 0
                ? section.Bars
                : section.Endings[stretch.Ending - 1].Bars).Select(bar => bar.Meter)]));
    }

    /// <summary>How many bars a section or an ending has after the move.</summary>
    /// <param name="section">The number of the section.</param>
    /// <param name="ending">The number of the ending; 0 for the section's own bars.</param>
    /// <param name="bars">How many it had.</param>
    public int BarsAfter(int section, int ending, int bars) =>
        Stretches.TryGetValue((section, ending), out var stretch) ? stretch.FirstBarOf(Meters[(section, ending)].Count) : bars;

    /// <summary>The first bar that a bar became.</summary>
    public int Forth(int section, int ending, int bar) =>
        Stretches.TryGetValue((section, ending), out var stretch) ? stretch.FirstBarOf(Math.Min(bar, Meters[(section, ending)].Count)) : bar;

    /// <summary>The bar from which a bar was made, and whether it is the first of those.</summary>
    public (int Bar, bool IsFirst) Back(int section, int ending, int bar)
    {
        if (!Stretches.TryGetValue((section, ending), out var stretch))
        {
            return (bar, true);
        }

        var (low, high) = (0, Meters[(section, ending)].Count);
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            (low, high) = stretch.FirstBarOf(middle) <= bar ? (middle, high) : (low, middle - 1);
        }

        return (low, stretch.FirstBarOf(low) == bar);
    }
}

/// <summary>The way from the bars of one state to those of another that has the same song in another meter. Pure.</summary>
internal sealed class RecastPath
{
    private readonly List<(RecastMove Move, bool Forth)> _moves;
    private readonly FormPlan _from;
    private readonly FormPlan _to;

    private readonly List<SectionRun> _fromRuns;
    private readonly List<SectionRun> _toRuns;
    private readonly int _runsInPass;

    private RecastPath(List<(RecastMove Move, bool Forth)> moves, FormPlan from, FormPlan to)
    {
        (_moves, _from, _to) = (moves, from, to);
        (_fromRuns, _toRuns) = ([.. from.Runs], [.. to.Runs]);
        _runsInPass = _fromRuns.Count(one => one.FirstBar < from.BarsInPass);
    }

    /// <summary>The way between two states; null if the song was not moved between them, or if their bars differ in another way too.</summary>
    /// <param name="from">The state that is left.</param>
    /// <param name="to">The other one.</param>
    /// <param name="place">Where the band is, in the bars of the state that is left.</param>
    public static RecastPath? Between(PerformanceState from, PerformanceState to, PerformancePlace place)
    {
        if (ReferenceEquals(from.Recasts, to.Recasts))
        {
            return null;
        }

        var same = from.Recasts.Zip(to.Recasts).TakeWhile(pair => ReferenceEquals(pair.First, pair.Second)).Count();
        var moves = from.Recasts.Skip(same).Reverse().Select(move => (move, false)).Concat(to.Recasts.Skip(same).Select(move => (move, true))).ToList();
        if (moves.Count == 0)
        {
            return null;
        }

        try
        {
            var plan = from.PlanAt(place);
            var other = new FormPlan(to.Chart.Tag.Count > 0 ? to.Chart with { Times = plan.Chart.Times } : to.Chart, pace: to.Pace);
            var path = new RecastPath(moves, plan, other);
            return path.Fits() ? path : null;
        }
        catch (ChartProblemException)
        {
            return null;
        }
    }

    /// <summary>The bar at the same place of the song, or the one within which it is.</summary>
    public int To(int bar) => Translated(bar).Bar;

    /// <summary>True if a bar begins where a bar of the other state begins.</summary>
    public bool IsAtBarLine(int bar) => bar < 0 || Translated(bar).IsBarLine;

    /// <summary>How many bars of the other state begin in a bar.</summary>
    public int BarsIn(int bar)
    {
        if (bar < 0)
        {
            return 1;
        }

        var place = _from.BarAt(bar);
        var first = Math.Max(0, Translated(bar) is { IsBarLine: true } at ? at.Bar : Translated(bar).Bar + 1);
        var run = RunOf(place.Run);
        var next = place.IndexInRun + 1 >= place.Run.Bars ? run.EndBar
            : Translated(bar + 1) is { IsBarLine: true } after ? after.Bar : Translated(bar + 1).Bar + 1;
        return Math.Max(0, next - first);
    }

    /// <summary>Orders for the form, in the bars of the other state.</summary>
    /// <param name="orders">The orders.</param>
    /// <param name="next">The bar of the performance from which the other state is heard.</param>
    /// <param name="indexOf">The bar that is played as a bar of the performance from there on, without the change.</param>
    public FormOrders Orders(FormOrders orders, int next, Func<int, int> indexOf)
    {
        var known = new List<int> { next };
        int At(int ordinal)
        {
            if (ordinal <= next)
            {
                return ordinal;
            }

            while (known.Count <= ordinal - next && known.Count <= FormPlan.MostBars)
            {
                known.Add(known[^1] + BarsIn(indexOf(next + known.Count - 1)));
            }

            return known[Math.Min(ordinal - next, known.Count - 1)];
        }

        var loop = orders.Loop is { } bars ? new BarLoop(To(bars.From), Math.Max(To(bars.From) + 1, EndOf(bars.End))) : (BarLoop?)null;
        return orders with
        {
            Loop = loop,
            LoopName = loop is { } now ? NameOf(orders.LoopName, now) : orders.LoopName,
            EndBar = orders.EndBar is { } end ? EndOf(end) : null,
            StartAt = orders.StartAt is { } start ? To(start) : null,
            Jumps = orders.Jumps.Where(jump => jump.Key >= next).GroupBy(jump => At(jump.Key + 1) - 1)
                .ToImmutableSortedDictionary(jumps => jumps.Key, jumps => jumps.Last().Value is var to && to < 0 ? to : To(to)),
            HoldFrom = orders.HoldFrom is { } hold ? At(hold) : null,
            Break = orders.Break is { } broken ? (At(broken.From), At(broken.End)) : null,
            Ramp = orders.Ramp is { Bars: > 0 } ramp && ramp.EndOrdinal > next ? Ramped(ramp, next, At) : orders.Ramp,
        };
    }

    // What has passed of a gradual change stays passed.
    private static TempoRamp Ramped(TempoRamp ramp, int next, Func<int, int> at)
    {
        var from = Math.Max(ramp.FromOrdinal, next);
        return new TempoRamp(at(from), Math.Max(1, at(ramp.EndOrdinal) - at(from)), ramp.FromOrdinal < next ? ramp.At(next, Time.Rational.Zero) : ramp.From, ramp.To);
    }

    // The bar after the last of a stretch: where a bar of the other state is left before its end, it is still played.
    private int EndOf(int end)
    {
        if (end <= 0)
        {
            return end;
        }

        var last = end - 1;
        var place = _from.BarAt(last);
        if (place.IndexInRun + 1 >= place.Run.Bars)
        {
            return RunOf(place.Run).EndBar;
        }

        var (bar, isBarLine) = Translated(end);
        return isBarLine ? bar : bar + 1;
    }

    // "bars 3-6 of verse" with the new numbers; other names stay.
    private string NameOf(string name, BarLoop loop)
    {
        const string One = "bar ";
        const string Several = "bars ";
        if (!name.StartsWith(One, StringComparison.Ordinal) && !name.StartsWith(Several, StringComparison.Ordinal))
        {
            return name;
        }

        var of = name.IndexOf(" of ", StringComparison.Ordinal);
        var first = of < 0 ? loop.From % _to.BarsInPass : _to.BarAt(loop.From).IndexInRun;
        var count = loop.End - loop.From;
        return (count == 1 ? $"{One}{first + 1}" : $"{Several}{first + 1}-{first + count}") + (of < 0 ? string.Empty : name[of..]);
    }

    private (int Bar, bool IsBarLine) Translated(int bar)
    {
        if (bar < 0)
        {
            return (bar, true);
        }

        var place = _from.BarAt(bar);
        var run = place.Run;
        var isEnding = run.Ending > 0 && place.IndexInRun >= run.EndingAt;
        var (ending, local) = isEnding ? (run.Ending, place.IndexInRun - run.EndingAt) : (0, place.IndexInRun);
        var isBarLine = true;
        foreach (var (move, forth) in _moves)
        {
            if (forth)
            {
                local = move.Forth(run.SectionIndex, ending, local);
            }
            else
            {
                (local, var isFirst) = move.Back(run.SectionIndex, ending, local);
                isBarLine &= isFirst;
            }
        }

        var other = RunOf(run);
        return (other.FirstBar + Math.Min(isEnding ? other.EndingAt + local : local, other.Bars - 1), isBarLine);
    }

    // The same playing of the section: the forms are the same.
    private SectionRun RunOf(SectionRun run)
    {
        var (runs, passes) = (_runsInPass, _from.Chart.Tag.Count > 0 ? _from.Chart.Times : int.MaxValue);
        return run.Number / runs >= passes
            ? _toRuns[runs + run.Number - (passes * runs)]
            : _to.BarAt(_toRuns[run.Number % runs].FirstBar + (run.Number / runs * _to.BarsInPass)).Run;
    }

    private bool Fits() => _fromRuns.Count == _toRuns.Count && _fromRuns.Zip(_toRuns).All(pair =>
        (pair.First.SectionIndex, pair.First.Ending) == (pair.Second.SectionIndex, pair.Second.Ending)
        && Moved(pair.First.SectionIndex, 0, Own(pair.First)) == Own(pair.Second)
        && (pair.First.Ending == 0 || Moved(pair.First.SectionIndex, pair.First.Ending, pair.First.Bars - Own(pair.First)) == pair.Second.Bars - Own(pair.Second)));

    private static int Own(SectionRun run) => run.Ending > 0 ? run.EndingAt : run.Bars;

    private int Moved(int section, int ending, int bars)
    {
        foreach (var (move, forth) in _moves)
        {
            if (move.Meters.TryGetValue((section, ending), out var meters))
            {
                var source = meters.Count;
                var target = move.BarsAfter(section, ending, bars);
                if (bars != (forth ? source : target))
                {
                    return -1;
                }

                bars = forth ? target : source;
            }
        }

        return bars;
    }
}
