using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Commands;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Testing;

namespace GrooveLab.RealTimeCheck;

/// <summary>
/// Plays the demo in real time with changes at fixed times, and finds them in a recording: up to the bar line of
/// a change the recording equals the music without it, and from there on it differs. Without human feel and strums, so that every beat is
/// on its frame.
/// </summary>
internal static class ScriptedChanges
{
    private const int Rate = AudioOutputs.DefaultSampleRate;

    /// <summary>How much a sample may differ from its 16-bit value, because sound servers round differently.</summary>
    private const int MostSteps = 2;

    /// <summary>The duration of a picture of the screen; the sound may differ from it by no more.</summary>
    private const double PictureMilliseconds = 1000 / 30.0;

    /// <summary>The required share of pictures in per cent; the machine itself may stall between two readings of the clock.</summary>
    private const int PicturesInTime = 98;

    private const string ShownEnding = ".shown";

    /// <summary>
    /// How many frames may still be computed without a change that takes effect at once: a period and a block for the engine, the rest for
    /// the request, which is compiled the first time and may wait for a core.
    /// </summary>
    private const int SoonFrames = Rate / 10;

    /// <summary>How long, in frames, until a change in the first note of a bar exceeds rounding.</summary>
    private const int OnsetFrames = Rate / 200;

    /// <summary>The fade-in of a live performance; after it the sound has its full level.</summary>
    private const int FadeInFrames = 2 * Rate;

    private static readonly (double Seconds, string Words)[] Script =
    [
        (6, "feel bar"), (11, "feel group"), (15, "mute plucked bass"), (18, "meter 7/8 2+2+3"), (24, "again"), (30, "undo"),
        (34, "tempo bar = 40"), (38, "undo"), (41, "level bouzouki -12"),
    ];

    /// <summary>How long the script lasts, in seconds.</summary>
    public const int Seconds = 46;

    private static PerformanceState Opening
    {
        get
        {
            var demo = DemoCommand.Chart();
            return PerformanceState.Opening(demo with
            {
                Looseness = 0,
                Parts = [.. demo.Parts.Select(part => part.Settings is PulseSettings pulse ? part with { Settings = pulse with { StrumMs = 0 } } : part)],
            }, InstrumentFile.BuiltIn);
        }
    }

    /// <summary>Plays it through the system's output, and logs what changed when.</summary>
    public static int Play(int buffer, string? device, string logFile)
    {
        PerformanceHistory history = new(Opening);
        FrameCounterTap? tap = null;
        using LiveSession session = new(
            history.Route,
            Banks.Synth(Banks.Open(null), Rate, history.Route.Source.Band, dry: false),
            source => AudioOutputs.Open(device, Rate, buffer, tap = new FrameCounterTap(source)),
            new LiveOptions { StartDecibels = 0 });
        Conductor conductor = new(history, session.Engine, session.Continue, session.Go);
        List<string> notes = [];
        var reports = 0;
        var next = 0;
        void Update()
        {
            var news = session.LogFrom(reports);
            reports += news.Count;
            notes.AddRange(news.Where(report => report.Kind == EngineReportKind.ReplaceBegun).Select(report => Note("begun", report.Frame, report.Ordinal)));
            conductor.Update(news, session.Heard);
        }

        // At the screen's rate: the screen draws its picture from the frame that is reported as heard.
        List<string> shown = [];
        double due = 0;
        session.Start();
        var start = Stopwatch.GetTimestamp();
        while (Stopwatch.GetElapsedTime(start).TotalSeconds < Seconds && !session.Completion.IsCompleted)
        {
            Thread.Sleep(2);
            Update();
            if (Stopwatch.GetElapsedTime(start).TotalSeconds >= due)
            {
                due += 1 / 30.0;
                shown.Add(string.Create(CultureInfo.InvariantCulture, $"{Stopwatch.GetTimestamp()} {session.Heard.Frame}\n"));
            }

            if (next < Script.Length && Stopwatch.GetElapsedTime(start).TotalSeconds >= Script[next].Seconds)
            {
                var words = Script[next++].Words;
                notes.Add(Note("heard", session.Heard.Frame, next));
                notes.Add(Note("computed", session.Engine.Playhead.Frame, next));
                var answer = conductor.Do(words);
                if (!answer.Taken)
                {
                    Console.Error.WriteLine($"{words}: {answer.Says}");
                    return 1;
                }
            }
        }

        notes.Add(Note("over", session.Engine.Playhead.Frame, 0));
        session.StopAsync().Wait();
        Update();
        Standstill.Tell(tap!);
        File.WriteAllText(logFile, conductor.Log.Write() + string.Concat(notes));
        File.WriteAllText(logFile + ShownEnding, string.Concat(shown));
        Console.WriteLine($"{next} changes made on {session.Output.DeviceName}, buffer {session.Output.BufferFrames} frames, {session.Health.Numbers}, {session.Health}");
        return next == Script.Length && LiveChangesCheck.IsUnbroken(session.Health) && session.Health.Numbers.LimitedFrames == 0 ? 0 : 1;
    }

