using System.Collections.Immutable;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;

namespace GrooveLab.Music.Performance;

/// <summary>The two states to compare by ear.</summary>
public enum ComparedSide
{
    /// <summary>The first.</summary>
    A,

    /// <summary>The second.</summary>
    B,
}

/// <summary>The result of a change, with the new route.</summary>
/// <param name="Result">The result of the change.</param>
/// <param name="Before">The state before it.</param>
/// <param name="Route">The new route; null when the notes stay the same.</param>
public sealed record HistoryStep(ChangeResult Result, PerformanceState Before, PerformanceRoute? Route)
{
    /// <summary>True if the song goes on at the same place in another meter, so that its bars have other numbers.</summary>
    public bool Recasts { get; init; }
}

/// <summary>A change that led to the current state.</summary>
/// <param name="Before">The state before it.</param>
/// <param name="Says">What it did, in words.</param>
/// <param name="Made">The change; null for one that took a whole state, such as a saved version or a compared side.</param>
/// <param name="Place">Where it was made.</param>
public sealed record PastChange(PerformanceState Before, string Says, StateChange? Made, PerformancePlace Place);

/// <summary>The states of a performance: the current one, the earlier ones, the two compared by ear and the saved versions.
/// Deterministic: the same commands at the same places give the same states. Used by one thread.</summary>
/// <remarks>Undoing a change of place (a jump, a restart, a loop, A and B) also returns to the old place: the bar that would have
/// followed is played next, and anything still pending there is shifted by the bars played meanwhile.</remarks>
public sealed class PerformanceHistory
{
    private const int Remembered = 500;
    private const int NoBar = -1;

    private readonly List<Entry> _back = [];
    private readonly List<Entry> _forth = [];
    private Compared _compared = new(null, null, null, NoBar);
    private ImmutableSortedDictionary<string, PerformanceState> _versions =
        ImmutableSortedDictionary.Create<string, PerformanceState>(StringComparer.OrdinalIgnoreCase);

    private readonly Dictionary<PerformanceState, string> _texts = new(ReferenceEqualityComparer.Instance);
    private (int Ordinal, int Bar)? _heading;

    // The ways to the current state's bars that were taken in the bar that plays.
    private readonly List<(int Ordinal, RecastPath Path)> _crossed = [];

    /// <summary>Starts with a state.</summary>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public PerformanceHistory(PerformanceState state)
    {
        State = state;
        Route = RouteOf(state);
    }

    /// <summary>True to accept what earlier versions logged: versions with names that are now reserved.</summary>
    public bool IsReplay { get; init; }

    /// <summary>The current state, or the pending one.</summary>
    public PerformanceState State { get; private set; }

    /// <summary>Its route through the bars.</summary>
    public PerformanceRoute Route { get; private set; }

    /// <summary>The side that is heard; null for neither: nothing is kept, or the music was changed since.</summary>
    public ComparedSide? Hearing => HeardOf(_compared);

    /// <summary>True when both sides can be compared.</summary>
    public (bool A, bool B) Kept => (_compared.A is not null, _compared.B is not null);

    /// <summary>The kept side that is compared with the current state and not heard: B, or A while B is heard; null for none.</summary>
    public (ComparedSide Side, PerformanceState State)? NotHeard => Hearing == ComparedSide.B
        ? _compared.A is { } a ? (ComparedSide.A, a) : null
        : _compared.B is { } b ? (ComparedSide.B, b) : null;

    /// <summary>The names of the saved versions.</summary>
    public IReadOnlyDictionary<string, PerformanceState> Versions => _versions;

    /// <summary>What undo would revert; null for nothing.</summary>
    public string? LastChange => _back.Count > 0 ? _back[^1].Says : null;

    /// <summary>The changes that led to the current state, the oldest first, as far as undo reaches.</summary>
    public IReadOnlyList<PastChange> Past => [.. _back.Select(entry => new PastChange(entry.State, entry.Says, entry.Made as StateChange, entry.Place))];

    /// <summary>Adds a version from an earlier performance.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="state">Its state.</param>
    /// <param name="text">The chart's text from which the state was read, for the log.</param>
    public void Remember(string name, PerformanceState state, string text)
    {
        _versions = _versions.SetItem(name, state);
        _texts[state] = text;
    }

    /// <summary>The text of a version from an earlier performance; null if there is none with that name.</summary>
    public string? TextOf(string name) => _versions.TryGetValue(name, out var state) ? _texts.GetValueOrDefault(state) : null;

