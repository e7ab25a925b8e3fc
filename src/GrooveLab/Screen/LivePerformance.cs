using System.Diagnostics;
using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.LiveMidi;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Exchange.Toml;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Wording;
using GrooveLab.Store;
using NAudio.Wave;

namespace GrooveLab.Screen;

/// <summary>The options with which a performance is opened.</summary>
internal sealed record PerformanceOptions
{
    /// <summary>The chart's file; null for a built-in chart.</summary>
    public string? Path { get; init; }

    /// <summary>The built-in chart to play if there is no file, with the file name that a save uses; null for the demo.</summary>
    public (string Name, string Text)? BuiltIn { get; init; }

    /// <summary>The command line's options for the chart.</summary>
    public StartOptions Start { get; init; } = StartOptions.None;

    /// <summary>The share of the bank's attenuation to apply, 0-1.</summary>
    public float AttenuationShare { get; init; } = SoundFontBank.UsualAttenuationShare;

    /// <summary>The bank; null for the built-in sounds.</summary>
    public string? Bank { get; init; }

    /// <summary>The bank of another performance, already read; null to read it.</summary>
    public Task<SoundFontBank>? ReadBank { get; init; }

    /// <summary>The output's name; null for the system's default.</summary>
    public string? Device { get; init; }

    /// <summary>Buffer in milliseconds.</summary>
    public int BufferMilliseconds { get; init; } = AudioOutputs.DefaultBufferMilliseconds;

    /// <summary>The MIDI ports; null for none.</summary>
    public MidiLinks? Midi { get; init; }

    /// <summary>Opens an output; null for the system's own.</summary>
    public Func<ISampleProvider, IAudioOutput>? Open { get; init; }

    /// <summary>Writes a state into the chart's text (<see cref="ChartSaver.Written"/>).</summary>
    public Func<ChartDocument, PerformanceState, PerformanceState, WrittenChart> Write { get; init; } = ChartSaver.Written;

    /// <summary>The folder of unsaved changes, saved versions and logs.</summary>
    public string Data { get; init; } = UserFolders.Data;
}

/// <summary>A chart played live for the screen, with its files in the user's data folder.</summary>
internal sealed class LivePerformance : IScreenPerformance, IDisposable
{
    private const string Performances = "performances";
    private const string Keeping = "keeping unsaved changes";

    private readonly Task<SoundFontBank> _bank;
    private LiveSession _session;
    private readonly ChartDocument _document;
    private readonly PerformanceState _opened;
    private readonly SavedChart _file;
    private readonly Recovery _recovery;
    private readonly SavedVersions _versions;
    private readonly string _name;
    private readonly string? _instrumentsText;
    private AppendLog? _log;
    private string? _logHead = string.Empty;
    private readonly PerformanceState _first;
    private PerformanceState _saved;
    private readonly Dictionary<string, Chart> _savedAs = new(StringComparer.Ordinal);
    private (Chart Chart, string? Path)? _askedToSave;
    private string? _savePath;
    private PerformanceState _kept;
    private PerformanceState? _keptAside;
    private Task _keeping = Task.CompletedTask;
    private readonly WritableStates _writable;
    private volatile IReadOnlyList<string> _notKept = [];
    private (string Doing, string Message) _keepingTrouble = (string.Empty, string.Empty);
    private int _reports;
    private PerformanceState _prepared;
    private Task _starting = Task.CompletedTask;
    private Task _stopping = Task.CompletedTask;
    private Task<LiveSession>? _next;
    private (StartPoint Start, PerformanceState State) _asked;
    private bool _isStarted;
    private int _waitsAt;
    private readonly HashSet<PerformanceState> _recovered = new(ReferenceEqualityComparer.Instance);
    private int _recordsSeen;
    private IReadOnlyList<Part> _soundsOf = [];
    private IReadOnlyList<string> _soundRemarks;
    private Task<IReadOnlyList<string>>? _lookingAtSounds;
    private IReadOnlyDictionary<string, PerformanceState> _versionsKept;

