using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>The kinds of pending events, in their order within a frame.</summary>
internal enum PendingKind
{
    /// <summary>The bar line at which a new epoch begins.</summary>
    Switch,

    /// <summary>The end of the music.</summary>
    End,

    /// <summary>A place on the grid of the MIDI clock.</summary>
    Clock,

    /// <summary>The end of a note.</summary>
    Off,

    /// <summary>A band starts: its programs, levels and pans.</summary>
    Band,

    /// <summary>A controller step.</summary>
    Control,

    /// <summary>The start of a note.</summary>
    On,
}

/// <summary>An event that will take effect on a frame.</summary>
internal struct PendingEvent
{
    /// <summary>The kind.</summary>
    public PendingKind Kind;

    /// <summary>The bar of the performance to which it belongs.</summary>
    public int Ordinal;

    /// <summary>The epoch to which it belongs.</summary>
    public int Epoch;

    /// <summary>The note or step; for the end of a note, the note.</summary>
    public PreparedEvent Event;

    /// <summary>The earliest frame for it.</summary>
    public long Earliest;

    /// <summary>The sounding note that it ends.</summary>
    public long Note;

    /// <summary>The bar of a switch, an end or a band.</summary>
    public PreparedBar? Bar;

    /// <summary>The place that determines its frame.</summary>
    public readonly Position Place => Kind == PendingKind.Off ? Event.Until : Event.At;

    /// <summary>Its offset from that place, in frames.</summary>
    public readonly int Offset => Kind == PendingKind.Off ? Event.EndOffset : Event.Offset;
}

/// <summary>
/// The events waiting for their frame, in a heap ordered by frame, then kind (ends of notes before starts), then
/// order of arrival. The constructor allocates all memory.
/// </summary>
internal sealed class PendingEvents
{
    private readonly PendingEvent[] _events;
    private readonly int[] _free;
    private readonly Entry[] _heap;
    private int _freeCount;
    private long _sequence;

    /// <param name="capacity">The highest number of waiting events.</param>
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

    /// <summary>The number of waiting events.</summary>
    public int Count { get; private set; }

    /// <summary>The frame of the next event; the largest frame number if none waits.</summary>
    public long NextFrame => Count == 0 ? long.MaxValue : _heap[0].Frame;

    /// <summary>Adds an event; false if there is no room.</summary>
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

    /// <summary>Removes the next event.</summary>
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

    /// <summary>Recomputes every frame.</summary>
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
    /// Removes the starts of bars from a given one on, and moves the ends of notes that they have already started forward to a frame.
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

    /// <summary>Removes everything.</summary>
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
