using GrooveLab.Audio.Failures;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Keeps a <see cref="BarPreparer"/> filled while music plays, on a thread of its own. It checks every few milliseconds, because the
/// audio thread wakes no other thread, and at once on request.
/// </summary>
internal sealed class ComposerThread : IDisposable
{
    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(5);

    private readonly Action _turn;
    private readonly FailureLog _failures;
    private readonly AutoResetEvent _news = new(initialState: false);
    private readonly Thread _thread;
    private volatile bool _done;

    /// <param name="turn">The work of each turn. An exception is recorded, and the next turn follows as usual.</param>
    /// <param name="failures">Records exceptions.</param>
    public ComposerThread(Action turn, FailureLog failures)
    {
        _turn = turn;
        _failures = failures;
        _thread = new Thread(Run) { IsBackground = true, Name = "composer" };
    }

    /// <summary>Starts the thread.</summary>
    public void Start() => _thread.Start();

    /// <summary>Requests a check now.</summary>
    public void Wake() => _news.Set();

    /// <summary>Stops the thread and waits for its end.</summary>
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
#pragma warning disable CA1031 // An exception that escapes from this thread would end the process during the music; it is recorded.
            catch (Exception failure)
#pragma warning restore CA1031
            {
                _failures.Add("composing", failure);
            }

            _news.WaitOne(Interval);
        }
    }
}
