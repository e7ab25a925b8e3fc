using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using NAudio.Wave;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// The transport and its synthesizer behind one <see cref="Read"/>, for devices and files: it takes bars from the
/// composer, places every note on its frame, and renders up to it.
/// </summary>
/// <remarks>
/// <para>
/// Not a composer (<see cref="BarPreparer"/> fills its queue), limiter or device. It works in blocks of
/// <see cref="BlockFrames"/> frames that begin on whole multiples of it, whatever the buffer sizes; in
/// a block the synthesizer is called from event to event. So buffer sizes change nothing, and a command takes effect at the
/// start of the next block.
/// </para>
/// <para>
/// One thread reads. <see cref="Post"/> and the read-only members may be called from any thread; one thread takes the reports.
/// <see cref="Read"/> does not allocate, lock, log, throw, or use files.
/// </para>
/// </remarks>
public sealed class GrooveEngine : ISampleProvider
{
    /// <summary>Frames in a block.</summary>
    public const int BlockFrames = 64;

    private const int Channels = 2;
    private const int MostPending = 1 << 14;
    private const int RingSize = 1024;
    private const double MasterSlideSeconds = 0.03;
    private const double ShortestFadeSeconds = 0.005;
    private const double LatestSeconds = 0.02;
    private const double LoudestMasterDecibels = 12;
    private const double SilentMasterDecibels = -80;

    private readonly ISoundFontSynth _synth;
    private readonly EngineOptions _options;
    private readonly MidiTap? _tap;
    private readonly ClockChain _clocks;
    private readonly PendingEvents _pending = new(MostPending);
    private readonly SoundingNotes _sounding = new();
    private readonly PartMixer _mixer;
    private readonly PlayheadBoard _board = new();
    private readonly CommandRing<NumberedCommand> _commands = new(RingSize);
    private readonly Ring<EngineReport> _reports = new(RingSize);
    private readonly float[] _left = new float[BlockFrames];
    private readonly float[] _right = new float[BlockFrames];
    private readonly PreparedBar[] _ready = new PreparedBar[BarQueue.Capacity];
    private readonly TakenBar[] _taken = new TakenBar[BarQueue.Capacity];
    private readonly int _latest;

    private int _readyCount;
    private int _takenCount;
    private PreparedBar? _current;
    private long _currentLine;
    private int _ordinal = -1;
    private int _epoch;
    private int _nextOrdinal;
    private Position _nextLine;
    private bool _endTaken;
    private int _lateFor = -1;
    private TransportState _state;
    private LinearRamp _master;
    private LinearRamp _fade = new(1);
    private NumberedCommand _stop;
    private bool _stopping;
    private long _frame;
    private int _position = BlockFrames;
    private long _final = long.MaxValue;
    private long _note;
    private long _commandId;
    private long _lateBars;
    private long _dropped;
    private long _lostReports;
    private long _faults;
    private Exception? _fault;

    /// <summary>Creates an engine; a <see cref="BarPreparer"/> supplies its bars.</summary>
    /// <param name="synth">The synthesizer; only the engine may use it from now on.</param>
    /// <param name="options">The settings.</param>
    /// <exception cref="ArgumentException">The synthesizer has another sample rate.</exception>
    public GrooveEngine(ISoundFontSynth synth, EngineOptions options)
    {
        if (synth.SampleRate != options.SampleRate)
        {
            throw new ArgumentException(
                $"The synthesizer runs at {synth.SampleRate} Hz and the engine at {options.SampleRate} Hz.", nameof(synth));
        }

        _tap = options.Tap;
        _synth = _tap is null ? synth : new TappedSynth(synth, _tap);
        _options = options;
        _clocks = new ClockChain(options.SampleRate);
        _mixer = new PartMixer(_synth);
        _master = new LinearRamp(MasterGain(options.MasterDecibels));
        _latest = (int)(LatestSeconds * options.SampleRate);
        WaveFormat = WaveFormat.CreateIeeeFloatWaveFormat(options.SampleRate, Channels);
    }

