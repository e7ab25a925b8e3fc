using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Composes bars ahead of an engine and passes them on as flat records with places in the time of the performance. The
/// composer's side of the queue: live on a thread of its own, offline on the caller's thread between reads.
/// </summary>
/// <remarks>
/// Not for the audio thread: it allocates, and composing throws the exceptions of the source. One thread calls <see cref="PrepareNext"/>,
/// <see cref="Fill()"/> and <see cref="FillFor"/>; changes may be requested from any thread.
/// </remarks>
public sealed class BarPreparer
{
    /// <summary>A change requested less than this many seconds before a bar line waits for the next one.</summary>
    public const double ChangeLeadSeconds = 0.06;

    // Bars are scheduled at least this long before their line, and earlier if human feel leads it.
    private const double LeadSeconds = 0.1;
    private const int Remembered = 1024;
    private const int BarsLookedBack = 8;

    // 24 in a quarter (MIDI 1.0, timing clock).
    private const int ClocksInWhole = 96;
    private const int MostClocksInBar = 4096;

    /// <summary>The most notes and controller steps of a bar; further notes are left out and counted.</summary>
    public const int MostEventsInBar = 4096;

    // A failed bar is tried this often at once, then again at growing intervals while there is time.
    private const int AttemptsInATurn = 3;
    private const int LongestPause = 64;

    // After this many failures to find its first bar, a change starts with the bar of the same number.
    private const int MostEntryFailures = 8;

    private readonly GrooveEngine _engine;
    private readonly BarQueue _queue;
    private readonly Func<PartChannels, bool>? _plays;
    private readonly Action<int, int>? _prepareProgram;
    private readonly int _rate;
    private readonly Past[] _past = new Past[Remembered];
    private Plan _plan;
    private Plan _before;
    private Past[] _pastBefore = [];
    private Bar? _lastBar;
    private PreparedBar? _spare;
    private BarChange? _asked;
    private BarChange? _sent;
    private int _lastEpoch;
    private int _mostLead;
    private int _handedOver;
    private int _pause;
    private int _turnsToWait;
    private int _entryFailures;
    private long _failedBars;
    private long _notesBeyondRoom;
    private long _unplayableNotes;

    /// <summary>Creates the composer's side of an engine.</summary>
    /// <param name="engine">The engine to supply.</param>
    /// <param name="route">The route to play.</param>
    /// <param name="plays">The parts that play; null for all. The channels of the others are not set up.</param>
    /// <param name="prepareProgram">
    /// Called with every channel and program of a new band before its first bar is passed on, so that its sounds are loaded on this
    /// thread and not on the audio thread.
    /// </param>
    public BarPreparer(
        GrooveEngine engine, BarRoute route, Func<PartChannels, bool>? plays = null, Action<int, int>? prepareProgram = null)
    {
        _engine = engine;
        _queue = engine.Queue;
        _plays = plays;
        _prepareProgram = prepareProgram;
        _rate = engine.Options.SampleRate;
        _plan = new Plan { Route = route, Index = route.From, Parts = [] };
        if (route.Has(route.From))
        {
            _plan.Line = Exactness.Add(route.Source.BarAt(route.From).Start, Span.Zero);
        }
    }

    /// <summary>
    /// True: a bar that cannot be composed is tried again while there is time; then the bar before is repeated and counted. False: the exception is
    /// thrown. In both cases a failed bar leaves nothing behind.
    /// </summary>
    public bool RepeatsOnFailure { get; init; }

    /// <summary>Records the failures that are not thrown.</summary>
    public FailureLog Failures { get; init; } = new();

    /// <summary>The number of bars that could not be composed in time and were replaced by the bar before. From any thread.</summary>
    public long FailedBars => Interlocked.Read(ref _failedBars);

    /// <summary>The number of notes left out because their bar was full (<see cref="MostEventsInBar"/>). From any thread.</summary>
    public long NotesBeyondRoom => Interlocked.Read(ref _notesBeyondRoom);

    /// <summary>The number of notes left out because they have no valid key or channel. From any thread.</summary>
    public long UnplayableNotes => Interlocked.Read(ref _unplayableNotes);

