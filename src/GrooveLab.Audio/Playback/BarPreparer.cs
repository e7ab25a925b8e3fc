using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Has bars composed ahead of an engine and hands them over, flat and with their places in the time of the performance. The
/// composer's side of the queue: a thread of its own live, the caller itself between reads offline.
/// </summary>
/// <remarks>
/// Not the audio thread's: it allocates, and composing throws what the source throws. One thread calls <see cref="PrepareNext"/>,
/// <see cref="Fill()"/> and <see cref="FillFor"/>; changes may be asked for from any thread.
/// </remarks>
public sealed class BarPreparer
{
    /// <summary>A change asked for less than this before a bar line waits for the next one, in seconds.</summary>
    public const double ChangeLeadSeconds = 0.06;

    // Bars are scheduled at least so long before their line, and as much sooner as human feel leads it.
    private const double LeadSeconds = 0.1;
    private const int Remembered = 1024;
    private const int BarsLookedBack = 8;
    private const int MostEventsInBar = 4096;

    private readonly GrooveEngine _engine;
    private readonly BarQueue _queue;
    private readonly Func<Seating, bool>? _plays;
    private readonly Action<int, int>? _prepareProgram;
    private readonly int _rate;
    private readonly Past[] _past = new Past[Remembered];
    private Plan _plan;
    private Plan _before;
    private Past[] _pastBefore = [];
    private Bar? _lastBar;
    private BarChange? _asked;
    private BarChange? _sent;
    private int _lastEpoch;
    private int _mostLead;
    private int _handedOver;
    private long _failures;
    private Exception? _failure;

    /// <summary>Makes the composer's side of an engine.</summary>
    /// <param name="engine">Whom it feeds.</param>
    /// <param name="route">What is played.</param>
    /// <param name="plays">Which parts play; null for all. The others' channels are never set up.</param>
    /// <param name="prepareProgram">
    /// Told every channel and program of a new band before its first bar is handed over, so that its sounds can be fetched on this
    /// thread and not on the audio thread.
    /// </param>
    public BarPreparer(
        GrooveEngine engine, BarRoute route, Func<Seating, bool>? plays = null, Action<int, int>? prepareProgram = null)
    {
        _engine = engine;
        _queue = engine.Queue;
        _plays = plays;
        _prepareProgram = prepareProgram;
        _rate = engine.Options.SampleRate;
        _plan = new Plan { Route = route, Index = route.From, Seats = [] };
        if (route.Has(route.From))
        {
            _plan.Line = Exactness.Add(route.Source.BarAt(route.From).Start, Span.Zero);
        }
    }

    /// <summary>
    /// True: where composing a bar fails, the bar before is played again and the failure counted. False: the failure is thrown.
    /// </summary>
    public bool RepeatsOnFailure { get; init; }

    /// <summary>Bars that could not be composed.</summary>
    public long Failures => Interlocked.Read(ref _failures);

    /// <summary>Why the last one could not; null when all could.</summary>
    public Exception? Failure => Volatile.Read(ref _failure);

    /// <summary>Bars handed over, the one that plays not counted; from any thread.</summary>
    public int BarsAhead => Volatile.Read(ref _handedOver) - Math.Max(0, _engine.Board.Read(out _).Ordinal + 1);

    /// <summary>
    /// Replaces the bars by those of another source from a bar line on, the numbers going on. The earliest line that is
    /// <see cref="ChangeLeadSeconds"/> away, or the line of <paramref name="fromBar"/> where that comes later. From any thread.
    /// </summary>
    public BarChange Replace(IBarSource source, int? fromBar = null) =>
        Ask(new BarChange(BarRoute.Whole(source), Entry.SameNumber, fromBar, null, _engine.Playhead.Frame));

    /// <summary>
    /// Another route from the next bar line that is far enough away: it goes on behind the bar before that line, as its own
    /// <see cref="BarRoute.TakeOver"/> says. From any thread.
    /// </summary>
    public BarChange Continue(BarRoute route) => Ask(new BarChange(route, Entry.TakeOver, null, null, _engine.Playhead.Frame));

    /// <summary>Goes on elsewhere from the next bar line that is far enough away: a jump, or a loop. From any thread.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The route begins at a bar that it does not have.</exception>
    public BarChange Go(BarRoute route) => Ask(new BarChange(Playable(route), Entry.Route, null, null, _engine.Playhead.Frame));

    /// <summary>Goes on elsewhere from a given bar of the performance: how a log is played again. From any thread.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The route begins at a bar that it does not have.</exception>
    public BarChange GoAt(BarRoute route, int ordinal) =>
        Ask(new BarChange(Playable(route), Entry.Route, null, ordinal, _engine.Playhead.Frame));