    /// <summary>Applies a change.</summary>
    /// <exception cref="ChangeRefusedException">It cannot be applied; nothing has changed.</exception>
    public HistoryStep Do(Change change, PerformancePlace place) => change.MakeIn(this, InBarsOf(place));

    /// <summary>Applies a change given in words.</summary>
    /// <exception cref="ChangeRefusedException">It cannot be read or applied; nothing has changed.</exception>
    public HistoryStep Do(string words, PerformancePlace place) => Do(ChangeWords.Read(words, State), place);

    /// <summary>True if a change can take effect at the next bar line: one that moves the song into another meter waits for the start of a section, or
    /// of a loop, and one that returns to another meter for a bar line that both have.</summary>
    /// <param name="change">The change.</param>
    /// <param name="place">Where the band is.</param>
    public bool IsTimeFor(Change change, PerformancePlace place)
    {
        place = InBarsOf(place);
        var next = Coming(place, place.Next);
        return change switch
        {
            RecastSong => IsStart(next, Coming(place, place.Next - 1)),
            Performance.Undo or Performance.OnlyHere => _back.Count == 0 || IsShared(_back[^1].State, next, place),
            Performance.Redo => _forth.Count == 0 || IsShared(_forth[^1].State, next, place),
            HearSide => IsShared(_compared.A, next, place) && IsShared(_compared.B, next, place),
            RecallVersion recall => !_versions.TryGetValue(recall.Name, out var state) || IsShared(state, next, place),
            _ => true,
        };
    }

    /// <summary>The next bar of the performance before which a change can take effect (<see cref="IsTimeFor"/>); null if none is in sight.</summary>
    /// <param name="change">The change.</param>
    /// <param name="place">Where the band is.</param>
    public int? TimeFor(Change change, PerformancePlace place)
    {
        const int InSight = 200;
        var at = InBarsOf(place);
        var (last, bar) = (Coming(at, at.Next - 1), Coming(at, at.Next));
        for (var next = place.Next; next < place.Next + InSight; next++)
        {
            if (change is RecastSong ? IsStart(bar, last) : IsTimeFor(change, place with { Next = next }))
            {
                return next;
            }

            (last, bar) = (bar, Route.After(bar, next));
        }

        return null;
    }

    /// <summary>The bar that a change refers to, in the current state.</summary>
    /// <param name="place">Where the band is.</param>
    public BarPlace BarAt(PerformancePlace place) => State.BarAt(InBarsOf(place));

    /// <summary>The bar at the same place of the song in another state; the same number unless the song was moved into another meter between them.</summary>
    /// <param name="bar">The bar in the first state.</param>
    /// <param name="from">The first state.</param>
    /// <param name="to">The other state.</param>
    public static int SamePlace(int bar, PerformanceState from, PerformanceState to) =>
        RecastPath.Between(from, to, new PerformancePlace(bar, bar, bar + 1))?.To(bar) ?? bar;

    /// <summary>The bar of the performance from which the newest bars in another meter are heard; -1 for none.</summary>
    public int RecastFrom => _crossed.Count > 0 ? _crossed[^1].Ordinal : -1;

    private bool IsShared(PerformanceState? other, int bar, PerformancePlace place) =>
        other is null || RecastPath.Between(State, other, place) is not { } path || path.IsAtBarLine(bar);

    // A section begins, also again, or the band jumps back in a loop.
    private bool IsStart(int bar, int last) =>
        bar < 0 || (Route.Has(bar) && (State.Orders.Loop?.From == bar || Route.Plan.BarAt(bar).IndexInRun == 0 || (last >= 0 && last + 1 != bar && last != bar)));

    // Until the line at which a song in another meter is heard, the bar that plays has its number in the old one.
    private PerformancePlace InBarsOf(PerformancePlace place)
    {
        _crossed.RemoveAll(crossed => crossed.Ordinal <= place.Ordinal);
        return _crossed.Aggregate(place, (at, crossed) => at.Index < 0 ? at : at with { Index = crossed.Path.To(at.Index) });
    }

    /// <summary>The ordinal at which a bar with that number will play, from the next bar line on; null if it will not.</summary>
    public int? OrdinalOf(int bar, PerformancePlace place)
    {
        place = InBarsOf(place);
        var next = Coming(place, place.Next);
        return next == bar ? place.Next : Route.OrdinalBefore(bar, next, place.Next) + 1;
    }

