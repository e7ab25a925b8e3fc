using GrooveLab.Audio.Devices;
using GrooveLab.Commands;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using GrooveLab.Screen;
using GrooveLab.Store;
using GrooveLab.Testing;
using NAudio.Wave;

namespace GrooveLab.RealTimeCheck;

/// <summary>Plays with the program's own code, on an output that marks frames or one that fails.</summary>
internal static class ProgramUnderCheck
{
    /// <summary>Plays a chart as <c>play --no-screen</c> does, with a frame counter in the right channel.</summary>
    public static int Line(string chart, int buffer, string? device)
    {
        FrameCounterTap? tap = null;
        var code = CommandGuard.Run(() => LinePlaying.Play(
            new BarComposer(ChartFiles.Read(chart)),
            Banks.Open(null),
            new LinePlayingOptions { Open = source => Counted(source, buffer, device, startWithoutDevice: false, out tap) }));
        return Told(code, tap);
    }

    /// <summary>Plays a chart as <c>play</c> does, on the screen, with a frame counter in the right channel; q ends it.</summary>
    public static int Screen(string chart, int buffer, string? device)
    {
        FrameCounterTap? tap = null;
        LiveProgram.Prepare();
        var code = Shown(new PerformanceOptions
        {
            Path = chart,
            Open = source => Counted(source, buffer, device, startWithoutDevice: true, out tap),
        });
        return Told(code, tap);
    }

    /// <summary>Plays the demo on the screen, and fails while drawing after some pictures.</summary>
    public static int Crash(int pictures)
    {
        LiveProgram.Prepare();
        return Shown(new PerformanceOptions { Open = source => new FailingOutput(PacedClockOutput.Open(AudioOutputs.DefaultSampleRate, source), pictures) });
    }

    private static int Shown(PerformanceOptions options)
    {
        var code = CommandGuard.Run(() =>
        {
            LiveProgram.Run(options, ascii: false);
            return ExitCodes.Ok;
        });
        HealthReport.TellFailures();
        return code;
    }

    private static ResilientOutput Counted(ISampleProvider source, int buffer, string? device, bool startWithoutDevice, out FrameCounterTap tap) =>
        ResilientOutput.Open(
            device, AudioOutputs.DefaultSampleRate, buffer, tap = new FrameCounterTap(source), startWithoutDevice, Survived.Failures);

    private static int Told(int code, FrameCounterTap? tap)
    {
        if (tap is not null)
        {
            Standstill.Tell(tap);
        }

        return code;
    }

    /// <summary>An output whose clock throws after some pictures; every picture reads the clock first.</summary>
    private sealed class FailingOutput(IAudioOutput output, int pictures) : IAudioOutput
    {
        private int _asked;

        public string DeviceName => output.DeviceName;

        public int SampleRate => output.SampleRate;

        public int BufferFrames => output.BufferFrames;

        public AudioOutputState State => output.State;

        public OutputClock Clock => ++_asked > pictures ? throw new InvalidOperationException("a requested failure") : output.Clock;

        public bool HasRealTimePriority => output.HasRealTimePriority;

        public long Underruns => output.Underruns;

        public Exception? Failure => output.Failure;

        public Task Completion => output.Completion;

        public TimeSpan AverageLatency => output.AverageLatency;

        public TimeSpan CurrentLatency => output.CurrentLatency;

        public void Start() => output.Start();

        public void Stop() => output.Stop();

        public void Dispose() => output.Dispose();
    }
}