    /// <summary>Keeps two to four bars, and a second, ahead; for live use.</summary>
    public void Fill() => Fill(bars: 3, seconds: 1);

    /// <summary>Makes sure that the next <paramref name="frames"/> frames can be read without waiting for a bar.</summary>
    public void FillFor(long frames) =>
        Fill(bars: 2, seconds: ((double)(frames + _mostLead) / _rate) + 0.5);

    /// <summary>Composes the next bar and hands it over; false when there is none to hand over or no room.</summary>
    public bool PrepareNext()
    {
        SettleChange();
        SendChange();
        if (_plan.Over)
        {
            return false;
        }

        var over = !_plan.Route.Has(_plan.Index);
        var bar = over ? null : Compose(_plan.Route, _plan.Index, _plan.Ordinal);
        if (_queue.TakeEmpty() is not { } prepared)
        {
            return false;
        }

        prepared.Ordinal = _plan.Ordinal;
        prepared.Epoch = _plan.Epoch;
        prepared.OpensEpoch = _plan.Opens;
        prepared.Base = _plan.Line;
        prepared.End = _plan.Line;
        var seconds = 0.0;
        if (bar is null)
        {
            prepared.IsEnd = true;
            prepared.LeadFrames = Lead(0);
        }
        else
        {
            FillIn(prepared, bar);
            seconds = Seconds(prepared);
            _lastBar = bar;
        }

        _past[_plan.Ordinal % Remembered] = new Past(_plan.Ordinal, _plan.Index, _plan.Line, prepared.End, seconds);
        _plan.Line = prepared.End;
        _plan.Over = over;
        _plan.Opens = false;
        _plan.Ordinal++;
        _plan.Index = over ? _plan.Index : _plan.Route.After(_plan.Index, prepared.Ordinal);
        _queue.HandOver(prepared);
        Volatile.Write(ref _handedOver, _plan.Ordinal);
        return true;
    }

    private static BarRoute Playable(BarRoute route) => route.Has(route.From)
        ? route
        : throw new ArgumentOutOfRangeException(nameof(route), $"There is no bar {route.From} to begin at.");

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
            SendChange();
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

    private Bar Compose(BarRoute route, int index, int ordinal)
    {
        try
        {
            return route.BarAt(index, ordinal);
        }
#pragma warning disable CA1031 // Live, whatever goes wrong in a writer must not end the music: the bar before is heard again and counted.
        catch (Exception failure) when (RepeatsOnFailure && _lastBar is not null)
#pragma warning restore CA1031
        {
            Volatile.Write(ref _failure, failure);
            Interlocked.Increment(ref _failures);
            return _lastBar with { Index = index };
        }
    }

    private void FillIn(PreparedBar prepared, Bar bar)
    {
        prepared.Bar = bar;
        prepared.End = Exactness.Add(prepared.Base, bar.Length);
        foreach (var (onset, tempo) in bar.Tempi)
        {
            prepared.AddTempo(Exactness.Add(prepared.Base, onset), Exactness.Usable(tempo));
        }

        var band = _plan.Route.Source.Band;
        if (!ReferenceEquals(band, _plan.Band))
        {
            var same = _plan.Band is { } former && former.SequenceEqual(band);
            _plan.Band = band;
            if (!same)
            {
                _plan.Seats = [.. band.Select(seating => new Seat(seating, _plays?.Invoke(seating) ?? true))];
                prepared.Seats = _plan.Seats;
                PreparePrograms();
            }
        }

        if (prepared.OpensEpoch && prepared.Ordinal > 0)
        {
            AddHeld(prepared, bar);
        }

        var earliest = 0;
        foreach (var control in bar.Controls)
        {
            if (TryPrepare(control, prepared.Base, out var item))
            {
                earliest = Math.Min(earliest, item.Offset);
                prepared.Add(item);
            }
        }

        foreach (var note in bar.Notes)
        {
            if (TryPrepare(note, prepared.Base, out var item) && prepared.Events.Length < MostEventsInBar)
            {
                earliest = Math.Min(earliest, item.Offset);
                prepared.Add(item);
            }
        }

        prepared.LeadFrames = Lead(-earliest);
    }

    private void PreparePrograms()
    {
        foreach (var seat in _plan.Seats)
        {
            if (seat.Playing && _prepareProgram is not null)
            {
                _prepareProgram(seat.Channel, seat.Program);
                _prepareProgram(seat.DampedChannel, seat.DampedProgram);
            }
        }
    }

