using System.Diagnostics;
using GrooveLab.Audio.Devices;
using GrooveLab.RealTimeCheck;
using GrooveLab.Testing;

// play      plays a frame counter (right) and a sine (left) through the system's output; exit code 0 if played to the end, 3 without a
// device changes   plays the demo live through the system's output with random changes; 0 if nothing was lost
// scripted  plays the demo live with changes at fixed times, and logs what changed when
// find      finds these changes in a recording (as for analyse): it must equal the offline replay of the log, and the music without a
// change up to           the frame of the change and no further; 0 if so. With the arrivals, also whether the pictures show what is heard
// arrivals  prints the arrival time of each frame of a recording on standard input
// soak      like changes, but offline at full speed, and again from the log: the samples must be equal and memory must not grow
// analyse   reads a recording (raw, 16-bit, stereo); 0 if it is long enough and has no gap, otherwise 1. For gaps it prints how often the
//           audio thread was later than the buffer lasts, and how often because the machine itself stalled: 4 if every time
// stalls    prints when the machine itself stalls; run one on each core, with the highest priority
// hold      plays through an output that outlives its device, and prints every change of state
// line      plays a chart as the program does with one status line, with a frame counter; 0 if it played to the end
// screen    plays a chart as the program does on its screen, with a frame counter, until it is closed
// crash     shows the demo on the program's screen, which then fails while drawing
const string Usage = """
    play    [--seconds N] [--buffer MS] [--rate HZ] [--device NAME] [--garbage MB_PER_SECOND]
    hold    [--seconds N] [--buffer MS] [--rate HZ] [--device NAME]
    changes [--seconds N] [--buffer MS] [--device NAME] [--count N] [--seed N]
    scripted --log FILE [--buffer MS] [--device NAME]
    find FILE --log FILE [--arrivals FILE]
    arrivals
    soak    [--seconds N] [--count N] [--seed N]
    analyse FILE [--seconds N] [--rate HZ] [--buffer MS] [--late FILE] [--stalls FILE]...
    stalls  [--seconds N]
    line CHART [--buffer MS] [--device NAME]
    screen CHART [--buffer MS] [--device NAME]
    crash   [--count PICTURES]
    """;

if (args.Length == 0)
{
    Console.Error.WriteLine(Usage);
    return 2;
}

var command = args[0];
string? file = null;
string? device = null;
var late = "";
var log = "";
var arrivals = "";
List<string> stalls = [];
var seconds = 10;
var buffer = AudioOutputs.DefaultBufferMilliseconds;
var rate = AudioOutputs.DefaultSampleRate;
var garbage = 0;
var count = 1000;
var seed = 1;
for (var i = 1; i < args.Length; i++)
{
    var value = i + 1 < args.Length ? args[i + 1] : "";
    switch (args[i])
    {
        case "--seconds" when int.TryParse(value, out seconds): i++; break;
        case "--buffer" when int.TryParse(value, out buffer): i++; break;
        case "--rate" when int.TryParse(value, out rate): i++; break;
        case "--count" when int.TryParse(value, out count): i++; break;
        case "--seed" when int.TryParse(value, out seed): i++; break;
        case "--garbage" when int.TryParse(value, out garbage): i++; break;
        case "--late" when value.Length > 0: late = value; i++; break;
        case "--arrivals" when value.Length > 0: arrivals = value; i++; break;
        case "--log" when value.Length > 0: log = value; i++; break;
        case "--stalls" when value.Length > 0: stalls.Add(value); i++; break;
        case "--device" when value.Length > 0: device = value; i++; break;
        default:
            if (file is not null || args[i].StartsWith('-'))
            {
                Console.Error.WriteLine($"unexpected argument \"{args[i]}\"\n{Usage}");
                return 2;
            }

            file = args[i];
            break;
    }
}

switch (command)
{
    case "play":
        return Play();
    case "hold":
        return Hold();
    case "changes":
        return LiveChangesCheck.Play(seconds, buffer, device, count, seed);
    case "scripted" when log.Length > 0:
        return ScriptedChanges.Play(buffer, device, log);
    case "find" when file is not null && log.Length > 0:
        return ScriptedChanges.Find(file, log, arrivals);
    case "arrivals":
        return ScriptedChanges.Arrivals();
    case "soak":
        return LiveChangesCheck.Soak(seconds, count, seed);
    case "stalls":
        return Standstill.Watch(seconds);
    case "line" when file is not null:
        return ProgramUnderCheck.Line(file, buffer, device);
    case "screen" when file is not null:
        return ProgramUnderCheck.Screen(file, buffer, device);
    case "crash":
        return ProgramUnderCheck.Crash(count);
    case "analyse" when file is not null:
        return Analyse(file);
    default:
        Console.Error.WriteLine(Usage);
        return 2;
}

