namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// Passes prepared bars from the composer to the audio thread, and used ones back. One thread on each side; neither waits.
/// It does not check the bars: the audio thread decides which are valid when it takes them.
/// </summary>
internal sealed class BarQueue
{
    /// <summary>The total number of bars: waiting, playing or empty.</summary>
    public const int Capacity = 256;

    private readonly Ring<PreparedBar> _ready = new(Capacity);
    private readonly Ring<PreparedBar> _used = new(Capacity);
    private int _accepted;
    private int _refused = -1;

    /// <summary>Creates the queue with all its bars, empty.</summary>
    public BarQueue()
    {
        for (var i = 0; i < Capacity; i++)
        {
            _used.TryWrite(new PreparedBar());
        }
    }

    /// <summary>The bars waiting to be filled, and those waiting to be taken; may change at any time.</summary>
    public (int Empty, int Ready) Waiting => (_used.Count, _ready.Count);

    /// <summary>The newest epoch that the audio thread follows; 0 is the first.</summary>
    public int AcceptedEpoch => Volatile.Read(ref _accepted);

    /// <summary>The newest epoch that was refused because it came too late for its bar line; -1 if none was.</summary>
    public int RefusedEpoch => Volatile.Read(ref _refused);

    /// <summary>Composer's side: an empty bar to fill; null if all are in use.</summary>
    public PreparedBar? TakeEmpty()
    {
        if (!_used.TryRead(out var bar))
        {
            return null;
        }

        bar.Clear();
        return bar;
    }

    /// <summary>Composer's side: passes a bar on.</summary>
    public void HandOver(PreparedBar bar) => _ready.TryWrite(bar);

    /// <summary>Audio thread: the next bar.</summary>
    public bool TryTake(out PreparedBar bar) => _ready.TryRead(out bar);

    /// <summary>Audio thread: returns a bar.</summary>
    public void GiveBack(PreparedBar bar) => _used.TryWrite(bar);

    /// <summary>Audio thread: reports that it follows an epoch from now on.</summary>
    public void Accept(int epoch) => Volatile.Write(ref _accepted, epoch);

    /// <summary>Audio thread: reports that an epoch came too late.</summary>
    public void Refuse(int epoch) => Volatile.Write(ref _refused, epoch);
}
