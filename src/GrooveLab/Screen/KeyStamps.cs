using System.Collections.Concurrent;
using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>
/// The arrival times of keys, to the millisecond: the screen's library polls every 10 to 30 ms, which is too coarse for a tapped tempo. A
/// thread waits for input without reading it and notes the time.
/// </summary>
internal sealed partial class KeyStamps : IDisposable
{
    private const int Kept = 16;
    private const short Readable = 1;

    private readonly ConcurrentQueue<long> _stamps = new();
    private volatile bool _done;

    /// <summary>Starts watching, if the system allows it.</summary>
    public KeyStamps()
    {
        if (OperatingSystem.IsLinux())
        {
            new Thread(TryWatch) { IsBackground = true, Name = "keys" }.Start();
        }
    }

    /// <summary>The time of the oldest key not yet requested; the current time if unknown.</summary>
    public long Take()
    {
        var now = Stopwatch.GetTimestamp();
        while (_stamps.TryDequeue(out var stamp))
        {
            // An old time that was never requested belonged to something else: the terminal's replies arrive by the same route.
            if (now - stamp < Stopwatch.Frequency / 10)
            {
                return stamp;
            }
        }

        return now;
    }

    /// <inheritdoc/>
    public void Dispose() => _done = true;

    [SupportedOSPlatform("linux")]
    private void TryWatch()
    {
        try
        {
            Watch();
        }
#pragma warning disable CA1031 // An exception would end the program; without this thread, key times are only less exact. It is recorded.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Survived.Failures.Add("timing keys", failure);
        }
    }

    [SupportedOSPlatform("linux")]
    private void Watch()
    {
        var input = new PollItem { Descriptor = 0, Events = Readable };
        while (!_done)
        {
            if (Poll(ref input, 1, 100) <= 0 || (input.Returned & Readable) == 0)
            {
                if ((input.Returned & ~Readable) != 0)
                {
                    return;
                }

                continue;
            }

            _stamps.Enqueue(Stopwatch.GetTimestamp());
            while (_stamps.Count > Kept)
            {
                _stamps.TryDequeue(out _);
            }

            // Until the input is read, it would be reported again and again.
            while (!_done && Poll(ref input, 1, 0) > 0 && (input.Returned & Readable) != 0)
            {
                Thread.Sleep(1);
            }
        }
    }

    [LibraryImport("libc", EntryPoint = "poll")]
    [SupportedOSPlatform("linux")]
    private static partial int Poll(ref PollItem items, nuint count, int milliseconds);

    [StructLayout(LayoutKind.Sequential)]
    private struct PollItem
    {
        public int Descriptor;
        public short Events;
        public short Returned;
    }
}
