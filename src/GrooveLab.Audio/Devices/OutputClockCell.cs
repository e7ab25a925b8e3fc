using System.Diagnostics;

namespace GrooveLab.Audio.Devices;

/// <summary>One writer (the audio thread) publishes an <see cref="OutputClock"/>; any thread reads it whole, and none waits.</summary>
internal sealed class OutputClockCell
{
    private long _version;
    private long _framesPulled;
    private long _delayFrames;
    private long _timestamp;

    /// <summary>Audio thread: publishes the position with the current time.</summary>
    public void Publish(long framesPulled, long delayFrames)
    {
#pragma warning disable RS0030 // Not musical time: it tells other threads when this position was true, and reading the counter does not wait.
        var timestamp = Stopwatch.GetTimestamp();
#pragma warning restore RS0030

        // Odd while being written: a reader that sees an odd or a changed version reads again.
        Interlocked.Increment(ref _version);
        Volatile.Write(ref _framesPulled, framesPulled);
        Volatile.Write(ref _delayFrames, delayFrames);
        Volatile.Write(ref _timestamp, timestamp);
        Interlocked.Increment(ref _version);
    }

    /// <summary>Any other thread: the newest position.</summary>
    public OutputClock Read()
    {
        while (true)
        {
            var before = Volatile.Read(ref _version);
            OutputClock clock = new(
                Volatile.Read(ref _framesPulled),
                Volatile.Read(ref _delayFrames),
                Volatile.Read(ref _timestamp));
            Interlocked.MemoryBarrier();
            if ((before & 1) == 0 && before == Volatile.Read(ref _version))
            {
                return clock;
            }

#pragma warning disable RS0030 // The reader's thread, never the audio thread.
            Thread.SpinWait(4);
#pragma warning restore RS0030
        }
    }
}
