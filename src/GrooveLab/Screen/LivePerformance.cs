using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Commands;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Inputs;
using GrooveLab.Live;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>What a performance is opened with.</summary>
internal sealed record PerformanceOptions
{
    /// <summary>The chart's file; null for the demo.</summary>
    public string? Path { get; init; }

    /// <summary>What the command line asks of the chart.</summary>
    public Func<Chart, Chart> Asked { get; init; } = chart => chart;

    /// <summary>The bank; null for the built-in sounds.</summary>
    public string? Bank { get; init; }

    /// <summary>The output's name; null for the system's own.</summary>
    public string? Device { get; init; }

    /// <summary>Milliseconds of buffer.</summary>
    public int BufferMilliseconds { get; init; } = AudioOutputs.DefaultBufferMilliseconds;

    /// <summary>Whether it counts in.</summary>
    public bool CountIn { get; init; } = true;
}

/// <summary>A chart that is played live for the screen, with what is kept of it on disk.</summary>
internal sealed class LivePerformance : IStage, IDisposable
{
    private const string FrameCounterVariable = "GROOVELAB_CHECK_FRAMES";
    private const string Unsaved = "unsaved";

    private readonly LiveSession _session;
    private readonly ChartDocument _document;
    private readonly LiveState _opened;
    private readonly Recovery _recovery;
    private readonly string _versions;
    private LiveState _saved;
    private LiveState _kept;
    private Task _keeping = Task.CompletedTask;
    private int _reports;
    private IReadOnlyDictionary<string, LiveState> _versionsKept;

    private LivePerformance(
        PerformanceOptions options, ChartDocument document, Chart chart, InstrumentCatalogue instruments, Task<SoundFontBank> bank)
    {
        Options = options;
        _document = document;
        _opened = Conductor.Opening(chart, instruments) with { CountIn = options.CountIn };
        var asked = options.Asked(chart);
        var state = ReferenceEquals(asked, chart) ? _opened : Conductor.Opening(asked, instruments) with { CountIn = options.CountIn };
        _saved = _kept = state;
        var history = new LiveHistory(state);
        var name = options.Path is null ? "ferry-lanterns.toml" : Path.GetFullPath(options.Path);
        _recovery = new Recovery(name);
        _versions = Path.Combine(UserFolders.Data, "versions", Path.GetFileNameWithoutExtension(name));
        RememberVersions(history);
        _versionsKept = history.Versions;
        const int Rate = AudioOutputs.DefaultSampleRate;
        var counted = Environment.GetEnvironmentVariable(FrameCounterVariable) == "1";
        _session = new LiveSession(
            history.Route,
            Banks.Synth(bank.GetAwaiter().GetResult(), Rate, history.Route.Source.Band, dry: false),
            source => ResilientOutput.Open(
                options.Device, Rate, options.BufferMilliseconds, counted ? new FrameCounterTap(source) : source, startWithoutDevice: true));
        Conductor = new Conductor(history, _session.Engine, _session.Continue, _session.Go);
    }

    /// <summary>What it was opened with.</summary>
    public PerformanceOptions Options { get; }

    /// <inheritdoc/>
    public Conductor Conductor { get; }

    /// <inheritdoc/>
    public Playhead Heard => _session.Heard;

    /// <summary>The counters.</summary>
    public LiveCounters Counters => _session.Counters;

    /// <summary>What is offered of an earlier time, in words; null for nothing.</summary>
    public string? Offer { get; private set; }

    /// <inheritdoc/>
    public string Trouble
    {
        get
        {
            var counters = _session.Counters;
            var gaps = counters.Underruns + counters.Engine.LateBars;
            return _session.Output.State == AudioOutputState.Silent ? "no sound device: silent, trying again"
                : gaps > 0 ? gaps == 1 ? "a gap in the sound" : $"{gaps} gaps in the sound"
                : string.Empty;
        }
    }

    /// <summary>Reads a chart and makes everything ready; nothing sounds yet.</summary>
    /// <exception cref="CommandFailure">The chart cannot be read or played; the message says why.</exception>
    public static LivePerformance Open(PerformanceOptions options)
    {
        // It needs nothing of the chart.
        var bank = Task.Run(() => Banks.Open(options.Bank));
        if (options.Path is not null)
        {
            // Says what is wrong with the file, or with the instruments beside it.
            _ = ChartFiles.ReadFile(options.Path);
        }

        var instruments = options.Path is null ? InstrumentFile.BuiltIn : InstrumentFile.Beside(options.Path);
        var document = options.Path is null
            ? ChartDocument.FromText(DemoChart.Text, DemoChart.Name)
            : ChartDocument.Open(options.Path, instruments);
        var read = document.Read();
        if (!read.IsChart)
        {
            throw CommandFailure.BadInput(ChartFiles.Problems(read));
        }

        try
        {
            return new LivePerformance(options, document, read.Chart, instruments, bank);
        }
        catch (ChartProblemException problem)
        {
            throw CommandFailure.BadInput(problem.Section is null ? problem.Message : $"section {problem.Section}: {problem.Message}");
        }
    }

    /// <summary>Begins to play.</summary>
    public void Start() => _session.Start();

