using System.Collections.Concurrent;
using System.Diagnostics;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.LiveMidi;

/// <summary>What another's transport asks for.</summary>
public enum FollowKind
{
    /// <summary>Be ready to begin at a place.</summary>
    Prepare,

    /// <summary>Begin at a place.</summary>
    Begin,

    /// <summary>Stop.</summary>
    Stop,
}

/// <summary>A request of another's transport.</summary>
/// <param name="Kind">What it asks for.</param>
/// <param name="Clock">The place, in clocks from the start of the song.</param>
public readonly record struct FollowRequest(FollowKind Kind, long Clock);

/// <summary>
/// Leads performances by the MIDI clock of a port: reads the port on a thread of its own, keeps the band on the clock's beat, and passes on start,
/// stop, continue and the place in the song.
/// </summary>
/// <remarks>
/// A performance that follows waits to begin (<see cref="LiveOptions.WaitsToBegin"/>) and has a steady tempo
/// (<see cref="LiveOptions.SteadyTempo"/>). When the clock is lost, the band goes on at its last tempo. All members may be called from any thread
/// except the audio thread.
/// </remarks>
public sealed class MidiFollower : IDisposable
{
    private const double ControlSeconds = 0.06;
    private const double ReopenSeconds = 1;

    // The first notes are heard late by the delay of the output, and the band catches up; after a longer time it enters in the middle instead.
    private const double LongestCatchUp = 0.15;

    // Notes that lead the first bar line.
    private const double LeadSeconds = 0.01;
    private const double ClocksInWhole = 96;
    private const int MostWaiting = 256;
    private static readonly TimeSpan Patience = TimeSpan.FromMilliseconds(10);
    private static readonly TimeSpan EndPatience = TimeSpan.FromSeconds(0.5);

    private readonly string _name;
    private readonly Func<IMidiIn> _reopen;
    private readonly FailureLog _failures;
    private readonly ClockFollower _clock = new();
    private readonly MidiParser _parser = new();
    private readonly ConcurrentQueue<FollowRequest> _requests = new();
    private readonly ConcurrentQueue<MidiMessage> _messages = new();
    private readonly Lock _gate = new();
    private readonly Thread? _thread;
    private IMidiIn? _port;
    private Followed? _followed;
    private int _positionBytes;
    private int _position;
    private double _nextTry;
    private double _nextControl;
    private bool _mayBegin;
    private bool _isLostTold;
    private volatile string _says;
    private volatile bool _done;

    /// <summary>Follows an open port, on a thread of its own.</summary>
    /// <param name="name">The port's name, for messages.</param>
    /// <param name="port">The port; owned by this object.</param>
    /// <param name="reopen">Opens the port again after it went away.</param>
    /// <param name="failures">Records the port's problems.</param>
    public MidiFollower(string name, IMidiIn port, Func<IMidiIn> reopen, FailureLog failures)
        : this(name, port, reopen, failures, runs: true)
    {
    }

    internal MidiFollower(string name, IMidiIn port, Func<IMidiIn> reopen, FailureLog failures, bool runs)
    {
        (_name, _port, _reopen, _failures) = (name, port, reopen, failures);
        _says = $"follows {name}, which is silent";
        if (runs)
        {
            _thread = new Thread(Run) { IsBackground = true, Name = "midi clock" };
            _thread.Start();
        }
    }

    /// <summary>The port's name.</summary>
    public string Name => _name;

    /// <summary>What it does, in a few words, and the problem if there is one.</summary>
    public string Says => _says;

    /// <summary>Takes the next request; for one thread.</summary>
    public bool TryTakeRequest(out FollowRequest request) => _requests.TryDequeue(out request);

    /// <summary>Takes the next channel message that came on the port; for one thread.</summary>
    public bool TryTake(out MidiMessage message) => _messages.TryDequeue(out message);

    /// <summary>Leads a performance from now on.</summary>
    /// <param name="session">The performance, about to start.</param>
    /// <param name="firstClock">The place of its first bar line, in clocks from the start of the song.</param>
    /// <param name="steady">Its steady tempo.</param>
    public void Attach(LiveSession session, long firstClock, Tempo steady)
    {
        lock (_gate)
        {
            _followed = new Followed(session, firstClock, steady.WholesPerMinute.ToDouble() * ClocksInWhole / 60);
        }
    }

