using System.Diagnostics;
using System.Runtime;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;
using NAudio.Wave;

namespace GrooveLab.Audio.Playback;

/// <summary>How a live performance is set up.</summary>
public sealed record LiveOptions
{
    /// <summary>Level of the whole, in dB, before the limiter.</summary>
    public double MasterDecibels { get; init; } = Renderer.DefaultMasterDecibels;

    /// <summary>Listening level at the start, in dB, 0 or less; a fade-in leads to it.</summary>
    public double StartDecibels { get; init; } = StartGain.DefaultLevelDecibels;

    /// <summary>Seconds left to ring after the last bar.</summary>
    public double TailSeconds { get; init; } = EngineOptions.DefaultTailSeconds;

    /// <summary>Which parts play; null for all.</summary>
    public Func<PartChannels, bool>? Plays { get; init; }

    /// <summary>Records the failures that are caught; null for a log of its own.</summary>
    public FailureLog? Failures { get; init; }
}

/// <summary>
/// One live performance: engine, composer thread, limiter, start gain and output put together. It begins once and ends once.
/// </summary>
/// <remarks>All members may be called from any thread but the audio thread.</remarks>
public sealed class LiveSession : IDisposable
{
    private readonly ComposerThread _composer;
    private readonly LimitedMix _mix;
    private readonly ISoundFontSynth _synth;
    private readonly FailureLog _failures;
    private readonly Lock _gate = new();
    private readonly List<EngineReport> _log = [];
    private long _faultsNoted;
    private volatile Health _health = Health.Good;
    private bool _started;
    private bool _disposed;

    /// <summary>Composes the first bars, makes the sounds ready and opens the output; nothing sounds yet.</summary>
    /// <param name="source">What is played.</param>
    /// <param name="synth">Its sound; owned by the session from here on.</param>
    /// <param name="open">Opens an output on a source of stereo frames.</param>
    /// <param name="options">The set-up.</param>
    /// <exception cref="AudioDeviceException">The output cannot be opened.</exception>
    public LiveSession(
        IBarSource source, ISoundFontSynth synth, Func<ISampleProvider, IAudioOutput> open, LiveOptions? options = null)
        : this(BarRoute.Whole(source), synth, open, options)
    {
    }

    /// <summary>The same with a route of one's own.</summary>
    /// <param name="route">What is played.</param>
    /// <param name="synth">Its sound; owned by the session from here on.</param>
    /// <param name="open">Opens an output on a source of stereo frames.</param>
    /// <param name="options">The set-up.</param>
    /// <exception cref="AudioDeviceException">The output cannot be opened.</exception>
    public LiveSession(
        BarRoute route, ISoundFontSynth synth, Func<ISampleProvider, IAudioOutput> open, LiveOptions? options = null)
    {
        options ??= new LiveOptions();
        _synth = synth;
        _failures = options.Failures ?? new FailureLog();
        var soundFont = synth as SoundFontSynth;
        soundFont?.WarmUp();
        Engine = new GrooveEngine(synth, new EngineOptions
        {
            SampleRate = synth.SampleRate,
            MasterDecibels = options.MasterDecibels,
            TailSeconds = options.TailSeconds,
            EndsStream = true,
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
        Output = open(new StartGain(_mix, options.StartDecibels));
    }

    /// <summary>The engine, for commands (<see cref="GrooveEngine.Post"/>) and what it has computed.</summary>
    public GrooveEngine Engine { get; }

    /// <summary>The composer's side.</summary>
    public BarPreparer Bars { get; }

    /// <summary>The output.</summary>
    public IAudioOutput Output { get; }

    /// <summary>Ends when the last frame was heard, after a stop too, or when the output gave up.</summary>
    public Task Completion => Output.Completion;

    /// <summary>What is being heard now: the engine's playhead, put right by the device's delay.</summary>
    public Playhead Heard
    {
        get
        {
            var frame = Output.Clock.AudibleFrame(Stopwatch.GetTimestamp(), Output.SampleRate);
            return Engine.PlayheadAt((long)Math.Max(0, frame));
        }
    }

    /// <summary>The problems so far; the same instance until something changes.</summary>
    public Health Health => _health = Health.Of(Engine, Bars, _synth, _mix.Limiter, Output, _failures, _health);

    /// <summary>All that the engine has reported so far, in order: with the changes asked for it is enough to play it all again.</summary>
    public IReadOnlyList<EngineReport> Log
    {
        get
        {
            lock (_gate)
            {
                return [.. _log];
            }
        }
    }

    /// <summary>
    /// Begins to play. Until the end the collector avoids long pauses; where the system allows it, this process's threads get their turn
    /// before other programs'.
    /// </summary>
    /// <exception cref="InvalidOperationException">It was begun before.</exception>
    public void Start()
    {
        if (_started)
        {
            throw new InvalidOperationException("A performance begins once.");
        }

        _started = true;
        // The collector's pauses are the audio thread's: no long ones while it plays, and nobody in between while there is a short one.
        var mode = GCSettings.LatencyMode;
        GCSettings.LatencyMode = GCLatencyMode.SustainedLowLatency;
        _ = Output.Completion.ContinueWith(_ => GCSettings.LatencyMode = mode, TaskScheduler.Default);
        _composer.Start();
        Output.Start();
        ThreadPriorities.TryPreferProcess();
    }

    /// <summary>Other bars from a bar line on, their numbers going on; see <see cref="BarPreparer.Replace"/>.</summary>
    public BarChange Replace(IBarSource source, int? fromBar = null) => Wake(Bars.Replace(source, fromBar));

    /// <summary>On from elsewhere, or around in a loop; see <see cref="BarPreparer.Go"/>.</summary>
    public BarChange Go(BarRoute route) => Wake(Bars.Go(route));

    /// <summary>Another route that goes on behind the bar that plays; see <see cref="BarPreparer.Continue"/>.</summary>
    public BarChange Continue(BarRoute route) => Wake(Bars.Continue(route));

    /// <summary>The reports of the log from one on, in order.</summary>
    public IReadOnlyList<EngineReport> LogFrom(int first)
    {
        lock (_gate)
        {
            return first >= _log.Count ? [] : _log.GetRange(first, _log.Count - first);
        }
    }

    /// <summary>Fades out and ends; the task ends when nothing sounds any more.</summary>
    public async Task StopAsync(double fadeSeconds = 0.3)
    {
        if (_started && Output.State is AudioOutputState.Playing or AudioOutputState.Silent)
        {
            // A device that hangs must not keep the program from ending.
            var patience = Task.Delay(TimeSpan.FromSeconds(fadeSeconds + 2) + Output.AverageLatency);
            while (Engine.Post(EngineCommand.Stop(fadeSeconds)) == 0 && !Completion.IsCompleted && !patience.IsCompleted)
            {
                // The ring of commands is full; the next block makes room.
                await Task.Delay(1).ConfigureAwait(false);
            }

            // On any thread: a thread with a loop of its own, as a screen has, may be waiting for this.
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
