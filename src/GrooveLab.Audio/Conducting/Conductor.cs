using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Conducting;

/// <summary>The answer to a change.</summary>
/// <param name="Taken">Whether the change is accepted.</param>
/// <param name="Says">The change in words, or why it was refused.</param>
public readonly record struct ChangeAnswer(bool Taken, string Says)
{
    /// <summary>The section to which <c>here</c> would limit the change; null if it cannot be limited.</summary>
    public string? Section { get; init; }
}

/// <summary>A pending change.</summary>
public sealed class PendingChange
{
    /// <summary>The change in words.</summary>
    public required string Says { get; init; }

    /// <summary>When it takes effect.</summary>
    public required ChangeMoment Moment { get; init; }

    /// <summary>The bar of the performance at whose line it takes effect; null while undecided.</summary>
    public int? Ordinal { get; set; }

    /// <summary>The frame on which it takes effect; null while undecided.</summary>
    public long? Frame { get; set; }

    internal BarChange? Change { get; set; }

    internal int? At { get; set; }

    /// <summary>Its place in a state; null if the state no longer has it.</summary>
    internal Func<PerformanceState, int?>? Standing { get; set; }

    /// <summary>The bar of the form at which it ends the music; null if it does not.</summary>
    internal int? EndBar { get; set; }

    internal int? JumpTo { get; init; }

    /// <summary>True if the song goes on at the same place in another meter.</summary>
    internal bool Recasts { get; init; }

    internal long CommandId { get; init; }
}

/// <summary>
/// Runs a performance: accepts changes in words, passes each to the engine or the composer for the nearest possible musical place, tracks
/// pending changes, and writes the log. Independent of the screen.
/// </summary>
/// <remarks>For one thread; engine and composer run on others.</remarks>
public sealed class Conductor
{
    /// <summary>A change requested later than this before a bar line waits for the next one; more than the composer needs.</summary>
    private const double PlanningSeconds = 0.12;

    private readonly PerformanceHistory _history;
    private readonly List<PendingChange> _pending = [];
    private readonly List<(BarChange Change, int Asked, int? JumpTo)> _changes = [];
    private readonly Queue<EngineCommand> _unsent = new();
    private WaitingChange? _waiting;
    private string? _refusal;
    private readonly List<IReadOnlyList<Part>> _bands;
    private BarChange? _newest;
    private readonly Func<BarRoute, BarChange> _continue;
    private readonly Func<BarRoute, BarChange> _go;
    private readonly GrooveEngine _engine;

    /// <summary>Creates a conductor.</summary>
    /// <param name="history">The states, starting with the current one.</param>
    /// <param name="engine">The playing engine.</param>
    /// <param name="continues">Continues with another route at the next bar line (<see cref="BarPreparer.Continue"/>).</param>
    /// <param name="goes">Starts a route at the next bar line (<see cref="BarPreparer.Go"/>).</param>
    /// <param name="log">Records the performance; null for a log in memory.</param>
    public Conductor(
        PerformanceHistory history, GrooveEngine engine, Func<BarRoute, BarChange> continues, Func<BarRoute, BarChange> goes, PerformanceLog? log = null)
    {
        Log = log ?? new PerformanceLog(new LogHeader(history.State.Chart.Title, "none", history.State.Chart.Seed));
        _history = history;
        (Sounding, SoundingRoute) = (history.State, history.Route);
        _bands = [history.State.Chart.Parts];
        _engine = engine;
        _continue = continues;
        _go = goes;

        // A new engine has the levels of the band, no silent parts and the written tempo.
        Post(State with { Speed = Rational.One, Muted = [], Solo = [], MasterDecibels = 0 }, State);
    }

    /// <summary>The newest state, including pending changes.</summary>
    public PerformanceState State => _history.State;

    /// <summary>The state of the bars that are heard, without pending changes. For levels use <see cref="State"/>.</summary>
    public PerformanceState Sounding { get; private set; }

    /// <summary>The route of the bars that are heard.</summary>
    public PerformanceRoute SoundingRoute { get; private set; }

    /// <summary>The states.</summary>
    public PerformanceHistory History => _history;

    /// <summary>The pending changes, in the order of their requests.</summary>
    public IReadOnlyList<PendingChange> Pending => _waiting is { } waiting ? [.. _pending, waiting.Pending] : _pending;

    /// <summary>The change that is not made before the bar line from which it is heard: one that moves the song into another meter, or back; null for none.</summary>
    public Change? Waiting => _waiting?.Change;

