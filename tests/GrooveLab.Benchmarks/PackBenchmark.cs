using System.Diagnostics;
using System.Globalization;
using GrooveLab.Audio.SoundFiles;

namespace GrooveLab.Benchmarks;

/// <summary>Measures how fast the program makes a rehearsal pack: seconds of sound in its files for each second that it takes, with start and index page.</summary>
internal static class PackBenchmark
{
    private const int Runs = 3;

    // The least seconds of sound a second on two cores.
    private const double LeastSpeed = 20;

    public static int Run(string program, IReadOnlyList<string> arguments)
    {
        Console.WriteLine($"{Environment.ProcessorCount} cores; shortest of {Runs} runs");
        Console.WriteLine($"{"sound",-8}{"files",8}{"sound s",12}{"s",10}{"sound s a second",20}");
        var (slowest, length) = (double.PositiveInfinity, 0.0);

        // All formats have the same files, and those of WAV say how long they are.
        foreach (var sound in new[] { "wav", "flac", "opus" })
        {
            var (best, files) = (double.PositiveInfinity, 0);
            for (var run = 0; run < Runs; run++)
            {
                var folder = Directory.CreateTempSubdirectory("pack-benchmark").FullName;
                try
                {
                    best = Math.Min(best, Make(program, [.. arguments, "-o", Path.Combine(folder, "pack"), "--sound", sound]));
                    var made = Directory.GetFiles(folder, "*." + sound, SearchOption.AllDirectories);
                    files = made.Length;
                    length = sound == "wav" ? made.Sum(Seconds) : length;
                }
                finally
                {
                    Directory.Delete(folder, recursive: true);
                }
            }

            slowest = Math.Min(slowest, length / best);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{sound,-8}{files,8}{length,12:0.0}{best,10:0.00}{length / best,20:0.0}"));
        }

        if (slowest < LeastSpeed)
        {
            Console.Error.WriteLine($"slower than {LeastSpeed} seconds of sound a second");
        }

        return slowest < LeastSpeed ? 1 : 0;
    }

    private static double Seconds(string file)
    {
        var wave = WaveFile.Read(file);
        return (double)wave.Frames / wave.SampleRate;
    }

    private static double Make(string program, IReadOnlyList<string> arguments)
    {
        var isLibrary = program.EndsWith(".dll", StringComparison.Ordinal);
        var start = new ProcessStartInfo(isLibrary ? "dotnet" : program)
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            RedirectStandardInput = true,
        };
        foreach (var argument in isLibrary ? [program, "pack", .. arguments] : new[] { "pack" }.Concat(arguments))
        {
            start.ArgumentList.Add(argument);
        }

        var began = Stopwatch.GetTimestamp();
        using var process = Process.Start(start) ?? throw new InvalidOperationException($"{program} does not start.");
        process.StandardInput.Close();
        var said = process.StandardError.ReadToEndAsync();
        process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return process.ExitCode == 0 ? Stopwatch.GetElapsedTime(began).TotalSeconds : throw new InvalidOperationException($"{program} ended with {process.ExitCode}: {said.Result}");
    }
}
