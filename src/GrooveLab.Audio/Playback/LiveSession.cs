using System.Diagnostics;
using System.Runtime;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using NAudio.Wave;

namespace GrooveLab.Audio.Playback;

/// <summary>The settings of a live performance.</summary>
public sealed record LiveOptions
{
    /// <summary>Overall level in dB, before the limiter.</summary>
    public double MasterDecibels { get; init; } = Renderer.DefaultMasterDecibels;

    /// <summary>Listening level at the start, in dB, 0 or less; a fade-in leads to it.</summary>
    public double StartDecibels { get; init; } = StartGain.DefaultLevelDecibels;

    /// <summary>Seconds of ringing after the last bar.</summary>
    public double TailSeconds { get; init; } = EngineOptions.DefaultTailSeconds;

    /// <summary>The parts that play; null for all.</summary>
    public Func<PartChannels, bool>? Plays { get; init; }

    /// <summary>Receives what is played as MIDI messages; null for nothing.</summary>
    public MidiTap? Tap { get; init; }

    /// <summary>True: the output runs in silence until <see cref="LiveSession.BeginAt"/>.</summary>
    public bool WaitsToBegin { get; init; }

    /// <summary>The tempo of all bars, whatever is written; null for the written tempi.</summary>
    public Tempo? SteadyTempo { get; init; }

    /// <summary>Called just before the output starts; null for nothing.</summary>
    public Action<LiveSession>? Starting { get; init; }

    /// <summary>Records the failures that are caught; null for a log of its own.</summary>
    public FailureLog? Failures { get; init; }
}

/// <summary>
/// One live performance: engine, composer thread, limiter, start gain and output. It starts once and ends once.
/// </summary>
/// <remarks>All members may be called from any thread except the audio thread.</remarks>
public sealed class LiveSession : IDisposable
{
    private const int SkippedAtOnce = 4800;
    private const int LongestWaitForBars = 500;

    private readonly ComposerThread _composer;
    private readonly LimitedMix _mix;
    private readonly ISoundFontSynth _synth;
    private readonly FailureLog _failures;
    private readonly Action<LiveSession>? _starting;
    private readonly StartGate? _entrance;
    private readonly Lock _gate = new();
    private readonly List<EngineReport> _log = [];
    private long _faultsNoted;
    private volatile Health _health = Health.Good;
    private bool _started;
    private bool _disposed;

    /// <summary>Composes the first bars, prepares the sounds and opens the output; nothing sounds yet.</summary>
    /// <param name="source">The source of the bars.</param>
    /// <param name="synth">The synthesizer; owned by the session.</param>
    /// <param name="open">Opens an output on a source of stereo frames.</param>
    /// <param name="options">The settings.</param>
    /// <exception cref="AudioDeviceException">The output cannot be opened.</exception>
    public LiveSession(
        IBarSource source, ISoundFontSynth synth, Func<ISampleProvider, IAudioOutput> open, LiveOptions? options = null)
        : this(BarRoute.Whole(source), synth, open, options)
    {
    }

    /// <summary>The same with a given route.</summary>
    /// <param name="route">The route to play.</param>
    /// <param name="synth">The synthesizer; owned by the session.</param>
    /// <param name="open">Opens an output on a source of stereo frames.</param>
    /// <param name="options">The settings.</param>
    /// <exception cref="AudioDeviceException">The output cannot be opened.</exception>
    public LiveSession(
        BarRoute route, ISoundFontSynth synth, Func<ISampleProvider, IAudioOutput> open, LiveOptions? options = null)
    {
        options ??= new LiveOptions();
        _synth = synth;
        _starting = options.Starting;
        _failures = options.Failures ?? new FailureLog();
        var soundFont = synth as SoundFontSynth;
        soundFont?.WarmUp();
        Engine = new GrooveEngine(synth, new EngineOptions
        {
            SampleRate = synth.SampleRate,
            MasterDecibels = options.MasterDecibels,
            TailSeconds = options.TailSeconds,
            EndsStream = true,
            Tap = options.Tap,
            SteadyTempo = options.SteadyTempo,
        });
        Bars = new BarPreparer(
            Engine,
            route,
            options.Plays,
            soundFont is { } bank ? (channel, program) => bank.Prepare(channel, program) : null)
        {
            RepeatsOnFailure = true,
            Failures = _failures,
        };
        Bars.Fill();
        _mix = new LimitedMix(Engine, new Limiter(synth.SampleRate));
        _composer = new ComposerThread(Turn, _failures);
        ISampleProvider sound = new StartGain(_mix, options.StartDecibels);
        _entrance = options.WaitsToBegin ? new StartGate(sound) : null;
        Output = open(_entrance ?? sound);
    }

