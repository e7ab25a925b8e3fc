using System.Globalization;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.X86;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Compares the synthesizer with Debian's <c>fluidsynth -F</c>: the same notes and bank, run in turn, medians. Prints a table.
/// </summary>
internal static class SynthBenchmark
{
    public const string SmallBank = "/usr/share/sounds/sf2/TimGM6mb.sf2";
    private const string LargeBank = "/usr/share/sounds/sf2/FluidR3_GM.sf2";

    // Two of the score's eight parts; with the drums they keep at least 64 voices sounding.
    private const string FewParts = "24";

    private const int OneVoiceSeconds = 60;

    /// <summary>Runs all measurements; needs <c>fluidsynth</c>, <c>timgm6mb-soundfont</c> and <c>fluid-soundfont-gm</c>.</summary>
    public static int Run(string[] args)
    {
        var bank = Option(args, "--bank", SmallBank);
        var large = Option(args, "--large", LargeBank);
        var runs = int.Parse(Option(args, "--runs", "5"), CultureInfo.InvariantCulture);
        var program = Option(args, "--program", "");
        foreach (var file in new[] { bank, large })
        {
            if (!File.Exists(file))
            {
                Console.Error.WriteLine($"{file} not found; name another bank with --bank or --large");
                return 1;
            }
        }

        var folder = Directory.CreateTempSubdirectory("groovelab-benchmark");
        try
        {
            var score = Path.Combine(folder.FullName, "score.mid");
            var oneNote = Path.Combine(folder.FullName, "note.mid");
            SynthMidiFile.Write(score, SynthScore.Events());
            SynthMidiFile.Write(oneNote, [(0, [0x90, 60, 100]), (SynthScore.TicksPerSecond / 2, [0x80, 60, 0])]);
            Describe(bank, large, runs);
            if (program.Length > 0)
            {
                Program(program, bank, score, Path.Combine(folder.FullName, "score.wav"), runs);
                return 0;
            }
            var oneVoice = Path.Combine(folder.FullName, "voice.mid");
            SynthMidiFile.Write(oneVoice, [
                (0, [0xb0, 91, 127]), (0, [0xb0, 93, 127]), (0, [0xc0, 19]), (0, [0x90, 60, 100]),
                (OneVoiceSeconds * SynthScore.TicksPerSecond, [0x80, 60, 0]),
            ]);
            Table(bank, large, score, oneNote, oneVoice, runs);
            return 0;
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static void Describe(string bank, string large, int runs)
    {
        var processor = File.Exists("/proc/cpuinfo")
            ? File.ReadLines("/proc/cpuinfo").FirstOrDefault(l => l.StartsWith("model name", StringComparison.Ordinal))?.Split(':')[1].Trim()
            : null;
        var width = Vector256.IsHardwareAccelerated ? 256 : 128;
        Console.WriteLine($"{processor ?? "unknown processor"}, {Environment.ProcessorCount} cores, vectors of {width} bits, FMA {Fma.IsSupported}");
        Console.WriteLine($"{RuntimeInformation.OSDescription}; {RuntimeInformation.FrameworkDescription}");
        Console.WriteLine($"load before: {(File.Exists("/proc/loadavg") ? File.ReadAllText("/proc/loadavg").Trim() : "unknown")}");
        Console.WriteLine($"bank {Path.GetFileName(bank)} ({new FileInfo(bank).Length / 1_000_000} MB), large bank {Path.GetFileName(large)} "
            + $"({new FileInfo(large).Length / 1_000_000} MB), {SynthScore.Seconds} s at {SynthChild.Rate} Hz, medians of {runs}");
        Console.WriteLine();
    }

    /// <summary>Compares the user's program with fluidsynth: whole processes, including writing the file.</summary>
    private static void Program(string program, string bank, string score, string output, int runs)
    {
        Row("what", "groovelab", "fluidsynth", "ratio", "goal");
        Row("---", "---", "---", "---", "---");
        foreach (var wet in new[] { true, false })
        {
            var (ours, theirs) = (new List<ChildProcess>(), new List<ChildProcess>());
            string[] dry = wet ? [] : ["--dry"];
            for (var i = 0; i < runs; i++)
            {
                ours.Add(ChildProcess.Run(program, ["render", score, "--bank", bank, "-o", output, "--force", .. dry]));
                theirs.Add(Theirs(bank, score, wet, output));
            }
            var (cpu, theirCpu) = (Median(ours.Select(r => r.CpuSeconds)), Median(theirs.Select(r => r.CpuSeconds)));
            Row($"whole file, {(wet ? "wet" : "dry")}, {Path.GetFileName(program)} render", $"{cpu:F2} s", $"{theirCpu:F2} s", Ratio(cpu, theirCpu), "1/3");
            Row("peak resident memory", $"{ours.Max(r => r.PeakMegabytes):F0} MB", $"{theirs.Max(r => r.PeakMegabytes):F0} MB", "", "");
        }
    }

    private static void Table(string bank, string large, string score, string oneNote, string oneVoice, int runs)
    {
        var (oursDry, oursWet, theirsDry, theirsWet) = (new List<(double[] Line, double Cpu)>(), new List<(double[] Line, double Cpu)>(),
            new List<double>(), new List<double>());
        var (start, theirStart, theirNote) = (new List<double[]>(), new List<(double Wall, double Cpu, double Memory)>(), new List<double>());
        var (blocksDry, blocksWet, blocksFew) = (new BlockCosts("dry", SynthScore.AllParts), new BlockCosts("wet", SynthScore.AllParts), new BlockCosts("dry", FewParts));
        var (effectsTheirs, effectsOurs) = (new List<double>(), new List<double[]>());
        for (var i = 0; i < runs; i++)
        {
            oursDry.Add(Ours(SynthChild.PlayCommand, bank, "dry", "four"));
            theirsDry.Add(Theirs(bank, score, wet: false).CpuSeconds);
            oursWet.Add(Ours(SynthChild.PlayCommand, bank, "wet", "four"));
            theirsWet.Add(Theirs(bank, score, wet: true).CpuSeconds);
            blocksDry.Run(bank);
            blocksWet.Run(bank);
            blocksFew.Run(bank);
            effectsOurs.Add(Ours(SynthChild.EffectsCommand).Line);
            effectsTheirs.Add(Theirs(bank, oneVoice, wet: true).CpuSeconds - Theirs(bank, oneVoice, wet: false).CpuSeconds);
            theirNote.Add(Theirs(bank, oneNote, wet: false).CpuSeconds);
            start.Add(Ours(SynthChild.StartCommand, large).Line);
            var theirs = Theirs(large, oneNote, wet: true);
            theirStart.Add((theirs.WallSeconds * 1000, theirs.CpuSeconds * 1000, theirs.PeakMegabytes));
        }
        var eight = Ours(SynthChild.PlayCommand, bank, "dry", "eight").Line;
        var soak = Ours(SynthChild.SoakCommand, large).Line;

        var voiceSamples = blocksDry.Line[1];
        var oursPer = Median(oursDry.Select(r => r.Line[0])) / voiceSamples * 1e9;
        var theirsPer = (Median(theirsDry) - Median(theirNote)) / voiceSamples * 1e9;
        var wholeOurs = Median(oursWet.Select(r => r.Cpu));
        var wholeTheirs = Median(theirsWet);
        var budget = 64e6 / SynthChild.Rate;
        Row("what", "groovelab", "fluidsynth", "ratio", "goal");
        Row("---", "---", "---", "---", "---");
        Row("CPU per voice and sample, dry", $"{oursPer:F2} ns", $"{theirsPer:F2} ns", Ratio(oursPer, theirsPer), "1/3");
        Row("the same, eight-point interpolation", $"{eight[0] / voiceSamples * 1e9:F2} ns", "", "", "");
        var (wetRender, voices) = (Median(oursWet.Select(r => r.Line[0])), blocksWet.Line[1]);
        Row("rendering only, wet", $"{wetRender:F2} s", $"{wholeTheirs - Median(theirNote):F2} s", Ratio(wetRender, wholeTheirs - Median(theirNote)), "");
        Row("whole file, wet, whole process", $"{wholeOurs:F2} s", $"{wholeTheirs:F2} s", Ratio(wholeOurs, wholeTheirs), "1/3");
        Row("whole file, dry, whole process", $"{Median(oursDry.Select(r => r.Cpu)):F2} s", $"{Median(theirsDry):F2} s",
            Ratio(Median(oursDry.Select(r => r.Cpu)), Median(theirsDry)), "");
        foreach (var (effectsOf, costs) in new[] { ("dry", blocksFew), ("dry", blocksDry), ("wet", blocksWet) })
        {
            var all = costs.Median();
            var name = $"{costs.Line[5]:F0} voices, {effectsOf}";
            void Block(string what, double microseconds, string goal) =>
                Row($"{what}, {name} (CPU time)", $"{microseconds:F0} us", "", $"{microseconds / budget:P1} of real time", goal);
            Block("median 64-frame block", all[all.Length / 2], "");
            Block("99.9th percentile of the blocks", all[^((all.Length / 1000) + 1)], "10 %");
            Block("worst 64-frame block", all[^1], "10 %");
            Block("worst block of any run", costs.Greatest, "");
        }
        var (ours, cpu, memory) = (Median(start.Select(s => s[0])), Median(start.Select(s => s[1])), Median(start.Select(s => s[3])));
        var (theirWall, theirCpu) = (Median(theirStart.Select(s => s.Wall)), Median(theirStart.Select(s => s.Cpu)));
        Row("large bank: opening to first block, wall", $"{ours:F0} ms", $"{theirWall:F0} ms (process)", Ratio(ours, theirWall), "1");
        Row("large bank: opening to first block, CPU", $"{cpu:F0} ms", $"{theirCpu:F0} ms (process)", Ratio(cpu, theirCpu), "1");
        Row("large bank: process start to first block, wall", $"{Median(start.Select(s => s[4])):F0} ms", $"{theirWall:F0} ms", Ratio(Median(start.Select(s => s[4])), theirWall), "1");
        Row("large bank: resident at first block", $"{memory:F0} MB", $"{Median(theirStart.Select(s => s.Memory)):F0} MB", "", "60 MB");
        Row("of this: private memory; file pages", $"{Median(start.Select(s => s[6])):F0} MB; {Median(start.Select(s => s[7])):F0} MB", "", "", "");
        Row("large bank: resident after ten minutes", $"{soak[1]:F0} MB", "", "", "");
        Row("allocated in ten minutes, after warm-up", $"{soak[0]:F0} bytes", "", "", "0");
        Row("warm-up, wall", $"{Median(oursWet.Select(r => r.Line[6])):F0} ms", "", $"{Median(oursWet.Select(r => r.Line[7])):F0} ms CPU", "150 ms");
        var (effects, theirEffects) = (Median(effectsOurs.Select(e => e[0])), Median(effectsTheirs) * 1000 / OneVoiceSeconds);
        Row("reverb and chorus, CPU per second of audio", $"{effects:F2} ms", $"{theirEffects:F2} ms", Ratio(effects, theirEffects), "1.5 ms");
        Console.WriteLine();
        Console.WriteLine($"voices, all parts: at least {blocksDry.Line[4]:F0}, {blocksDry.Line[5]:F0} on average; voices times samples: {voices:E2}; "
            + $"voices, parts {FewParts}: at least {blocksFew.Line[4]:F0}, {blocksFew.Line[5]:F0} on average");
        Console.WriteLine("A block's cost is the median of the same block over all runs, which leaves out delays by other programs.");
        Console.WriteLine("Both per-voice figures are divided by our own voice count; fluidsynth's time is less its time for a file of one note.");
    }

    private static (double[] Line, double Cpu) Ours(params string[] arguments)
    {
        var run = ChildProcess.Run(Environment.ProcessPath!, arguments);
        return ([.. run.Output.Split(' ').Select(n => double.Parse(n, CultureInfo.InvariantCulture))], run.CpuSeconds);
    }

    private static ChildProcess Theirs(string bank, string midi, bool wet, string output = "/dev/null")
    {
        var effects = wet ? "1" : "0";
        return ChildProcess.Run(
            "fluidsynth", "-ni", "-q", "-F", output, "-T", "raw", "-O", "float", "-r", $"{SynthChild.Rate}", "-g", "0.5", "-R", effects,
            "-C", effects, "-o", "synth.polyphony=256", bank, midi);
    }

    /// <summary>The cost of each block in each run.</summary>
    private sealed class BlockCosts(string wet, string parts)
    {
        private readonly List<double[]> _runs = [];

        /// <summary>The figures that the first run printed.</summary>
        public double[] Line { get; private set; } = [];

        /// <summary>The cost of the worst block of all runs, in microseconds.</summary>
        public double Greatest => _runs.Max(run => run.Max()) * 1e6;

        public void Run(string bank)
        {
            var file = Path.GetTempFileName();
            var line = Ours(SynthChild.BlocksCommand, bank, wet, "four", parts, file).Line;
            if (_runs.Count == 0)
                Line = line;
            _runs.Add(MemoryMarshal.Cast<byte, double>(File.ReadAllBytes(file)).ToArray());
            File.Delete(file);
        }

        /// <summary>The median cost of each block over the runs, in microseconds, sorted.</summary>
        public double[] Median() => [.. Enumerable.Range(0, _runs[0].Length)
            .Select(block => SynthBenchmark.Median(_runs.Select(run => run[block])) * 1e6).Order()];
    }

    private static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToArray();
        return (sorted[(sorted.Length - 1) / 2] + sorted[sorted.Length / 2]) / 2;
    }

    private static string Ratio(double ours, double theirs) => $"1/{theirs / ours:F2}";

    private static void Row(params string[] cells) => Console.WriteLine($"| {string.Join(" | ", cells)} |");

    private static string Option(string[] args, string name, string standard)
    {
        var at = Array.IndexOf(args, name);
        return at >= 0 && at + 1 < args.Length ? args[at + 1] : standard;
    }
}
