using System.Diagnostics;
using System.Globalization;
using GrooveLab.Testing;

namespace GrooveLab.RealTimeCheck;

/// <summary>
/// Tells the machine's own standstills from the program's: a process that does nothing but sleep for a millisecond, before everything else on
/// its core, notes each time that it came late. What holds that up (a host that lends the core to others, a limit on CPU time) holds up
/// everybody, and no program can play through it.
/// </summary>
internal static class Standstill
{
    /// <summary>The file into which a player writes when its audio thread came late; set by whoever starts it.</summary>
    public const string LateFile = "GROOVELAB_CHECK_LATE";

    private const double LeastMilliseconds = 5;

    /// <summary>Prints each standstill, from when to when by <see cref="Stopwatch.GetTimestamp"/>, which all processes share on Linux.</summary>
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

    /// <summary>Writes a player's late reads where they were asked for.</summary>
    public static void Tell(FrameCounterTap tap)
    {
        if (Environment.GetEnvironmentVariable(LateFile) is { Length: > 0 } file)
        {
            File.WriteAllLines(file, tap.LateReads.Select(late =>
                $"{late.From.ToString(CultureInfo.InvariantCulture)} {late.To.ToString(CultureInfo.InvariantCulture)}"));
        }
    }

    /// <summary>
    /// How often the audio thread came later than the device's buffer lasts, and how often of these it would have come in time but for
    /// standstills within.
    /// </summary>
    /// <param name="lateFile">Of <see cref="Tell"/>.</param>
    /// <param name="standstillFiles">Of <see cref="Watch"/>, one a core.</param>
    /// <param name="bufferMilliseconds">The device's buffer, in eight periods: seven of them are left when it wakes the player.</param>
    public static (int Late, int Explained) Judge(string lateFile, IEnumerable<string> standstillFiles, int bufferMilliseconds) =>
        Standstills.Judge(Read(lateFile), standstillFiles.SelectMany(Read), Stopwatch.Frequency * bufferMilliseconds * 7 / 8000);

    private static IEnumerable<(long From, long To)> Read(string file) =>
        (File.Exists(file) ? File.ReadLines(file) : []).Select(line => line.Split(' ')).Where(parts => parts.Length == 2)
            .Select(parts => (long.Parse(parts[0], CultureInfo.InvariantCulture), long.Parse(parts[1], CultureInfo.InvariantCulture)));
}
