using System.Diagnostics;
using System.Security.Cryptography;
using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Commands;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Testing;

namespace GrooveLab.RealTimeCheck;

/// <summary>Plays the demo while random changes are made, of every kind.</summary>
internal static class LiveChangesCheck
{
    private const int Rate = AudioOutputs.DefaultSampleRate;

    private static Chart Demo => DemoCommand.Chart();

    /// <summary>In real time, through the system's output, with a frame counter in the right channel.</summary>
    public static int Play(int seconds, int buffer, string? device, int count, int seed)
    {
        PerformanceHistory history = new(PerformanceState.Opening(Demo, InstrumentFile.BuiltIn));
        FrameCounterTap? tap = null;
        using LiveSession session = new(
            history.Route,
            Banks.Synth(Banks.Open(null), Rate, history.Route.Source.Band, dry: false),
            source => AudioOutputs.Open(device, Rate, buffer, tap = new FrameCounterTap(source)));
        Conductor conductor = new(history, session.Engine, session.Continue, session.Go);
        RandomChanges player = new(seed);
        var taken = 0;
        var reports = 0;
        void Update()
        {
            var news = session.LogFrom(reports);
            reports += news.Count;
            conductor.Update(news, session.Heard);
        }

        session.Start();
        Pauses pauses = new();
        var start = Stopwatch.GetTimestamp();
        while (Stopwatch.GetElapsedTime(start).TotalSeconds < seconds && !session.Completion.IsCompleted)
        {
            Thread.Sleep(5);
            pauses.Look();
            Update();
            if (Stopwatch.GetElapsedTime(start).TotalSeconds / seconds * count > taken)
            {
                taken += player.Change(conductor) ? 1 : 0;
            }
        }

        var ended = session.Completion.IsCompleted;
        session.StopAsync().Wait();
        Update();
        Tell(player, taken);
        Console.WriteLine($"on {session.Output.DeviceName}, {session.Health.Numbers}, {session.Health}");
        pauses.Tell();
        Console.WriteLine($"longest read {tap!.LongestRead.TotalMilliseconds:0.0} ms, longest time between reads {tap.LongestBetween.TotalMilliseconds:0.0} ms");
        Standstill.Tell(tap);
        return !ended && IsUnbroken(session.Health) ? 0 : 1;
    }

    /// <summary>True if nothing was lost, late or failed; gaps are counted in the recording.</summary>
    public static bool IsUnbroken(Health health) =>
        health.Entries.All(entry => entry.Kind is HealthKind.Gaps or HealthKind.CutNotes or HealthKind.SquashedFrames);

    /// <summary>Offline at full speed, then again from the log's text.</summary>
    public static int Soak(int seconds, int count, int seed)
    {
        var opening = PerformanceState.Opening(Demo, InstrumentFile.BuiltIn);
        EngineOptions options = new() { SampleRate = Rate, MasterDecibels = Renderer.DefaultMasterDecibels };
        SoundBank bank = new();
        PerformanceHistory history = new(opening);
        OfflinePlayer player = new(history.Route, bank.Synth(history), options, limited: false);
        Conductor conductor = new(history, player.Engine, player.Bars.Continue, player.Bars.Go);
        RandomChanges chance = new(seed);
        using var played = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        var frames = (long)seconds * Rate;
        long done = 0;
        var taken = 0;
        var piece = new float[2 * 960];
        List<EngineReport> news = [];
        List<long> memory = [];
        var start = Stopwatch.GetTimestamp();
        while (done < frames)
        {
            var read = player.Read(piece.AsSpan(0, (int)Math.Min(piece.Length, 2 * (frames - done))));
            if (read == 0)
            {
                break;
            }

            played.AppendData(System.Runtime.InteropServices.MemoryMarshal.AsBytes(piece.AsSpan(0, read)));
            done += read / 2;
            news.Clear();
            while (player.Engine.TryTakeReport(out var report))
            {
                news.Add(report);
            }

            conductor.Update(news, player.Engine.Playhead);
            if ((double)done / frames * count > taken)
            {
                taken += chance.Change(conductor) ? 1 : 0;
            }

            if (done * 8 / frames > memory.Count)
            {
                memory.Add(GC.GetTotalMemory(forceFullCollection: true));
            }
        }

        var took = Stopwatch.GetElapsedTime(start).TotalSeconds;
        using var again = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        var log = PerformanceLog.Read(conductor.Log.Write());
        LogReplay.Play(log, opening, bank.Synth, options, done, samples =>
            again.AppendData(System.Runtime.InteropServices.MemoryMarshal.AsBytes(samples)));
        var first = Convert.ToHexString(played.GetHashAndReset());
        var second = Convert.ToHexString(again.GetHashAndReset());
        Tell(chance, taken);
        Console.WriteLine($"{done / (double)Rate:0} s of music in {took:0.0} s; memory by eighths, MB: {string.Join(" ", memory.Select(bytes => (bytes / 1e6).ToString("0.0")))}");
        Console.WriteLine($"{player.Engine.Counters}; samples {first[..16]}, from the log {second[..16]}");

        // The second half may exceed the second quarter only by the memory for undo.
        var flat = memory.Count < 8 || memory[7] < memory[2] + 20_000_000;
        return first == second && done == frames && player.Engine.Counters == default && flat ? 0 : 1;
    }

    /// <summary>The pauses for garbage collection, which stop all threads, including the audio thread.</summary>
    private sealed class Pauses
    {
        private readonly int[] _collections = [GC.CollectionCount(0), GC.CollectionCount(1), GC.CollectionCount(2)];
        private readonly TimeSpan _before = GC.GetTotalPauseDuration();
        private readonly Stopwatch _clock = Stopwatch.StartNew();
        private TimeSpan _all = GC.GetTotalPauseDuration();
        private TimeSpan _longest;
        private string _longestWas = string.Empty;

        public void Look()
        {
            var now = GC.GetTotalPauseDuration();
            if (now - _all > _longest)
            {
                _longest = now - _all;
                var collection = GC.GetGCMemoryInfo(GCKind.Any);
                _longestWas = $" (the last of them generation {collection.Generation}, {collection.PromotedBytes / 1e6:0.0} MB kept, after {_clock.Elapsed.TotalSeconds:0.0} s)";
            }

            _all = now;
        }

        public void Tell() => Console.WriteLine(
            $"collections {string.Join(", ", _collections.Select((before, generation) => $"{GC.CollectionCount(generation) - before} of generation {generation} and above"))}, "
            + $"{(_all - _before).TotalMilliseconds:0} ms in all, at most {_longest.TotalMilliseconds:0.0} ms at a time{_longestWas}");
    }

    private sealed class SoundBank
    {
        private readonly Audio.SoundFonts.SoundFontBank _bank = Banks.Open(null);

        public Audio.Synthesis.ISoundFontSynth Synth(PerformanceHistory history) =>
            Banks.Synth(_bank, Rate, history.Route.Source.Band, dry: false);
    }

    private static void Tell(RandomChanges player, int taken) => Console.WriteLine(
        $"{taken} changes made, {player.Refused} refused; by kind: {string.Join(", ", player.Made.Select(kind => $"{kind.Key} {kind.Value}"))}");
}