    private LivePerformance(
        PerformanceOptions options, ChartDocument document, Chart chart, InstrumentCatalogue instruments, Task<SoundFontBank> bank)
    {
        Options = options;
        _document = document;
        _opened = PerformanceState.Opening(chart, instruments) with { CountIn = options.Start.CountIn, WordStresses = EnglishStress.For };
        var asked = options.Start.ApplyTo(chart);
        var state = ReferenceEquals(asked, chart) && options.Start.Without.Count == 0
            ? _opened with { Orders = options.Start.OrdersFor(chart) }
            : options.Start.Opening(chart, instruments) with { WordStresses = EnglishStress.For };
        _first = _saved = _kept = state;
        _writable = new WritableStates(written => Options.Write(_document, _opened, written).Document.Text);
        var history = new PerformanceHistory(state);
        var builtIn = options.BuiltIn?.Name ?? SavedChart.NameOfDemo;
        var name = options.Path is null ? builtIn : DurableFile.RealPath(options.Path);
        _file = new SavedChart(options.Path, document.Text, options.Data, builtIn);
        _recovery = new Recovery(name, document.Text, options.Data);
        _versions = new SavedVersions(name, options.Data);
        RememberVersions(history);
        Offer = string.Join("; ", ChartFiles.TunesOutOfRange(asked).Append(options.Start.AtLearnerTempo ? ChartFiles.FastLearnerTempo(chart) : null).Append(Offer).OfType<string>()) is { Length: > 0 } said ? said : null;
        _versionsKept = history.Versions;
        var sounds = bank.GetAwaiter().GetResult();
        _soundRemarks = BandSounds.LiveRemarks(sounds, PartChannels.Assign(state.Chart.Parts));
        _soundsOf = state.Chart.Parts;
        BankWarning = string.Join("; ", Banks.Warnings(sounds).Take(1).Concat(_soundRemarks).Concat(new[] { options.Midi?.LeftOut(PartChannels.Assign(state.Chart.Parts)) }.OfType<string>())) is { Length: > 0 } warning ? warning : null;
        _bank = bank;
        _session = NewSession(history.Route);
        _prepared = state;
        _name = name;
        _instrumentsText = TextOfInstruments(options.Path);
        Conductor = NewConductor(
            history,
            new PerformanceLog(
                new LogHeader(chart.Title, ContentHash.Of(document.Text).ToString(), state.Chart.Seed) { Options = options.Start }, Record));
    }

    /// <summary>The options with which it was opened.</summary>
    public PerformanceOptions Options { get; }

    /// <inheritdoc/>
    public Conductor Conductor { get; private set; }

    /// <inheritdoc/>
    public Playhead Heard => _session.Heard;

    /// <inheritdoc/>
    public Playhead HeardAgo(double seconds) => _session.HeardAt(Stopwatch.GetTimestamp() - (long)(seconds * Stopwatch.Frequency));

    /// <inheritdoc/>
    public Health Health => _session.Health;

    /// <inheritdoc/>
    public string Links => Options.Midi?.Says ?? string.Empty;

    /// <summary>What the player should know at the start, in words: the offer of unsaved changes of earlier sessions, and parts that cannot reach the
    /// tune; null for nothing.</summary>
    public string? Offer { get; private set; }

    /// <summary>What is odd in the bank's file, and which parts it has no sound for, in words; null for nothing.</summary>
    public string? BankWarning { get; }

    /// <summary>True when the chart's file, or the instruments file beside it, was edited since it was read. False for a file that cannot be
    /// read now. Reads the files; for any thread.</summary>
    public bool IsEditedElsewhere
    {
        get
        {
            try
            {
                return Options.Path is { } path && File.Exists(path)
                    && (ChartDocument.Open(path, Conductor.State.Instruments).Text != _document.Text || TextOfInstruments(path) != _instrumentsText);
            }
            catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
            {
                return false;
            }
        }
    }

