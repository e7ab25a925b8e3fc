using GrooveLab.Music.Bars;

namespace GrooveLab.Audio.Playback;

/// <summary>How far a change of structure has come.</summary>
public enum BarChangeState
{
    /// <summary>Asked for; its bars are not yet composed.</summary>
    Asked,

    /// <summary>Its bars are on their way to the engine.</summary>
    Sent,

    /// <summary>The engine will play it from <see cref="BarChange.Ordinal"/> on, or does already.</summary>
    Settled,

    /// <summary>A later change took its place before it was sent.</summary>
    Superseded,

    /// <summary>The music was over before it could take effect.</summary>
    TooLate,
}

/// <summary>With which bar a change of structure comes in.</summary>
internal enum Entry
{
    /// <summary>The route's own first bar.</summary>
    Route,

    /// <summary>The bar of the number that would have come.</summary>
    SameNumber,

    /// <summary>The bar that the new route puts behind the last one of the old.</summary>
    TakeOver,
}

/// <summary>
/// A change of structure that was asked for: other bars from a bar line on. Read by any thread, written by the composer's.
/// </summary>
public sealed class BarChange
{
    private int _state;
    private int _ordinal = -1;
    private int _epoch = -1;

    internal BarChange(BarRoute route, Entry entry, int? fromBar, int? atOrdinal, long askedFrame)
    {
        Route = route;
        Entry = entry;
        FromBar = fromBar;
        AtOrdinal = atOrdinal;
        AskedFrame = askedFrame;
    }

    /// <summary>What is played from then on.</summary>
    public BarRoute Route { get; private set; }

    /// <summary>How far it has come.</summary>
    public BarChangeState State => (BarChangeState)Volatile.Read(ref _state);

    /// <summary>The bar of the performance from which it holds; -1 while that is open.</summary>
    public int Ordinal => Volatile.Read(ref _ordinal);

    /// <summary>The epoch under which it was last sent, as the engine's reports name it; -1 before.</summary>
    public int Epoch => Volatile.Read(ref _epoch);

    /// <summary>The engine's frame when it was asked for.</summary>
    public long AskedFrame { get; }

    internal Entry Entry { get; }

    internal int? FromBar { get; }

    internal int? AtOrdinal { get; }

    internal void Send(int ordinal, int epoch)
    {
        Volatile.Write(ref _epoch, epoch);
        Set(BarChangeState.Sent, ordinal);
    }

    internal void Set(BarChangeState state, int ordinal)
    {
        Volatile.Write(ref _ordinal, ordinal);
        Volatile.Write(ref _state, (int)state);
    }

    internal void Enter(BarRoute route) => Route = route;
}
