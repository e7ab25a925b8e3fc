using System.Diagnostics;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;

namespace GrooveLab.Audio.LiveMidi;

/// <summary>
/// Sends what performances play to a MIDI port, each message at the moment when its sound leaves the output, on a thread of its own. The port
/// stays open from one performance to the next.
/// </summary>
/// <remarks>
/// A port that goes away or hangs holds up neither the sound nor the end of the program: messages are left out, and when the port takes
/// messages again, everything is released, the channels are set up, and the receiver gets its place. All members may be called from any thread
/// except the audio thread.
/// </remarks>
public sealed class MidiSender : IDisposable
{
    // Start and continue come so long before their clock, where the tempo leaves the time.
    private const double LeadSeconds = 0.0015;

    // The engine is at least a period of the output ahead of what is heard, so nothing is due earlier than this.
    private const double PollSeconds = 0.002;
    private const double IdleSeconds = 0.02;
    private const double ReopenSeconds = 1;
    private const double EarlySeconds = 0.00003;

    // How long the last messages may take, and then the whole end.
    private const double LastSeconds = 0.2;
    private static readonly TimeSpan EndPatience = TimeSpan.FromSeconds(0.6);

    private readonly string _name;
    private readonly Func<IMidiOut> _reopen;
    private readonly FailureLog _failures;
    private readonly MidiLine _line;
    private readonly Lock _gate = new();
    private readonly Queue<Attachment> _coming = new();
    private readonly Thread? _thread;
    private Attachment? _current;
    private MidiLineState _told = MidiLineState.Open;
    private double _nextTry;
    private volatile int _state;
    private volatile bool _done;

    /// <summary>Sends to an open port, on a thread of its own.</summary>
    /// <param name="name">The port's name, for messages.</param>
    /// <param name="port">The port; owned by this object.</param>
    /// <param name="reopen">Opens the port again after it went away.</param>
    /// <param name="failures">Records the port's problems.</param>
    public MidiSender(string name, IMidiOut port, Func<IMidiOut> reopen, FailureLog failures)
        : this(name, port, reopen, failures, runs: true)
    {
    }

    internal MidiSender(string name, IMidiOut port, Func<IMidiOut> reopen, FailureLog failures, bool runs)
    {
        (_name, _reopen, _failures) = (name, reopen, failures);
        _line = new MidiLine(port);
        if (runs)
        {
            _thread = new Thread(Run) { IsBackground = true, Name = "midi out" };
            _thread.Start();
        }
    }

    /// <summary>The port's name.</summary>
    public string Name => _name;

    /// <summary>What it does, in a few words: "MIDI to NAME", and the port's problem if it has one.</summary>
    public string Says => (MidiLineState)_state switch
    {
        MidiLineState.Gone => $"MIDI to {_name}: the port is gone",
        MidiLineState.Stuck => $"MIDI to {_name}: the port takes nothing",
        _ => $"MIDI to {_name}",
    };

    /// <summary>Whether the port has a problem now.</summary>
    public bool HasProblem => _state != (int)MidiLineState.Open;

    internal MidiLine Line => _line;

    /// <summary>Sends what a performance plays, from its start to its end; a performance before it is over then.</summary>
    /// <param name="tap">What it plays.</param>
    /// <param name="session">The performance, about to start.</param>
    public void Attach(MidiTap tap, LiveSession session) => Attach(tap, () => session.EngineClock, session.Completion, session.Output.SampleRate);

    internal void Attach(MidiTap tap, Func<OutputClock> clock, Task completion, int sampleRate)
    {
        lock (_gate)
        {
            _coming.Enqueue(new Attachment(tap, clock, completion, sampleRate));
        }
    }

    /// <summary>Ends every note, stops the receiver and closes the port; at most a short moment, even if the port hangs.</summary>
    public void Dispose()
    {
        if (_done)
        {
            return;
        }

        _done = true;
        if (_thread is null)
        {
            End();
        }
        else if (!_thread.Join(EndPatience))
        {
            _failures.Add($"closing the MIDI port {_name}", "it took too long and was left");
        }
    }

