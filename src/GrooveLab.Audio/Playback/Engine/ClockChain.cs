using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// The clocks of the music from now as far as it is known: one <see cref="FrameClock"/> for each stretch of constant tempo,
/// anchored on the whole frame where the stretch begins. Places are those of the performance (<see cref="PreparedBar.Base"/>).
/// </summary>
/// <remarks>
/// Nothing here can overflow for numbers that <see cref="BarPreparer"/> passes: places with denominators of at most 44 bits, tempi and
/// speeds within <see cref="Exactness"/>.
/// </remarks>
internal sealed class ClockChain(int sampleRate)
{
    private const int Capacity = 2048;

    private readonly Stretch[] _stretches = new Stretch[Capacity];
    private int _count;

    /// <summary>The speed as a factor on the written tempo; 1 is as written.</summary>
    public Rational Speed { get; private set; } = Rational.One;

    /// <summary>The number of known stretches.</summary>
    public int Count => _count;

    /// <summary>Adds a tempo from a place on; the chain so far determines the frame of the place.</summary>
    public void Add(Position from, Tempo written, int ordinal) => AddAt(from, FrameAt(from), written, ordinal);

    /// <summary>Adds a tempo from a place on, with the frame of that place.</summary>
    public void AddAt(Position from, long frame, Tempo written, int ordinal)
    {
        var clock = new FrameClock(from, frame, Effective(written), sampleRate);
        if (_count > 0 && _stretches[_count - 1].Clock.Anchor == from)
        {
            // A later tempo for the same place, which is already known.
            _stretches[_count - 1] = new Stretch(clock, written, _stretches[_count - 1].Ordinal);
            return;
        }

        if (_count == Capacity)
        {
            Trim(_stretches[1].Clock.AnchorFrame);
        }

        _stretches[_count++] = new Stretch(clock, written, ordinal);
    }

    /// <summary>Adds the tempi of a bar, which follow those before it; the line of the first bar is on <paramref name="line"/>.</summary>
    public void Follow(ReadOnlySpan<(Position At, Tempo Tempo)> tempi, int ordinal, long line)
    {
        if (_count == 0)
        {
            AddAt(tempi[0].At, line, tempi[0].Tempo, ordinal);
        }

        foreach (var (at, tempo) in tempi)
        {
            if (tempo != LastWritten)
            {
                Add(at, tempo, ordinal);
            }
        }
    }

    /// <summary>The frame of a place.</summary>
    public long FrameAt(Position place)
    {
        var i = _count - 1;
        while (i > 0 && _stretches[i].Clock.Anchor > place)
        {
            i--;
        }

        return FrameIn(_stretches[i].Clock, place);
    }

    /// <summary>The clock at a frame.</summary>
    public FrameClock ClockAt(long frame) => _stretches[IndexAt(frame)].Clock;

    /// <summary>The written tempo at the end of the known stretches.</summary>
    public Tempo LastWritten => _stretches[_count - 1].Written;

    /// <summary>The first stretch that begins after one frame and no later than another; false if none does.</summary>
    public bool TryNextChange(long after, long upTo, out FrameClock clock)
    {
        for (var i = 0; i < _count; i++)
        {
            clock = _stretches[i].Clock;
            if (clock.AnchorFrame > after)
            {
                return clock.AnchorFrame <= upTo;
            }
        }

        clock = default;
        return false;
    }

    /// <summary>
    /// Changes the speed from a frame on. The place reached there becomes the new anchor, on that frame; later stretches are recomputed.
    /// </summary>
    public void SetSpeed(long frame, Rational speed)
    {
        Speed = speed;
        if (_count == 0)
        {
            return;
        }

        var i = IndexAt(frame);
        ref var now = ref _stretches[i];
        var anchor = now.Clock.Anchor;
        var anchorFrame = now.Clock.AnchorFrame;
        if (frame > anchorFrame)
        {
            anchor = Exactness.PlaceReached(now.Clock, frame);
            anchorFrame = frame;
        }

        // Past stretches keep their tempo; they stay only for late notes.
        now.Clock = new FrameClock(anchor, anchorFrame, Effective(now.Written), sampleRate);
        for (i++; i < _count; i++)
        {
            ref var next = ref _stretches[i];
            var at = FrameIn(_stretches[i - 1].Clock, next.Clock.Anchor);
            next.Clock = new FrameClock(next.Clock.Anchor, at, Effective(next.Written), sampleRate);
        }
    }

    /// <summary>Removes what the bars from a given one on have added.</summary>
    public void RemoveFrom(int ordinal)
    {
        while (_count > 1 && _stretches[_count - 1].Ordinal >= ordinal)
        {
            _count--;
        }
    }

    /// <summary>Removes the stretches that ended before a frame.</summary>
    public void Trim(long frame)
    {
        var over = 0;
        while (over + 1 < _count && _stretches[over + 1].Clock.AnchorFrame <= frame)
        {
            over++;
        }

        if (over > 0)
        {
            Array.Copy(_stretches, over, _stretches, 0, _count - over);
            _count -= over;
        }
    }

    private int IndexAt(long frame)
    {
        var i = _count - 1;
        while (i > 0 && _stretches[i].Clock.AnchorFrame > frame)
        {
            i--;
        }

        return i;
    }

    private static long FrameIn(in FrameClock clock, Position place) => clock.FrameAt(Exactness.Against(clock.Anchor, place));

    private Tempo Effective(Tempo written) => new(written.WholesPerMinute * Speed);

    private record struct Stretch(FrameClock Clock, Tempo Written, int Ordinal);
}
