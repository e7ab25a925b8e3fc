using System.Diagnostics;
using System.Globalization;
using GrooveLab.Testing;

namespace GrooveLab.RealTimeCheck;

/// <summary>
/// Distinguishes stalls of the machine from those of the program: a process that only sleeps for a millisecond, with the highest priority
/// on its core, notes each time that it wakes late. Whatever delays it (a host that lends the core to others, a limit on CPU time) delays
/// every program, so that none can play without gaps.
/// </summary>
internal static class Standstill
{
    /// <summary>The file to which a player writes when its audio thread was late; set by the starting script.</summary>
    public const string LateFile = "GROOVELAB_CHECK_LATE";

    private const double LeastMilliseconds = 5;

    /// <summary>
    /// Prints the start and end of each stall by <see cref="Stopwatch.GetTimestamp"/>, which all processes share on Linux.
    /// </summary>
    public static int Watch(int seconds)
    {
        var start = Stopwatch.GetTimestamp();
        var last = start;
        while (Stopwatch.GetElapsedTime(start, last).TotalSeconds < seconds)
        {
            Thread.Sleep(1);
            var now = Stopwatch.GetTimestamp();
            if (Stopwatch.GetElapsedTime(last, now).TotalMilliseconds > LeastMilliseconds)
            {
                Console.WriteLine($"{last.ToString(CultureInfo.InvariantCulture)} {now.ToString(CultureInfo.InvariantCulture)}");
            }

            last = now;
        }

        return 0;
    }

    /// <summary>Writes a player's late reads to the requested file.</summary>
    public static void Tell(FrameCounterTap tap)
    {
        if (Environment.GetEnvironmentVariable(LateFile) is { Length: > 0 } file)
        {
            File.WriteAllLines(file, tap.LateReads.Select(late =>
                $"{late.From.ToString(CultureInfo.InvariantCulture)} {late.To.ToString(CultureInfo.InvariantCulture)}"));
        }
    }

    /// <summary>
    /// How often the audio thread was later than the device's buffer lasts, and how often it would have been in time without
    /// stalls.
    /// </summary>
    /// <param name="lateFile">The file of <see cref="Tell"/>.</param>
    /// <param name="standstillFiles">The files of <see cref="Watch"/>, one for each core.</param>
    /// <param name="bufferMilliseconds">The device's buffer, in eight periods; seven remain when it wakes the player.</param>
    public static (int Late, int Explained) Judge(string lateFile, IEnumerable<string> standstillFiles, int bufferMilliseconds) =>
        Standstills.Judge(Read(lateFile), standstillFiles.SelectMany(Read), Stopwatch.Frequency * bufferMilliseconds * 7 / 8000);

    private static IEnumerable<(long From, long To)> Read(string file) =>
        (File.Exists(file) ? File.ReadLines(file) : []).Select(line => line.Split(' ')).Where(parts => parts.Length == 2)
            .Select(parts => (long.Parse(parts[0], CultureInfo.InvariantCulture), long.Parse(parts[1], CultureInfo.InvariantCulture)));
}