    /// <inheritdoc/>
    public IReadOnlyList<EngineReport> News()
    {
        var news = _session.LogFrom(_reports);
        _reports += news.Count;
        return news;
    }

    /// <summary>Keeps what is not saved, away from the thread that asks; called now and then.</summary>
    public void Keep()
    {
        var state = Conductor.State;
        if (_keeping.IsCompleted && !ReferenceEquals(state, _kept))
        {
            _kept = state;
            _keeping = Task.Run(() => KeepUnsaved(state));
        }

        if (!ReferenceEquals(Conductor.History.Versions, _versionsKept) && _keeping.IsCompleted)
        {
            var (before, now) = (_versionsKept, Conductor.History.Versions);
            _versionsKept = now;
            _keeping = Task.Run(() => KeepVersions(before, now));
        }
    }

    /// <inheritdoc/>
    public LiveAnswer Save(string? path)
    {
        var target = path ?? Options.Path ?? "ferry-lanterns.toml";
        var own = Options.Path is not null && Path.GetFullPath(target) == Path.GetFullPath(Options.Path);
        var state = Conductor.State;
        try
        {
            var written = Written(state);
            var whole = written.IsLaidOutAgain;
            var resting = _opened.Chart.Sections.Zip(state.Chart.Sections)
                .Where(pair => pair.First.Tune is not null && pair.Second.Tune is null).Select(pair => pair.Second.Name).ToList();
            var lost = whole || resting.Count > 0;
            if (own && lost)
            {
                // Something of the old text is not in the new one.
                File.Copy(target, target + "~", overwrite: true);
            }

            written.Document.Save(target, overwrite: own);
            _saved = state;
            _keeping.Wait();
            _recovery.Drop();
            var says = $"saved in {Path.GetFileName(target)}"
                + (resting.Count > 0 ? $" without the tune of {string.Join(" and ", resting)}, which fits the old meter only" : string.Empty)
                + (whole ? ", reformatted" : string.Empty);
            return new LiveAnswer(true, says + (own && lost ? $"; as it was: {Path.GetFileName(target)}~" : string.Empty));
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException or ChartProblemException)
        {
            return new LiveAnswer(false, failure.Message);
        }
    }

    /// <summary>Fades out, and keeps what was not saved and the log.</summary>
    public void Stop()
    {
        var fading = _session.StopAsync();
        KeepNow();
        fading.Wait();
    }

    /// <summary>Keeps what was not saved, at once; in a failure too.</summary>
    public void KeepNow()
    {
        _keeping.Wait();
        KeepUnsaved(Conductor.State);
        UserFolders.TryWrite(Path.Combine(UserFolders.Data, "last-performance.log"), Conductor.Log.Write());
    }

    /// <inheritdoc/>
    public void Dispose() => _session.Dispose();

    // The level of the whole and where the form stands are of the moment.
    private bool IsUnsaved(LiveState state) =>
        !ReferenceEquals(state.Chart, _saved.Chart) || ChartSaver.AtTempo(state).Tempo != ChartSaver.AtTempo(_saved).Tempo;

    private WrittenChart Written(LiveState state) => ChartDifference.Write(_document, _opened.Chart, ChartSaver.AtTempo(state));

    private void KeepUnsaved(LiveState state)
    {
        if (IsUnsaved(state))
        {
            _recovery.Keep(Written(state).Document.Text);
        }
    }

    private void KeepVersions(IReadOnlyDictionary<string, LiveState> before, IReadOnlyDictionary<string, LiveState> now)
    {
        foreach (var (name, state) in now.Where(version => version.Key != Unsaved))
        {
            if (!ReferenceEquals(before.GetValueOrDefault(name), state))
            {
                UserFolders.TryWrite(VersionFile(name), Written(state).Document.Text);
            }
        }

        // What was kept and taken back.
        foreach (var name in before.Keys.Where(name => !now.ContainsKey(name) && name != Unsaved))
        {
            UserFolders.TryDelete(VersionFile(name));
        }
    }

    private string VersionFile(string name)
    {
        var file = string.Concat(name.Select(letter => char.IsLetterOrDigit(letter) || letter is '-' or ' ' ? letter : '_'));
        return Path.Combine(_versions, file + ".toml");
    }

    private void RememberVersions(LiveHistory history)
    {
        if (Directory.Exists(_versions))
        {
            foreach (var file in Directory.EnumerateFiles(_versions, "*.toml").Order(StringComparer.Ordinal))
            {
                Remember(history, Path.GetFileNameWithoutExtension(file), UserFolders.TryRead(file));
            }
        }

        if (Remember(history, Unsaved, _recovery.Offer()))
        {
            Offer = $"changes of {_recovery.When} were not saved: y takes them up again";
        }
    }

    private static bool Remember(LiveHistory history, string name, string? text)
    {
        if (text is null || ChartReader.ReadText(text, name, history.State.Instruments) is not { IsChart: true } read)
        {
            return false;
        }

        try
        {
            history.Remember(name, Conductor.Opening(read.Chart, history.State.Instruments));
            return true;
        }
        catch (ChartProblemException)
        {
            return false;
        }
    }
}