    /// <summary>Why changes of tempo are refused, because another sets it; null if they are not.</summary>
    public string? TempoRefusal { get; init; }

    /// <summary>Makes new bars without holding up this thread.</summary>
    public Func<Func<RecastSong>, Task<RecastSong>> Aside { get; init; } = Task.Run;

    /// <summary>The route that foretells the bars after the heard one, with the numbers of the heard bars.</summary>
    public PerformanceRoute RouteAhead => IsRecasting ? SoundingRoute : _history.Route;

    private bool IsRecasting => _pending.Exists(pending => pending.Recasts);

    private bool IsPlaying => StandsAt is null && _engine.Playhead is { Bar: not null, State: <= TransportState.Playing };

    /// <summary>The log.</summary>
    public PerformanceLog Log { get; }

    /// <summary>The bar at which the music will start while nothing plays; changes then refer to it. Null while the music plays.</summary>
    public int? StandsAt { get; set; }

    /// <summary>The place to which a change would refer now.</summary>
    public PerformancePlace Place
    {
        get
        {
            var now = _engine.Playhead;
            if (StandsAt is { } stands)
            {
                // The bar that stands has its number in the newest bars.
                var ordinal = Math.Max(now.Bar is null ? -1 : now.Ordinal, _history.RecastFrom);
                return new PerformancePlace(ordinal, stands, Math.Max(1, ordinal + 1));
            }

            if (now.Bar is not { } bar)
            {
                return new PerformancePlace(-1, -1, 1);
            }

            var line = now.Clock.FrameAt(now.BarLine + bar.Length);
            var soon = line - now.Frame < PlanningSeconds * _engine.Options.SampleRate;
            return new PerformancePlace(now.Ordinal, bar.Index, now.Ordinal + (soon ? 2 : 1));
        }
    }

    /// <summary>The bar that the engine plays, or played last: its ordinal, and its number in the form. -1 for none, and for the lead-in.</summary>
    public (int Ordinal, int Index) Played => _engine.Playhead is { Bar: { } bar } now ? (now.Ordinal, bar.Index) : (-1, -1);

    /// <summary>Whether the band is held, in a break, a loop or a vamp, which <see cref="GoOn"/> releases.</summary>
    public bool IsHeld => GoOn.IsPossible(State, _history.Route, Place);

    /// <summary>Makes a change given in words, or says why it is refused.</summary>
    public ChangeAnswer Do(string words)
    {
        try
        {
            return Do(ChangeWords.Read(words, State));
        }
        catch (ChangeRefusedException refusal)
        {
            return new ChangeAnswer(false, refusal.Message);
        }
    }

    /// <summary>Makes a change, or says why it is refused.</summary>
    public ChangeAnswer Do(Change change)
    {
        if (TempoRefusal is { } refusal && change is (SetTempo or SetPace or RampTempo))
        {
            return new ChangeAnswer(false, refusal);
        }

        var place = Place;
        if (_waiting is { } waiting)
        {
            if (waiting.Change is RecastSong recast)
            {
                if (change is Undo)
                {
                    _waiting = null;
                    return new ChangeAnswer(true, "undone: " + waiting.Pending.Says);
                }

                change = change is OnlyHere && recast.Scope is null ? recast with { Scope = new ChangeScope(waiting.MadeIn) } : change;
            }
            else
            {
                // What comes after it refers to what it leads to.
                _waiting = null;
                _ = Make(waiting.Change, place);
            }
        }

        change = change switch
        {
            LoopBars loop => loop.AsPlayed(State, place),
            RecastSong recast => recast.AsPlayed(State, place),
            _ => change,
        };
        return change is RecastSong || (IsPlaying && !IsTimeFor(change, place)) ? Wait(change, place) : Make(change, place);
    }

    /// <summary>Why a change that waited was not made, once; null for nothing.</summary>
    public string? TakeRefusal()
    {
        var refusal = _refusal;
        _refusal = null;
        return refusal;
    }

    private ChangeAnswer Wait(Change change, PerformancePlace place)
    {
        var recast = change as RecastSong;
        var state = State;
        Task<RecastSong>? making = null;
        if (recast is not null)
        {
            try
            {
                recast.Check(state);
            }
            catch (ChangeRefusedException refusal)
            {
                return new ChangeAnswer(false, refusal.Message);
            }

            making = Aside(() => recast.MadeFor(state));
            if (making.IsFaulted)
            {
                return new ChangeAnswer(false, Refusal(making));
            }
        }

        var section = _history.BarAt(place).Run.Section.Name;
        _waiting = new WaitingChange(change, making, section, new PendingChange { Says = change.Words, Moment = ChangeMoment.Later });
        Foretell(place);
        var says = !IsPlaying ? change.Words
            : recast is not null ? $"{change.Words}, from the next section on"
            : $"{change.Words}, at the next bar line that both meters have";
        Advance();
        return new ChangeAnswer(true, says)
        {
            Section = recast is { Scope: null } && state.Chart.Form.DistinctBy(step => step.Section).Skip(1).Any() ? section : null,
        };
    }