    /// <summary>Does what is due.</summary>
    /// <param name="ticks">The time, as of <see cref="Stopwatch.GetTimestamp"/>.</param>
    /// <returns>The seconds until the next turn.</returns>
    internal double Turn(long ticks)
    {
        var now = (double)ticks / Stopwatch.Frequency;
        if (_current is { } over && (over.Completion.IsCompleted || IsReplaced()))
        {
            Leave(over, now);
            _current = null;
        }

        if (_current is null)
        {
            lock (_gate)
            {
                _coming.TryDequeue(out _current);
            }
        }

        var wait = _current is null ? IdleSeconds : PollSeconds;
        if (_current is { } playing)
        {
            playing.Take();
            playing.Time.Add(playing.Clock());
            while (playing.Time.IsKnown && playing.Schedule.TryPeek(out var next))
            {
                var due = (playing.Time.TicksAt(next.Frame) / Stopwatch.Frequency) - now;
                if (due > EarlySeconds)
                {
                    wait = Math.Min(wait, due);
                    break;
                }

                playing.Schedule.Take();
                _line.Do(next, now);
            }
        }

        _line.Flush(now);
        Tend(now);
        return wait;
    }

    private bool IsReplaced()
    {
        lock (_gate)
        {
            return _coming.Count > 0;
        }
    }

    // What was never heard does not begin; what sounds ends.
    private void Leave(Attachment over, double now)
    {
        over.Take();
        while (over.Schedule.TryPeek(out var rest))
        {
            over.Schedule.Take();
            if (rest.Action == MidiAction.Release || (rest.Action == MidiAction.Message && (rest.Status & 0xF0) == 0x80))
            {
                _line.Do(rest, now);
            }
        }

        _line.Finish(now);
    }

    private void Tend(double now)
    {
        var state = _line.State;
        if (state == MidiLineState.Gone && now >= _nextTry)
        {
            _nextTry = now + ReopenSeconds;
            if (_told == MidiLineState.Gone)
            {
                try
                {
                    _line.Reopen(_reopen(), now);
                    state = _line.State;
                }
                catch (MidiPortException)
                {
                    // Not back yet.
                }
            }
        }

        if (state == _told)
        {
            return;
        }

        var doing = $"sending to the MIDI port {_name}";
        switch (state)
        {
            case MidiLineState.Open:
                _failures.Settle(doing);
                break;
            case MidiLineState.Stuck:
                _failures.Add(doing, "the port takes no messages; notes are left out until it does");
                break;
            default:
                _failures.Add(doing, $"{_line.Failure?.Message.TrimEnd('.') ?? "the port is gone"}; it is used again when it comes back");
                break;
        }

        _told = state;
        _state = (int)state;
    }

    private void Run()
    {
        _ = ThreadPriorities.TryRaiseCurrent();
        while (!_done)
        {
            try
            {
                var wait = Turn(Stopwatch.GetTimestamp());
                ExactSleep.For(wait);
            }
#pragma warning disable CA1031 // An exception that escapes from this thread would end the process during the music; it is recorded.
            catch (Exception failure)
#pragma warning restore CA1031
            {
                _failures.Add("sending MIDI", failure);
                ExactSleep.For(IdleSeconds);
            }
        }

        try
        {
            End();
        }
#pragma warning disable CA1031 // As above; the program ends.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            _failures.Add($"closing the MIDI port {_name}", failure);
        }
    }

    private void End()
    {
        var now = (double)Stopwatch.GetTimestamp() / Stopwatch.Frequency;
        if (_current is { } playing)
        {
            Leave(playing, now);
        }
        else
        {
            _line.Finish(now);
        }

        _line.Flush(now);
        for (var end = now + LastSeconds; _line.Waiting > 0 && _line.State == MidiLineState.Open && now < end;)
        {
            ExactSleep.For(PollSeconds);
            now = (double)Stopwatch.GetTimestamp() / Stopwatch.Frequency;
            _line.Flush(now);
        }

        _line.Close();
    }

    private sealed record Attachment(MidiTap Tap, Func<OutputClock> Clock, Task Completion, int SampleRate)
    {
        public MidiSchedule Schedule { get; } = new((int)(LeadSeconds * SampleRate));

        public OutputTime Time { get; } = new(SampleRate, Stopwatch.Frequency);

        public void Take()
        {
            while (Tap.TryTake(out var item))
            {
                Schedule.Add(item);
            }
        }
    }
}
