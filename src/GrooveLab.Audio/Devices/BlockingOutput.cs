using GrooveLab.Audio.Failures;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Pulls a source, period by period, into an <see cref="IBlockingSink"/> on one dedicated thread.
/// </summary>
/// <remarks>
/// It waits for room first and pulls then, so that what is played is as fresh as the device allows. When the source ends, a
/// buffer of silence pushes its last frame out of the device. The thread closes the sink itself, before it tells its state, so
/// whoever sees <see cref="AudioOutputState.Lost"/> may open the device again at once. An exception of the sink means a lost device;
/// an exception of the source ends the output as <see cref="AudioOutputState.Faulted"/>.
/// </remarks>
internal sealed partial class BlockingOutput : IAudioOutput
{
    private const int Channels = 2;
    private static readonly TimeSpan StopPatience = TimeSpan.FromSeconds(5);

    private readonly IBlockingSink _sink;
    private readonly ISampleProvider _source;
    private readonly float[] _block;
    private readonly OutputClockCell _clock = new();
    private readonly TaskCompletionSource _completion = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly Thread _thread;
    private readonly bool _raisePriority;
    private readonly FailureLog? _failures;
    private int _started;
    private int _state = (int)AudioOutputState.Ready;
    private volatile bool _stopRequested;
    private volatile bool _realTime;
    private volatile Exception? _failure;

    /// <param name="sink">Where to write; owned from here on.</param>
    /// <param name="source">What to pull: stereo, of the sink's rate.</param>
    /// <param name="raisePriority">Whether to ask for real-time priority.</param>
    /// <param name="failures">Records the failures that end nothing; null to record nothing.</param>
    public BlockingOutput(IBlockingSink sink, ISampleProvider source, bool raisePriority, FailureLog? failures = null)
    {
        RequireStereo(source, sink.SampleRate);
        _sink = sink;
        _source = source;
        _raisePriority = raisePriority;
        _failures = failures;
        DeviceName = sink.DeviceName;
        SampleRate = sink.SampleRate;
        BufferFrames = sink.BufferFrames;
        _block = GC.AllocateArray<float>(sink.PeriodFrames * Channels, pinned: true);
        _thread = new Thread(Run) { IsBackground = true, Name = "audio" };
    }

    public string DeviceName { get; }

    public int SampleRate { get; }

    public int BufferFrames { get; }

    public AudioOutputState State => (AudioOutputState)Volatile.Read(ref _state);

    public OutputClock Clock => _clock.Read();

    public bool HasRealTimePriority => _realTime;

    public long Underruns => _sink.Underruns;

    public Exception? Failure => _failure;

    public Task Completion => _completion.Task;

    /// <summary>A stop was asked for, and the source will not be read again.</summary>
    internal bool IsStopping => _stopRequested;

    public TimeSpan AverageLatency => TimeSpan.FromSeconds((double)BufferFrames / SampleRate);

    public TimeSpan CurrentLatency
    {
        get
        {
            var clock = _clock.Read();
            return clock.Timestamp == 0 || Completion.IsCompleted
                ? AverageLatency
                : TimeSpan.FromSeconds((double)clock.DelayFrames / SampleRate);
        }
    }

    /// <summary>Refuses a source that the outputs cannot play.</summary>
    /// <exception cref="ArgumentException">It is not stereo float of this rate.</exception>
    public static void RequireStereo(ISampleProvider source, int sampleRate)
    {
        var format = source.WaveFormat;
        if (format.Channels != Channels || format.SampleRate != sampleRate)
        {
            throw new ArgumentException(
                $"An output at {sampleRate} Hz plays two channels at that rate, not {format.Channels} at {format.SampleRate} Hz.",
                nameof(source));
        }
    }

    public void Start()
    {
        if (Interlocked.Exchange(ref _started, 1) != 0)
        {
            throw new InvalidOperationException("This output was started or stopped before; open another one.");
        }

        Volatile.Write(ref _state, (int)(_sink.IsSilent ? AudioOutputState.Silent : AudioOutputState.Playing));
        try
        {
            _thread.Start();
        }
#pragma warning disable CA1031 // Without a thread the device cannot play; the state says so.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failure = AudioDeviceException.Of(DeviceName, thrown);
            Finish(AudioOutputState.Lost);
        }
    }

    public void Stop()
    {
        _stopRequested = true;
        if (Interlocked.Exchange(ref _started, 1) == 0)
        {
            Finish(AudioOutputState.Stopped);
        }
        else if (Thread.CurrentThread != _thread)
        {
            // A sound server that hangs while it closes must not hang the program too; the source is no longer read by then.
            _completion.Task.Wait(StopPatience);
        }
    }

    public void Dispose() => Stop();

    private void Run()
    {
        AudioOutputState end;
        try
        {
            _realTime = _raisePriority && ThreadPriorities.TryRaiseCurrent();
            end = Pump();
            if (end == AudioOutputState.Lost)
            {
                _failure = _sink.DescribeFailure();
            }
        }
#pragma warning disable CA1031 // An exception that leaves this thread ends the process, and with it the user's session.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failure = _isInSource ? thrown : AudioDeviceException.Of(DeviceName, thrown);
            end = _isInSource ? AudioOutputState.Faulted : AudioOutputState.Lost;
        }

        Finish(end);
    }

    private void Finish(AudioOutputState end)
    {
        try
        {
            _sink.Dispose();
        }
#pragma warning disable CA1031 // A device that cannot be closed must not block the waiting thread; the failure is recorded.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failures?.Add("closing the sound device", thrown);
        }

        Volatile.Write(ref _state, (int)end);
        _completion.TrySetResult();
    }
}
