using System.Diagnostics;
using System.Globalization;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Testing.Sound;

namespace GrooveLab.Benchmarks;

/// <summary>
/// The benchmark's child processes, separate so that each starts cold and its cost can be measured: numbers in, one line of numbers out.
/// </summary>
internal static class SynthChild
{
    public const string PlayCommand = "synth-play";
    public const string BlocksCommand = "synth-blocks";
    public const string QuickCommand = "synth-quick";
    public const string StartCommand = "synth-start";
    public const string SoakCommand = "synth-soak";
    public const string EffectsCommand = "synth-effects";
    public const int Rate = 48_000;
    private const int Block = 64;

    // The initial volume of every channel.
    private static readonly byte[] NoChange = [0xb0, 7, 100];

    /// <summary>
    /// Plays the score once. Timing each block costs time itself, so a separate run does it. Prints: CPU seconds of rendering, voices times
    /// samples, worst block in microseconds of CPU and of wall time, lowest number of voices after the first two seconds, mean voices,
    /// milliseconds of warm-up (wall, CPU), the median block, and the 99.9th percentile of the blocks.
    /// </summary>
    public static int Play(string bank, bool wet, string interpolation, bool measureBlocks, string parts = SynthScore.AllParts, string? costsFile = null)
    {
        var synth = new SoundFontSynth(SoundFontBank.Open(bank), Rate, new SoundFontSynthOptions
        {
            Dry = !wet,
            MaxVoices = 256,
            Gain = 0.5f,
            Interpolation = interpolation == "eight" ? Interpolation.EightPoint : Interpolation.FourPoint,
        });
        var events = SynthScore.Events(parts);
        foreach (var (_, message) in events.Where(e => (e.Message[0] & 0xf0) == 0xc0))
        {
            synth.Prepare(message[0] & 15, message[1]);
        }
        var clock = Stopwatch.StartNew();
        var cpu = ChildProcess.ThreadCpuSeconds();
        synth.WarmUp();
        var warmWall = clock.Elapsed.TotalMilliseconds;
        var warmCpu = (ChildProcess.ThreadCpuSeconds() - cpu) * 1000;

        var run = Perform(synth, events, measureBlocks, costsFile: costsFile);
        Print(
            run.Cpu, run.VoiceSamples, run.WorstCpu * 1e6, run.WorstWall * 1e6, run.LeastVoices, run.VoiceSamples / run.Frames, warmWall,
            warmCpu, run.MedianCpu * 1e6, run.NearlyAllCpu * 1e6);
        return 0;
    }

    /// <summary>
    /// Plays a stretch of the score many times. Prints the lowest and the median CPU time in nanoseconds per voice and sample: on a busy
    /// machine, the lowest of many short runs shows the difference between two builds.
    /// </summary>
    public static int Quick(string bank, bool wet, string interpolation)
    {
        const int Seconds = 12;
        const int Runs = 15;
        var opened = SoundFontBank.Open(bank);
        var events = SynthScore.Events();
        var costs = new List<double>();
        var voiceSamples = 0.0;
        for (var run = 0; run <= Runs; run++)
        {
            var synth = new SoundFontSynth(opened, Rate, new SoundFontSynthOptions
            {
                Dry = !wet,
                MaxVoices = 256,
                Gain = 0.5f,
                Interpolation = interpolation == "eight" ? Interpolation.EightPoint : Interpolation.FourPoint,
            });
            synth.WarmUp();
            // The first run counts the voices and is not timed.
            var result = Perform(synth, events, measureBlocks: run == 0, seconds: Seconds);
            if (run == 0)
                voiceSamples = result.VoiceSamples;
            else
                costs.Add(result.Cpu / voiceSamples * 1e9);
        }
        costs.Sort();
        Print(costs[0], costs[costs.Count / 2]);
        return 0;
    }