int Play()
{
    FrameCounterTap source = new(new SineSource(rate, (long)seconds * rate));
    IAudioOutput output;
    try
    {
        output = AudioOutputs.Open(device, rate, buffer, source);
    }
    catch (AudioDeviceException none)
    {
        Console.Error.WriteLine($"{none.Kind}: {none.Message}");
        return 3;
    }

    using (output)
    {
        using CancellationTokenSource over = new();
        Thread litter = new(() => Litter(over.Token)) { IsBackground = true };
        litter.Start();
        var collections = GC.CollectionCount(0);
        output.Start();
        double highest = 0;
        var lowest = double.MaxValue;
        while (!output.Completion.Wait(200))
        {
            var latency = output.CurrentLatency.TotalMilliseconds;
            highest = Math.Max(highest, latency);
            lowest = Math.Min(lowest, latency);
            if (output.Clock.FramesPulled > (long)(seconds + 30) * rate)
            {
                break;
            }
        }

        over.Cancel();
        Standstill.Tell(source);
        Console.WriteLine(
            $"played {output.Clock.FramesPulled / (double)rate:0.00} s on {output.DeviceName}: {output.State}, buffer {output.BufferFrames} frames, "
            + $"latency {lowest:0.0}-{highest:0.0} ms, real-time priority {(output.HasRealTimePriority ? "granted" : "refused")}, "
            + $"underruns reported {output.Underruns}, collections {GC.CollectionCount(0) - collections} pausing {GC.GetTotalPauseDuration().TotalMilliseconds:0} ms in all");
        if (output.Failure is { } failure)
        {
            Console.Error.WriteLine(failure.Message);
        }

        return output.State == AudioOutputState.Ended ? 0 : 1;
    }
}

int Hold()
{
    FrameCounterTap source = new(new SineSource(rate, (long)seconds * rate));
    using var output = ResilientOutput.Open(device, rate, buffer, source, startWithoutDevice: true);
    var start = Stopwatch.GetTimestamp();
    output.Start();
    var before = "";
    bool over;
    do
    {
        over = output.Completion.Wait(20);
        var now = $"{output.State} on {output.DeviceName}, retakes {output.Retakes}{(output.Failure is { } why ? ": " + why.Message : "")}";
        if (now != before || over)
        {
            var music = output.Clock.AudibleFrame(Stopwatch.GetTimestamp(), rate) / rate;
            Console.WriteLine($"{Stopwatch.GetElapsedTime(start).TotalSeconds:0.000} s: {now}; heard up to {music:0.000} s");
            before = now;
        }
    }
    while (!over);
    return output.State == AudioOutputState.Ended ? 0 : 1;
}

int Analyse(string path)
{
    using var recording = File.OpenRead(path);
    var report = FrameCounterAnalyser.Analyse(recording, FrameCounterTap.Period, FrameCounterTap.Step);
    var heard = report.CountedFrames / (double)rate;
    Console.WriteLine(
        $"recorded {heard:0.00} s of counted frames: {report.Gaps} gaps, {report.SilentFrames} frames of silence inserted, "
        + $"{report.SkippedFrames} frames missing"
        + (report.FirstGap < 0 ? "" : $", the first gap after {report.FirstGap / (double)rate:0.000} s"));

    // The recorder may start slightly late or end slightly early; much less than was played means that it failed.
    var enough = heard >= seconds - 1;
    if (!enough)
    {
        Console.Error.WriteLine($"too short: {seconds} s were played");
    }

    if (report.Gaps > 0)
    {
        (var times, var explained) = Standstill.Judge(late, stalls, buffer);
        Console.WriteLine($"the audio thread was later than the buffer lasts {times} times, {explained} of them because the machine itself stalled");
        if (enough && times > 0 && explained == times)
        {
            return 4;
        }
    }

    return report.Gaps == 0 && enough ? 0 : 1;
}

void Litter(CancellationToken over)
{
    // Garbage like that of a screen and a composer, so that collections happen while the music plays; a few objects survive.
    var kept = new byte[64][];
    var next = 0;
    while (garbage > 0 && !over.IsCancellationRequested)
    {
        for (var i = 0; i < garbage; i++)
        {
            kept[next++ % kept.Length] = new byte[10_000];
        }

        over.WaitHandle.WaitOne(10);
    }
}