    /// <summary>Lets the performance begin with the clock's song; or not, so that it waits for the next start.</summary>
    public void Allow(bool begin)
    {
        lock (_gate)
        {
            _mayBegin = begin;
        }
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _done = true;
        if (_thread is null || !_thread.Join(EndPatience))
        {
            _port?.Dispose();
        }
    }

    /// <summary>Takes received bytes.</summary>
    /// <param name="bytes">The bytes.</param>
    /// <param name="ticks">When they came, as of <see cref="Stopwatch.GetTimestamp"/>.</param>
    internal void Take(ReadOnlySpan<byte> bytes, long ticks)
    {
        var at = (double)ticks / Stopwatch.Frequency;
        foreach (var value in bytes)
        {
            switch (value)
            {
                case MidiBytes.Clock:
                    _clock.Clock(at);
                    break;
                case MidiBytes.Start:
                    _clock.Start();
                    _requests.Enqueue(new FollowRequest(FollowKind.Begin, 0));
                    break;
                case MidiBytes.Continue when !_clock.Runs:
                    _clock.Continue();
                    _requests.Enqueue(new FollowRequest(FollowKind.Begin, (long)_clock.Place));
                    break;
                case MidiBytes.Stop:
                    _clock.Stop();
                    _requests.Enqueue(new FollowRequest(FollowKind.Stop, (long)_clock.Place));
                    break;
                case MidiBytes.SongPosition:
                    (_positionBytes, _position) = (2, 0);
                    break;
                case < 0x80 when _positionBytes > 0:
                    _position |= value << (_positionBytes == 2 ? 0 : 7);
                    if (--_positionBytes == 0 && !_clock.Runs)
                    {
                        _clock.Position(_position);
                        _requests.Enqueue(new FollowRequest(FollowKind.Prepare, (long)_clock.Place));
                    }

                    break;
                default:
                    _positionBytes = value is >= 0x80 and < 0xF8 ? 0 : _positionBytes;
                    break;
            }

            if (_parser.TryTake(value, ticks, out var message) && _messages.Count < MostWaiting)
            {
                _messages.Enqueue(message);
            }
        }
    }

    /// <summary>Keeps the performance on the clock.</summary>
    internal void Turn(long ticks)
    {
        var now = (double)ticks / Stopwatch.Frequency;
        Followed? followed;
        bool mayBegin;
        lock (_gate)
        {
            (followed, mayBegin) = (_followed, _mayBegin);
        }

        if (followed is not null)
        {
            followed.Time.Add(followed.Session.Output.Clock);
            if (followed.Session.IsWaiting)
            {
                if (_clock.Runs && mayBegin && followed.Time.IsKnown)
                {
                    Begin(followed, now);
                }
            }
            else if (now >= _nextControl)
            {
                _nextControl = now + ControlSeconds;
                Control(followed, now);
            }
        }

        Tell(now, followed);
    }

    private void Begin(Followed followed, double now)
    {
        var session = followed.Session;
        var rate = session.Output.SampleRate;
        var clocks = _clock.ClocksPerSecond ?? followed.SteadyClocksPerSecond;
        _ = session.Engine.Post(EngineCommand.Speed(FollowedSpeed.Of(clocks, followed.SteadyClocksPerSecond, 0)));

        // What is pulled next is heard after the delay of the output.
        var heardAt = followed.Time.TicksAt(session.Output.Clock.FramesPulled) / Stopwatch.Frequency;
        var place = _clock.PlaceAt(Math.Max(now, heardAt), 1 / followed.SteadyClocksPerSecond);
        var late = (place - followed.FirstClock) / clocks;
        var preRoll = session.Engine.Options.PreRollFrames;
        session.BeginAt(preRoll + (long)(rate * (late <= LongestCatchUp ? -LeadSeconds : late)));
    }

