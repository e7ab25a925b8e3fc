using System.Collections.Immutable;
using GrooveLab.Audio.Playback;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;

namespace GrooveLab.Live;

/// <summary>What a change came to, with the way through the bars that it asks for.</summary>
/// <param name="Changed">The change.</param>
/// <param name="Before">The state before it.</param>
/// <param name="Route">The new way; null when the same notes go on.</param>
internal sealed record LiveStep(LiveChanged Changed, LiveState Before, LiveRoute? Route);

/// <summary>
/// The states of a performance: the one that holds, those before it, the two that are compared by ear and those kept by name. Pure in what it
/// is told: the same words at the same places lead to the same states. One thread uses it.
/// </summary>
/// <remarks>
/// A change that takes the music elsewhere (a jump, a restart, a loop, A and B) is taken back with its place: playing goes on with the bar
/// that would have come next when it was left, and what was still to come there comes as much later.
/// </remarks>
internal sealed class LiveHistory
{
    private const int Remembered = 500;

    private readonly List<Entry> _back = [];
    private readonly List<Entry> _forth = [];
    private Compared _compared = new(null, null, -1, 0);
    private ImmutableSortedDictionary<string, LiveState> _versions =
        ImmutableSortedDictionary.Create<string, LiveState>(StringComparer.OrdinalIgnoreCase);

    private (int Ordinal, int Bar)? _heading;

    /// <summary>Begins with a state.</summary>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public LiveHistory(LiveState state)
    {
        State = state;
        Route = new LiveRoute(state, state.CountIn ? -1 : 0);
    }

    /// <summary>The words for what is done with states, beside <see cref="LiveChanges.All"/>.</summary>
    public static IReadOnlyList<(string Words, string Does)> All { get; } =
    [
        ("undo", "take the last change back"),
        ("redo", "make it again after all"),
        ("keep a | b", "keep what you hear for comparing"),
        ("hear a | b | other", "hear the other one from the same bar"),
        ("version NAME", "keep what you hear under a name"),
        ("recall NAME", "go back to it"),
    ];

    /// <summary>The state that holds, or will at its place.</summary>
    public LiveState State { get; private set; }

    /// <summary>Its way through the bars.</summary>
    public LiveRoute Route { get; private set; }

    /// <summary>'A' or 'B' when one of the two is heard; null otherwise.</summary>
    public char? Hearing => _compared.Hearing < 0 ? null : (char)('A' + _compared.Hearing);

    /// <summary>Whether the two can be compared.</summary>
    public (bool A, bool B) Kept => (_compared.A is not null, _compared.B is not null);

    /// <summary>The names of what was kept.</summary>
    public IReadOnlyDictionary<string, LiveState> Versions => _versions;

    /// <summary>What undo would take back; null for nothing.</summary>
    public string? LastChange => _back.Count > 0 ? _back[^1].Says : null;

    /// <summary>Puts versions in that were kept before.</summary>
    public void Remember(string name, LiveState state) => _versions = _versions.SetItem(name, state);