    /// <inheritdoc/>
    public WaveFormat WaveFormat { get; }

    /// <summary>The settings.</summary>
    public EngineOptions Options => _options;

    /// <summary>The place in the music at the newest frame read. From any thread.</summary>
    public Playhead Playhead => _board.Read(out _);

    /// <summary>The counters of problems. From any thread.</summary>
    public EngineCounters Counters => new(
        Interlocked.Read(ref _lateBars),
        Interlocked.Read(ref _dropped),
        Interlocked.Read(ref _lostReports),
        Interlocked.Read(ref _faults));

    /// <summary>The exception of the last counted fault; null if there was none.</summary>
    public Exception? Fault => Volatile.Read(ref _fault);

    /// <summary>The number of sounding notes; for the reading thread.</summary>
    public int NotesDown => _sounding.Count;

    internal BarQueue Queue { get; } = new();

    internal PlayheadBoard Board => _board;

    /// <summary>
    /// The place in the music at an earlier frame (what is heard lags by the device's delay), as far back as some
    /// sixty bar lines and tempo steps; from any thread.
    /// </summary>
    public Playhead PlayheadAt(long frame) => _board.At(frame);

    /// <summary>Posts a command; from any thread. It takes effect in the next block.</summary>
    /// <returns>The number for its report; 0 if the queue is full and the command was refused.</returns>
    public long Post(in EngineCommand command)
    {
        var id = Interlocked.Increment(ref _commandId);
        return _commands.TryWrite(new NumberedCommand(id, command)) ? id : 0;
    }

    /// <summary>Takes the next report; for one thread.</summary>
    public bool TryTakeReport(out EngineReport report) => _reports.TryRead(out report);

    /// <summary>
    /// Fills a buffer of any size with interleaved stereo; an odd sample at its end is not written.
    /// </summary>
    /// <returns>The number of samples written: fewer than requested only at the end, and 0 after it.</returns>
    public int Read(Span<float> buffer)
    {
        var frames = buffer.Length / Channels;
        var done = 0;
        while (done < frames)
        {
            if (_position == BlockFrames)
            {
                if (IsOver(_frame))
                {
                    break;
                }

                NextBlock();
            }

            var at = _frame - BlockFrames + _position;
            var count = Math.Min(BlockFrames - _position, frames - done);
            if (_options.EndsStream)
            {
                count = (int)Math.Min(count, _final - at);
                if (count <= 0)
                {
                    break;
                }
            }

            for (var i = 0; i < count; i++)
            {
                buffer[Channels * done] = _left[_position];
                buffer[(Channels * done) + 1] = _right[_position];
                _position++;
                done++;
            }
        }

        _board.Publish(_frame - BlockFrames + _position, NextLineFrame(), _state);
        return done * Channels;
    }

    private bool IsOver(long frame) => _options.EndsStream && frame >= _final;

    private void NextBlock()
    {
        try
        {
            RenderBlock();
        }
#pragma warning disable CA1031 // The last safeguard of the device's thread: any failure costs one block and is counted.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Array.Clear(_left);
            Array.Clear(_right);
            Volatile.Write(ref _fault, failure);
            Interlocked.Increment(ref _faults);
        }