    private int Lead(int frames)
    {
        var lead = Math.Max((int)(LeadSeconds * _rate), frames) + GrooveEngine.BlockFrames;
        _mostLead = Math.Max(_mostLead, lead);
        return lead;
    }

    private bool TryPrepare(NoteEvent note, Position line, out PreparedEvent item)
    {
        item = default;
        if ((uint)note.Part >= (uint)_plan.Seats.Length || !_plan.Seats[note.Part].Playing)
        {
            return false;
        }

        var seat = _plan.Seats[note.Part];
        var channel = note.Touch == Touch.Damped ? seat.DampedChannel : seat.Channel;
        if ((uint)channel >= Seating.Channels || (uint)note.Key >= SoundingNotes.Keys)
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
            BeginsAnew = _plan.Band![note.Part].Instrument.Holds,
        };
        return true;
    }

    private bool TryPrepare(in ControlPoint control, Position line, out PreparedEvent item)
    {
        item = default;

        // Level and pan are the mix's, and are set from the seats.
        if (control.Controller is Controllers.Volume or Controllers.Pan
            || (uint)control.Part >= (uint)_plan.Seats.Length
            || !_plan.Seats[control.Part].Playing)
        {
            return false;
        }

        var seat = _plan.Seats[control.Part];
        item = new PreparedEvent
        {
            Part = control.Part,
            Channel = seat.Channel,
            OtherChannel = seat.DampedChannel,
            Key = control.Controller,
            Value = Math.Clamp(control.Value, 0, 127),
            At = Exactness.Add(line, control.Onset),
            Offset = Exactness.Frames(control.OffsetMicroseconds, _rate),
        };
        return true;
    }

    /// <summary>
    /// What would sound at the bar line, had the new bars been played before it too: held notes go on, and curves stand where they would.
    /// </summary>
    private void AddHeld(PreparedBar prepared, Bar bar)
    {
        var source = _plan.Route.Source;
        var settled = new HashSet<(int Part, int Controller)>();
        for (var index = bar.Index - 1; index >= Math.Max(source.First, bar.Index - BarsLookedBack); index--)
        {
            var former = Compose(_plan.Route, index, prepared.Ordinal - (bar.Index - index));
            var line = prepared.Base - (bar.Start - former.Start);
            foreach (var note in former.Notes)
            {
                if (former.Start + note.End > bar.Start && TryPrepare(note, line, out var item))
                {
                    prepared.AddHeld(item);
                }
            }

            for (var i = former.Controls.Count - 1; i >= 0; i--)
            {
                var control = former.Controls[i];
                if (settled.Add((control.Part, control.Controller)) && TryPrepare(control, line, out var item))
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

    /// <summary>Hears from the engine what became of the change that was sent.</summary>
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

            // A newer change says all that this one said.
            var late = _sent;
            _sent = null;
            if (Interlocked.CompareExchange(ref _asked, late, null) is not null)
            {
                late.Set(BarChangeState.Superseded, -1);
            }
        }
    }

    private void SendChange()
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

        if (Interlocked.CompareExchange(ref _asked, null, asked) != asked)
        {
            return;
        }

        _before = _plan;
        _pastBefore = [.. Enumerable.Range(ordinal, _plan.Ordinal - ordinal).Select(past => _past[past % Remembered])];
        var dropped = _pastBefore.Length > 0;
        var index = dropped ? _pastBefore[0].Index : _plan.Index;
        var line = dropped ? _pastBefore[0].Line : _plan.Line;
        if (asked.Entry == Entry.SameNumber)
        {
            // The old bars may be in a lead-in that the new ones do not have.
            asked.Continue(Math.Max(index, asked.Route.Source.First));
        }
        else if (asked.Entry == Entry.TakeOver && ordinal > 0)
        {
            asked.Continue(asked.Route.TakeOver(_plan.Route, _past[(ordinal - 1) % Remembered].Index, ordinal - 1));
        }

        _plan = _plan with
        {
            Route = asked.Route,
            Index = asked.Route.From,
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

    /// <summary>The bar of the performance from which a change is to hold; false when that lies further ahead than bars are composed.</summary>
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

        // The end itself is a place where other bars may go on, but nothing lies behind it.
        over = _plan.Over;
        return !over && at >= earliest && _plan.Index >= (asked.FromBar ?? int.MinValue);
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
        public IReadOnlyList<Seating>? Band;
        public Seat[] Seats;
    }

    private readonly record struct Past(int Ordinal, int Index, Position Line, Position End, double Seconds);
}
