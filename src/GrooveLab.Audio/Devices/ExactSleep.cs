using System.Diagnostics;
using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Devices;

/// <summary>Waits for short times more exactly than <see cref="Thread.Sleep(int)"/>, which counts whole milliseconds.</summary>
internal static unsafe partial class ExactSleep
{
    private const double ShortestSeconds = 0.00002;

    /// <summary>Waits, as exactly as the system can; not at all for less than a fiftieth of a millisecond.</summary>
    public static void For(double seconds)
    {
        if (seconds < ShortestSeconds)
        {
            return;
        }

        if (OperatingSystem.IsLinux())
        {
            var time = new Time { Seconds = (nint)Math.Floor(seconds), Nanoseconds = (nint)((seconds - Math.Floor(seconds)) * 1e9) };
            _ = Sleep(&time, null);
            return;
        }

        // Elsewhere the system wakes late by up to a timer's step, so the rest is spent turning.
        var end = Stopwatch.GetTimestamp() + (long)(seconds * Stopwatch.Frequency);
        if (seconds > 0.003)
        {
            Thread.Sleep((int)((seconds - 0.002) * 1000));
        }

        while (Stopwatch.GetTimestamp() < end)
        {
            Thread.SpinWait(20);
        }
    }

    private struct Time
    {
        public nint Seconds;
        public nint Nanoseconds;
    }

    [LibraryImport("libc", EntryPoint = "nanosleep")]
    private static partial int Sleep(Time* time, Time* rest);
}