    /// <summary>The route that <see cref="PlayAgain"/> takes: from the count-in or a bar on, with all changes.</summary>
    /// <param name="start">Where it starts; null for the top, with a count-in if a restart has one.</param>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public PerformanceRoute RouteAgain(StartPoint? start = null)
    {
        start ??= StartPoint.Top(State.CountIn);
        return RouteOf(Afresh(State, start), start);
    }

    /// <summary>Starts a new performance of the current state. The changes, undo, the compared sides and the saved versions remain. Orders that
    /// belong to bars of the old performance (its end, loops, jumps, holds, breaks) are removed, and a ramp keeps its final tempo, unless the start is
    /// inside it.</summary>
    /// <param name="start">Where it starts; null for the top, with a count-in if a restart has one.</param>
    /// <exception cref="ChartProblemException">It cannot be played; nothing has changed.</exception>
    public void PlayAgain(StartPoint? start = null)
    {
        start ??= StartPoint.Top(State.CountIn);
        var route = RouteAgain(start);
        var state = Afresh(State, start);
        var known = new Dictionary<ImmutableSortedDictionary<string, PerformanceState>, ImmutableSortedDictionary<string, PerformanceState>>(
            ReferenceEqualityComparer.Instance);
        ImmutableSortedDictionary<string, PerformanceState> All(ImmutableSortedDictionary<string, PerformanceState> versions)
        {
            if (!known.TryGetValue(versions, out var found))
            {
                found = known[versions] = versions.SetItems(
                    versions.Select(version => KeyValuePair.Create(version.Key, Afresh(version.Value, start))).Where(version => !ReferenceEquals(versions[version.Key], version.Value)));
            }

            return found;
        }

        Compared Both(Compared compared) => compared with { A = compared.A is { } a ? Afresh(a, start) : null, B = compared.B is { } b ? Afresh(b, start) : null };
        (State, Route, _heading) = (state, route, null);
        _crossed.Clear();
        (_compared, _versions) = (Both(_compared), All(_versions));
        foreach (var steps in new[] { _back, _forth })
        {
            for (var i = 0; i < steps.Count; i++)
            {
                steps[i] = steps[i] with
                {
                    State = Afresh(steps[i].State, start),
                    Compared = Both(steps[i].Compared),
                    Versions = All(steps[i].Versions),
                    Left = null,
                };
            }

            // A step that only gave orders no longer changes anything.
            var (next, sides, versions) = (State, _compared, _versions);
            for (var i = steps.Count - 1; i >= 0; i--)
            {
                var step = steps[i];
                if (step.State == next && step.Compared == sides && ReferenceEquals(step.Versions, versions))
                {
                    steps.RemoveAt(i);
                }

                (next, sides, versions) = (step.State, step.Compared, step.Versions);
            }
        }
    }

    private static PerformanceRoute RouteOf(PerformanceState state) => RouteOf(state, StartPoint.Top(state.CountIn));

    private static PerformanceRoute RouteOf(PerformanceState state, StartPoint start) => new(state, start.CountIn ? -1 : start.Bar);

    private static PerformanceState Afresh(PerformanceState state, StartPoint start)
    {
        var old = state.Orders;
        var orders = FormOrders.None with
        {
            Ramp = old.Ramp is not { } ramp ? null
                : start.Ordinal is { } at && at < ramp.EndOrdinal ? ramp with { FromOrdinal = ramp.FromOrdinal - at + (start.CountIn ? 1 : 0) }
                : new TempoRamp(0, 0, ramp.To, ramp.To),
            Passes = old.Passes is null ? null : Math.Max(state.Chart.Times, start.Pass + 1),
            StartAt = start.Bar > 0 ? start.Bar : null,
        };
        if (start.KeepsOrders)
        {
            orders = orders with
            {
                Loop = old.Loop,
                LoopName = old.LoopName,
                Released = old.Released,
                EndBar = old.EndBar > start.Bar ? old.EndBar : null,
            };
        }

        return state.Orders == orders ? state : state with { Orders = orders };
    }

    internal HistoryStep Make(ChangeResult changed, PerformancePlace place, Change? made = null) => Make(changed, place, _compared, made);