    /// <summary>Finds the changes in a recording without gaps.</summary>
    public static int Find(string recording, string logFile, string arrivals)
    {
        var lines = File.ReadAllLines(logFile);
        var log = PerformanceLog.Read(string.Join('\n', lines.Where(line => !line.StartsWith('#'))));
        List<(string Kind, long Frame, int Number)> notes = [.. lines.Where(line => line.StartsWith('#')).Select(line => line.Split(' ')).Select(words =>
            (words[1], long.Parse(words[2], CultureInfo.InvariantCulture), int.Parse(words[3], CultureInfo.InvariantCulture)))];
        var frames = (int)notes.Single(note => note.Kind == "over").Frame;
        var heard = MusicOf(recording, frames);
        (var same, var largest) = Compare(heard, Replay(log.Records, frames), frames);
        Console.WriteLine(
            $"{heard.Length / (double)Rate:0.00} s recorded; equal to the offline replay of its log in {same} of the {frames - FadeInFrames} frames after the fade-in, "
            + $"at most {largest} of 65,536 steps away");
        var all = same == frames - FadeInFrames;
        var index = 0;
        foreach (var line in log.Records)
        {
            if (line is AskedRecord asked)
            {
                index++;
                Console.WriteLine($"requested after {At("heard", index) / (double)Rate:0.000} s: {asked.Words}");
            }
            else if (line is TakenRecord taken)
            {
                all &= FindBarLine(log, taken, heard, (int)At("begun", taken.Ordinal));
            }
            else if (line is ObeyedRecord { Setting.Kind: not MixSettingKind.Stop } obeyed)
            {
                all &= FindCommand(log, obeyed, heard, At("heard", index), At("computed", index));
            }
        }

        return all && index == Script.Length && (arrivals.Length == 0 || IsShownInTime(logFile + ShownEnding, arrivals)) ? 0 : 1;

        long At(string kind, int number) => notes.Last(note => note.Kind == kind && note.Number == number).Frame;
    }

    /// <summary>Logs the arrival time of each frame of a recording in progress: raw, 16-bit, stereo, from standard input.</summary>
    public static int Arrivals()
    {
        using var recording = Console.OpenStandardInput();
        Span<byte> block = stackalloc byte[4096];
        long counted = 0;
        var kept = 0;
        while (recording.Read(block[kept..]) is var read and > 0)
        {
            var now = Stopwatch.GetTimestamp();
            var bytes = (kept + read) / 4 * 4;
            ReadOnlySpan<short> samples = MemoryMarshal.Cast<byte, short>(block[..bytes]);
            for (var right = 1; right < samples.Length; right += 2)
            {
                counted += samples[right] > 0 ? 1 : 0;
            }

            if (counted > 0)
            {
                Console.WriteLine($"{now.ToString(CultureInfo.InvariantCulture)} {counted.ToString(CultureInfo.InvariantCulture)}");
            }

            block[bytes..(kept + read)].CopyTo(block);
            kept = kept + read - bytes;
        }

        return 0;
    }

    // Whether each picture's frame is near enough to the one that the sound server passed on at that moment.
    private static bool IsShownInTime(string shownFile, string arrivalsFile)
    {
        (long At, long Frame)[] arrivals = [.. Pairs(arrivalsFile)];
        List<double> away = [];
        var i = 0;
        foreach ((var at, var frame) in Pairs(shownFile))
        {
            while (i + 1 < arrivals.Length && arrivals[i + 1].At <= at)
            {
                i++;
            }

            // Not in the fade-in, where the first frames are still on their way.
            if (frame > FadeInFrames && arrivals[i].At <= at)
            {
                var sounding = arrivals[i].Frame + (Stopwatch.GetElapsedTime(arrivals[i].At, at).TotalSeconds * Rate);
                away.Add((frame - sounding) * 1000 / Rate);
            }
        }

        away.Sort();
        var holds = away.Count > 0
            && away.Count(milliseconds => Math.Abs(milliseconds) <= PictureMilliseconds) * 100L >= (long)away.Count * PicturesInTime;
        Console.WriteLine(
            $"{away.Count} pictures' frames relative to those that the server passed on: {away[0]:0.0} to {away[^1]:0.0} ms, "
            + $"half of them {away[away.Count / 4]:0.0} to {away[away.Count * 3 / 4]:0.0} ms{(holds ? "" : ": WRONG")}");
        return holds;
    }