    /// <summary>The engine, for commands (<see cref="GrooveEngine.Post"/>) and its state.</summary>
    public GrooveEngine Engine { get; }

    /// <summary>The composer's side.</summary>
    public BarPreparer Bars { get; }

    /// <summary>The output.</summary>
    public IAudioOutput Output { get; }

    /// <summary>Completes when the last frame has been heard, also after a stop, or when the output has failed.</summary>
    public Task Completion => Output.Completion;

    /// <summary>The place that is heard now: the engine's playhead minus the device's delay.</summary>
    public Playhead Heard => HeardAt(Stopwatch.GetTimestamp());

    /// <summary>The position of the output in frames of the engine.</summary>
    public OutputClock EngineClock => _entrance is not { } entrance ? Output.Clock : Shifted(Output.Clock, entrance.Skipped - entrance.Held);

    /// <summary>Whether the output runs in silence until <see cref="BeginAt"/>.</summary>
    public bool IsWaiting => _entrance is { IsOpen: false };

    /// <summary>The frames of the output before the first frame of the engine; known once the music has begun.</summary>
    public long FramesBefore => _entrance is { } entrance ? entrance.Held - entrance.Skipped : 0;

    /// <summary>The place that was heard a short time ago.</summary>
    /// <param name="timestamp">When, as of <see cref="Stopwatch.GetTimestamp"/>.</param>
    public Playhead HeardAt(long timestamp) =>
        Engine.PlayheadAt((long)Math.Max(0, EngineClock.AudibleFrame(timestamp, Output.SampleRate)));

    /// <summary>The problems so far; the same instance until something changes.</summary>
    public Health Health => _health = Health.Of(Engine, Bars, _synth, _mix.Limiter, Output, _failures, _health);

    /// <summary>All reports of the engine so far, in order; with the requested changes they are enough to replay the performance.</summary>
    public IReadOnlyList<EngineReport> Log
    {
        get
        {
            lock (_gate)
            {
                TakeReports();
                return [.. _log];
            }
        }
    }

    /// <summary>
    /// Starts playing. Until the end, the garbage collector avoids long pauses, and if the system allows it, this process's threads run
    /// before other programs.
    /// </summary>
    /// <exception cref="InvalidOperationException">It was already started.</exception>
    public void Start()
    {
        if (_started)
        {
            throw new InvalidOperationException("The performance was already started.");
        }

        _started = true;
        // A garbage collection stops the audio thread too, so long ones must not happen, and other programs must not interrupt short ones.
        var mode = GCSettings.LatencyMode;
        GCSettings.LatencyMode = GCLatencyMode.SustainedLowLatency;
        _ = Output.Completion.ContinueWith(_ => GCSettings.LatencyMode = mode, TaskScheduler.Default);
        _composer.Start();
        _starting?.Invoke(this);
        Output.Start();
        ThreadPriorities.TryPreferProcess();
    }

