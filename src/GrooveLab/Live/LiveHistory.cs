using GrooveLab.Audio.Playback;
using GrooveLab.Music.Charts;

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
internal sealed class LiveHistory
{
    private const int Remembered = 500;

    private readonly List<(LiveState State, string Says)> _back = [];
    private readonly List<(LiveState State, string Says)> _forth = [];
    private readonly LiveState?[] _kept = new LiveState?[2];
    private readonly SortedDictionary<string, LiveState> _versions = new(StringComparer.OrdinalIgnoreCase);
    private int _hearing = -1;
    private int _anchor;

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
    public char? Hearing => _hearing < 0 ? null : (char)('A' + _hearing);

    /// <summary>Whether the two can be compared.</summary>
    public (bool A, bool B) Kept => (_kept[0] is not null, _kept[1] is not null);

    /// <summary>The names of what was kept.</summary>
    public IReadOnlyDictionary<string, LiveState> Versions => _versions;

    /// <summary>What undo would take back; null for nothing.</summary>
    public string? LastChange => _back.Count > 0 ? _back[^1].Says : null;

    /// <summary>Puts versions in that were kept before.</summary>
    public void Remember(string name, LiveState state) => _versions[name] = state;

    /// <summary>Makes a change.</summary>
    /// <exception cref="LiveRefusal">It cannot be made; nothing has changed.</exception>
    public LiveStep Do(string words, LivePlace place)
    {
        var before = State;
        var body = words.Trim();
        var parts = body.Split(' ', 2, StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        var verb = parts.Length == 0 ? string.Empty : parts[0].ToLowerInvariant();
        var rest = parts.Length < 2 ? string.Empty : parts[1];
        return verb switch
        {
            "undo" => Move(_back, _forth, "undone: ", "there is nothing to undo", place),
            "redo" => Move(_forth, _back, "again: ", "there is nothing to do again", place),
            "keep" => Keep(Slot(rest), before),
            "hear" => Hear(rest, place),
            "version" => Version(rest, before),
            "recall" => Take(Musical(Recalled(rest)), rest, LiveMoment.BarLine, place, null, remember: true),
            _ => Made(LiveChanges.Make(body, State, place), place),
        };
    }

    private LiveStep Made(LiveChanged changed, LivePlace place)
    {
        var before = State;
        var route = RouteTo(changed.State, place, changed.JumpTo is not null);
        Remember(before, changed.State, changed.Says);
        return new LiveStep(changed, before, route);
    }

    private void Remember(LiveState before, LiveState after, string says)
    {
        if (before != after)
        {
            _back.Add((before, says));
            _forth.Clear();
            if (_back.Count > Remembered)
            {
                _back.RemoveAt(0);
            }
        }
    }

    private LiveStep Move(
        List<(LiveState State, string Says)> from, List<(LiveState State, string Says)> to, string says, string nothing, LivePlace place)
    {
        if (from.Count == 0)
        {
            throw new LiveRefusal(nothing);
        }

        var (state, what) = from[^1];
        var before = State;
        var step = Take(state, says + what, (state with { Speed = before.Speed }).SoundsTheSameNotes(before) ? LiveMoment.Now : LiveMoment.BarLine, place, null, remember: false);
        from.RemoveAt(from.Count - 1);
        to.Add((before, what));
        return step;
    }

    private LiveStep Take(LiveState state, string says, LiveMoment moment, LivePlace place, int? jumpTo, bool remember)
    {
        // An end that is already past would end the music at once.
        if (state.Orders.EndBar <= place.Index)
        {
            state = state with { Orders = state.Orders with { EndBar = null } };
        }

        var before = State;
        var route = RouteTo(state, place, jumpTo is not null);
        if (remember)
        {
            Remember(before, state, says);
        }

        return new LiveStep(new LiveChanged(state, says, moment, JumpTo: jumpTo), before, route);
    }

    private LiveRoute? RouteTo(LiveState state, LivePlace place, bool jumps)
    {
        if (!jumps && state.SoundsTheSameNotes(State))
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

    private LiveStep Keep(int slot, LiveState before)
    {
        _kept[slot] = before;
        _hearing = slot;
        return Quiet($"kept as {(char)('A' + slot)}", before);
    }

    private static LiveStep Quiet(string says, LiveState state) => new(new LiveChanged(state, says, LiveMoment.Kept), state, null);

    private LiveStep Hear(string which, LivePlace place)
    {
        var slot = which.Equals("other", StringComparison.OrdinalIgnoreCase) || which.Length == 0 ? (_hearing == 0 ? 1 : 0) : Slot(which);
        if (_hearing < 0 && _kept[0] is null)
        {
            // The first press: what is heard becomes A, and what is changed from here on B.
            return Keep(0, State) is { } kept ? kept with { Changed = kept.Changed with { Says = "kept as A: change something, and hear A again" } } : null!;
        }

        if (_kept[1] is null && slot == 1)
        {
            _kept[0] ??= State;
            if (_kept[0] == State)
            {
                throw new LiveRefusal("A is what you hear; change something, and it becomes B");
            }

            _kept[1] = State;
            _hearing = 1;
            slot = 0;
            _anchor = GroupStart(place);
        }
        else if (_hearing >= 0)
        {
            _kept[_hearing] = State;
        }

        if (_kept[slot] is not { } other)
        {
            throw new LiveRefusal($"nothing is kept as {(char)('A' + slot)}");
        }

        _anchor = _anchor < 0 || _anchor > place.Index ? GroupStart(place) : _anchor;
        _hearing = slot;
        return Take(
            Musical(other), $"{(char)('A' + slot)} from bar {_anchor + 1}", LiveMoment.BarLine, place, Math.Max(0, _anchor), remember: true);
    }

    private int GroupStart(LivePlace place)
    {
        var bar = LiveChanges.BarNow(State, place);
        return bar.Index - bar.GroupPlace.Index;
    }

    // What is compared is the music; where the form stands goes on.
    private LiveState Musical(LiveState other) => other with { Orders = State.Orders with { Ramp = other.Orders.Ramp } };

    private LiveStep Version(string name, LiveState state)
    {
        if (name.Length is 0 or > 60)
        {
            throw new LiveRefusal("say a name of up to sixty letters");
        }

        _versions[name] = state;
        return Quiet($"kept as {name}", state);
    }

    private LiveState Recalled(string name) => _versions.TryGetValue(name, out var state)
        ? state
        : throw new LiveRefusal(_versions.Count == 0 ? "nothing is kept by name" : $"kept are {string.Join(", ", _versions.Keys)}");
}
