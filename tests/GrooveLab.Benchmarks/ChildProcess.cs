using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;

namespace GrooveLab.Benchmarks;

/// <summary>A finished child process: its output and its cost.</summary>
/// <param name="Output">Standard output.</param>
/// <param name="CpuSeconds">User and system time of all its threads.</param>
/// <param name="UserSeconds">Of this, the user time.</param>
/// <param name="WallSeconds">Seconds from start to exit.</param>
/// <param name="PeakMegabytes">Peak resident memory, polled every few milliseconds.</param>
internal sealed partial record ChildProcess(string Output, double CpuSeconds, double UserSeconds, double WallSeconds, double PeakMegabytes)
{
    private const int Children = -1;
    private const int ThreadCpuClock = 3;

    /// <summary>Runs a command to its end. Run only one at a time, or the costs mix.</summary>
    public static ChildProcess Run(string command, params string[] arguments)
    {
        var (user, system) = ChildrenSeconds();
        var clock = Stopwatch.StartNew();
        var start = new ProcessStartInfo(command, arguments) { UseShellExecute = false, RedirectStandardOutput = true };
        using var process = Process.Start(start) ?? throw new InvalidOperationException($"{command} did not start");
        var output = process.StandardOutput.ReadToEndAsync();
        var peak = 0.0;
        while (!process.WaitForExit(5))
            peak = Math.Max(peak, ResidentMegabytes(process.Id, "VmHWM"));
        process.WaitForExit();
        var wall = clock.Elapsed.TotalSeconds;
        if (process.ExitCode != 0)
            throw new InvalidOperationException($"{command} ended with exit code {process.ExitCode}");
        var (userNow, systemNow) = ChildrenSeconds();
        return new ChildProcess(output.GetAwaiter().GetResult(), userNow - user + systemNow - system, userNow - user, wall, peak);
    }

    /// <summary>Resident memory as the system reports it: <c>VmRSS</c> now, <c>VmHWM</c> the peak so far.</summary>
    public static double ResidentMegabytes(int process, string line)
    {
        try
        {
            var text = File.ReadLines($"/proc/{process}/status").FirstOrDefault(l => l.StartsWith(line, StringComparison.Ordinal));
            return text is null ? 0 : double.Parse(text.Split(' ', StringSplitOptions.RemoveEmptyEntries)[1], CultureInfo.InvariantCulture) / 1024;
        }
        catch (IOException)
        {
            // The process ended between two samples.
            return 0;
        }
    }

    /// <summary>CPU time of the calling thread, without the time that other programs take from it.</summary>
    public static unsafe double ThreadCpuSeconds()
    {
        var time = stackalloc long[2];
        return clock_gettime(ThreadCpuClock, time) == 0 ? time[0] + (time[1] * 1e-9) : throw new InvalidOperationException("no thread clock");
    }

    private static unsafe (double User, double System) ChildrenSeconds()
    {
        // struct rusage: two timevals, then fourteen longs.
        var usage = stackalloc long[18];
        if (getrusage(Children, usage) != 0)
            throw new InvalidOperationException("no resource usage of child processes");
        return (usage[0] + (usage[1] * 1e-6), usage[2] + (usage[3] * 1e-6));
    }

    [LibraryImport("libc")]
    private static unsafe partial int getrusage(int who, long* usage);

    [LibraryImport("libc")]
    private static unsafe partial int clock_gettime(int clock, long* time);
}