    /// <summary>Begins a performance that waits; does nothing in another. What comes before a frame is dropped.</summary>
    /// <param name="frame">The first frame of the engine that is heard, at most some seconds after its first; 0 or less for all.</param>
    public void BeginAt(long frame)
    {
        if (_entrance is not { IsOpen: false } entrance)
        {
            return;
        }

        var scratch = new float[2 * SkippedAtOnce];
        while (entrance.Skipped < frame)
        {
            for (var patience = 0; Bars.BarsAhead < 1 && patience < LongestWaitForBars && Engine.Playhead.State <= TransportState.Playing; patience++)
            {
                _composer.Wake();
                Thread.Sleep(1);
            }

            var before = entrance.Skipped;
            entrance.Skip(scratch.AsSpan(0, 2 * (int)Math.Min(SkippedAtOnce, frame - entrance.Skipped)));
            if (entrance.Skipped == before)
            {
                break;
            }
        }

        entrance.Open();
    }

    /// <summary>Other bars from a bar line on, with continued numbers; see <see cref="BarPreparer.Replace"/>.</summary>
    public BarChange Replace(IBarSource source, int? fromBar = null) => Wake(Bars.Replace(source, fromBar));

    /// <summary>Continues elsewhere, or in a loop; see <see cref="BarPreparer.Go"/>.</summary>
    public BarChange Go(BarRoute route) => Wake(Bars.Go(route));

    /// <summary>Another route that continues after the current bar; see <see cref="BarPreparer.Continue"/>.</summary>
    public BarChange Continue(BarRoute route) => Wake(Bars.Continue(route));

    /// <summary>The reports from a given one on, in order.</summary>
    public IReadOnlyList<EngineReport> LogFrom(int first)
    {
        lock (_gate)
        {
            TakeReports();
            return first >= _log.Count ? [] : _log.GetRange(first, _log.Count - first);
        }
    }

    /// <summary>How long after its fade a performance may take to end: a hanging device must not prevent the end of the program.</summary>
    internal TimeSpan StopPatience { get; init; } = TimeSpan.FromSeconds(2);

    /// <summary>Fades out and ends; the task completes when the sound has ended.</summary>
    public async Task StopAsync(double fadeSeconds = 0.3)
    {
        if (_started && !IsWaiting && Output.State is AudioOutputState.Playing or AudioOutputState.Silent)
        {
            var patience = StopPatience == Timeout.InfiniteTimeSpan
                ? Completion
                : Task.Delay(TimeSpan.FromSeconds(fadeSeconds) + StopPatience + Output.AverageLatency);
            while (Engine.Post(EngineCommand.Stop(fadeSeconds)) == 0 && !Completion.IsCompleted && !patience.IsCompleted)
            {
                // The ring of commands is full; the next block makes room.
                await Task.Delay(1).ConfigureAwait(false);
            }

            // On any thread, because a thread with its own loop, such as the screen, may be waiting for this.
            await Task.WhenAny(Completion, patience).ConfigureAwait(false);
        }

        Output.Stop();
    }

    /// <summary>Ends at once.</summary>
    public void Dispose()
    {
        if (_disposed)
        {
            return;
        }

        _disposed = true;
        Output.Dispose();
        _composer.Dispose();
        TakeReports();
        NoteFaults();
    }

    private static OutputClock Shifted(in OutputClock clock, long frames) => clock with { FramesPulled = clock.FramesPulled + frames };

    private BarChange Wake(BarChange change)
    {
        _composer.Wake();
        return change;
    }

    private void Turn()
    {
        TakeReports();
        NoteFaults();
        Bars.Fill();
    }

    private void NoteFaults()
    {
        var faults = Engine.Counters.Faults;
        if (faults > _faultsNoted && Engine.Fault is { } fault)
        {
            _failures.Add("playing", fault, faults - _faultsNoted);
            _faultsNoted = faults;
        }
    }

    // One thread at a time, because the engine's queue of reports has one reader.
    private void TakeReports()
    {
        lock (_gate)
        {
            while (Engine.TryTakeReport(out var report))
            {
                _log.Add(report);
            }
        }
    }
}