    /// <inheritdoc/>
    public bool IsUnsaved => IsOther(Conductor.State, _saved) || Aside is not null;

    /// <inheritdoc/>
    public ComparedSide? UnsavedSide => Aside?.Side;

    /// <summary>Reads a chart and prepares everything; nothing sounds yet.</summary>
    /// <exception cref="CommandFailure">The chart cannot be read or played; the message says why.</exception>
    public static LivePerformance Open(PerformanceOptions options)
    {
        // Does not depend on the chart.
        var bank = options.ReadBank ?? Task.Run(() => Banks.OpenSilently(options.Bank, options.AttenuationShare));
        if (options.Path is not null)
        {
            // Lists the problems of the file, or of the instruments file beside it.
            _ = ChartFiles.ReadFile(options.Path);
        }

        var instruments = options.Path is null ? InstrumentFile.BuiltIn : InstrumentFile.Beside(options.Path);
        var document = options.Path is null
            ? ChartDocument.FromText(options.BuiltIn?.Text ?? DemoChart.Text, options.BuiltIn?.Name ?? DemoChart.Name)
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

    /// <summary>The bank, for other performances.</summary>
    public Task<SoundFontBank> Bank => _bank;

    /// <inheritdoc/>
    public Standing Standing =>
        _next is not null || !_starting.IsCompleted ? Standing.Starting
        : !_isStarted || _session.IsWaiting ? Standing.Ready
        : !_session.Completion.IsCompleted ? _stopping.IsCompleted ? Standing.Playing : Standing.Stopping
        : _session.Engine.Playhead.State == TransportState.Ended ? Standing.Ended
        : Standing.Stopped;

    /// <summary>Starts what is prepared, on another thread, because opening a device may take a moment.</summary>
    /// <param name="after">What must be over before, such as another performance that still has the device; null for nothing.</param>
    public void Start(Task? after = null)
    {
        // A chart that follows a clock waits for the next start of that clock.
        Options.Midi?.Follower?.Allow(begin: false);
        StartNow(after);
    }

    private void StartNow(Task? after = null)
    {
        BeginLog();
        var session = _session;
        (_isStarted, _stopping) = (true, Task.CompletedTask);
        _starting = Task.Run(async () =>
        {
            await (after ?? Task.CompletedTask).ConfigureAwait(false);
            Surviving("starting the sound", session.Start);
        });
    }

    /// <inheritdoc/>
    public ChangeAnswer Begin(StartPoint start) => Options.Midi?.Follower is { } leader
        ? new ChangeAnswer(false, $"the band follows {leader.Name}: start it there")
        : BeginAt(start);

    private ChangeAnswer BeginAt(StartPoint start)
    {
        var state = Conductor.State;
        if (!_isStarted && _next is null && ReferenceEquals(state, _prepared) && start == StartPoint.Top(state.CountIn))
        {
            Start();
            return new ChangeAnswer(true, "from the top");
        }

        try
        {
            var route = Conductor.History.RouteAgain(start);
            var old = _session;
            var (before, starting) = (_next, _starting);
            _asked = (start, state);
            _next = Task.Run(async () =>
            {
                await EndedAsync(starting, before, old).ConfigureAwait(false);
                return NewSession(route);
            });
            return new ChangeAnswer(true, start.Bar == 0 ? "from the top" : "starting");
        }
        catch (ChartProblemException problem)
        {
            return new ChangeAnswer(false, problem.Message);
        }
    }

    /// <summary>Continues what takes a moment: call it now and then.</summary>
    /// <returns>What failed, in words; null for nothing.</returns>
    public string? Turn()
    {
        Follow();
        if (_next is not { IsCompleted: true } next)
        {
            return NewsOfSounds();
        }

        _next = null;
        if (next.Exception is { } failure)
        {
            Survived.Failures.Add("starting again", failure.GetBaseException());
            return "not started: " + failure.GetBaseException().Message.ReplaceLineEndings(" ");
        }

        if (!ReferenceEquals(Conductor.State, _asked.State))
        {
            // Something was changed meanwhile.
            next.Result.Dispose();
            return BeginAt(_asked.Start) is { Taken: false } refusal ? refusal.Says : null;
        }

        GoOver(next.Result, _asked.Start);
        StartNow();
        return null;
    }

    // Does what another's transport asks for.
    private void Follow()
    {
        while (Options.Midi?.Follower is { } leader && leader.TryTakeRequest(out var request))
        {
            var state = Conductor.State;
            var bar = request.Kind == FollowKind.Stop ? 0
                : MidiLinks.BarAt(request.Clock, index => state.Plan.BarAt(index).Start, state.Orders.Passes is { } passes ? passes * state.Plan.BarsInPass : null);
            leader.Allow(request.Kind == FollowKind.Begin);
            var isReady = _next is not null ? _asked.Start.Bar == bar && ReferenceEquals(_asked.State, state)
                : _session.IsWaiting && _isStarted && _waitsAt == bar && ReferenceEquals(_prepared, state);
            if (!isReady)
            {
                _waitsAt = bar;
                _ = BeginAt(StartPoint.At(bar, state, countIn: false));
            }
        }
    }

    // Reading a sound may take seconds, so another thread looks. A part whose sound was already told about is not told about again.
    private string? NewsOfSounds()
    {
        if (_lookingAtSounds is { IsCompleted: true } looked)
        {
            _lookingAtSounds = null;
            if (looked.Exception is { } failure)
            {
                Survived.Failures.Add("looking at the sounds of the band", failure.GetBaseException());
                return null;
            }

            var news = looked.Result.Except(_soundRemarks).ToList();
            _soundRemarks = looked.Result;
            return news.Count > 0 ? string.Join("; ", news) : null;
        }

        var parts = Conductor.State.Chart.Parts;
        if (_lookingAtSounds is null && !ReferenceEquals(parts, _soundsOf))
        {
            _soundsOf = parts;
            _lookingAtSounds = Task.Run(() => BandSounds.LiveRemarks(_bank.GetAwaiter().GetResult(), PartChannels.Assign(parts)));
        }

        return null;
    }

    /// <inheritdoc/>
    public void Halt()
    {
        if (Standing == Standing.Playing)
        {
            var session = _session;
            _stopping = Task.Run(async () => await session.StopAsync().ConfigureAwait(false));
        }
    }

    /// <summary>Prepares to play the current state again, with its history; then <see cref="Start"/> it. The chart's file is not
    /// read again.</summary>
    /// <param name="start">Where it starts; null for the top, with a count-in if a restart has one.</param>
    /// <exception cref="ChartProblemException">The state cannot be played; the old performance stays.</exception>
    public void PlayAgain(StartPoint? start = null)
    {
        start ??= StartPoint.Top(Conductor.State.CountIn);
        var route = Conductor.History.RouteAgain(start);
        EndedAsync(_starting, null, _session).Wait();
        GoOver(NewSession(route), start);
    }

    private static async Task EndedAsync(Task starting, Task<LiveSession>? unneeded, LiveSession old)
    {
        const double FadeSeconds = 0.1;
        await starting.ConfigureAwait(false);
        if (unneeded is not null)
        {
            await unneeded.ContinueWith(prepared => { if (prepared.IsCompletedSuccessfully) { prepared.Result.Dispose(); } }, TaskScheduler.Default).ConfigureAwait(false);
        }

        await old.StopAsync(FadeSeconds).ConfigureAwait(false);
    }

    private void GoOver(LiveSession next, StartPoint start)
    {
        var history = Conductor.History;
        Conductor.Update(News(), Heard);
        var (old, log, waiting) = (_session, Conductor.Log, Conductor.Waiting);
        log.Add(new AgainRecord(old.Engine.Playhead.Frame, start));
        history.PlayAgain(start);
        (_session, _reports, _isStarted, _prepared) = (next, 0, false, history.State);
        Conductor = NewConductor(history, log);
        if (waiting is RecastSong)
        {
            _ = Conductor.Do(waiting);
        }

        old.Dispose();
    }

    /// <inheritdoc/>
    public IReadOnlyList<EngineReport> News()
    {
        var news = _session.LogFrom(_reports);
        _reports += news.Count;
        return news;
    }

    /// <summary>Keeps unsaved changes on another thread; called now and then.</summary>
    public void Keep()
    {
        var (state, aside) = (Conductor.State, Conductor.History.NotHeard?.State);
        if (_keeping.IsCompleted && (!ReferenceEquals(state, _kept) || !ReferenceEquals(aside, _keptAside)))
        {
            (_kept, _keptAside) = (state, aside);
            SeeRestored();
            var unsaved = Unsaved;
            _keeping = Task.Run(() => Surviving(Keeping, () => KeepUnsaved(unsaved)));
        }

        if (!ReferenceEquals(Conductor.History.Versions, _versionsKept) && _keeping.IsCompleted)
        {
            var (before, now) = (_versionsKept, Conductor.History.Versions);
            _versionsKept = now;
            _keeping = Task.Run(() => Surviving("keeping saved versions", () => KeepVersions(before, now)));
        }
    }

    /// <inheritdoc/>
    public ChangeAnswer Save(string? path)
    {
        // Written music is removed only if the player asks twice; the first save after that says so again.
        var asked = (Conductor.State.Chart, path);
        _savePath = path;
        if (LostMusic.Of(SavedAs(path), asked.Chart) is { IsAny: true } lost && asked != _askedToSave)
        {
            _askedToSave = asked;
            return new ChangeAnswer(false, $"not saved yet: it would be saved{Said(lost)}; save again to do so, or undo");
        }

        return Save((text, remark, isPart) => _file.Save(text, path is null ? null : UserFolders.Typed(path), remark, isPart));
    }

    /// <inheritdoc/>
    public ChangeAnswer SaveAnyway() => Save(_file.SaveAnyway);

    /// <inheritdoc/>
    public ChangeAnswer Discard()
    {
        _keeping.Wait();
        var count = _recovery.Discard();
        return count == 0
            ? new ChangeAnswer(false, "no unsaved changes of earlier sessions")
            : new ChangeAnswer(true, "discarded the unsaved changes of earlier sessions");
    }

    /// <summary>Fades out, and keeps unsaved changes and the log.</summary>
    public void Stop()
    {
        Surviving("stopping the music", () => _starting.Wait());
        var fading = EndedAsync(_starting, _next, _session);
        if (KeepNow())
        {
            Surviving("removing restored changes", _recovery.Leave);
        }

        fading.Wait();
    }

    /// <inheritdoc/>
    public bool KeepNow()
    {
        _keeping.Wait();
        SeeRestored();
        var isKept = false;
        var unsaved = Unsaved;
        Surviving(Keeping, () => isKept = KeepUnsaved(unsaved));
        var before = _versionsKept;
        _versionsKept = Conductor.History.Versions;
        Surviving("keeping saved versions", () => KeepVersions(before, _versionsKept));
        _log?.Sync();
        return isKept;
    }

    /// <inheritdoc/>
    public IReadOnlyList<string> NotKept => _notKept;

    /// <inheritdoc/>
    public string? KeepVersionNow(string name)
    {
        _keeping.Wait();
        var versions = Conductor.History.Versions;
        if (!versions.TryGetValue(name, out var state))
        {
            return null;
        }

        // What else has changed since is written later.
        var written = System.Collections.Immutable.ImmutableDictionary.CreateRange(StringComparer.OrdinalIgnoreCase, _versionsKept).SetItem(name, state);
        _versionsKept = versions.All(version => ReferenceEquals(written.GetValueOrDefault(version.Key), version.Value)) && written.Count == versions.Count ? versions : written;
        return Text(state, $"keeping the saved version {name}") is { } text
            ? _versions.Keep(name, text)
            : "the chart could not be written";
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        Surviving("stopping the music", () => _starting.Wait());
        _session.Dispose();
        _log?.Dispose();
    }

    private static string? TextOfInstruments(string? chart) =>
        chart is not null && Path.Combine(Path.GetDirectoryName(chart) ?? string.Empty, InstrumentFile.FileName) is var file && File.Exists(file)
            ? File.ReadAllText(file)
            : null;

    private LiveSession NewSession(PerformanceRoute route)
    {
        const int Rate = AudioOutputs.DefaultSampleRate;
        var options = new LiveOptions { Failures = Survived.Failures };
        return new LiveSession(
            route,
            Banks.Synth(_bank.GetAwaiter().GetResult(), Rate, route.Source.Band, dry: false),
            source => new OutputAtStart(source, Options.Open ?? (frames => ResilientOutput.Open(
                Options.Device, Rate, Options.BufferMilliseconds, frames, startWithoutDevice: true, Survived.Failures))),
            Options.Midi?.For(options, route.Source, route.From) ?? options);
    }

    private Conductor NewConductor(PerformanceHistory history, PerformanceLog log) =>
        new(history, _session.Engine, _session.Continue, _session.Go, log) { TempoRefusal = Options.Midi?.TempoRefusal };

    private ChangeAnswer Save(Func<string, string, bool, ChangeAnswer> write)
    {
        var state = Conductor.State;
        try
        {
            var written = Options.Write(_document, _opened, state);
            var isPart = LostMusic.Of(_opened.Chart, state.Chart).IsAny || written.IsReformatted;
            var remark = Said(LostMusic.Of(SavedAs(_savePath), state.Chart)) + TempiRemark(state)
                + (written.IsReformatted ? ", reformatted" : LayoutRemark(written.Reasons));
            var answer = write(written.Document.Text, remark, isPart);
            if (answer.Taken)
            {
                _saved = state;
                if (Aside is { Side: var side })
                {
                    var heard = Conductor.History.Hearing is { } hearing ? $"this is {hearing}, " : string.Empty;
                    answer = answer with { Says = $"{answer.Says}; {heard}{side} is not saved: 'hear {(side == ComparedSide.A ? "a" : "b")}' and save" };
                }

                if (Conductor.Waiting is RecastSong waiting)
                {
                    answer = answer with { Says = $"{answer.Says}; without '{waiting.Words}', which is not heard yet" };
                }

                _savedAs[_savePath ?? string.Empty] = state.Chart;
                _keeping.Wait();
                SeeRestored();
                _recovery.Saved(_file.Content);
            }

            return answer;
        }
        catch (ChartProblemException failure)
        {
            return new ChangeAnswer(false, $"not saved: {failure.Message}");
        }
#pragma warning disable CA1031 // The music goes on, and what was kept for the next start stays; the failure is shown and recorded.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Survived.Failures.Add("saving the chart", failure);
            return new ChangeAnswer(false, $"not saved: the chart could not be written ({failure.Message.ReplaceLineEndings(" ")})");
        }
    }