    private static string Refusal(Task<RecastSong> making) => making.Exception!.GetBaseException() is ChangeRefusedException refused
        ? refused.Message
        : "not recast: " + making.Exception.GetBaseException().Message;

    // Makes the waiting change when its bar line is the next one.
    private void Advance()
    {
        if (_waiting is not { } waiting)
        {
            return;
        }

        var change = waiting.Change;
        if (waiting.Making is { } making)
        {
            if (!making.IsCompleted)
            {
                return;
            }

            if (making.IsFaulted)
            {
                (_waiting, _refusal) = (null, Refusal(making));
                return;
            }

            var (recast, state) = ((RecastSong)waiting.Change, State);
            if (!making.Result.IsMadeFor(state))
            {
                // The song was changed meanwhile.
                _waiting = waiting with { Making = Aside(() => recast.MadeFor(state)) };
                return;
            }

            change = making.Result;
        }

        var place = Place;
        Foretell(place);

        if (!IsPlaying || IsTimeFor(change, place))
        {
            _waiting = null;
            _refusal = Make(change, place) is { Taken: false } refused ? refused.Says : _refusal;
        }
    }

    // Just before a bar line it is not sure which line a change will reach.
    private bool IsTimeFor(Change change, PerformancePlace place) =>
        _history.IsTimeFor(change, place) && (place.Next == place.Ordinal + 1 || _history.IsTimeFor(change, place with { Next = place.Ordinal + 1 }));

    private void Foretell(PerformancePlace place)
    {
        if (_waiting is { } waiting && waiting.Foretold != (place, _history.Route))
        {
            waiting.Foretold = (place, _history.Route);
            waiting.Pending.Ordinal = _history.TimeFor(waiting.Change, place);
        }
    }

    private ChangeAnswer Make(Change change, PerformancePlace place)
    {
        var recalled = change is RecallVersion recall && _history.TextOf(recall.Name) is { } text ? new RecalledRecord(recall.Name, text) : null;
        HistoryStep step;
        try
        {
            step = _history.Do(change, place);
        }
        catch (ChangeRefusedException refusal)
        {
            return new ChangeAnswer(false, refusal.Message);
        }

        if (recalled is not null)
        {
            Log.Add(recalled);
        }

        Log.Add(new AskedRecord(change.Words, place));
        Carry(step);
        return new ChangeAnswer(true, step.Result.Says)
        {
            Section = ReferenceEquals(_history.Limitable, change) ? _history.BarAt(place).Run.Section.Name : null,
        };
    }

    /// <summary>Updates the pending changes.</summary>
    /// <param name="reports">The engine's reports since the last call.</param>
    /// <param name="heard">The place that is heard.</param>
    public void Update(IEnumerable<EngineReport> reports, in Playhead heard)
    {
        foreach (var report in reports)
        {
            Note(report);
        }

        while (_unsent.TryPeek(out var waiting) && _engine.Post(waiting) != 0)
        {
            _unsent.Dequeue();
        }

        foreach (var (change, _, jumpTo) in _changes.Where(entry => entry.Change.State == BarChangeState.Superseded).ToList())
        {
            _changes.RemoveAll(entry => ReferenceEquals(entry.Change, change));

            // A newer change includes this one, except for its jump.
            if (jumpTo is { } to && _changes.All(entry => entry.JumpTo is null))
            {
                Send(_history.Route with { From = to }, to);
            }

            foreach (var pending in _pending.Where(pending => ReferenceEquals(pending.Change, change)))
            {
                pending.Change = _newest;
            }
        }

        foreach (var pending in _pending)
        {
            if (pending.Change is { State: BarChangeState.Sent or BarChangeState.Settled } change)
            {
                pending.Ordinal = Math.Max(change.Ordinal, pending.At ?? 0);
            }
        }

        var (ordinal, frame, over) = (heard.Ordinal, heard.Frame, heard.State > TransportState.Playing);
        _pending.RemoveAll(pending =>
            over
            || (pending.Moment == ChangeMoment.Now ? pending.Frame <= frame : pending.Ordinal <= OrdinalFor(pending, ordinal))
            || (pending.Moment != ChangeMoment.Now && pending.Change is null && pending.Ordinal is null));
        if (!_pending.Exists(pending => pending.Moment == ChangeMoment.BarLine))
        {
            (Sounding, SoundingRoute) = (_history.State, _history.Route);
        }

        Advance();
    }

