namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// Carries prepared bars from the composer's side to the audio thread, and used ones back. One thread on each side; nobody waits.
/// Not a judge: which bars count is decided by the audio thread when it takes them.
/// </summary>
internal sealed class BarQueue
{
    /// <summary>How many bars there are in all, waiting, playing or empty.</summary>
    public const int Capacity = 256;

    private readonly Ring<PreparedBar> _ready = new(Capacity);
    private readonly Ring<PreparedBar> _used = new(Capacity);
    private int _accepted;
    private int _refused = -1;

    /// <summary>Makes the queue with all its bars, empty.</summary>
    public BarQueue()
    {
        for (var i = 0; i < Capacity; i++)
        {
            _used.TryWrite(new PreparedBar());
        }
    }

    /// <summary>Bars that wait to be filled, and bars that wait to be taken; only a moment's truth.</summary>
    public (int Empty, int Ready) Waiting => (_used.Count, _ready.Count);

    /// <summary>The newest epoch that the audio thread follows; 0 is the first.</summary>
    public int AcceptedEpoch => Volatile.Read(ref _accepted);

    /// <summary>The newest epoch that came too late for its bar line and was refused; -1 when none was.</summary>
    public int RefusedEpoch => Volatile.Read(ref _refused);

    /// <summary>Composer's side: an empty bar to fill; null when all are in use.</summary>
    public PreparedBar? TakeEmpty()
    {
        if (!_used.TryRead(out var bar))
        {
            return null;
        }

        bar.Clear();
        return bar;
    }

    /// <summary>Composer's side: hands a bar over.</summary>
    public void HandOver(PreparedBar bar) => _ready.TryWrite(bar);

    /// <summary>Audio thread: the next bar handed over.</summary>
    public bool TryTake(out PreparedBar bar) => _ready.TryRead(out bar);

    /// <summary>Audio thread: hands a bar back.</summary>
    public void GiveBack(PreparedBar bar) => _used.TryWrite(bar);

    /// <summary>Audio thread: says that an epoch is followed from now on.</summary>
    public void Accept(int epoch) => Volatile.Write(ref _accepted, epoch);

    /// <summary>Audio thread: says that an epoch came too late.</summary>
    public void Refuse(int epoch) => Volatile.Write(ref _refused, epoch);
}
