using System.Diagnostics;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Measures the time from the start of the program to its first sound, and its memory, and compares them with fluidsynth and a small bank.
/// Each time is that of a whole process; the two take turns.
/// </summary>
internal static class StartBenchmark
{
    private const int Runs = 7;
    private const string SmallBank = "/usr/share/sounds/sf2/TimGM6mb.sf2";

    public static int Run(string program, string chart)
    {
        var folder = Directory.CreateTempSubdirectory("groovelab-start-").FullName;
        try
        {
            var midi = Path.Combine(folder, "one.mid");
            File.WriteAllBytes(midi, OneNote());
            var cold = Path.Combine(folder, "cold");
            string[] play = ["render", chart, "-o", Path.Combine(folder, "a.wav"), "--bars", "1", "--no-count-in", "--tail", "0", "--force"];
            var first = new List<Sample>();
            var again = new List<Sample>();
            var peer = new List<Sample>();
            for (var run = 0; run < Runs; run++)
            {
                // The first start makes the built-in bank; later ones find it in the cache.
                var cache = Path.Combine(cold, run.ToString());
                first.Add(Time(program, play, cache));
                again.Add(Time(program, play, cache));
                if (File.Exists(SmallBank))
                {
                    peer.Add(Time("fluidsynth", ["-ni", "-F", Path.Combine(folder, "b.wav"), SmallBank, midi], cache));
                }
            }

            Console.WriteLine($"start to the end of one rendered bar, whole process, median of {Runs} runs");
            Print("first start (makes the bank)", first);
            Print("later starts", again);
            if (peer.Count > 0)
            {
                Print("fluidsynth, small bank, one note", peer);
                Console.WriteLine($"ratio of later starts to fluidsynth: {Median(again, s => s.Seconds) / Median(peer, s => s.Seconds):0.00}");
            }

            return 0;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static void Print(string what, List<Sample> samples) =>
        Console.WriteLine($"{what,-36}{Median(samples, s => s.Seconds) * 1000,8:0} ms {Median(samples, s => s.Megabytes),8:0.0} MB resident");

    private static double Median(List<Sample> samples, Func<Sample, double> value) => samples.Select(value).Order().ElementAt(samples.Count / 2);

    private static Sample Time(string command, string[] arguments, string cache)
    {
        var start = new ProcessStartInfo("/usr/bin/env", [command, .. arguments]) { RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false };
        start.Environment["XDG_CACHE_HOME"] = cache;
        var began = Stopwatch.GetTimestamp();
        using var process = Process.Start(start)!;
        var output = process.StandardOutput.ReadToEndAsync();
        var error = process.StandardError.ReadToEndAsync();
        long peak = 0;
        while (!process.WaitForExit(2))
        {
            peak = Math.Max(peak, Resident(process));
        }

        var seconds = Stopwatch.GetElapsedTime(began).TotalSeconds;
        _ = output.Result + error.Result;
        return process.ExitCode == 0
            ? new Sample(seconds, peak / 1_000_000.0)
            : throw new InvalidOperationException($"{command} ended with exit code {process.ExitCode}: {error.Result}");
    }

    private static long Resident(Process process)
    {
        try
        {
            process.Refresh();
            return process.WorkingSet64;
        }
        catch (InvalidOperationException)
        {
            // The process ended between two samples.
            return 0;
        }
    }

    // The shortest Standard MIDI File: format 0, one quarter note.
    private static byte[] OneNote() =>
    [
        0x4D, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, 0, 96,
        0x4D, 0x54, 0x72, 0x6B, 0, 0, 0, 12, 0, 0x90, 60, 100, 96, 0x80, 60, 64, 0, 0xFF, 0x2F, 0,
    ];

    private readonly record struct Sample(double Seconds, double Megabytes);
}
