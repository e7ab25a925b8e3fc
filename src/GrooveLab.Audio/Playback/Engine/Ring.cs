namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// A queue of fixed size between one writing thread and one reading thread; neither waits, and nothing is allocated after the
/// constructor. Not for several writers: see <see cref="CommandRing{T}"/>.
/// </summary>
internal sealed class Ring<T>
{
    private readonly T[] _slots;
    private readonly int _mask;

    // Each index is written by one side only; both increase and never wrap within the lifetime of a process.
    private long _read;
    private long _written;

    /// <param name="capacity">The capacity, rounded up to a power of two.</param>
    public Ring(int capacity)
    {
        var size = (int)System.Numerics.BitOperations.RoundUpToPowerOf2((uint)capacity);
        _slots = new T[size];
        _mask = size - 1;
    }

    /// <summary>The number of waiting items; from either side, and may change at any time.</summary>
    public int Count => (int)(Volatile.Read(ref _written) - Volatile.Read(ref _read));

    /// <summary>Adds an item; false if the queue is full.</summary>
    public bool TryWrite(in T item)
    {
        var at = _written;
        if (at - Volatile.Read(ref _read) > _mask)
        {
            return false;
        }

        _slots[(int)at & _mask] = item;
        Volatile.Write(ref _written, at + 1);
        return true;
    }

    /// <summary>Removes the oldest item; false if there is none.</summary>
    public bool TryRead(out T item)
    {
        var at = _read;
        if (at == Volatile.Read(ref _written))
        {
            item = default!;
            return false;
        }

        ref var slot = ref _slots[(int)at & _mask];
        item = slot;
        slot = default!;
        Volatile.Write(ref _read, at + 1);
        return true;
    }
}

/// <summary>
/// A queue of fixed size between any number of writing threads and one reading thread. Each slot has a ticket that says whose
/// turn it is, so a delayed writer delays later items but never makes the reader wait.
/// </summary>
internal sealed class CommandRing<T>
    where T : struct
{
    private readonly T[] _slots;
    private readonly long[] _tickets;
    private readonly int _mask;
    private long _claimed;
    private long _read;

    /// <param name="capacity">The capacity, rounded up to a power of two.</param>
    public CommandRing(int capacity)
    {
        var size = (int)System.Numerics.BitOperations.RoundUpToPowerOf2((uint)capacity);
        _slots = new T[size];
        _tickets = new long[size];
        for (var i = 0; i < size; i++)
        {
            _tickets[i] = i;
        }

        _mask = size - 1;
    }

    /// <summary>Adds an item, from any thread; false if the queue is full.</summary>
    public bool TryWrite(in T item)
    {
        while (true)
        {
            var at = Volatile.Read(ref _claimed);
            var turn = Volatile.Read(ref _tickets[(int)at & _mask]);
            if (turn < at)
            {
                return false;
            }

            if (turn == at && Interlocked.CompareExchange(ref _claimed, at + 1, at) == at)
            {
                _slots[(int)at & _mask] = item;
                Volatile.Write(ref _tickets[(int)at & _mask], at + 1);
                return true;
            }
        }
    }

    /// <summary>Removes the oldest item, on the reading thread; false if there is none.</summary>
    public bool TryRead(out T item)
    {
        var at = _read;
        if (Volatile.Read(ref _tickets[(int)at & _mask]) != at + 1)
        {
            item = default;
            return false;
        }

        item = _slots[(int)at & _mask];
        Volatile.Write(ref _tickets[(int)at & _mask], at + _mask + 1);
        _read = at + 1;
        return true;
    }
}