    /// <summary>The last change, if it was made for the whole chart and can be limited to the section in which it was made; null otherwise, and
    /// where the form has only one section.</summary>
    public Change? Limitable => _back.Count > 0 && _back[^1].Made is { } made && made.LimitedTo(new ChangeScope(_back[^1].MadeIn)) is not null && State.Chart.Form.DistinctBy(step => step.Section).Skip(1).Any()
        ? made
        : null;

    internal HistoryStep OnlyHere(PerformancePlace place)
    {
        if (Limitable is not { } made)
        {
            throw new ChangeRefusedException("the last change applies to one section already, or cannot be limited to one; write what to change, such as meter 7/8 2+2+3 here");
        }

        var changed = made.LimitedTo(new ChangeScope(_back[^1].MadeIn))!.ApplyTo(_back[^1].State, place);
        var before = State;
        var undone = Undo(place);
        _forth.RemoveAt(_forth.Count - 1);
        var step = Make(changed, place, _compared);
        return step with { Before = before, Route = step.Route ?? undone.Route };
    }

    private HistoryStep Make(ChangeResult changed, PerformancePlace place, Compared compared, Change? made = null)
    {
        var (before, was) = (State, Route);
        var path = Across(changed.State, place);
        changed = path is not null && changed.JumpTo is null ? Crossing(changed, path, State.Orders, place) : changed;
        var entry = new Entry(before, changed.Says, _compared, _versions, null, 0) { Made = made, Place = place, MadeIn = made is null ? null : before.BarAt(place).Run.Section.Name };
        var coming = Coming(place, place.Next);
        var last = Coming(place, place.Next - 1);
        var later = changed.State.Orders.Jumps.Keys.Cast<int?>().FirstOrDefault(key => !before.Orders.Jumps.ContainsKey(key!.Value));
        var left = later is { } key && changed.JumpTo is null ? (key + 1, Coming(place, key + 1)) : (place.Next, coming);
        var route = RouteTo(changed.State, place, changed.JumpTo, path);
        var goes = changed.JumpTo
            ?? (later is { } at ? changed.State.Orders.Jumps[at]
                : route is not null && route.Plan.BarsInPass == was.Plan.BarsInPass ? route.TakeOver(was, last, place.Next - 1) : coming);
        if (path is null && (changed.JumpTo is not null || goes != left.Item2) && was.Has(left.Item2))
        {
            entry = entry with { Left = left, Went = goes };
        }

        _compared = compared;
        if (before != changed.State || entry.Left is not null)
        {
            Push(entry);
        }

        return new HistoryStep(changed, before, route) { Recasts = path is not null };
    }

    // The way to a state that has the song in another meter; null for none.
    private RecastPath? Across(PerformanceState to, PerformancePlace place) => RecastPath.Between(State, to, place);

    // The song goes on at the same place, with what is pending.
    private ChangeResult Crossing(ChangeResult changed, RecastPath path, FormOrders orders, PerformancePlace place) => changed with
    {
        State = changed.State with { Orders = path.Orders(orders, place.Next, ordinal => Coming(place, ordinal)) },
        JumpTo = path.To(Coming(place, place.Next)),
    };

    private void Push(Entry entry)
    {
        _back.Add(entry);
        _forth.Clear();
        if (_back.Count > Remembered)
        {
            _back.RemoveAt(0);
        }
    }

    internal HistoryStep Undo(PerformancePlace place)
    {
        if (_back.Count == 0)
        {
            throw new ChangeRefusedException("nothing to undo");
        }

        var entry = _back[^1];
        var state = entry.State;
        int? jumpTo = null;
        var path = Across(state, place);
        if (path is null && entry.Left is { } left && place.Next >= left.At)
        {
            jumpTo = left.Bar;
            state = Later(state, left.At, place.Next - left.At);
        }

        var changed = new ChangeResult(state, "undone: " + entry.Says, ChangeMoment.BarLine, JumpTo: jumpTo);
        var redone = new Entry(State, entry.Says, _compared, _versions, entry.Left, entry.Went);
        var step = Take(path is null ? changed : Crossing(changed, path, State.Orders, place), entry, place, path);
        _back.RemoveAt(_back.Count - 1);
        if (jumpTo is not null)
        {
            // Steps before it belong to the current timeline, back to the last step that had itself left another.
            var (at, by) = (entry.Left!.Value.At, place.Next - entry.Left.Value.At);
            for (var i = _back.Count - 1; i >= 0 && !(_back[i].Left?.At <= at); i--)
            {
                _back[i] = _back[i] with
                {
                    State = Later(_back[i].State, at, by),
                    Left = _back[i].Left is { } further ? (further.At + by, further.Bar) : null,
                };
            }
        }

        _forth.Add(redone);
        return step;
    }