    /// <summary>The number of bars passed on, without the current one. From any thread.</summary>
    public int BarsAhead => Volatile.Read(ref _handedOver) - Math.Max(0, _engine.Board.Read(out _).Ordinal + 1);

    /// <summary>Whether it holds an empty bar that it took from the queue for a bar that failed.</summary>
    internal bool HasSpare => _spare is not null;

    /// <summary>
    /// Replaces the bars by those of another source from a bar line on; the bar numbers continue. The earliest line that is
    /// <see cref="ChangeLeadSeconds"/> away, or the line of <paramref name="fromBar"/> if later. From any thread.
    /// </summary>
    public BarChange Replace(IBarSource source, int? fromBar = null) =>
        Ask(new BarChange(BarRoute.Whole(source), Entry.SameNumber, fromBar, null, _engine.Playhead.Frame));

    /// <summary>
    /// Starts another route at the next bar line that is far enough away: it continues after the bar before that line, as its own
    /// <see cref="BarRoute.TakeOver"/> decides. From any thread.
    /// </summary>
    public BarChange Continue(BarRoute route) => Ask(new BarChange(route, Entry.TakeOver, null, null, _engine.Playhead.Frame));

    /// <summary>Continues elsewhere at the next bar line that is far enough away: a jump or a loop. From any thread.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The route begins at a bar that it does not have.</exception>
    public BarChange Go(BarRoute route) => Ask(new BarChange(Playable(route), Entry.Route, null, null, _engine.Playhead.Frame));

    /// <summary>Continues elsewhere at a given bar of the performance, to replay a log. From any thread.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The route begins at a bar that it does not have.</exception>
    public BarChange GoAt(BarRoute route, int ordinal) =>
        Ask(new BarChange(Playable(route), Entry.Route, null, ordinal, _engine.Playhead.Frame));

    /// <summary>Stays two to four bars, and at least a second, ahead; for live playing.</summary>
    public void Fill() => Fill(bars: 3, seconds: 1);

    /// <summary>Ensures that the next <paramref name="frames"/> frames can be read without waiting for a bar.</summary>
    public void FillFor(long frames) =>
        Fill(bars: 2, seconds: ((double)(frames + _mostLead) / _rate) + 0.5);

    /// <summary>
    /// Composes the next bar and passes it on; false if there is none or no room, or if it failed and a later call has time to retry.
    /// </summary>
    public bool PrepareNext()
    {
        SettleChange();
        TrySendChange();
        if (_plan.Over || (_spare ??= _queue.TakeEmpty()) is not { } prepared)
        {
            return false;
        }

        if (!RepeatsOnFailure || _lastBar is null)
        {
            HandOver(prepared, Attempt.Whole);
            return true;
        }

        var isPressing = BarsAhead < 1;
        if (_turnsToWait > 0 && !isPressing)
        {
            _turnsToWait--;
            return false;
        }

        for (var attempt = 0; attempt < AttemptsInATurn; attempt++)
        {
            if (TryHandOver(prepared, Attempt.Whole))
            {
                return true;
            }
        }

        if (!isPressing)
        {
            _pause = Math.Clamp(2 * _pause, 1, LongestPause);
            _turnsToWait = _pause;
            return false;
        }

        if (TryHandOver(prepared, Attempt.WhatCanBeHad))
        {
            return true;
        }

        var repeated = TryHandOver(prepared, Attempt.BarBefore);
        if (repeated)
        {
            Interlocked.Increment(ref _failedBars);
        }

        return repeated;
    }

    private static BarRoute Playable(BarRoute route) => route.Has(route.From)
        ? route
        : throw new ArgumentOutOfRangeException(nameof(route), $"The route cannot start at bar {route.From}, which does not exist.");

    private BarChange Ask(BarChange change)
    {
        Interlocked.Exchange(ref _asked, change)?.Set(BarChangeState.Superseded, -1);
        return change;
    }

    private void Fill(int bars, double seconds)
    {
        do
        {
            SettleChange();
            TrySendChange();
        }
        while (IsShort(bars, seconds) && PrepareNext());
    }