    /// <summary>The bar of the performance from which the bars to a pending change are counted: the one that is heard, but for a change that is
    /// planned for later no bar passes while the band is held.</summary>
    public int OrdinalFor(PendingChange pending, int ordinal) =>
        pending.Moment == ChangeMoment.Later && State.Orders.HoldFrom is { } hold && hold < ordinal && pending.At != hold ? hold : ordinal;

    /// <summary>The bar to which the music jumps at the line before a bar of the performance; null without a jump.</summary>
    public int? JumpBefore(int ordinal, int heard)
    {
        foreach (var pending in _pending)
        {
            if (pending.JumpTo is { } to && !IsRecasting)
            {
                var at = pending.Change is { State: BarChangeState.Sent or BarChangeState.Settled } sent ? sent.Ordinal : heard + 1;
                if (at == ordinal)
                {
                    return to;
                }
            }
        }

        return null;
    }

    private void Carry(HistoryStep step)
    {
        var id = Post(step.Before, step.Result.State);
        BarChange? change = null;
        if (step.Result.JumpTo is { } to && _history.Route.Has(to))
        {
            change = Send(_history.Route with { From = to }, to);
        }
        else if (step.Route is { } route)
        {
            change = Send(route, null);
        }

        foreach (var pending in _pending.Where(pending => pending.Standing is not null).ToList())
        {
            if (step.Recasts && pending.EndBar is { } was && step.Before.Orders.EndBar == was && State.Orders.EndBar is { } end)
            {
                // The same end, with its number in the new bars.
                (pending.EndBar, pending.Standing) = (end, AtEnd(end, null));
            }

            if (pending.Standing!(State) is { } at)
            {
                (pending.At, pending.Ordinal) = (at, at);
            }
            else
            {
                _pending.Remove(pending);
            }
        }

        var moment = step.Result.Moment;
        if (moment is ChangeMoment.Kept || (moment == ChangeMoment.Now && id == 0) || (moment != ChangeMoment.Now && change is null))
        {
            return;
        }

        _pending.Add(new PendingChange
        {
            Says = step.Result.Says,
            Moment = moment,
            Change = moment == ChangeMoment.Now ? null : change,
            At = step.Result.At,
            JumpTo = step.Result.JumpTo,
            Recasts = step.Recasts,
            CommandId = id,
            EndBar = moment == ChangeMoment.Later && step.Before.Orders.EndBar != step.Result.State.Orders.EndBar ? step.Result.State.Orders.EndBar : null,
            Standing = moment == ChangeMoment.Later ? Standing(step.Before.Orders, step.Result.State.Orders, step.Result.At) : null,
        });
    }

    // A change planned for later may be undone, replaced or delayed.
    private Func<PerformanceState, int?> Standing(FormOrders before, FormOrders now, int? asked)
    {
        foreach (var (after, to) in now.Jumps)
        {
            if (!before.Jumps.ContainsKey(after))
            {
                return state => state.Orders.Jumps.Where(jump => jump.Value == to).Select(jump => (int?)(jump.Key + 1)).FirstOrDefault();
            }
        }

        if (now.HoldFrom != before.HoldFrom && now.HoldFrom is not null)
        {
            return state => state.Orders.HoldFrom;
        }

        if (now.Break != before.Break && now.Break is not null)
        {
            return state => state.Orders.Break?.From;
        }

        if (now.Ramp != before.Ramp)
        {
            return state => state.Orders.Ramp == now.Ramp ? asked : null;
        }

        return now.EndBar is { } end && now.EndBar != before.EndBar
            ? AtEnd(end, asked)
            : state => state.Orders.Loop == now.Loop && state.Orders.Released.IsSupersetOf(now.Released) ? asked : null;
    }

    private Func<PerformanceState, int?> AtEnd(int end, int? asked) => state => state.Orders.EndBar == end ? _history.OrdinalOf(end, Place) ?? asked : null;