    internal HistoryStep Redo(PerformancePlace place)
    {
        if (_forth.Count == 0)
        {
            throw new ChangeRefusedException("nothing to redo");
        }

        var entry = _forth[^1];
        var path = Across(entry.State, place);
        int? jumpTo = path is null && entry.Left is { } left && place.Next >= left.At ? entry.Went : null;
        var undone = new Entry(
            State, entry.Says, _compared, _versions, jumpTo is not null ? (place.Next, Coming(place, place.Next)) : entry.Left, entry.Went);
        var changed = new ChangeResult(entry.State, "redone: " + entry.Says, ChangeMoment.BarLine, JumpTo: jumpTo);
        var step = Take(path is null ? changed : Crossing(changed, path, State.Orders, place), entry, place, path);
        _forth.RemoveAt(_forth.Count - 1);
        _back.Add(undone);
        return step;
    }

    private HistoryStep Take(ChangeResult changed, Entry entry, PerformancePlace place, RecastPath? path)
    {
        var before = State;
        var state = path is not null ? changed.State : Unended(changed.State, changed.JumpTo ?? (changed.State.Orders.EndBar == before.Orders.EndBar ? -1 : place.Index));
        if (path is null && state.Orders.HoldFrom is { } hold)
        {
            // A restored hold starts with a downbeat, and what is planned for later keeps its distance from it.
            state = Later(state, hold, (before.Orders.HoldFrom ?? Math.Max(hold, place.Next)) - hold);
        }

        var now = changed.JumpTo is null && (state with { Speed = before.Speed }).SoundsTheSameNotes(before);
        var route = RouteTo(state, place, changed.JumpTo, path);
        (_compared, _versions) = (entry.Compared, entry.Versions);
        var says = changed.JumpTo is { } to ? $"{changed.Says}; continuing at {NameOf(to)}"
            : state.Speed != before.Speed ? $"{changed.Says}; now {TempoOf(state, place)}"
            : changed.Says;
        return new HistoryStep(changed with { State = state, Says = says, Moment = now ? ChangeMoment.Now : ChangeMoment.BarLine }, before, route) { Recasts = path is not null };
    }

    // An end that has already passed would end the music at once.
    private static PerformanceState Unended(PerformanceState state, int index) =>
        state.Orders.EndBar <= index ? state with { Orders = state.Orders with { EndBar = null } } : state;

    // Shifts what is pending from a bar of the performance on.
    private static PerformanceState Later(PerformanceState state, int at, int by)
    {
        var orders = state.Orders;
        if (by == 0 || (orders.Jumps.IsEmpty && orders.Break is null && orders.HoldFrom is null))
        {
            return state;
        }

        return state with
        {
            Orders = orders with
            {
                Jumps = orders.Jumps.ToImmutableSortedDictionary(jump => jump.Key >= at ? jump.Key + by : jump.Key, jump => jump.Value),
                Break = orders.Break is { } broken && broken.End > at ? (broken.From + by, broken.End + by) : orders.Break,
                HoldFrom = orders.HoldFrom >= at ? orders.HoldFrom + by : orders.HoldFrom,
            },
        };
    }

    // The bar with that ordinal, if nothing changes.
    private int Coming(PerformancePlace place, int ordinal)
    {
        var (index, at) = place.Ordinal < 0 ? (Route.From, 0) : (place.Index, place.Ordinal);
        if (_heading is { } heading && at < heading.Ordinal && ordinal >= heading.Ordinal)
        {
            (index, at) = (heading.Bar, heading.Ordinal);
        }

        for (; at < ordinal; at++)
        {
            index = Route.After(index, at);
        }

        return index;
    }