    /// <summary>
    /// Opens a bank and renders a first block of one note. Prints milliseconds of wall and CPU time for it, resident megabytes before and
    /// after, milliseconds since the start of the process, and after the warm-up peak resident, private and file-backed megabytes.
    /// </summary>
    public static int Start(string bank)
    {
        var before = ChildProcess.ResidentMegabytes(Environment.ProcessId, "VmRSS");
        var clock = Stopwatch.StartNew();
        var cpu = ChildProcess.ThreadCpuSeconds();
        var synth = new SoundFontSynth(SoundFontBank.Open(bank), Rate, new SoundFontSynthOptions { MaxVoices = 256 });
        synth.Prepare(0, 0);
        synth.NoteOn(0, 60, 100);
        var left = new float[Block];
        var right = new float[Block];
        synth.Render(left, right);
        var wall = clock.Elapsed.TotalMilliseconds;
        var used = (ChildProcess.ThreadCpuSeconds() - cpu) * 1000;
        var after = ChildProcess.ResidentMegabytes(Environment.ProcessId, "VmRSS");
        var lifetime = (DateTime.UtcNow - Process.GetCurrentProcess().StartTime.ToUniversalTime()).TotalMilliseconds;
        synth.WarmUp();
        Print(
            wall, used, before, after, lifetime, ChildProcess.ResidentMegabytes(Environment.ProcessId, "VmHWM"),
            ChildProcess.ResidentMegabytes(Environment.ProcessId, "RssAnon"), ChildProcess.ResidentMegabytes(Environment.ProcessId, "RssFile"));
        return 0;
    }

