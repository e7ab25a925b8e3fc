using GrooveLab.Music.Bars;

namespace GrooveLab.Audio.Playback;

/// <summary>The progress of a structural change.</summary>
public enum BarChangeState
{
    /// <summary>Requested; its bars are not yet composed.</summary>
    Asked,

    /// <summary>Its bars are on their way to the engine.</summary>
    Sent,

    /// <summary>The engine plays it from <see cref="BarChange.Ordinal"/> on, now or soon.</summary>
    Settled,

    /// <summary>A later change replaced it before it was sent.</summary>
    Superseded,

    /// <summary>The music ended before it took effect.</summary>
    TooLate,
}

/// <summary>The first bar of a structural change.</summary>
internal enum Entry
{
    /// <summary>The route's own first bar.</summary>
    Route,

    /// <summary>The bar with the number that was due.</summary>
    SameNumber,

    /// <summary>The bar that the new route puts after the last one of the old route.</summary>
    TakeOver,
}

/// <summary>
/// A requested structural change: other bars from a bar line on. Any thread reads it; the composer thread writes it.
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

    /// <summary>The route from then on.</summary>
    public BarRoute Route { get; private set; }

    /// <summary>Its progress.</summary>
    public BarChangeState State => (BarChangeState)Volatile.Read(ref _state);

    /// <summary>The bar of the performance from which it applies; -1 while undecided.</summary>
    public int Ordinal => Volatile.Read(ref _ordinal);

    /// <summary>The epoch under which it was last sent, as in the engine's reports; -1 before.</summary>
    public int Epoch => Volatile.Read(ref _epoch);

    /// <summary>The engine's frame at the request.</summary>
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
