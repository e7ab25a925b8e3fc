using GrooveLab.Audio.Failures;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Pulls a source, period by period, into an <see cref="IBlockingSink"/> on one dedicated thread.
/// </summary>
/// <remarks>
/// It first waits for room and then pulls, so that the sound is as recent as the device allows. When the source ends, a
/// buffer of silence pushes its last frame out of the device. The thread closes the sink before it publishes its state, so a
/// caller that sees <see cref="AudioOutputState.Lost"/> may reopen the device at once. An exception of the sink means a lost device;
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

    /// <param name="sink">The sink to write to; owned by this object.</param>
    /// <param name="source">The source to pull: stereo, at the sink's rate.</param>
    /// <param name="raisePriority">Whether to request real-time priority.</param>
    /// <param name="failures">Records failures that do not end the output; null to record nothing.</param>
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

    /// <summary>A stop was requested, and the source is not read again.</summary>
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

    /// <summary>Throws if the outputs cannot play the source.</summary>
    /// <exception cref="ArgumentException">It is not stereo float of this rate.</exception>
    public static void RequireStereo(ISampleProvider source, int sampleRate)
    {
        var format = source.WaveFormat;
        if (format.Channels != Channels || format.SampleRate != sampleRate)
        {
            throw new ArgumentException(
                $"The output needs two channels at {sampleRate} Hz, but the source has {format.Channels} at {format.SampleRate} Hz.",
                nameof(source));
        }
    }

    public void Start()
    {
        if (Interlocked.Exchange(ref _started, 1) != 0)
        {
            throw new InvalidOperationException("This output was already started or stopped; open another one.");
        }

        Volatile.Write(ref _state, (int)(_sink.IsSilent ? AudioOutputState.Silent : AudioOutputState.Playing));
        try
        {
            _thread.Start();
        }
#pragma warning disable CA1031 // Without a thread the device cannot play; the state reports it.
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
            // A sound server that hangs while closing must not block the program; the source is no longer read by then.
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
#pragma warning disable CA1031 // An exception that escapes from this thread would end the process, and with it the user's session.
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