    // What the last save to a file wrote, or the chart as opened: each file loses written music only once.
    private Chart SavedAs(string? path) => _savedAs.GetValueOrDefault(path ?? string.Empty, _opened.Chart);

    // The tempi that sections state are written in the same proportion as the chart's own.
    private string TempiRemark(PerformanceState state) =>
        state.Pace == _saved.Pace || state.Chart.SectionsWithTempi() is not { Count: > 0 } sections ? string.Empty
            : $"; the tempi in {Words.And(sections)} keep their ratio";

    // For steps during the music and at the end of the program.
    private static void Surviving(string doing, Action step)
    {
        try
        {
            step();
        }
#pragma warning disable CA1031 // The music and the next steps matter more; the failure is shown and recorded.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Survived.Failures.Add(doing, failure);
        }
    }

    private static string Said(LostMusic lost)
    {
        var said = new List<string>();
        if (lost.Sections.Count > 0)
        {
            said.Add($"without the {(lost.Sections.Count == 1 ? "section" : "sections")} {Words.And(lost.Sections)}");
        }

        if (lost.Tunes.Count > 0)
        {
            said.Add($"without the tune of {Words.And(lost.Tunes)}");
        }

        if (lost.UnfitTunes.Count > 0)
        {
            said.Add($"without the tune of {Words.And(lost.UnfitTunes)}, which fits only the old meter");
        }

        return said.Count == 0 ? string.Empty : " " + string.Join(" and ", said);
    }

    // One line of the screen has room for one change of layout; the others are counted.
    private static string LayoutRemark(IReadOnlyList<string> reasons) => reasons switch
    {
        [] => string.Empty,
        [var only] => $"; {only}",
        [var first, ..] => $"; {first}; {Words.Count(reasons.Count - 1, "more change")} of the layout",
    };

    // Each performance has its own log file, from its start; if it cannot be written, there is no log.
    private void BeginLog()
    {
        if (_logHead is not { } head)
        {
            return;
        }

        _logHead = null;
        try
        {
            _log = AppendLog.Begin(Path.Combine(Options.Data, Performances), UserFolders.ShortName(_name));
        }
        catch (FileRefusedException refused)
        {
            Survived.Failures.Add("starting the log of the performance", refused);
        }

        Record(head);
    }

    private void Record(string lines)
    {
        if (_logHead is { Length: 0 })
        {
            // A performance that is prepared and never used leaves no log.
            _logHead = lines;
            return;
        }

        BeginLog();
        foreach (var line in lines.Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            var before = _log?.Trouble;
            if (_log?.Append(line) is { } refusal && before is null)
            {
                Survived.Failures.Add("keeping the performance's log", refusal.Message);
            }
        }
    }

    // Recalled changes are in the state until others replace them.
    private void SeeRestored()
    {
        var records = Conductor.Log.Records;
        for (; _recordsSeen < records.Count; _recordsSeen++)
        {
            switch (records[_recordsSeen] is AskedRecord asked ? asked.Words.Split(' ', 2) : [])
            {
                case ["recall", var name]:
                    _recovery.Restored(name);
                    break;
                case ["undo" or "redo" or "hear", ..]:
                    _recovery.Restored(null);
                    break;
                default:
                    break;
            }
        }
    }

    // The overall level and the place in the form are not saved.
    private static bool IsOther(PerformanceState state, PerformanceState than)
    {
        try
        {
            return !ReferenceEquals(state.Chart, than.Chart) || ChartSaver.AtTempo(state).Tempo != ChartSaver.AtTempo(than).Tempo;
        }
        catch (OverflowException)
        {
            // A tempo that cannot be written exactly is not the saved one.
            return true;
        }
    }

    // The compared side that is not heard, if it exists only in this performance.
    private (ComparedSide Side, PerformanceState State)? Aside =>
        Conductor.History.NotHeard is { } other && new[] { _first, _saved, Conductor.State }.All(state => IsOther(other.State, state)) ? other : null;

    private (PerformanceState? Now, IReadOnlyList<PastChange> Past, PerformanceState? Aside) Unsaved
    {
        get
        {
            var state = Conductor.State;
            return IsOther(state, _saved) ? (state, Conductor.History.Past, Aside?.State) : (null, [], Aside?.State);
        }
    }

    // The side that is not heard first: the newest file is offered first.
    private bool KeepUnsaved((PerformanceState? Now, IReadOnlyList<PastChange> Past, PerformanceState? Aside) unsaved)
    {
        _notKept = [];
        var failures = Survived.Failures.Total;
        var trouble = (Doing: string.Empty, Message: string.Empty);
        var isKept = unsaved.Aside is not { } aside ? _recovery.KeepAside(null) : Text(aside, Keeping) is { } other && _recovery.KeepAside(other);
        if (unsaved.Now is not { } now)
        {
            _recovery.Drop();
        }
        else if (_writable.Near(now, unsaved.Past) is not { } near)
        {
            isKept = Text(now, Keeping) is { } text && _recovery.Keep(text) && isKept;
        }
        else
        {
            isKept &= _recovery.Keep(near.Text);
            if (near.Reason is { } reason)
            {
                isKept = false;
                _notKept = near.Without;
                trouble = (
                    $"keeping {Words.Count(near.Without.Count, "unsaved change")}",
                    $"{string.Join("; ", near.Without)} cannot be written ({reason.Message}); the others are kept");
            }
        }

        if (trouble != _keepingTrouble)
        {
            // What is told may change while the number of changes stays.
            Survived.Failures.Settle(_keepingTrouble.Doing);
            if (trouble.Message.Length > 0)
            {
                Survived.Failures.Add(trouble.Doing, trouble.Message);
            }

            _keepingTrouble = trouble;
        }

        if (Survived.Failures.Total == failures)
        {
            Survived.Failures.Settle(Keeping);
        }

        return isKept;
    }

    private void KeepVersions(IReadOnlyDictionary<string, PerformanceState> before, IReadOnlyDictionary<string, PerformanceState> now)
    {
        foreach (var (name, state) in now.Where(version => !ReferenceEquals(before.GetValueOrDefault(version.Key), version.Value)))
        {
            // The version saved under that name was undone, so the offered changes have the name again.
            if (_recovered.Contains(state))
            {
                _versions.Remove(name);
            }
            else if (Text(state, $"keeping the saved version {name}") is { } text)
            {
                _versions.Keep(name, text);
            }
        }

        // Saved, then undone.
        foreach (var name in before.Keys.Where(name => !now.ContainsKey(name)))
        {
            _versions.Remove(name);
        }
    }

    private string? Text(PerformanceState state, string doing)
    {
        try
        {
            return Options.Write(_document, _opened, state).Document.Text;
        }
#pragma warning disable CA1031 // Runs during the music and at the end of the program; a failure is recorded and shown.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Survived.Failures.Add(doing, failure);
            return null;
        }
    }

    private void RememberVersions(PerformanceHistory history)
    {
        foreach (var (name, text) in _versions.All())
        {
            // Earlier versions of the program accepted the names of unsaved changes.
            Remember(history, KeepVersion.IsReserved(name) ? $"version {name}" : name, text);
        }

        foreach (var changes in _recovery.Offered.Where(changes => Remember(history, changes.Name, changes.Text)))
        {
            _recovered.Add(history.Versions[changes.Name]);
            var edited = changes.IsEdited ? "; the chart was edited since, and restoring them undoes that" : string.Empty;
            Offer ??= $"unsaved changes from {changes.When}{edited}; {(changes.Name == Recovery.Newest ? "press y to restore them" : $"recall {changes.Name} restores them")}";
        }

        if (_recovered.Count > 1)
        {
            var edited = _recovery.Offered.Skip(1).Any(changes => changes.IsEdited) ? " (from before the chart was edited)" : string.Empty;
            Offer += $"; {_recovered.Count - 1} earlier{edited}: recall {Recovery.Newest} 2";
        }
    }

    private static bool Remember(PerformanceHistory history, string name, string? text)
    {
        if (text is null)
        {
            return false;
        }

        var doing = $"reading the saved version {name}";
        try
        {
            var read = ChartReader.ReadText(text, name, history.State.Instruments);
            if (!read.IsChart)
            {
                Survived.Failures.Add(doing, read.Problems[0].ToString());
                return false;
            }

            history.Remember(name, PerformanceState.Opening(read.Chart, history.State.Instruments), text);
            return true;
        }
#pragma warning disable CA1031 // The chart itself can be played; the failure is shown and recorded, and the file stays.
        catch (Exception problem)
#pragma warning restore CA1031
        {
            Survived.Failures.Add(doing, problem);
            return false;
        }
    }
}
