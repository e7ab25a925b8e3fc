using NAudio.Wave;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>
/// A thread that only reads a source, block by block on request, and reports how many bytes it has allocated.
/// </summary>
/// <remarks>
/// The composer allocates and stays on the test's thread. A thread that has allocated once owns an allocation buffer, and a garbage
/// collection, which other tests may cause, counts the unused rest of that buffer as allocated. A thread may allocate while it starts, so it
/// begins with a collection, after which it owns no buffer. Warm up the source before creating this thread; then a single allocation shows.
/// </remarks>
internal sealed class AudioThreadStandIn : IDisposable
{
    private readonly Thread _thread;
    private readonly float[] _block;
    private int _asked;
    private int _done;
    private long _allocated;
    private volatile bool _over;

    public AudioThreadStandIn(ISampleProvider source, int frames)
    {
        _block = new float[2 * frames];
        _thread = new Thread(() => Run(source)) { IsBackground = true };
        _thread.Start();
    }

    public long AllocatedBytes => Volatile.Read(ref _allocated);

    public void Read()
    {
        var turn = _asked + 1;
        Volatile.Write(ref _asked, turn);
        while (Volatile.Read(ref _done) != turn)
        {
            Thread.Yield();
        }
    }

    public void Dispose()
    {
        _over = true;
        _thread.Join();
    }

    private void Run(ISampleProvider source)
    {
        GC.Collect(0);
        var before = GC.GetAllocatedBytesForCurrentThread();
        while (!_over)
        {
            var turn = Volatile.Read(ref _asked);
            if (turn == _done)
            {
                Thread.Yield();
                continue;
            }

            source.Read(_block);
            Volatile.Write(ref _allocated, GC.GetAllocatedBytesForCurrentThread() - before);
            Volatile.Write(ref _done, turn);
        }
    }
}
