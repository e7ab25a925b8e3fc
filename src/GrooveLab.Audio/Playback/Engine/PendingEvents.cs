using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>What a pending event does, in the order in which events of one frame are done.</summary>
internal enum PendingKind
{
    /// <summary>The bar line at which a new epoch begins.</summary>
    Switch,

    /// <summary>The place where the music is over.</summary>
    End,

    /// <summary>A note's end.</summary>
    Off,

    /// <summary>A band starts: its programs, levels and pans.</summary>
    Band,

    /// <summary>A controller's step.</summary>
    Control,

    /// <summary>A note's beginning.</summary>
    On,
}

/// <summary>Something that will be done on a frame.</summary>
internal struct PendingEvent
{
    /// <summary>What.</summary>
    public PendingKind Kind;

    /// <summary>The bar of the performance that it belongs to.</summary>
    public int Ordinal;

    /// <summary>The epoch that it belongs to.</summary>
    public int Epoch;

    /// <summary>The note or step; of an end of a note, the note.</summary>
    public PreparedEvent Event;

    /// <summary>The earliest frame on which it may be done.</summary>
    public long Earliest;

    /// <summary>Which sounding note an end ends.</summary>
    public long Note;

    /// <summary>The bar that a switch, an end or a band comes from.</summary>
    public PreparedBar? Bar;

    /// <summary>The place it is counted from.</summary>
    public readonly Position Place => Kind == PendingKind.Off ? Event.Until : Event.At;

    /// <summary>How many frames off that place.</summary>
    public readonly int Offset => Kind == PendingKind.Off ? Event.EndOffset : Event.Offset;
}

/// <summary>
/// The events that wait for their frame, in a heap ordered by frame, then kind (ends of notes before beginnings), then the order in
/// which they came. All its room is taken in the constructor.
/// </summary>
internal sealed class PendingEvents
{
    private readonly PendingEvent[] _events;
    private readonly int[] _free;
    private readonly Entry[] _heap;
    private int _freeCount;
    private long _sequence;

    /// <param name="capacity">Most events that wait at once.</param>
    public PendingEvents(int capacity)
    {
        _events = new PendingEvent[capacity];
        _free = new int[capacity];
        _heap = new Entry[capacity];
        for (var i = 0; i < capacity; i++)
        {
            _free[_freeCount++] = i;
        }
    }

    /// <summary>How many wait.</summary>
    public int Count { get; private set; }

    /// <summary>The frame of the next one; the far future when none waits.</summary>
    public long NextFrame => Count == 0 ? long.MaxValue : _heap[0].Frame;

    /// <summary>Adds one; false when there is no room.</summary>
    public bool TryAdd(in PendingEvent item, long frame)
    {
        if (_freeCount == 0)
        {
            return false;
        }

        var slot = _free[--_freeCount];
        _events[slot] = item;
        _heap[Count] = new Entry(frame, item.Kind, _sequence++, slot);
        RiseFrom(Count++);
        return true;
    }

    /// <summary>Takes out the next one.</summary>
    public PendingEvent Take()
    {
        var slot = _heap[0].Slot;
        var item = _events[slot];
        _events[slot].Bar = null;
        _free[_freeCount++] = slot;
        _heap[0] = _heap[--Count];
        SinkFrom(0);
        return item;
    }

    /// <summary>Computes every frame anew.</summary>
    public void Reframe(ClockChain clocks)
    {
        for (var i = 0; i < Count; i++)
        {
            ref var entry = ref _heap[i];
            ref var item = ref _events[entry.Slot];
            entry = entry with { Frame = Math.Max(item.Earliest, clocks.FrameAt(item.Place) + item.Offset) };
        }

        Rebuild();
    }

    /// <summary>
    /// Takes out what bars from one on would have begun, and brings the ends of notes that they have begun already forward to a frame.
    /// </summary>
    public void RemoveFrom(int ordinal, int epochBefore, Position line, long lineFrame)
    {
        var kept = 0;
        for (var i = 0; i < Count; i++)
        {
            var entry = _heap[i];
            ref var item = ref _events[entry.Slot];
            if (item.Ordinal >= ordinal && item.Epoch < epochBefore)
            {
                if (item.Kind != PendingKind.Off)
                {
                    item.Bar = null;
                    _free[_freeCount++] = entry.Slot;
                    continue;
                }

                if (entry.Frame > lineFrame)
                {
                    item.Event.Until = line;
                    item.Event.EndOffset = 0;
                    entry = entry with { Frame = Math.Max(item.Earliest, lineFrame) };
                }
            }

            _heap[kept++] = entry;
        }

        Count = kept;
        Rebuild();
    }

    /// <summary>Takes out everything.</summary>
    public void Clear()
    {
        for (var i = 0; i < Count; i++)
        {
            _events[_heap[i].Slot].Bar = null;
            _free[_freeCount++] = _heap[i].Slot;
        }

        Count = 0;
    }

    private void Rebuild()
    {
        for (var i = (Count / 2) - 1; i >= 0; i--)
        {
            SinkFrom(i);
        }
    }

    private void RiseFrom(int at)
    {
        var entry = _heap[at];
        while (at > 0)
        {
            var above = (at - 1) / 2;
            if (!entry.ComesBefore(_heap[above]))
            {
                break;
            }

            _heap[at] = _heap[above];
            at = above;
        }

        _heap[at] = entry;
    }

    private void SinkFrom(int at)
    {
        if (at >= Count)
        {
            return;
        }

        var entry = _heap[at];
        while (true)
        {
            var below = (2 * at) + 1;
            if (below >= Count)
            {
                break;
            }

            if (below + 1 < Count && _heap[below + 1].ComesBefore(_heap[below]))
            {
                below++;
            }

            if (!_heap[below].ComesBefore(entry))
            {
                break;
            }

            _heap[at] = _heap[below];
            at = below;
        }

        _heap[at] = entry;
    }

    private readonly record struct Entry(long Frame, PendingKind Kind, long Sequence, int Slot)
    {
        public bool ComesBefore(in Entry other)
        {
            if (Frame != other.Frame)
            {
                return Frame < other.Frame;
            }

            return Kind != other.Kind ? Kind < other.Kind : Sequence < other.Sequence;
        }
    }
}
