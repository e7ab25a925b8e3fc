using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback;
using GrooveLab.Music.Ensemble;
using GrooveLab.Tests.Conducting;

namespace GrooveLab.Tests.Screens;

/// <summary>A performance on a device that a test makes fail, and the resulting health.</summary>
internal sealed class Unwell : IAudioOutput
{
    private readonly LiveSession _session;
    private readonly FailureLog _failures = new();

    public Unwell() => _session = new LiveSession(
        new BarComposer(Commands.DemoCommand.Chart()), new EventSynth(48_000), _ => this, new LiveOptions { Failures = _failures });

    public Health Health => _session.Health;

    public FailureLog Failures => _failures;

    public long Underruns { get; set; }

    public long Losses { get; set; }

    public AudioOutputState State { get; set; } = AudioOutputState.Playing;

    public Exception? Failure { get; set; }

    public bool TriesAgain { get; set; }

    public string DeviceName => "ill";

    public int SampleRate => 48_000;

    public int BufferFrames => 1920;

    public OutputClock Clock => default;

    public bool HasRealTimePriority => false;

    public Task Completion => Task.CompletedTask;

    public TimeSpan AverageLatency => TimeSpan.Zero;

    public TimeSpan CurrentLatency => TimeSpan.Zero;

    public void Start()
    {
    }

    public void Stop()
    {
    }

    public void Dispose()
    {
    }
}