    private bool IsShort(int bars, double seconds)
    {
        var first = Math.Max(0, _engine.Board.Read(out _).Ordinal + 1);
        if (_plan.Ordinal - first < bars)
        {
            return true;
        }

        var left = seconds * _engine.Board.Speed;
        for (var ordinal = first; ordinal < _plan.Ordinal && left > 0; ordinal++)
        {
            left -= _past[ordinal % Remembered].Seconds;
        }

        return left > 0;
    }

    // In live playing, no failure of a writer may end the music.
    private bool TryHandOver(PreparedBar prepared, Attempt attempt)
    {
        try
        {
            HandOver(prepared, attempt);
            return true;
        }
#pragma warning disable CA1031 // See above; the failure is recorded.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Failures.Add("composing a bar", failure);
            return false;
        }
    }

    // Everything that can fail works on a copy of the plan and on a bar that no other thread has; the result is written back at the end.
    private void HandOver(PreparedBar prepared, Attempt attempt)
    {
        prepared.Clear();
        var plan = _plan;
        var isRepeated = attempt == Attempt.BarBefore;
        var over = !isRepeated && !plan.Route.Has(plan.Index);
        prepared.Ordinal = plan.Ordinal;
        prepared.Epoch = plan.Epoch;
        prepared.OpensEpoch = plan.Opens;
        prepared.Base = plan.Line;
        prepared.End = plan.Line;
        Bar? bar = null;
        var seconds = 0.0;
        var left = default(LeftOut);
        if (over)
        {
            prepared.IsEnd = true;
            prepared.LeadFrames = Lead(0);
        }
        else
        {
            bar = isRepeated ? _lastBar! with { Index = plan.Index } : plan.Route.BarAt(plan.Index, plan.Ordinal);
            if (!isRepeated)
            {
                // A repeated bar keeps its own band.
                PrepareBand(ref plan, prepared, soundsMayLack: attempt == Attempt.WhatCanBeHad);
                AddHeld(plan, prepared, bar, mayLack: attempt == Attempt.WhatCanBeHad);
            }

            left = FillIn(plan, prepared, bar);
            seconds = Seconds(prepared);
        }

        var past = new Past(plan.Ordinal, plan.Index, plan.Line, prepared.End, seconds);
        plan.Line = prepared.End;
        plan.Over = over;
        plan.Opens = false;
        plan.Ordinal++;
        plan.Index = over ? plan.Index : IndexAfter(plan, prepared.Ordinal, isRepeated);

        _past[past.Ordinal % Remembered] = past;
        _plan = plan;
        _lastBar = bar ?? _lastBar;
        _spare = null;
        (_pause, _turnsToWait) = (0, 0);
        Interlocked.Add(ref _notesBeyondRoom, left.BeyondRoom);
        Interlocked.Add(ref _unplayableNotes, left.Unplayable);
        _queue.HandOver(prepared);
        Volatile.Write(ref _handedOver, plan.Ordinal);
    }

    private int IndexAfter(in Plan plan, int ordinal, bool isRepeated)
    {
        try
        {
            return plan.Route.After(plan.Index, ordinal);
        }
#pragma warning disable CA1031 // A repeated bar must be passed on in any case; the failure is recorded.
        catch (Exception failure) when (isRepeated)
#pragma warning restore CA1031
        {
            Failures.Add("composing a bar", failure);
            return plan.Index + 1;
        }
    }

    private void PrepareBand(ref Plan plan, PreparedBar prepared, bool soundsMayLack)
    {
        var band = plan.Route.Source.Band;
        if (ReferenceEquals(band, plan.Band))
        {
            return;
        }

        var same = plan.Band is { } former && former.SequenceEqual(band);
        plan.Band = band;
        if (!same)
        {
            plan.Parts = [.. band.Select(channels => new MixedPart(channels, _plays?.Invoke(channels) ?? true))];
            prepared.Band = plan.Parts;
            PreparePrograms(plan.Parts, soundsMayLack);
        }
    }

    private LeftOut FillIn(in Plan plan, PreparedBar prepared, Bar bar)
    {
        prepared.Bar = bar;
        prepared.End = Exactness.Add(prepared.Base, bar.Length);
        if (_engine.Options.SteadyTempo is { } steady)
        {
            prepared.AddTempo(prepared.Base, Exactness.Usable(steady));
        }
        else
        {
            foreach (var (onset, tempo) in bar.Tempi)
            {
                prepared.AddTempo(Exactness.Add(prepared.Base, onset), Exactness.Usable(tempo));
            }
        }

        var earliest = 0;
        foreach (var control in bar.Controls)
        {
            if (TryPrepare(plan, control, prepared.Base, out var item))
            {
                earliest = Math.Min(earliest, item.Offset);
                prepared.Add(item);
            }
        }

        var left = default(LeftOut);
        foreach (var note in bar.Notes)
        {
            if (!Plays(plan, note.Part))
            {
                continue;
            }

            if (!TryPrepare(plan, note, prepared.Base, out var item))
            {
                left.Unplayable++;
            }
            else if (prepared.Events.Length >= MostEventsInBar)
            {
                left.BeyondRoom++;
            }
            else
            {
                earliest = Math.Min(earliest, item.Offset);
                prepared.Add(item);
            }
        }

        if (_engine.Options.Tap is not null)
        {
            AddClocks(prepared, bar);
        }

        prepared.LeadFrames = Lead(-earliest);
        return left;
    }

    // The grid is that of the song, so that a clock's number is the place in the song, wherever the music comes from.
    private static void AddClocks(PreparedBar prepared, Bar bar)
    {
        var grid = Span.Of(1, ClocksInWhole);
        var first = (bar.Start.Wholes * ClocksInWhole).Ceiling();
        var end = bar.Start.Wholes + bar.Length.Wholes;
        for (var clock = first; clock - first < MostClocksInBar && new Rational(clock, ClocksInWhole) < end; clock++)
        {
            prepared.Add(new PreparedEvent
            {
                IsClock = true,
                Value = (int)clock,
                At = Exactness.Add(prepared.Base, (grid * clock) - new Span(bar.Start.Wholes)),
            });
        }
    }

    private void PreparePrograms(MixedPart[] parts, bool soundsMayLack)
    {
        foreach (var part in parts)
        {
            if (part.Playing && _prepareProgram is not null)
            {
                try
                {
                    _prepareProgram(part.Channel, part.Program);
                    _prepareProgram(part.DampedChannel, part.DampedProgram);
                }
#pragma warning disable CA1031 // Without this sound the other parts still play, and the channel keeps its old sound; the failure is recorded.
                catch (Exception failure) when (soundsMayLack)
#pragma warning restore CA1031
                {
                    Failures.Add($"preparing the sound of {part.Name}", failure);
                }
            }
        }
    }

    private int Lead(int frames)
    {
        var lead = Math.Max((int)(LeadSeconds * _rate), frames) + GrooveEngine.BlockFrames;
        _mostLead = Math.Max(_mostLead, lead);
        return lead;
    }

    private static bool Plays(in Plan plan, int part) => (uint)part < (uint)plan.Parts.Length && plan.Parts[part].Playing;

    private bool TryPrepare(in Plan plan, NoteEvent note, Position line, out PreparedEvent item)
    {
        item = default;
        if (!Plays(plan, note.Part))
        {
            return false;
        }

        var part = plan.Parts[note.Part];
        var channel = note.Touch == Touch.Damped ? part.DampedChannel : part.Channel;
        if ((uint)channel >= PartChannels.MostChannels || (uint)note.Key >= SoundingNotes.Keys)
        {
            return false;
        }

        item = new PreparedEvent
        {
            IsNote = true,
            Part = note.Part,
            Channel = channel,
            OtherChannel = channel,
            Key = note.Key,
            Value = Math.Clamp(note.Velocity, 1, 127),
            At = Exactness.Add(line, note.Onset),
            Until = Exactness.Add(line, note.End),
            Offset = Exactness.Frames((long)note.OffsetMicroseconds + note.SpreadMicroseconds, _rate),
            EndOffset = Exactness.Frames((long)note.OffsetMicroseconds + note.OverlapMicroseconds, _rate),
            BeginsAnew = plan.Band![note.Part].Instrument.Holds,
        };
        return true;
    }

    private bool TryPrepare(in Plan plan, in ControlPoint control, Position line, out PreparedEvent item)
    {
        item = default;

        // The mixer sets level and pan when a band starts.
        if (control.Controller is Controllers.Volume or Controllers.Pan || !Plays(plan, control.Part))
        {
            return false;
        }

        var part = plan.Parts[control.Part];
        item = new PreparedEvent
        {
            Part = control.Part,
            Channel = part.Channel,
            OtherChannel = part.DampedChannel,
            Key = control.Controller,
            Value = Math.Clamp(control.Value, 0, 127),
            At = Exactness.Add(line, control.Onset),
            Offset = Exactness.Frames(control.OffsetMicroseconds, _rate),
        };
        return true;
    }

    /// <summary>
    /// What would sound at the bar line if the new bars had been played before it too: held notes and the values of curves.
    /// </summary>
    private void AddHeld(in Plan plan, PreparedBar prepared, Bar bar, bool mayLack)
    {
        if (!prepared.OpensEpoch || prepared.Ordinal == 0)
        {
            return;
        }

        var source = plan.Route.Source;
        var settled = new HashSet<(int Part, int Controller)>();
        for (var index = bar.Index - 1; index >= Math.Max(source.First, bar.Index - BarsLookedBack); index--)
        {
            Bar former;
            try
            {
                former = plan.Route.BarAt(index, prepared.Ordinal - (bar.Index - index));
            }
#pragma warning disable CA1031 // Held notes of an earlier bar are not worth losing this bar; the failure is recorded.
            catch (Exception failure) when (mayLack)
#pragma warning restore CA1031
            {
                Failures.Add("composing held notes", failure);
                continue;
            }

            var line = prepared.Base - (bar.Start - former.Start);
            foreach (var note in former.Notes)
            {
                if (former.Start + note.End > bar.Start && TryPrepare(plan, note, line, out var item))
                {
                    prepared.AddHeld(item);
                }
            }

            for (var i = former.Controls.Count - 1; i >= 0; i--)
            {
                var control = former.Controls[i];
                if (settled.Add((control.Part, control.Controller)) && TryPrepare(plan, control, line, out var item))
                {
                    prepared.AddHeld(item);
                }
            }
        }
    }

    private double Seconds(PreparedBar prepared)
    {
        var seconds = 0.0;
        for (var i = 0; i < prepared.Tempi.Length; i++)
        {
            var (at, tempo) = prepared.Tempi[i];
            var until = i + 1 < prepared.Tempi.Length ? prepared.Tempi[i + 1].At : prepared.End;
            seconds += (until - at).Wholes.ToDouble() * 60 / tempo.WholesPerMinute.ToDouble();
        }

        return seconds;
    }

    /// <summary>Processes the engine's response to the change that was sent.</summary>
    private void SettleChange()
    {
        if (_sent is null)
        {
            return;
        }

        if (_queue.AcceptedEpoch >= _plan.Epoch)
        {
            _sent.Set(BarChangeState.Settled, _sent.Ordinal);
            _sent = null;
        }
        else if (_queue.RefusedEpoch >= _plan.Epoch)
        {
            _plan = _before;
            foreach (var past in _pastBefore)
            {
                _past[past.Ordinal % Remembered] = past;
            }

            // A newer change includes this one.
            var late = _sent;
            _sent = null;
            if (Interlocked.CompareExchange(ref _asked, late, null) is not null)
            {
                late.Set(BarChangeState.Superseded, -1);
            }
        }
    }

    private void TrySendChange()
    {
        try
        {
            SendChange(entersAnyway: _entryFailures >= MostEntryFailures);
        }
#pragma warning disable CA1031 // A failing route must not end the music; the change stays requested.
        catch (Exception failure) when (RepeatsOnFailure)
#pragma warning restore CA1031
        {
            _entryFailures++;
            Failures.Add("changing to other bars", failure);
        }
    }

    private void SendChange(bool entersAnyway)
    {
        if (_sent is not null || Volatile.Read(ref _asked) is not { } asked)
        {
            return;
        }

        if (!TryFindOrdinal(asked, out var ordinal, out var over))
        {
            if (over && Interlocked.CompareExchange(ref _asked, null, asked) == asked)
            {
                asked.Set(BarChangeState.TooLate, -1);
            }

            return;
        }

        Past[] dropped = [.. Enumerable.Range(ordinal, _plan.Ordinal - ordinal).Select(past => _past[past % Remembered])];
        var index = dropped.Length > 0 ? dropped[0].Index : _plan.Index;
        var line = dropped.Length > 0 ? dropped[0].Line : _plan.Line;

        // The route may throw, so ask it before taking the change.
        var route = entersAnyway ? asked.Route with { From = index } : Entered(asked, index, ordinal);
        if (Interlocked.CompareExchange(ref _asked, null, asked) != asked)
        {
            return;
        }

        _entryFailures = 0;
        (_before, _pastBefore) = (_plan, dropped);
        asked.Enter(route);
        _plan = _plan with
        {
            Route = route,
            Index = route.From,
            Ordinal = ordinal,
            Line = line,
            Epoch = ++_lastEpoch,
            Opens = true,
            Over = false,
        };
        Volatile.Write(ref _handedOver, ordinal);
        asked.Send(ordinal, _plan.Epoch);
        _sent = asked;
    }

    private BarRoute Entered(BarChange asked, int index, int ordinal) => asked.Entry switch
    {
        // The old bars may be in a lead-in that the new ones lack.
        Entry.SameNumber => asked.Route with { From = Math.Max(index, asked.Route.Source.First) },
        Entry.TakeOver when ordinal > 0 =>
            asked.Route with { From = asked.Route.TakeOver(_plan.Route, _past[(ordinal - 1) % Remembered].Index, ordinal - 1) },
        _ => asked.Route,
    };

    /// <summary>The bar of the performance from which a change applies; false if it is further ahead than bars are composed.</summary>
    private bool TryFindOrdinal(BarChange asked, out int ordinal, out bool over)
    {
        var now = _engine.Board.Read(out var line);
        over = now.State > TransportState.Playing;
        ordinal = Math.Max(0, now.Ordinal + 1);
        if (over)
        {
            return false;
        }

        if (asked.AtOrdinal is { } exact)
        {
            ordinal = Math.Max(ordinal, exact);
            return ordinal <= _plan.Ordinal;
        }

        var earliest = asked.AskedFrame + (ChangeLeadSeconds * _rate);
        double at = line;
        var speed = _engine.Board.Speed;
        while (ordinal < _plan.Ordinal)
        {
            var past = _past[ordinal % Remembered];
            if (at >= earliest && past.Index >= (asked.FromBar ?? int.MinValue))
            {
                return true;
            }

            at += past.Seconds * _rate / speed;
            ordinal++;
        }

        // Other bars may continue at the end itself, but nothing follows it.
        over = _plan.Over;
        return !over && at >= earliest && _plan.Index >= (asked.FromBar ?? int.MinValue);
    }

    /// <summary>How much of a bar an attempt includes.</summary>
    private enum Attempt
    {
        /// <summary>The whole bar.</summary>
        Whole,

        /// <summary>The bar without the sounds and held notes that fail.</summary>
        WhatCanBeHad,

        /// <summary>The bar before, repeated.</summary>
        BarBefore,
    }

    private struct LeftOut
    {
        public int BeyondRoom;
        public int Unplayable;
    }

    private struct Plan
    {
        public BarRoute Route;
        public int Index;
        public int Ordinal;
        public Position Line;
        public int Epoch;
        public bool Opens;
        public bool Over;
        public IReadOnlyList<PartChannels>? Band;
        public MixedPart[] Parts;
    }

    private readonly record struct Past(int Ordinal, int Index, Position Line, Position End, double Seconds);
}
