using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;

namespace GrooveLab.Tests.Conducting;

/// <summary>A performance run by a test: a conductor with an engine that the test reads.</summary>
internal sealed class LedBand
{
    public const int Rate = 48_000;

    private OfflinePlayer _player;
    private readonly List<EngineReport> _reports = [];
    private long _before;

    public LedBand(Chart chart, ISoundFontSynth? synth = null, bool countIn = false, StartOptions? start = null)
    {
        start ??= new StartOptions { CountIn = countIn };
        Opening = start.Opening(chart, InstrumentFile.BuiltIn);
        Synth = synth ?? new EventSynth(Rate);
        var history = new PerformanceHistory(Opening);
        _player = new OfflinePlayer(history.Route, Synth, Options, limited: false);
        Conductor = new Conductor(history, _player.Engine, _player.Bars.Continue, _player.Bars.Go, new PerformanceLog(
            new LogHeader(chart.Title, "none", Opening.Chart.Seed) { Options = start }))
        {
            Aside = AtOnce,
        };
    }

    public static EngineOptions Options { get; } = new() { SampleRate = Rate, MasterDecibels = Renderer.DefaultMasterDecibels, EndsStream = true };

    public PerformanceState Opening { get; }

    public ISoundFontSynth Synth { get; }

    public Conductor Conductor { get; private set; }

    public GrooveEngine Engine => _player.Engine;

    public long Frame { get; private set; }

    /// <summary>The frames since it was last played again.</summary>
    public long FrameAgain => Frame - _before;

    public bool KeepsSamples { get; init; } = true;

    public List<float> Samples { get; } = [];

    /// <summary>All bars played, in order.</summary>
    public List<Bar> Played { get; } = [];

    public IReadOnlyList<EngineReport> Reports => _reports;

    public Action<ReadOnlySpan<float>>? Heard { get; init; }

    public bool Over { get; private set; }

    /// <summary>Plays the same state again, as after the end or a stop.</summary>
    public void PlayAgain(StartPoint? start = null)
    {
        var (history, log) = (Conductor.History, Conductor.Log);
        log.Add(new AgainRecord(Engine.Playhead.Frame, start));
        history.PlayAgain(start);
        _player = new OfflinePlayer(history.Route, new EventSynth(Rate), Options, limited: false);
        Conductor = new Conductor(history, _player.Engine, _player.Bars.Continue, _player.Bars.Go, log) { Aside = AtOnce };
        Over = false;
        _before = Frame;
        Played.Clear();
    }

    /// <summary>Reads on, in small blocks as a device does.</summary>
    public void Read(long frames)
    {
        var piece = new float[2 * 960];
        while (frames > 0 && !Over)
        {
            var read = _player.Read(piece.AsSpan(0, (int)Math.Min(piece.Length, 2 * frames)));
            if (read == 0)
            {
                Over = true;
                break;
            }

            if (KeepsSamples)
            {
                Samples.AddRange(piece[..read]);
            }

            Heard?.Invoke(piece.AsSpan(0, read));
            frames -= read / 2;
            Frame += read / 2;
            Update();
        }
    }

    /// <summary>Reads on until a bar line has passed; false at the end.</summary>
    public bool ReadBars(int bars)
    {
        var wanted = Math.Max(0, Played.Count) + bars;
        while (Played.Count < wanted && !Over)
        {
            Read(480);
        }

        return !Over;
    }

    public void Do(string words)
    {
        var answer = Conductor.Do(words);
        Xunit.Assert.True(answer.Taken, $"{words}: {answer.Says}");
        Update();
    }

    // Nothing waits for another thread, so that a test is the same each time.
    private static Task<RecastSong> AtOnce(Func<RecastSong> make)
    {
        var task = new Task<RecastSong>(make);
        task.RunSynchronously();
        return task;
    }

    private void Update()
    {
        var news = new List<EngineReport>();
        while (Engine.TryTakeReport(out var report))
        {
            news.Add(report);
        }

        _reports.AddRange(news);
        var now = Engine.Playhead;
        Conductor.Update(news, now);
        if (now.Bar is { } bar && now.Ordinal >= Played.Count)
        {
            Played.Add(bar);
        }
    }
}
