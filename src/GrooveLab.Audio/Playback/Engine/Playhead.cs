using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>What the transport is doing.</summary>
public enum TransportState
{
    /// <summary>Before the first bar.</summary>
    Waiting,

    /// <summary>In the bars; the lead-in is one.</summary>
    Playing,

    /// <summary>The bars are over, and the last notes ring.</summary>
    Ringing,

    /// <summary>All is over.</summary>
    Ended,

    /// <summary>Stopped by command.</summary>
    Stopped,
}

/// <summary>Where the music is at one frame: whole and consistent, never half of one moment and half of another.</summary>
/// <param name="State">What the transport does, as of the newest block.</param>
/// <param name="Frame">The frame this is said of.</param>
/// <param name="Ordinal">The bar of the performance, counted from 0 as bars are played; -1 before the first.</param>
/// <param name="Bar">The bar; null before the first.</param>
/// <param name="BarLineFrame">The frame of its bar line.</param>
/// <param name="Clock">The clock that holds, in places of the performance.</param>
/// <param name="BarLine">The bar line in places of the performance.</param>
public readonly record struct Playhead(
    TransportState State, long Frame, int Ordinal, Bar? Bar, long BarLineFrame, FrameClock Clock, Position BarLine)
{
    /// <summary>The bar's number in its source; -1 in the lead-in and before.</summary>
    public int BarIndex => Bar?.Index ?? -1;

    /// <summary>How far into the bar, exactly.</summary>
    public Span InBar => Bar is null ? Span.Zero : Clock.PlaceAt(Frame) - BarLine;

    /// <summary>How far into the bar, in whole notes, for drawing.</summary>
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

    /// <summary>The tempo that sounds, speed included; null before the first bar.</summary>
    public Tempo? Tempo => Bar is null ? null : Clock.Tempo;
}

/// <summary>
/// Where the audio thread writes where it is, and anybody reads it whole: a counter is odd while it is being written, and who sees
/// it odd or changed reads again. Nobody waits for the reader. It keeps the recent past, because what is heard is older than what
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

    /// <summary>Any thread: how much faster than written the music goes.</summary>
    public double Speed => Volatile.Read(ref _speed);

    /// <summary>Audio thread: the speed that holds from now on.</summary>
    public void PublishSpeed(double speed) => Volatile.Write(ref _speed, speed);

    /// <summary>Audio thread: what holds from a frame on.</summary>
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

    /// <summary>Audio thread: how far it has come.</summary>
    public void Publish(long frame, long nextLine, TransportState state)
    {
        Begin();
        _frame = frame;
        _nextLine = nextLine;
        _state = (int)state;
        End();
    }

    /// <summary>Any thread: the newest frame, and the frame of the bar line that comes next.</summary>
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

    /// <summary>Any thread: where the music was at a frame of the recent past, or will be on if nothing changes.</summary>
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
