using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Inputs;
using GrooveLab.Music.Performance;
using GrooveLab.Testing;

namespace GrooveLab.SameMusic.Live;

/// <summary>Everything that this tool knows of the classes that lead a performance; the rest of the tool uses only this. A base that has
/// this file keeps its own, an older one gets <c>Base/LiveSide.cs.txt</c>.</summary>
/// <remarks>Log lines have this form: <c>ask ORDINAL INDEX NEXT WORDS</c> (a change, and its place), <c>obey FRAME KIND PART VALUE
/// RATIO</c> (a command that the engine obeyed), <c>take FRAME ORDINAL FROM ASKED</c> (a switch to other bars: the bar of the
/// performance, its first bar, and the number of changes requested).</remarks>
internal static class LiveSide
{
    /// <summary>Frames per second.</summary>
    public const int Rate = AudioOutputs.DefaultSampleRate;

    private const int PieceFrames = 960;

    // The header of a log: not an event, but its chart and random seed.
    private const int HeaderLines = 3;

    /// <summary>Plays a chart offline with random changes.</summary>
    /// <param name="chart">The chart's file.</param>
    /// <param name="count">The number of changes.</param>
    /// <param name="seconds">The duration.</param>
    /// <param name="seed">The random seed.</param>
    /// <param name="music">Receives the audio.</param>
    /// <returns>The changes, the log's lines, and the number of changes of each kind.</returns>
    /// <remarks>If the build itself fails, the performance ends there.</remarks>
    public static (List<ScriptedChange> Changes, List<string> Log, string Kinds) Draw(
        string chart, int count, int seconds, int seed, PerformedMusic music)
    {
        RandomChanges player = new(seed);
        List<ScriptedChange> changes = [];
        var frames = (long)seconds * Rate;
        var taken = 0;
        (var log, var failure) = Play(chart, frames, music, (conductor, done) =>
        {
            if ((double)done / frames * count > taken)
            {
                var before = conductor.Log.Records.Count;
                taken += player.Change(conductor) ? 1 : 0;
                changes.AddRange(conductor.Log.Records.Skip(before).OfType<AskedRecord>().Select(asked => new ScriptedChange(done, asked.Words)));
            }
        });
        var kinds = string.Join(", ", player.Made.Select(kind => $"{kind.Key} {kind.Value}")) + $"; {player.Refused} refused";
        return (changes, log, failure is null ? kinds : $"{kinds}; the base fails after {(double)music.Frames / Rate:0.0} s ({failure.Message})");
    }

    /// <summary>Plays a chart offline and makes changes at their frames.</summary>
    /// <param name="chart">The chart's file.</param>
    /// <param name="changes">The changes, in the order of their frames.</param>
    /// <param name="frames">The duration in frames.</param>
    /// <param name="music">Receives the audio.</param>
    /// <returns>The log's lines, and the refused changes with their messages.</returns>
    public static (List<string> Log, List<string> Refused) Perform(
        string chart, IReadOnlyList<ScriptedChange> changes, long frames, PerformedMusic music)
    {
        List<string> refused = [];
        var next = 0;
        (var log, var failure) = Play(chart, frames, music, (conductor, done) =>
        {
            for (; next < changes.Count && changes[next].Frame <= done; next++)
            {
                if (conductor.Do(ChangedWords.Now(changes[next].Words)) is { Taken: false } answer)
                {
                    refused.Add($"{changes[next]}: {answer.Says}");
                }
            }
        });
        return failure is null ? (log, refused) : throw new InvalidOperationException("It cannot be played to its end.", failure);
    }

    /// <summary>Replays a performance from its log.</summary>
    /// <param name="chart">The chart's file.</param>
    /// <param name="log">The lines of the log.</param>
    /// <param name="frames">The duration in frames.</param>
    /// <param name="music">Receives the audio.</param>
    public static void Replay(string chart, IEnumerable<string> log, long frames, PerformedMusic music)
    {
        var opening = Opening(chart);
        var head = new PerformanceLog(new LogHeader(opening.Chart.Title, "none", opening.Chart.Seed)).Write();
        var lines = PerformanceLog.Read(head + string.Concat(log.Select(line => Translated(line) + "\n")));
        LogReplay.Play(lines, opening, Synth, Options(), frames, samples => music.Add(samples, string.Empty));
    }

    private static string Translated(string line)
    {
        var words = line.Split(' ', 5);
        return words is ["ask", _, _, _, var asked] ? string.Join(' ', [.. words[..4], ChangedWords.Now(asked)]) : line;
    }

    private static (List<string> Log, Exception? Failure) Play(string chart, long frames, PerformedMusic music, Action<Conductor, long> change)
    {
        PerformanceHistory history = new(Opening(chart));
        OfflinePlayer player = new(history.Route, Synth(history), Options(), limited: false);
        Conductor conductor = new(history, player.Engine, player.Bars.Continue, player.Bars.Go);
        var piece = new float[2 * PieceFrames];
        List<EngineReport> news = [];
        long done = 0;
        var place = "before the first bar";
        Exception? failure = null;
        while (done < frames)
        {
            try
            {
                var read = player.Read(piece.AsSpan(0, (int)Math.Min(piece.Length, 2 * (frames - done))));
                if (read == 0)
                {
                    break;
                }

                music.Add(piece.AsSpan(0, read), place);
                done += read / 2;
                news.Clear();
                while (player.Engine.TryTakeReport(out var report))
                {
                    news.Add(report);
                }

                var now = player.Engine.Playhead;
                conductor.Update(news, now);
                place = now.Bar is { } bar ? $"bar {now.Ordinal + 1} of the performance, bar {bar.Index + 1} of the form ({bar.Section})" : place;
                change(conductor, done);
            }
            catch (Exception wrong) when (wrong is ArithmeticException or InvalidOperationException or ArgumentException)
            {
                failure = wrong;
                break;
            }
        }

        return ([.. conductor.Log.Write().Split('\n', StringSplitOptions.RemoveEmptyEntries).Skip(HeaderLines)], failure);
    }

    private static PerformanceState Opening(string chart) => PerformanceState.Opening(ChartFiles.Read(chart), InstrumentFile.BuiltIn);

    private static EngineOptions Options() => new() { SampleRate = Rate, MasterDecibels = Renderer.DefaultMasterDecibels };

    private static SoundFontSynth Synth(PerformanceHistory history)
    {
        var bank = Banks.Open(null);
        return Banks.Synth(bank, Rate, history.Route.Source.Band, dry: false);
    }
}