        _frame += BlockFrames;
        _position = 0;
    }

    private void RenderBlock()
    {
        TapAt(_frame);
        ObeyCommands();
        AcceptBars();
        TakeBars();
        CountLateBar();
        _mixer.Slide();

        var end = _frame + BlockFrames;
        var at = _frame;
        while (_pending.NextFrame < end)
        {
            var frame = Math.Max(_pending.NextFrame, at);
            if (frame > at)
            {
                Synthesize(at, frame);
                at = frame;
            }

            var next = _pending.Take();
            TapAt(at);
            Perform(next, at);
        }

        Synthesize(at, end);
        ApplyGain();
        BeginBars(end);
        MarkTempi(end);
        _clocks.Trim(_frame - _options.SampleRate);
        TapAt(end);
        EndStates(end);
    }

    private void TapAt(long frame)
    {
        if (_tap is not null)
        {
            _tap.Frame = frame;
        }
    }

    private void Synthesize(long from, long to) =>
        _synth.Render(
            _left.AsSpan((int)(from - _frame), (int)(to - from)),
            _right.AsSpan((int)(from - _frame), (int)(to - from)));

    private void ApplyGain()
    {
        if (_frame >= _master.End && _frame >= _fade.End)
        {
            var gain = _master.Target * _fade.Target;
            if (gain == 1)
            {
                return;
            }

            for (var i = 0; i < BlockFrames; i++)
            {
                _left[i] *= gain;
                _right[i] *= gain;
            }

            return;
        }

        for (var i = 0; i < BlockFrames; i++)
        {
            var gain = _master.At(_frame + i) * _fade.At(_frame + i);
            _left[i] *= gain;
            _right[i] *= gain;
        }
    }

    private void ObeyCommands()
    {
        while (_commands.TryRead(out var numbered))
        {
            var command = numbered.Command;
            switch (command.Kind)
            {
                case EngineCommandKind.PartLevel:
                    _mixer.SetLevel(command.Part, command.Value);
                    break;
                case EngineCommandKind.PartPan:
                    _mixer.SetPan(command.Part, (int)Math.Clamp(command.Value, -100, 100));
                    break;
                case EngineCommandKind.PartMute:
                    _mixer.SetMuted(command.Part, command.Value != 0);
                    break;
                case EngineCommandKind.MasterLevel:
                    _master.GoTo(MasterGain(command.Value), _frame, (int)(MasterSlideSeconds * _options.SampleRate));
                    break;
                case EngineCommandKind.Speed:
                    ChangeSpeed(command.Ratio);
                    break;
                default:
                    BeginStop(numbered);
                    break;
            }

            Report(EngineReportKind.Done, _frame, _ordinal, numbered.Id, command);
        }
    }

    private void ChangeSpeed(Rational speed)
    {
        if (!Exactness.IsUsableSpeed(speed) || speed == _clocks.Speed)
        {
            return;
        }

        _clocks.SetSpeed(_frame, speed);
        _board.PublishSpeed(speed.ToDouble());
        if (_clocks.Count == 0)
        {
            return;
        }

        _pending.Reframe(_clocks);
        for (var i = 0; i < _takenCount; i++)
        {
            _taken[i] = _taken[i] with { Line = _clocks.FrameAt(_taken[i].Bar.Base) };
        }

        if (_current is not null)
        {
            MarkNow(_frame);
        }
    }

    private void BeginStop(in NumberedCommand command)
    {
        if (_stopping || _state >= TransportState.Ended)
        {
            return;
        }

        _stopping = true;
        _stop = command;
        var seconds = double.IsNaN(command.Command.Value) ? ShortestFadeSeconds : Math.Clamp(command.Command.Value, ShortestFadeSeconds, 60);
        _fade.GoTo(0, _frame, (int)(seconds * _options.SampleRate));
    }

    private void EndStates(long end)
    {
        if (_stopping && end >= _fade.End && _state != TransportState.Stopped)
        {
            ReleaseAll();
            for (var channel = 0; channel < _synth.ChannelCount; channel++)
            {
                _synth.Control(channel, Controllers.AllSoundOff, 0);
            }

            _pending.Clear();
            DropBars();
            _tap?.End();
            _state = TransportState.Stopped;
            _final = Math.Min(_final, end);
            Report(EngineReportKind.Stopped, end, _ordinal, _stop.Id, _stop.Command);
        }
        else if (_state == TransportState.Ringing && end >= _final)
        {
            _state = TransportState.Ended;
        }
    }

    private void DropBars()
    {
        for (var i = 0; i < _readyCount; i++)
        {
            Queue.GiveBack(_ready[i]);
        }

        for (var i = 0; i < _takenCount; i++)
        {
            Queue.GiveBack(_taken[i].Bar);
        }

        _readyCount = _takenCount = 0;
        _endTaken = true;
    }

    private void AcceptBars()
    {
        while (Queue.TryTake(out var bar))
        {
            if (bar.Epoch == Queue.RefusedEpoch || bar.Epoch < _epoch || _state >= TransportState.Ended)
            {
                Queue.GiveBack(bar);
                continue;
            }

            if (bar.Epoch > _epoch && !AcceptEpoch(bar))
            {
                Queue.GiveBack(bar);
                continue;
            }

            _ready[_readyCount++] = bar;
        }
    }

    private bool AcceptEpoch(PreparedBar first)
    {
        if (first.Ordinal <= _ordinal || _state > TransportState.Playing || _stopping)
        {
            Queue.Refuse(first.Epoch);
            Write(new EngineReport(EngineReportKind.ReplaceRefused, _frame, first.Ordinal, first.Epoch, 0, default));
            return false;
        }

        var kept = 0;
        for (var i = 0; i < _readyCount; i++)
        {
            if (_ready[i].Ordinal < first.Ordinal)
            {
                _ready[kept++] = _ready[i];
            }
            else
            {
                Queue.GiveBack(_ready[i]);
            }
        }

        _readyCount = kept;
        if (first.Ordinal < _nextOrdinal)
        {
            TakeBack(first);
        }

        _epoch = first.Epoch;
        Queue.Accept(_epoch);
        Write(new EngineReport(EngineReportKind.ReplaceAccepted, _frame, first.Ordinal, _epoch, 0, default));
        return true;
    }

    private void TakeBack(PreparedBar first)
    {
        var line = first.Base;
        var lineFrame = _clocks.FrameAt(line);
        _pending.RemoveFrom(first.Ordinal, first.Epoch, line, lineFrame);
        while (_takenCount > 0 && _taken[_takenCount - 1].Bar.Ordinal >= first.Ordinal)
        {
            Queue.GiveBack(_taken[--_takenCount].Bar);
        }

        _clocks.RemoveFrom(first.Ordinal);
        _nextOrdinal = first.Ordinal;
        _nextLine = line;
        _endTaken = false;
    }

    private void TakeBars()
    {
        while (_readyCount > 0)
        {
            var bar = _ready[0];
            var line = _clocks.Count == 0 ? _options.PreRollFrames : _clocks.FrameAt(bar.Base);
            if (line - bar.LeadFrames > _frame)
            {
                break;
            }

            // Removed first, so that a failure to schedule it is not repeated with every block.
            _readyCount--;
            Array.Copy(_ready, 1, _ready, 0, _readyCount);
            Schedule(bar, line);
        }
    }

    private void Schedule(PreparedBar bar, long line)
    {
        if (line < _frame && _lateFor != bar.Ordinal)
        {
            _lateFor = bar.Ordinal;
            Interlocked.Increment(ref _lateBars);
        }

        _taken[_takenCount++] = new TakenBar(bar, line);
        _nextOrdinal = bar.Ordinal + 1;
        _nextLine = bar.End;
        if (bar.IsEnd)
        {
            _endTaken = true;
            Add(new PendingEvent { Kind = PendingKind.End, Event = { At = bar.Base } }, bar, line);
            return;
        }

        _clocks.Follow(bar.Tempi, bar.Ordinal, line);
        if (bar.Band is not null)
        {
            // Before the first note of the bar, which may lead the bar line.
            var lead = new PreparedEvent { At = bar.Base, Offset = -bar.LeadFrames };
            Add(new PendingEvent { Kind = PendingKind.Band, Event = lead, Bar = bar }, bar, line - bar.LeadFrames);
        }

        if (bar.OpensEpoch && bar.Ordinal > 0)
        {
            Add(new PendingEvent { Kind = PendingKind.Switch, Event = { At = bar.Base }, Bar = bar }, bar, line);
        }

        foreach (ref readonly var item in bar.Events)
        {
            var frame = _clocks.FrameAt(item.At) + item.Offset;
            if (item.IsNote && frame < _frame - _latest)
            {
                Interlocked.Increment(ref _dropped);
                continue;
            }

            var kind = item.IsNote ? PendingKind.On : item.IsClock ? PendingKind.Clock : PendingKind.Control;
            Add(new PendingEvent { Kind = kind, Event = item }, bar, frame);
        }
    }

    private void Add(PendingEvent item, PreparedBar bar, long frame)
    {
        item.Ordinal = bar.Ordinal;
        item.Epoch = bar.Epoch;
        if (!_pending.TryAdd(item, frame))
        {
            Interlocked.Increment(ref _dropped);
        }
    }

    private void CountLateBar()
    {
        if (_endTaken || _lateFor == _nextOrdinal || _state > TransportState.Playing)
        {
            return;
        }

        var line = _clocks.Count == 0 ? _options.PreRollFrames : _clocks.FrameAt(_nextLine);
        if (line < _frame)
        {
            _lateFor = _nextOrdinal;
            Interlocked.Increment(ref _lateBars);
        }
    }

    private void Perform(in PendingEvent item, long frame)
    {
        switch (item.Kind)
        {
            case PendingKind.On:
                BeginNote(item, frame);
                break;
            case PendingKind.Off:
                EndNote(item);
                break;
            case PendingKind.Control:
                _synth.Control(item.Event.Channel, item.Event.Key, item.Event.Value);
                if (item.Event.OtherChannel != item.Event.Channel)
                {
                    _synth.Control(item.Event.OtherChannel, item.Event.Key, item.Event.Value);
                }

                break;
            case PendingKind.Clock:
                _tap?.Clock(item.Event.Value);
                break;
            case PendingKind.Band:
                if (item.Bar?.Band is { } band)
                {
                    _mixer.SetBand(band);
                }

                break;
            case PendingKind.Switch:
                Switch(item, frame);
                break;
            default:
                EndMusic(frame);
                break;
        }
    }

    private void BeginNote(in PendingEvent item, long frame)
    {
        ref readonly var note = ref item.Event;
        var velocity = _mixer.Velocity(note.Part, note.Value);
        if (velocity == 0)
        {
            return;
        }

        if (_sounding.At(note.Channel, note.Key).Note != 0)
        {
            _synth.NoteOff(note.Channel, note.Key);
        }

        _synth.NoteOn(note.Channel, note.Key, velocity);
        Hold(item, frame);
    }

    // The note has just freed its slot in the list of pending events, so there is room for its end.
    private void Hold(in PendingEvent item, long frame)
    {
        ref readonly var note = ref item.Event;
        _note++;
        _sounding.Begin(
            note.Channel,
            note.Key,
            new SoundingNote { Note = _note, Epoch = item.Epoch, Program = _mixer.ProgramOf(note.Channel) });
        var end = item with { Kind = PendingKind.Off, Note = _note, Earliest = frame + 1, Bar = null };
        if (!_pending.TryAdd(end, Math.Max(end.Earliest, _clocks.FrameAt(note.Until) + note.EndOffset)))
        {
            _synth.NoteOff(note.Channel, note.Key);
            _sounding.End(note.Channel, note.Key);
            Interlocked.Increment(ref _dropped);
        }
    }

    private void EndNote(in PendingEvent item)
    {
        // A key that was struck again belongs to the later note.
        if (_sounding.At(item.Event.Channel, item.Event.Key).Note == item.Note)
        {
            _synth.NoteOff(item.Event.Channel, item.Event.Key);
            _sounding.End(item.Event.Channel, item.Event.Key);
        }
    }

    private void Switch(in PendingEvent item, long frame)
    {
        Report(EngineReportKind.ReplaceBegun, frame, item.Ordinal, item.Epoch);
        if (item.Bar is not { } bar)
        {
            return;
        }

        foreach (ref readonly var held in bar.Held)
        {
            ref readonly var sounding = ref _sounding.At(held.Channel, held.Key);
            if (held.IsNote && sounding.Note != 0 && sounding.Program == _mixer.ProgramOf(held.Channel))
            {
                Hold(item with { Event = held }, frame);
            }
        }

        for (var place = 0; place < SoundingNotes.Places; place++)
        {
            if (_sounding.InPlace(place).Note != 0 && _sounding.InPlace(place).Epoch < item.Epoch)
            {
                var (channel, key) = (place / SoundingNotes.Keys, place % SoundingNotes.Keys);
                _synth.NoteOff(channel, key);
                _sounding.End(channel, key);
            }
        }

        foreach (ref readonly var held in bar.Held)
        {
            if (!held.IsNote)
            {
                Perform(item with { Kind = PendingKind.Control, Event = held }, frame);
            }
            else if (held.BeginsAnew && _sounding.At(held.Channel, held.Key).Note == 0)
            {
                BeginNote(item with { Kind = PendingKind.On, Event = held }, frame);
            }
        }
    }

    private void EndMusic(long frame)
    {
        ReleaseAll();
        _tap?.End();
        _pending.Clear();
        _state = TransportState.Ringing;
        _final = Math.Min(_final, frame + _options.TailFrames);
        Report(EngineReportKind.Ended, frame, _ordinal, _epoch);
    }

    private void ReleaseAll()
    {
        for (var place = 0; place < SoundingNotes.Places && _sounding.Count > 0; place++)
        {
            if (_sounding.InPlace(place).Note != 0)
            {
                var (channel, key) = (place / SoundingNotes.Keys, place % SoundingNotes.Keys);
                _synth.NoteOff(channel, key);
                _sounding.End(channel, key);
            }
        }
    }

    private void BeginBars(long end)
    {
        while (_takenCount > 0 && _taken[0].Line < end)
        {
            var (bar, line) = _taken[0];
            _takenCount--;
            Array.Copy(_taken, 1, _taken, 0, _takenCount);
            if (bar.Bar is null)
            {
                Queue.GiveBack(bar);
                continue;
            }

            if (_current is not null)
            {
                Queue.GiveBack(_current);
            }

            _current = bar;
            _currentLine = line;
            _ordinal = bar.Ordinal;
            if (_state == TransportState.Waiting)
            {
                _state = TransportState.Playing;
            }

            MarkNow(line);
        }
    }

    private void MarkTempi(long end)
    {
        var after = _frame - 1;
        while (_current is not null && _clocks.TryNextChange(after, end - 1, out var clock))
        {
            after = clock.AnchorFrame;
            if (after >= _currentLine)
            {
                MarkNow(after);
            }
        }
    }

    private void MarkNow(long frame)
    {
        if (_current is { Bar: { } bar })
        {
            _board.Mark(frame, _ordinal, bar, _currentLine, _clocks.ClockAt(frame), _current.Base);
        }
    }

    private long NextLineFrame() =>
        _current is not null ? _clocks.FrameAt(_current.End) : _options.PreRollFrames;

    private void Report(EngineReportKind kind, long frame, int ordinal, int epoch) =>
        Write(new EngineReport(kind, frame, ordinal, epoch, 0, default));

    private void Report(EngineReportKind kind, long frame, int ordinal, long id, in EngineCommand command) =>
        Write(new EngineReport(kind, frame, ordinal, _epoch, id, command));

    private void Write(in EngineReport report)
    {
        if (!_reports.TryWrite(report))
        {
            Interlocked.Increment(ref _lostReports);
        }
    }

    private static float MasterGain(double decibels) =>
        double.IsNaN(decibels) || decibels < SilentMasterDecibels
            ? 0
            : (float)Math.Pow(10, (Math.Min(decibels, LoudestMasterDecibels) + PartMixer.MakeUpDecibels) / 20);

    private readonly record struct NumberedCommand(long Id, EngineCommand Command);

    private readonly record struct TakenBar(PreparedBar Bar, long Line);
}