    private BarChange Send(PerformanceRoute route, int? jumpTo)
    {
        // This change replaces one that has not yet been sent, whose jump must not be lost.
        var waiting = _changes.Where(entry => entry.Change.State == BarChangeState.Asked && entry.JumpTo is not null).Select(entry => entry.JumpTo);
        jumpTo ??= waiting.LastOrDefault();
        var change = jumpTo is { } to ? _go(route with { From = to }) : _continue(route);
        _newest = change;
        if (!IsSameBand(_bands[^1], _history.State.Chart.Parts))
        {
            _bands.Add(_history.State.Chart.Parts);
        }

        if (jumpTo is not null)
        {
            // It replaces the jumps before it, also if it is accepted before they are known to be superseded.
            for (var i = 0; i < _changes.Count; i++)
            {
                _changes[i] = _changes[i] with { JumpTo = null };
            }
        }

        _changes.Add((change, Log.Asked, jumpTo));
        return change;
    }

    // The commands that change the mix and speed of one state to those of another.
    private long Post(PerformanceState before, PerformanceState after)
    {
        long id = 0;
        void Say(EngineCommand command)
        {
            var given = _unsent.Count == 0 ? _engine.Post(command) : 0;
            if (given == 0)
            {
                _unsent.Enqueue(command);
            }

            id = given == 0 ? id : given;
        }

        if (before.Speed != after.Speed)
        {
            Say(EngineCommand.Speed(after.Speed));
        }

        if (!before.MasterDecibels.Equals(after.MasterDecibels))
        {
            Say(EngineCommand.MasterLevel(Renderer.DefaultMasterDecibels + after.MasterDecibels));
        }

        var now = after.Chart.Parts;
        var channels = PartChannels.Assign(now);
        for (var part = 0; part < now.Count; part++)
        {
            // While a part is added or removed at the next bar line, a part whose index may change gets its level then.
            var player = now[part];
            if (before.Chart.Parts.FirstOrDefault(other => other.Name == player.Name) is not { } old || !IsSureOf(part, player))
            {
                continue;
            }

            if (!old.LevelDecibels.Equals(player.LevelDecibels))
            {
                Say(EngineCommand.PartLevel(part, channels[part].LevelDecibels));
            }

            if (old.Pan != player.Pan)
            {
                Say(EngineCommand.PartPan(part, player.Pan));
            }

            if (before.IsSilent(old) != after.IsSilent(player))
            {
                Say(EngineCommand.PartMute(part, after.IsSilent(player)));
            }
        }

        return id;
    }

    private static bool IsSameBand(IReadOnlyList<Part> a, IReadOnlyList<Part> b) =>
        a.Select(part => part.Name).SequenceEqual(b.Select(part => part.Name));

    private bool IsSureOf(int part, Part player) => _bands.TrueForAll(band => part < band.Count && band[part].Name == player.Name);

    // The new band plays: send the changes since it was requested.
    private void SendMix()
    {
        _bands.RemoveRange(0, _bands.Count - 1);
        var parts = State.Chart.Parts;
        var channels = PartChannels.Assign(parts);
        for (var part = 0; part < parts.Count; part++)
        {
            _unsent.Enqueue(EngineCommand.PartLevel(part, channels[part].LevelDecibels));
            _unsent.Enqueue(EngineCommand.PartPan(part, parts[part].Pan));
            _unsent.Enqueue(EngineCommand.PartMute(part, State.IsSilent(parts[part])));
        }
    }

    private void Note(in EngineReport report)
    {
        if (report.Kind == EngineReportKind.Done)
        {
            Log.Add(new ObeyedRecord(report.Frame, report.Command.ToSetting()));
            var id = report.Id;
            foreach (var pending in _pending.Where(pending => pending.CommandId == id && pending.Moment == ChangeMoment.Now))
            {
                pending.Frame = report.Frame;
            }
        }
        else if (report.Kind == EngineReportKind.ReplaceBegun && _bands.Count > 1 && report.Epoch == _newest?.Epoch)
        {
            SendMix();
        }
        else if (report.Kind == EngineReportKind.ReplaceAccepted)
        {
            var epoch = report.Epoch;
            var at = _changes.FindIndex(entry => entry.Change.Epoch == epoch);
            if (at >= 0)
            {
                Log.Add(new TakenRecord(report.Frame, report.Ordinal, _changes[at].Change.Route.From, _changes[at].Asked));
                _changes.RemoveAt(at);
            }
        }
    }

    // A change that is made when its bar line is the next one.
    private sealed record WaitingChange(Change Change, Task<RecastSong>? Making, string MadeIn, PendingChange Pending)
    {
        public (PerformancePlace Place, PerformanceRoute Route) Foretold { get; set; }
    }
}
