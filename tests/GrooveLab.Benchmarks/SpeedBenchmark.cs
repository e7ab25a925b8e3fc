namespace GrooveLab.Benchmarks;

/// <summary>
/// Compares whole processes with Debian's <c>fluidsynth -F</c>: programs, banks, a dense and a sparse file, with and without effects, in turn.
/// Prints a table of medians.
/// </summary>
internal static class SpeedBenchmark
{
    private const int SparseSeconds = 20;

    /// <summary>Runs all measurements.</summary>
    /// <param name="programs">The programs, each with the name for the table before an equals sign.</param>
    /// <param name="banks">The banks' files.</param>
    /// <param name="runs">The number of runs of each.</param>
    public static int Run(IReadOnlyList<string> programs, IReadOnlyList<string> banks, int runs)
    {
        var folder = Directory.CreateTempSubdirectory("groovelab-speed");
        try
        {
            Console.WriteLine($"Load before: {File.ReadAllText("/proc/loadavg").Trim()}; medians of {runs} runs in turn; seconds of user time, and with system time.");
            Console.WriteLine();
            Console.WriteLine("| bank | file | effects | program | user | fluidsynth | ratio | user and system | fluidsynth | ratio |");
            Console.WriteLine("|---|---|---|---|---:|---:|---:|---:|---:|---:|");
            foreach (var bank in banks)
            {
                foreach (var (name, events) in new[] { ("dense", SynthScore.Events()), ("sparse", Sparse()) })
                {
                    var score = Path.Combine(folder.FullName, name + ".mid");
                    SynthMidiFile.Write(score, events);
                    foreach (var wet in new[] { false, true })
                    {
                        Compare(programs, bank, name, score, wet, folder.FullName, runs);
                    }
                }
            }

            return 0;
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    // A note every half second, as a player practises with one instrument.
    private static List<(int Tick, byte[] Message)> Sparse() =>
    [
        .. Enumerable.Range(0, SparseSeconds * 2).SelectMany(i => new (int, byte[])[]
        {
            (i * SynthScore.TicksPerSecond / 2, [0x90, (byte)(60 + (i % 12)), 90]), ((i + 1) * SynthScore.TicksPerSecond / 2, [0x80, (byte)(60 + (i % 12)), 0]),
        }).OrderBy(one => one.Item1).ThenBy(one => (one.Item2[0] & 0xf0) == 0x90 ? 1 : 0),
    ];

    private static void Compare(IReadOnlyList<string> programs, string bank, string name, string score, bool wet, string folder, int runs)
    {
        var ours = programs.ToDictionary(program => program, _ => new List<ChildProcess>());
        var theirs = new List<ChildProcess>();
        var output = Path.Combine(folder, "out.wav");
        string[] dry = wet ? [] : ["--dry"];
        for (var i = 0; i < runs; i++)
        {
            theirs.Add(ChildProcess.Run(
                "fluidsynth", "-ni", "-q", "-F", output, "-r", $"{SynthChild.Rate}", "-R", wet ? "1" : "0", "-C", wet ? "1" : "0", "-o", "synth.polyphony=256",
                bank, score));
            foreach (var program in programs)
            {
                ours[program].Add(ChildProcess.Run(
                    program[(program.IndexOf('=', StringComparison.Ordinal) + 1)..], ["render", score, "--bank", bank, "-o", output, "--force", .. dry]));
            }
        }

        var (theirUser, theirCpu) = (Median(theirs, run => run.UserSeconds), Median(theirs, run => run.CpuSeconds));
        foreach (var program in programs)
        {
            var (user, cpu) = (Median(ours[program], run => run.UserSeconds), Median(ours[program], run => run.CpuSeconds));
            Console.WriteLine(
                $"| {Path.GetFileName(bank)} | {name} | {(wet ? "wet" : "dry")} | {program.Split('=')[0]} | {user:F2} | {theirUser:F2} | 1/{theirUser / user:F2} "
                + $"| {cpu:F2} | {theirCpu:F2} | 1/{theirCpu / cpu:F2} |");
        }
    }

    private static double Median(List<ChildProcess> runs, Func<ChildProcess, double> of)
    {
        var sorted = runs.Select(of).Order().ToArray();
        return (sorted[(sorted.Length - 1) / 2] + sorted[sorted.Length / 2]) / 2;
    }
}