    /// <summary>Makes a change.</summary>
    /// <exception cref="LiveRefusal">It cannot be made; nothing has changed.</exception>
    public LiveStep Do(string words, LivePlace place)
    {
        var body = words.Trim();
        var parts = body.Split(' ', 2, StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        var verb = parts.Length == 0 ? string.Empty : parts[0].ToLowerInvariant();
        var rest = parts.Length < 2 ? string.Empty : parts[1];
        return verb switch
        {
            "undo" => Undo(place),
            "redo" => Redo(place),
            "keep" => Keep(Slot(rest)),
            "hear" => Hear(rest, place),
            "version" => Version(rest),
            "recall" => Make(new LiveChanged(Musical(Recalled(rest)), $"{rest} again", LiveMoment.BarLine), place, _compared),
            _ => Make(LiveChanges.Make(body, State, place), place, _compared),
        };
    }

    /// <summary>Which bar of the performance a bar of that number will be, from the next bar line on; null when it does not come.</summary>
    public int? OrdinalOf(int bar, LivePlace place)
    {
        var next = Coming(place, place.Next);
        return next == bar ? place.Next : Route.OrdinalBefore(bar, next, place.Next) + 1;
    }

    private LiveStep Make(LiveChanged changed, LivePlace place, Compared compared)
    {
        var (before, was) = (State, Route);
        var entry = new Entry(before, changed.Says, _compared, _versions, null, 0);
        var coming = Coming(place, place.Next);
        var last = Coming(place, place.Next - 1);
        var later = changed.State.Orders.Jumps.Keys.Cast<int?>().FirstOrDefault(key => !before.Orders.Jumps.ContainsKey(key!.Value));
        var left = later is { } key && changed.JumpTo is null ? (key + 1, Coming(place, key + 1)) : (place.Next, coming);
        var route = RouteTo(changed.State, place, changed.JumpTo);
        var goes = changed.JumpTo
            ?? (later is { } at ? changed.State.Orders.Jumps[at]
                : route is not null && route.Plan.BarsInPass == was.Plan.BarsInPass ? route.TakeOver(was, last, place.Next - 1) : coming);
        if ((changed.JumpTo is not null || goes != left.Item2) && was.Has(left.Item2))
        {
            entry = entry with { Left = left, Went = goes };
        }

        _compared = compared;
        if (before != changed.State || entry.Left is not null)
        {
            Push(entry);
        }

        return new LiveStep(changed, before, route);
    }

    private void Push(Entry entry)
    {
        _back.Add(entry);
        _forth.Clear();
        if (_back.Count > Remembered)
        {
            _back.RemoveAt(0);
        }
    }

    private LiveStep Undo(LivePlace place)
    {
        if (_back.Count == 0)
        {
            throw new LiveRefusal("there is nothing to undo");
        }

        var entry = _back[^1];
        var state = entry.State;
        int? jumpTo = null;
        if (entry.Left is { } left && place.Next >= left.At)
        {
            jumpTo = left.Bar;
            state = Later(state, left.At, place.Next - left.At);
        }

        var changed = new LiveChanged(state, "undone: " + entry.Says, LiveMoment.BarLine, JumpTo: jumpTo);
        var redone = new Entry(State, entry.Says, _compared, _versions, entry.Left, entry.Went);
        var step = Take(changed, entry, place);
        _back.RemoveAt(_back.Count - 1);
        if (jumpTo is not null)
        {
            // Those before it belong to the time that goes on now, back to the last one that had itself left another.
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

    private LiveStep Redo(LivePlace place)
    {
        if (_forth.Count == 0)
        {
            throw new LiveRefusal("there is nothing to do again");
        }

        var entry = _forth[^1];
        int? jumpTo = entry.Left is { } left && place.Next >= left.At ? entry.Went : null;
        var undone = new Entry(
            State, entry.Says, _compared, _versions, jumpTo is not null ? (place.Next, Coming(place, place.Next)) : entry.Left, entry.Went);
        var step = Take(new LiveChanged(entry.State, "again: " + entry.Says, LiveMoment.BarLine, JumpTo: jumpTo), entry, place);
        _forth.RemoveAt(_forth.Count - 1);
        _back.Add(undone);
        return step;
    }

    private LiveStep Take(LiveChanged changed, Entry entry, LivePlace place)
    {
        var before = State;
        var state = Unended(changed.State, changed.JumpTo ?? (changed.State.Orders.EndBar == before.Orders.EndBar ? -1 : place.Index));
        if (state.Orders.HoldFrom is { } hold)
        {
            // A hold that is taken up again begins with a downbeat to strike.
            state = state with { Orders = state.Orders with { HoldFrom = before.Orders.HoldFrom ?? Math.Max(hold, place.Next) } };
        }

        var now = changed.JumpTo is null && (state with { Speed = before.Speed }).SoundsTheSameNotes(before);
        var route = RouteTo(state, place, changed.JumpTo);
        (_compared, _versions) = (entry.Compared, entry.Versions);
        var says = changed.JumpTo is { } to ? $"{changed.Says}; on with {NameOf(to)}"
            : state.Speed != before.Speed ? $"{changed.Says}; now {TempoOf(state, place)}"
            : changed.Says;
        return new LiveStep(changed with { State = state, Says = says, Moment = now ? LiveMoment.Now : LiveMoment.BarLine }, before, route);
    }

    // An end that is already past would end the music at once.
    private static LiveState Unended(LiveState state, int index) =>
        state.Orders.EndBar <= index ? state with { Orders = state.Orders with { EndBar = null } } : state;

    // What was still to come from a bar of the performance on comes as much later.
    private static LiveState Later(LiveState state, int at, int by)
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

    // The bar that comes as that bar of the performance, if nothing is changed.
    private int Coming(LivePlace place, int ordinal)
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

    private static string TempoOf(LiveState state, LivePlace place)
    {
        var bar = LiveChanges.BarNow(state, place);
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, LiveChanges.Sounding(state, bar, place.Ordinal), bar.GroupPlace.Size);
        return $"{felt.BeatName} = {felt.Figure}";
    }

    // A bar as the screen names it.
    private string NameOf(int bar)
    {
        if (bar < 0)
        {
            return "the count-in";
        }

        var place = Route.Plan.BarAt(bar);
        return bar == Route.Source.End - 1 && State.Chart.Ending ? "the last chord" : $"{place.Run.Section.Name}, bar {place.IndexInRun + 1}";
    }

    private LiveRoute? RouteTo(LiveState state, LivePlace place, int? jumpTo)
    {
        if (jumpTo is null && state.SoundsTheSameNotes(State))
        {
            State = state;
            return null;
        }

        LiveRoute route;
        try
        {
            route = new LiveRoute(state, Math.Max(-1, place.Index));
        }
        catch (ChartProblemException problem)
        {
            throw new LiveRefusal(problem.Message);
        }

        _heading = jumpTo is { } to ? (place.Next, to) : _heading is { } heading && heading.Ordinal > place.Ordinal ? heading : null;
        State = state;
        Route = route;
        return route;
    }

    private static int Slot(string name) => name.ToLowerInvariant() switch
    {
        "a" => 0,
        "b" => 1,
        _ => throw new LiveRefusal("the two that are compared are called a and b"),
    };

    private LiveStep Keep(int slot) =>
        Quiet($"kept as {(char)('A' + slot)}", _compared.With(slot, State) with { Hearing = slot }, _versions);

    private LiveStep Quiet(string says, Compared compared, ImmutableSortedDictionary<string, LiveState> versions)
    {
        Push(new Entry(State, says, _compared, _versions, null, 0));
        (_compared, _versions) = (compared, versions);
        return new LiveStep(new LiveChanged(State, says, LiveMoment.Kept), State, null);
    }

    private LiveStep Hear(string which, LivePlace place)
    {
        var now = _compared;
        var slot = which.Equals("other", StringComparison.OrdinalIgnoreCase) || which.Length == 0 ? (now.Hearing == 0 ? 1 : 0) : Slot(which);
        if (now.Hearing < 0 && now.A is null)
        {
            // The first press: what is heard becomes A, and what is changed from here on B.
            return Quiet("kept as A: change something, and hear A again", now.With(0, State) with { Hearing = 0 }, _versions);
        }

        if (now.B is null && slot == 1)
        {
            if ((now.A ?? State) == State)
            {
                throw new LiveRefusal("A is what you hear; change something, and it becomes B");
            }

            slot = 0;
            now = now with { B = State, Hearing = 1, Anchor = GroupStart(place) };
        }
        else if (now.Hearing >= 0)
        {
            now = now.With(now.Hearing, State);
        }

        if (now[slot] is not { } other)
        {
            throw new LiveRefusal($"nothing is kept as {(char)('A' + slot)}");
        }

        var anchor = Math.Max(0, now.Anchor < 0 || now.Anchor > place.Index ? GroupStart(place) : now.Anchor);
        // What was asked to come after a bar still comes after it, as much later as the music goes back.
        var back = Coming(place, place.Next) - anchor;
        var changed = new LiveChanged(
            back > 0 ? Later(Musical(other), place.Next, back) : Musical(other), $"{(char)('A' + slot)} from {NameOf(anchor)}", LiveMoment.BarLine, JumpTo: anchor);
        return Make(changed, place, now with { Anchor = anchor, Hearing = slot });
    }

    private int GroupStart(LivePlace place)
    {
        var bar = LiveChanges.BarNow(State, place);
        return bar.Index - bar.GroupPlace.Index;
    }

    // What is compared is the music; where the form stands goes on.
    private LiveState Musical(LiveState other) => other with { Orders = State.Orders with { Ramp = other.Orders.Ramp } };

    private LiveStep Version(string name) => name.Length is 0 or > 60
        ? throw new LiveRefusal("say a name of up to sixty letters")
        : Quiet($"kept as {name}", _compared, _versions.SetItem(name, State));

    private LiveState Recalled(string name) => _versions.TryGetValue(name, out var state)
        ? state
        : throw new LiveRefusal(_versions.Count == 0 ? "nothing is kept by name" : $"kept are {string.Join(", ", _versions.Keys)}");

    /// <summary>A change that can be taken back, or made again.</summary>
    /// <param name="State">The state to go to.</param>
    /// <param name="Says">What the change was.</param>
    /// <param name="Compared">What was kept for comparing in that state.</param>
    /// <param name="Versions">What was kept by name.</param>
    /// <param name="Left">From which bar of the performance on it took the music elsewhere, and the bar that would have come; null when it did not.</param>
    /// <param name="Went">The bar that came instead.</param>
    private sealed record Entry(
        LiveState State,
        string Says,
        Compared Compared,
        ImmutableSortedDictionary<string, LiveState> Versions,
        (int At, int Bar)? Left,
        int Went);

    /// <summary>The two that are compared, which of them is heard (-1 for neither), and the bar from which.</summary>
    private sealed record Compared(LiveState? A, LiveState? B, int Hearing, int Anchor)
    {
        public LiveState? this[int slot] => slot == 0 ? A : B;

        public Compared With(int slot, LiveState state) => slot == 0 ? this with { A = state } : this with { B = state };
    }
}