    /// <summary>Plays ten minutes after the warm-up. Prints bytes allocated and peak resident megabytes.</summary>
    public static int Soak(string bank)
    {
        var synth = new SoundFontSynth(SoundFontBank.Open(bank), Rate, new SoundFontSynthOptions { MaxVoices = 256 });
        var events = SynthScore.Events();
        foreach (var (_, message) in events.Where(e => (e.Message[0] & 0xf0) == 0xc0))
            synth.Prepare(message[0] & 15, message[1]);
        synth.WarmUp();
        var left = new float[Block];
        var right = new float[Block];
        var resident = 0.0;
        Perform(synth, events, measureBlocks: false, left, right, seconds: 1);
        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var i = 0; i < 5; i++)
            Perform(synth, events, measureBlocks: false, left, right);
        var allocated = GC.GetAllocatedBytesForCurrentThread() - before;
        resident = ChildProcess.ResidentMegabytes(Environment.ProcessId, "VmHWM");
        Print(allocated, resident);
        return 0;
    }

    /// <summary>
    /// Prints milliseconds of CPU time per second of audio for reverb and chorus with one sounding voice: wet minus dry, dry, wet; medians of
    /// alternating slices.
    /// </summary>
    public static int Effects()
    {
        const int Slices = 41;
        const int Seconds = 2;
        // Any bank will do; only the effects matter.
        var bank = SoundFontBank.Open(SynthBenchmark.SmallBank);
        SoundFontSynth[] synths =
        [
            new(bank, Rate, new SoundFontSynthOptions { Dry = true }), new(bank, Rate, new SoundFontSynthOptions { Dry = false }),
        ];
        var left = new float[Block];
        var right = new float[Block];
        var costs = new double[2, Slices];
        foreach (var synth in synths)
        {
            synth.WarmUp();
            synth.Control(0, 91, 127);
            synth.Control(0, 93, 127);
        }
        for (var slice = -1; slice < Slices; slice++)
        {
            for (var wet = 0; wet < 2; wet++)
            {
                var cpu = ChildProcess.ThreadCpuSeconds();
                for (var i = 0; i < Seconds * Rate / Block; i++)
                {
                    if (i % 200 == 0)
                        synths[wet].NoteOn(0, 60, 100);
                    synths[wet].Render(left, right);
                }
                // The first slice warms up the machine.
                if (slice >= 0)
                    costs[wet, slice] = (ChildProcess.ThreadCpuSeconds() - cpu) * 1000 / Seconds;
            }
        }
        var (dryCost, wetCost) = (Middle(0), Middle(1));
        Print(wetCost - dryCost, dryCost, wetCost);
        return 0;

        double Middle(int wet) => Enumerable.Range(0, Slices).Select(slice => costs[wet, slice]).Order().ElementAt(Slices / 2);
    }

    // Optimised at once; otherwise its own compilation while it runs would count as the synthesizer's worst block.
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private static (double Cpu, double VoiceSamples, double WorstCpu, double WorstWall, int LeastVoices, long Frames, double MedianCpu,
        double NearlyAllCpu) Perform(
        SoundFontSynth synth, List<(int Tick, byte[] Message)> events, bool measureBlocks, float[]? left = null, float[]? right = null,
        int seconds = SynthScore.Seconds + 2, string? costsFile = null)
    {
        left ??= new float[Block];
        right ??= new float[Block];
        var costs = measureBlocks ? new double[(seconds * Rate / Block) + 1] : [];
        // Touched now; otherwise the system would provide its pages while the clock runs.
        Array.Fill(costs, 0);
        var voiceSamples = 0.0;
        var worst = 0.0;
        var worstWall = 0.0;
        var least = int.MaxValue;
        var next = 0;
        var frames = (long)seconds * Rate;
        // Compiled before the clock runs; this message changes nothing.
        synth.Send(NoChange);
        var starts = measureBlocks ? new int[costs.Length] : [];
        Array.Fill(starts, 0);
        var started = ChildProcess.ThreadCpuSeconds();
        var blocks = 0;
        for (long frame = 0; frame < frames;)
        {
            var cpu = measureBlocks ? ChildProcess.ThreadCpuSeconds() : 0;
            var wall = measureBlocks ? Stopwatch.GetTimestamp() : 0;
            var done = 0;
            while (done < Block)
            {
                while (next < events.Count && Frame(events[next].Tick) <= frame + done)
                {
                    if (measureBlocks && (events[next].Message[0] & 0xf0) == 0x90)
                        starts[blocks]++;
                    synth.Send(events[next++].Message);
                }
                var until = next < events.Count ? Math.Min(Block, Frame(events[next].Tick) - frame) : Block;
                synth.Render(left.AsSpan(done, (int)until - done), right.AsSpan(done, (int)until - done));
                done = (int)until;
            }
            frame += Block;
            if (measureBlocks)
            {
                var cost = ChildProcess.ThreadCpuSeconds() - cpu;
                costs[blocks] = cost;
                worst = Math.Max(worst, cost);
                worstWall = Math.Max(worstWall, Stopwatch.GetElapsedTime(wall).TotalSeconds);
            }
            blocks++;
            if (!measureBlocks)
                continue;
            var voices = synth.ActiveVoices;
            voiceSamples += (double)voices * Block;
            if (frame is > 3 * Rate and < SynthScore.Seconds * Rate)
                least = Math.Min(least, voices);
        }
        var total = ChildProcess.ThreadCpuSeconds() - started;
        if (costsFile is not null)
            File.WriteAllBytes(costsFile, MemoryMarshal.AsBytes(costs.AsSpan(0, blocks)));
        else if (measureBlocks)
            Tell(costs, starts, blocks);
        Array.Sort(costs);
        return (total, voiceSamples, worst, worstWall, least, frames, costs.Length == 0 ? 0 : costs[costs.Length / 2],
            costs.Length == 0 ? 0 : costs[costs.Length - 1 - (costs.Length / 1000)]);
    }

    // Separate from the loop, which must not allocate this method's closures.
    private static void Tell(double[] costs, int[] starts, int blocks)
    {
        var places = Enumerable.Range(0, blocks).OrderByDescending(i => costs[i]).Take(8);
        Console.Error.WriteLine(string.Join(", ", places.Select(i => $"{costs[i] * 1e6:F0} us at {i * (double)Block / Rate:F2} s")));
        foreach (var group in Enumerable.Range(0, blocks).GroupBy(i => starts[i]).OrderBy(g => g.Key))
        {
            var sorted = group.Select(i => costs[i] * 1e6).Order().ToArray();
            Console.Error.WriteLine(
                $"{group.Key} note-ons: {sorted.Length} blocks, median {sorted[sorted.Length / 2]:F0} us, 99th percentile "
                + $"{sorted[sorted.Length - 1 - (sorted.Length / 100)]:F0} us");
        }
    }

    private static long Frame(int tick) => (long)tick * Rate / SynthScore.TicksPerSecond;

    private static void Print(params double[] numbers) =>
        Console.WriteLine(string.Join(' ', numbers.Select(n => n.ToString("R", CultureInfo.InvariantCulture))));
}
