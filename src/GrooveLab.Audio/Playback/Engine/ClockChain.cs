using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// The clocks of the music from now to as far as it is known: one <see cref="FrameClock"/> for each stretch of one tempo, each
/// anchored on the whole frame where its stretch begins. Places are those of the performance (<see cref="PreparedBar.Base"/>).
/// </summary>
/// <remarks>
/// Nothing here can overflow on what <see cref="BarPreparer"/> lets through: places with at most 44 bits below the line, tempi and
/// speeds within <see cref="Exactness"/>.
/// </remarks>
internal sealed class ClockChain(int sampleRate)
{
    private const int Capacity = 2048;

    private readonly Stretch[] _stretches = new Stretch[Capacity];
    private int _count;

    /// <summary>How much faster than written; 1 is as written.</summary>
    public Rational Speed { get; private set; } = Rational.One;

    /// <summary>How many stretches are known.</summary>
    public int Count => _count;

    /// <summary>Adds what holds from a place on, which stands on the frame where the chain so far puts it.</summary>
    public void Add(Position from, Tempo written, int ordinal) => AddAt(from, FrameAt(from), written, ordinal);

    /// <summary>Adds what holds from a place on, with the frame on which that place stands.</summary>
    public void AddAt(Position from, long frame, Tempo written, int ordinal)
    {
        var clock = new FrameClock(from, frame, Effective(written), sampleRate);
        if (_count > 0 && _stretches[_count - 1].Clock.Anchor == from)
        {
            // A later word about the same place; the place itself was there before.
            _stretches[_count - 1] = new Stretch(clock, written, _stretches[_count - 1].Ordinal);
            return;
        }

        if (_count == Capacity)
        {
            Trim(_stretches[1].Clock.AnchorFrame);
        }

        _stretches[_count++] = new Stretch(clock, written, ordinal);
    }

    /// <summary>Adds the tempi of a bar, which follows the bars before it; the first bar's line stands on <paramref name="line"/>.</summary>
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

    /// <summary>The clock that holds at a frame.</summary>
    public FrameClock ClockAt(long frame) => _stretches[IndexAt(frame)].Clock;

    /// <summary>The tempo as written that holds at the end of what is known.</summary>
    public Tempo LastWritten => _stretches[_count - 1].Written;

    /// <summary>The first stretch that begins after a frame and not after another; false when there is none.</summary>
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
    /// Changes the speed from a frame on. The place reached there becomes the new anchor, on that frame; what comes is set out anew.
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

        // The stretches that are over keep their tempo; they are kept only for notes that came late.
        now.Clock = new FrameClock(anchor, anchorFrame, Effective(now.Written), sampleRate);
        for (i++; i < _count; i++)
        {
            ref var next = ref _stretches[i];
            var at = FrameIn(_stretches[i - 1].Clock, next.Clock.Anchor);
            next.Clock = new FrameClock(next.Clock.Anchor, at, Effective(next.Written), sampleRate);
        }
    }

    /// <summary>Forgets what bars from one on had added.</summary>
    public void RemoveFrom(int ordinal)
    {
        while (_count > 1 && _stretches[_count - 1].Ordinal >= ordinal)
        {
            _count--;
        }
    }

    /// <summary>Forgets the stretches that were over before a frame.</summary>
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