    private static IEnumerable<(long At, long Frame)> Pairs(string file) => File.ReadLines(file).Select(line => line.Split(' ')).Where(words => words.Length == 2)
        .Select(words => (long.Parse(words[0], CultureInfo.InvariantCulture), long.Parse(words[1], CultureInfo.InvariantCulture)));

    private static bool FindBarLine(PerformanceLog log, TakenRecord taken, short[] heard, int barLine)
    {
        var first = FirstUnlike(log, taken, heard, barLine + (3 * Rate));
        var holds = first >= barLine && first < barLine + (3 * Rate);
        var when = first - barLine <= OnsetFrames ? "with it" : $"{(first - barLine) * 1000.0 / Rate:0.0} ms into the bar, where the two first differ";
        Console.WriteLine($"  bar line on frame {barLine}: differs from the music without the change from frame {first} on, {(holds ? when : "WRONG")}");
        return holds;
    }

    private static bool FindCommand(PerformanceLog log, ObeyedRecord obeyed, short[] heard, long asked, long computed)
    {
        var first = FirstUnlike(log, obeyed, heard, (int)obeyed.Frame + (3 * Rate));
        var holds = first >= obeyed.Frame && first < obeyed.Frame + (3 * Rate) && obeyed.Frame - computed <= SoonFrames;
        Console.WriteLine(
            $"  {obeyed.Setting.Kind} on frame {obeyed.Frame}, {(obeyed.Frame - asked) * 1000.0 / Rate:0.0} ms after the one that was heard then "
            + $"({(computed - asked) * 1000.0 / Rate:0.0} ms of them already on their way to the ear); differs from the music without it from frame {first} on{(holds ? "" : ": WRONG")}");
        return holds;
    }

    // The first frame of the recording that differs from the music without a change and all later ones.
    private static int FirstUnlike(PerformanceLog log, LogRecord without, short[] heard, int frames)
    {
        frames = Math.Min(frames, heard.Length);
        var other = Replay([.. log.Records.TakeWhile(line => !ReferenceEquals(line, without))], frames);
        var at = FadeInFrames;
        while (at < frames && Math.Abs(heard[at] - other[at]) <= MostSteps)
        {
            at++;
        }

        return at;
    }

    private static (int Same, int Largest) Compare(short[] heard, short[] played, int frames)
    {
        var same = 0;
        var largest = 0;
        for (var i = FadeInFrames; i < Math.Min(frames, heard.Length); i++)
        {
            var away = Math.Abs(heard[i] - played[i]);
            largest = Math.Max(largest, away);
            same += away <= MostSteps ? 1 : 0;
        }

        return (same, largest);
    }

    // The left side, in 16 bits.
    private static short[] Replay(IReadOnlyList<LogRecord> lines, int frames)
    {
        PerformanceLog log = new(new LogHeader(Opening.Chart.Title, "none", Opening.Chart.Seed));
        foreach (var line in lines)
        {
            log.Add(line);
        }

        var opening = Opening;
        var played = new short[frames];
        var at = 0;
        LogReplay.Play(
            log,
            opening,
            history => Banks.Synth(Banks.Open(null), Rate, history.Route.Source.Band, dry: false),
            new EngineOptions { SampleRate = Rate, MasterDecibels = new LiveOptions().MasterDecibels, TailSeconds = new LiveOptions().TailSeconds },
            frames,
            samples =>
            {
                for (var i = 0; i < samples.Length; i += 2)
                {
                    played[at++] = (short)Math.Clamp(Math.Round(samples[i] * 32768.0), short.MinValue, short.MaxValue);
                }
            });
        return played;
    }

    // The left side from the first counted frame on.
    private static short[] MusicOf(string recording, int frames)
    {
        var samples = MemoryMarshal.Cast<byte, short>(File.ReadAllBytes(recording));
        var first = 1;
        while (first < samples.Length && samples[first] <= 0)
        {
            first += 2;
        }

        if (first >= samples.Length || samples[first] != FrameCounterTap.Step)
        {
            throw new InvalidDataException($"{recording}: the frame counter does not start with 1.");
        }

        var music = new short[Math.Min(frames, (samples.Length - first + 1) / 2)];
        for (var i = 0; i < music.Length; i++)
        {
            music[i] = samples[first - 1 + (2 * i)];
        }

        return music;
    }

    private static string Note(string kind, long frame, int number) => string.Create(CultureInfo.InvariantCulture, $"# {kind} {frame} {number}\n");
}
