using GrooveLab.Audio.Failures;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Keeps a <see cref="BarPreparer"/> filled while music plays, on a thread of its own. It looks every few milliseconds, because the
/// audio thread wakes nobody, and at once when it is told to.
/// </summary>
internal sealed class ComposerThread : IDisposable
{
    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(5);

    private readonly Action _turn;
    private readonly FailureLog _failures;
    private readonly AutoResetEvent _news = new(initialState: false);
    private readonly Thread _thread;
    private volatile bool _done;

    /// <param name="turn">What is done at each look; what it throws is recorded, and the next look comes all the same.</param>
    /// <param name="failures">Where that is recorded.</param>
    public ComposerThread(Action turn, FailureLog failures)
    {
        _turn = turn;
        _failures = failures;
        _thread = new Thread(Run) { IsBackground = true, Name = "composer" };
    }

    /// <summary>Begins.</summary>
    public void Start() => _thread.Start();

    /// <summary>Has it look now.</summary>
    public void Wake() => _news.Set();

    /// <summary>Ends it and waits until it has ended.</summary>
    public void Dispose()
    {
        _done = true;
        _news.Set();
        if (_thread.IsAlive)
        {
            _thread.Join();
        }

        _news.Dispose();
    }

    private void Run()
    {
        while (!_done)
        {
            try
            {
                _turn();
            }
#pragma warning disable CA1031 // An exception that leaves this thread ends the process in the middle of the music; it is recorded.
            catch (Exception failure)
#pragma warning restore CA1031
            {
                _failures.Add("composing", failure);
            }

            _news.WaitOne(Interval);
        }
    }
}