    private void Control(Followed followed, double now)
    {
        var session = followed.Session;
        if (!_clock.Runs || _clock.ClocksPerSecond is not { } clocks || session.Engine.Playhead is not { Bar: { } bar, State: TransportState.Playing } head)
        {
            return;
        }

        var behind = 0.0;
        if (!_clock.IsLost(now))
        {
            // Jumps and loops of the band leave it on the beat: its place counts on from the first bar.
            followed.Base ??= head.BarLine.Wholes.ToDouble() - bar.Start.Wholes.ToDouble();
            var band = (head.BarLine.Wholes.ToDouble() + head.WholesInBar - followed.Base.Value) * ClocksInWhole;
            var heardAt = followed.Time.TicksAt(head.Frame + session.FramesBefore) / Stopwatch.Frequency;
            behind = _clock.PlaceAt(heardAt, 1 / clocks) - band;
        }

        var speed = FollowedSpeed.Of(clocks, followed.SteadyClocksPerSecond, behind);
        followed.Behind = behind / clocks;
        if (speed != followed.Speed || Math.Abs(session.Engine.Board.Speed - speed.ToDouble()) > 1e-9)
        {
            followed.Speed = speed;
            _ = session.Engine.Post(EngineCommand.Speed(speed));
        }
    }

    private void Tell(double now, Followed? followed)
    {
        var doing = $"following the clock of {_name}";
        var isLost = _clock.IsLost(now);
        if (isLost != _isLostTold)
        {
            _isLostTold = isLost;
            if (isLost)
            {
                _failures.Add(doing, "no clock comes; the band goes on at the last tempo");
            }
            else
            {
                _failures.Settle(doing);
            }
        }

        var tempo = _clock.QuartersPerMinute is { } quarters ? string.Create(System.Globalization.CultureInfo.InvariantCulture, $", quarter = {quarters:0}") : string.Empty;
        var says = _port is null && _thread is not null ? $"follows {_name}: the port is gone"
            : isLost ? $"follows {_name}: no clock"
            : _clock.Runs ? $"follows {_name}{tempo}"
            : followed is { Session.IsWaiting: true } or null ? $"waits for start from {_name}{tempo}"
            : $"follows {_name}{tempo}";
        if (says != _says)
        {
            _says = says;
        }
    }

    private void Run()
    {
        _ = ThreadPriorities.TryRaiseCurrent();
        var bytes = new byte[256];
        while (!_done)
        {
            try
            {
                Listen(bytes);
                Turn(Stopwatch.GetTimestamp());
            }
#pragma warning disable CA1031 // An exception that escapes from this thread would end the process during the music; it is recorded.
            catch (Exception failure)
#pragma warning restore CA1031
            {
                _failures.Add("following a MIDI clock", failure);
                ExactSleep.For(Patience.TotalSeconds);
            }
        }

        _port?.Dispose();
    }

    private void Listen(byte[] bytes)
    {
        var doing = $"reading the MIDI port {_name}";
        if (_port is null)
        {
            ExactSleep.For(Patience.TotalSeconds);
            var now = (double)Stopwatch.GetTimestamp() / Stopwatch.Frequency;
            if (now >= _nextTry)
            {
                _nextTry = now + ReopenSeconds;
                try
                {
                    _port = _reopen();
                    _failures.Settle(doing);
                }
                catch (MidiPortException)
                {
                    // Not back yet.
                }
            }

            return;
        }

        try
        {
            var count = _port.Read(bytes, Patience);
            Take(bytes.AsSpan(0, count), Stopwatch.GetTimestamp());
        }
        catch (IOException failure)
        {
            _failures.Add(doing, $"{failure.Message.TrimEnd('.')}; it is used again when it comes back");
            _port.Dispose();
            _port = null;
        }
    }

    private sealed class Followed(LiveSession session, long firstClock, double steadyClocksPerSecond)
    {
        public LiveSession Session { get; } = session;

        public long FirstClock { get; } = firstClock;

        public double SteadyClocksPerSecond { get; } = steadyClocksPerSecond;

        public OutputTime Time { get; } = new(session.Output.SampleRate, Stopwatch.Frequency);

        public double? Base { get; set; }

        public Rational Speed { get; set; }

        public double Behind { get; set; }
    }
}
