using NAudio.Wave;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>
/// A thread that does nothing but read a source, block by block when told to, and says how many bytes it has allocated.
/// </summary>
/// <remarks>
/// The composer's work, which allocates, stays with the test's thread. A thread that has allocated once owns some room for more, and a
/// collection, which other tests may cause, books the unused rest of it as allocated. A thread may have allocated in coming to life, so it
/// begins with a collection, after which it owns none; the source must be warm before it is made, and a single allocation shows.
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
