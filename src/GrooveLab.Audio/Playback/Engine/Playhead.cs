using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>The states of the transport.</summary>
public enum TransportState
{
    /// <summary>Before the first bar.</summary>
    Waiting,

    /// <summary>In the bars, which include the lead-in.</summary>
    Playing,

    /// <summary>After the bars; the last notes ring.</summary>
    Ringing,

    /// <summary>The end.</summary>
    Ended,

    /// <summary>Stopped by command.</summary>
    Stopped,
}

/// <summary>The place in the music at one frame, as a consistent whole.</summary>
/// <param name="State">The state of the transport at the newest block.</param>
/// <param name="Frame">The frame.</param>
/// <param name="Ordinal">The bar of the performance, counted from 0 as bars are played; -1 before the first.</param>
/// <param name="Bar">The bar; null before the first.</param>
/// <param name="BarLineFrame">The frame of its bar line.</param>
/// <param name="Clock">The clock at that frame, in places of the performance.</param>
/// <param name="BarLine">The place of the bar line in the performance.</param>
public readonly record struct Playhead(
    TransportState State, long Frame, int Ordinal, Bar? Bar, long BarLineFrame, FrameClock Clock, Position BarLine)
{
    /// <summary>The bar's number in its source; -1 in the lead-in and before it.</summary>
    public int BarIndex => Bar?.Index ?? -1;

    /// <summary>The exact place within the bar.</summary>
    public Span InBar => Bar is null ? Span.Zero : Clock.PlaceAt(Frame) - BarLine;

    /// <summary>The place within the bar in whole notes, for drawing.</summary>
    public double WholesInBar
    {
        get
        {
            if (Bar is null)
            {
                return 0;
            }

            var since = (Frame - Clock.AnchorFrame) / (60.0 * Clock.SampleRate) * Clock.Tempo.WholesPerMinute.ToDouble();
            return (Clock.Anchor - BarLine).Wholes.ToDouble() + since;
        }
    }

    /// <summary>The current tempo including the speed; null before the first bar.</summary>
    public Tempo? Tempo => Bar is null ? null : Clock.Tempo;
}

/// <summary>
/// The audio thread publishes its place here, and any thread reads it as a whole: a counter is odd during a write, and a reader that sees
/// it odd or changed reads again. The writer never waits. It keeps the recent past, because what is heard is older than what
/// was last computed.
/// </summary>
internal sealed class PlayheadBoard
{
    private const int Kept = 64;

    private readonly Entry[] _marks = new Entry[Kept];
    private long _version;
    private long _written;
    private long _frame;
    private long _nextLine;
    private int _state;
    private double _speed = 1;

    /// <summary>Any thread: the speed as a factor on the written tempo.</summary>
    public double Speed => Volatile.Read(ref _speed);

    /// <summary>Audio thread: sets the speed.</summary>
    public void PublishSpeed(double speed) => Volatile.Write(ref _speed, speed);

    /// <summary>Audio thread: sets the bar and clock from a frame on.</summary>
    public void Mark(long frame, int ordinal, Bar bar, long barLineFrame, in FrameClock clock, Position barLine)
    {
        Begin();
        if (_written > 0 && _marks[(_written - 1) % Kept].From == frame)
        {
            _written--;
        }

        _marks[_written % Kept] = new Entry(frame, ordinal, bar, barLineFrame, clock, barLine);
        _written++;
        End();
    }

    /// <summary>Audio thread: publishes its progress.</summary>
    public void Publish(long frame, long nextLine, TransportState state)
    {
        Begin();
        _frame = frame;
        _nextLine = nextLine;
        _state = (int)state;
        End();
    }

    /// <summary>Any thread: the newest frame, and the frame of the next bar line.</summary>
    public Playhead Read(out long nextLine)
    {
        while (true)
        {
            var version = Volatile.Read(ref _version);
            if ((version & 1) == 0)
            {
                var playhead = Find(_frame);
                nextLine = _nextLine;
                Interlocked.MemoryBarrier();
                if (Volatile.Read(ref _version) == version)
                {
                    return playhead;
                }
            }
        }
    }

    /// <summary>Any thread: the place in the music at a recent frame, or at a future one if nothing changes.</summary>
    public Playhead At(long frame)
    {
        while (true)
        {
            var version = Volatile.Read(ref _version);
            if ((version & 1) == 0)
            {
                var playhead = Find(frame);
                Interlocked.MemoryBarrier();
                if (Volatile.Read(ref _version) == version)
                {
                    return playhead;
                }
            }
        }
    }

    private Playhead Find(long frame)
    {
        var state = (TransportState)_state;
        var written = _written;
        for (var i = written - 1; i >= 0 && i >= written - Kept; i--)
        {
            var mark = _marks[i % Kept];
            if (mark.From <= frame)
            {
                return new Playhead(state, frame, mark.Ordinal, mark.Bar, mark.BarLineFrame, mark.Clock, mark.BarLine);
            }
        }

        return new Playhead(state, frame, -1, null, 0, default, default);
    }

    private void Begin()
    {
        Volatile.Write(ref _version, _version + 1);
        Interlocked.MemoryBarrier();
    }

    private void End() => Volatile.Write(ref _version, _version + 1);

    private readonly record struct Entry(long From, int Ordinal, Bar Bar, long BarLineFrame, FrameClock Clock, Position BarLine);
}