    private static string TempoOf(PerformanceState state, PerformancePlace place)
    {
        var bar = state.BarAt(place);
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, state.SteadyTempoIn(bar, place.Ordinal), bar.GroupPlace);
        return $"{felt.BeatName} = {felt.Figure}";
    }

    // The name of a bar on the screen.
    private string NameOf(int bar)
    {
        if (bar < 0)
        {
            return "the count-in";
        }

        var place = Route.Plan.BarAt(bar);
        return bar == Route.Source.End - 1 && State.Chart.Ending ? "the last chord" : $"{place.Run.Section.Name}, bar {place.IndexInRun + 1}";
    }

    private static string NameIn(PerformanceState state, int bar)
    {
        if (bar < 0)
        {
            return "the count-in";
        }

        var place = state.Plan.BarAt(bar);
        return $"{place.Run.Section.Name}, bar {place.IndexInRun + 1}";
    }

    private static TempoRamp? Reached(TempoRamp? ramp) => ramp is null ? null : new TempoRamp(0, 0, ramp.To, ramp.To);

    private PerformanceRoute? RouteTo(PerformanceState state, PerformancePlace place, int? jumpTo, RecastPath? path)
    {
        if (jumpTo is null && state.SoundsTheSameNotes(State))
        {
            State = state;
            return null;
        }

        PerformanceRoute route;
        try
        {
            var fresh = new PerformanceRoute(state, Math.Max(-1, place.Index));
            var last = place.Next - 1;
            route = jumpTo is null && _heading is { } coming && coming.Ordinal == place.Next ? fresh.StartingAt(coming.Bar, place.Next, 0)
                : jumpTo is not { } start ? fresh.Following(Route, last < 0 ? -1 : Coming(place, last), last)
                : fresh.StartingAt(start, place.Next, path is null ? 0 : Route.RoundOf(Coming(place, place.Next), place.Next) ?? 0);
        }
        catch (ChartProblemException problem)
        {
            throw new ChangeRefusedException(problem.Message);
        }

        _heading = jumpTo is { } to ? (place.Next, to) : _heading is { } heading && heading.Ordinal > place.Ordinal ? heading : null;
        if (path is not null)
        {
            _crossed.Add((place.Next, path));
        }

        State = state;
        Route = route;
        return route;
    }

    internal HistoryStep Keep(ComparedSide side) => Quiet(
        $"kept as {side}",
        _compared.With(side, State) with { Last = side, IsBKept = side == ComparedSide.B || _compared.IsBKept },
        _versions);

    private HistoryStep Quiet(string says, Compared compared, ImmutableSortedDictionary<string, PerformanceState> versions)
    {
        Push(new Entry(State, says, _compared, _versions, null, 0));
        (_compared, _versions) = (compared, versions);
        return new HistoryStep(new ChangeResult(State, says, ChangeMoment.Kept), State, null);
    }

    // A is what was kept, until something else is kept as A. B is the newest changed version, unless one was kept as B.
    internal HistoryStep Hear(ComparedSide? which, PerformancePlace place)
    {
        var now = _compared;
        if (now.A is null && now.B is null && which is null)
        {
            // The first press: the current state becomes A, and later changes B.
            return Quiet("kept as A: change something, then hear A again", now.With(ComparedSide.A, State) with { Last = ComparedSide.A }, _versions);
        }

        var heard = HeardOf(now);
        var isNew = !now.IsBKept && now.A is not null && (heard is null || (heard == ComparedSide.B && !IsSameMusic(State, now.B!)));
        var side = which ?? (isNew ? ComparedSide.A : Other(heard ?? now.Last ?? ComparedSide.B));
        if (isNew && (side == ComparedSide.A || now.B is null || heard == ComparedSide.B))
        {
            now = now with { B = State, Last = ComparedSide.B, Anchor = now.B is null ? GroupStart(place) : now.Anchor };
            if (side == ComparedSide.B)
            {
                return Quiet("kept as B", now, _versions);
            }
        }
        else if (side == ComparedSide.B && now.B is null && heard == ComparedSide.A)
        {
            throw new ChangeRefusedException("this is A; change something to create B");
        }

        if (now[side] is not { } other)
        {
            throw new ChangeRefusedException($"nothing is kept as {side}; 'keep {KeepSide.NameOf(side)}' keeps what you hear");
        }

        var leaves = HeardOf(now) is null ? "; undo brings back your changes" : string.Empty;
        if (Across(other, place) is { } path)
        {
            // The same word in the other meter.
            var crossed = Crossing(new ChangeResult(other, string.Empty, ChangeMoment.BarLine), path, State.Orders, place);
            var orders = crossed.State.Orders;
            crossed = crossed with { State = other with { Orders = orders with { Ramp = orders.Ramp?.To == other.Orders.Ramp?.To ? orders.Ramp : Reached(other.Orders.Ramp) } } };
            return Make(crossed with { Says = $"{side} from {NameIn(crossed.State, crossed.JumpTo!.Value)}{leaves}" }, place, now with { Last = side });
        }

        var anchor = Math.Max(0, now.Anchor < 0 || now.Anchor > place.Index ? GroupStart(place) : now.Anchor);

        // Pending orders stay after the same bar, shifted by as many bars as the music goes back.
        var back = Coming(place, place.Next) - anchor;
        var changed = new ChangeResult(
            back > 0 ? Later(Musical(other), place.Next, back) : Musical(other), $"{side} from {NameOf(anchor)}{leaves}", ChangeMoment.BarLine, JumpTo: anchor);
        return Make(changed, place, now with { Anchor = anchor, Last = side });
    }

    private static ComparedSide Other(ComparedSide side) => side == ComparedSide.A ? ComparedSide.B : ComparedSide.A;

    private ComparedSide? HeardOf(Compared compared)
    {
        if (compared.Last is not { } last)
        {
            return null;
        }

        bool Is(ComparedSide side) => compared[side] is { } kept && IsSameMusic(kept, State);
        return Is(last) || (last == ComparedSide.B && !compared.IsBKept) ? last : Is(Other(last)) ? Other(last) : null;
    }

    private static bool IsSameMusic(PerformanceState a, PerformanceState b) =>
        a.Chart == b.Chart && a.Speed == b.Speed && a.Orders.Ramp == b.Orders.Ramp && a.MasterDecibels.Equals(b.MasterDecibels)
        && a.Muted.SetEquals(b.Muted) && a.Solo.SetEquals(b.Solo);

    private int GroupStart(PerformancePlace place)
    {
        var bar = State.BarAt(place);
        return bar.Index - bar.GroupPlace.Index;
    }

    // Only the music is compared; the place in the form continues.
    private PerformanceState Musical(PerformanceState other) => other with { Orders = State.Orders with { Ramp = other.Orders.Ramp }, WordStresses = State.WordStresses };

    internal HistoryStep KeepVersion(string name) => Performance.KeepVersion.IsReserved(name) && !IsReplay
        ? throw new ChangeRefusedException($"the name {Wording.Words.Quote(name)} is reserved for unsaved changes; use another name")
        : Quiet($"saved as version {Wording.Words.Quote(name)}", _compared, _versions.SetItem(name, State));

    internal HistoryStep Recall(string name, PerformancePlace place) => _versions.TryGetValue(name, out var state)
        ? Make(new ChangeResult(Musical(state), $"restored {Wording.Words.Quote(name)}", ChangeMoment.BarLine), place)
        : throw new ChangeRefusedException(_versions.Count == 0
            ? "no saved versions; 'version NAME' saves what you hear"
            : Wording.Words.Unknown("saved version", name, _versions.Keys));

    /// <summary>A step of undo or redo.</summary>
    /// <param name="State">The state to go to.</param>
    /// <param name="Says">A description of the change.</param>
    /// <param name="Compared">The two sides kept for comparison in that state.</param>
    /// <param name="Versions">The saved versions.</param>
    /// <param name="Left">The bar of the performance at which it changed the place, and the bar that would have followed; null without a
    /// change of place.</param>
    /// <param name="Went">The bar that followed instead.</param>
    private sealed record Entry(
        PerformanceState State,
        string Says,
        Compared Compared,
        ImmutableSortedDictionary<string, PerformanceState> Versions,
        (int At, int Bar)? Left,
        int Went)
    {
        /// <summary>The change that was made; null for other steps.</summary>
        public Change? Made { get; init; }

        /// <summary>Where it was made.</summary>
        public PerformancePlace Place { get; init; }

        /// <summary>The section that played when it was made, to which it can be limited later.</summary>
        public string? MadeIn { get; init; }
    }

    /// <summary>The two compared sides, the one kept or heard last (null for neither), the bar from which they are played (-1 for none yet),
    /// and whether B was kept on request; otherwise it is the newest changed version.</summary>
    private sealed record Compared(PerformanceState? A, PerformanceState? B, ComparedSide? Last, int Anchor, bool IsBKept = false)
    {
        public PerformanceState? this[ComparedSide side] => side == ComparedSide.A ? A : B;

        public Compared With(ComparedSide side, PerformanceState state) => side == ComparedSide.A ? this with { A = state } : this with { B = state };
    }
}
