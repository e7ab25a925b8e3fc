using System.Diagnostics;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// An output that outlives its device: when the device is lost the source is pulled on in silence, at the right pace, and the
/// device is taken up again as soon as it lets itself be opened.
/// </summary>
/// <remarks>
/// <para>
/// Musical time neither stops nor jumps: the silent clock starts where the lost device had got to, what that device had pulled
/// but not sounded is waited out, and a device that comes back fills its buffer from where the silent clock stands.
/// </para>
/// <para>
/// A supervisor looks every 50 ms, on a timer's thread, never on the audio thread; nothing is raised. Whoever draws the screen
/// reads <see cref="State"/>, <see cref="Failure"/> and <see cref="Retakes"/>. One of two outputs pulls the source, never both.
/// </para>
/// </remarks>
public sealed class ResilientOutput : IAudioOutput
{
    /// <summary>How often a lost device is looked for.</summary>
    public static readonly TimeSpan RetryInterval = TimeSpan.FromSeconds(1.5);

    private static readonly TimeSpan PollInterval = TimeSpan.FromMilliseconds(50);

    private readonly Func<IAudioOutput> _openDevice;
    private readonly Func<long, IAudioOutput> _openSilence;
    private readonly TimeProvider _time;
    private readonly ITimer _timer;
    private readonly Lock _gate = new();
    private readonly TaskCompletionSource _completion = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private volatile Leg _leg;
    private long _nextTry;
    private bool _started;
    private bool _finished;
    private int _end = -1;
    private int _retakes;
    private volatile Exception? _failure;

    internal ResilientOutput(
        Func<IAudioOutput> openDevice,
        Func<long, IAudioOutput> openSilence,
        bool startWithoutDevice,
        TimeProvider time)
    {
        _openDevice = openDevice;
        _openSilence = openSilence;
        _time = time;
        _leg = new Leg(OpenFirst(startWithoutDevice), 0, 0);
        _timer = time.CreateTimer(_ => Supervise(), null, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
    }

    /// <summary>The device that sounds now, or the silent clock.</summary>
    public string DeviceName => _leg.Output.DeviceName;

    /// <inheritdoc/>
    public int SampleRate => _leg.Output.SampleRate;

    /// <inheritdoc/>
    public int BufferFrames => _leg.Output.BufferFrames;

    /// <summary>
    /// What it is doing now; <see cref="AudioOutputState.Silent"/> while there is no device, never <see cref="AudioOutputState.Lost"/>.
    /// </summary>
    public AudioOutputState State
    {
        get
        {
            int end = Volatile.Read(ref _end);
            if (end >= 0)
            {
                return (AudioOutputState)end;
            }

            // Between the loss and the supervisor's next look there is silence already.
            AudioOutputState state = _leg.Output.State;
            return state == AudioOutputState.Lost ? AudioOutputState.Silent : state;
        }
    }

    /// <summary>The position over all devices and silences since the start.</summary>
    public OutputClock Clock
    {
        get
        {
            Leg leg = _leg;
            OutputClock clock = leg.Output.Clock;
            return clock.Timestamp == 0
                ? new OutputClock(leg.FramesBefore, 0, leg.Since)
                : clock with { FramesPulled = leg.FramesBefore + clock.FramesPulled };
        }
    }

    /// <inheritdoc/>
    public bool HasRealTimePriority => _leg.Output.HasRealTimePriority;

    /// <summary>Gaps owned up to by the device that sounds now.</summary>
    public long Underruns => _leg.Output.Underruns;

    /// <summary>The last thing that went wrong; null while a device sounds.</summary>
    public Exception? Failure => _failure;

    /// <summary>How many times a device was taken up again: a change tells the screen that sound is back.</summary>
    public int Retakes => Volatile.Read(ref _retakes);

    /// <inheritdoc/>
    public Task Completion => _completion.Task;

    /// <inheritdoc/>
    public TimeSpan AverageLatency => _leg.Output.AverageLatency;

    /// <inheritdoc/>
    public TimeSpan CurrentLatency => _leg.Output.CurrentLatency;

    /// <summary>Opens a device of this system, to be kept up.</summary>
    /// <param name="name">A name of <see cref="AudioOutputs.List"/>; null for the default.</param>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="bufferMilliseconds">The buffer wanted.</param>
    /// <param name="source">What to pull: stereo, at that rate.</param>
    /// <param name="startWithoutDevice">
    /// With no device to begin with: true starts in silence (and takes a device that turns up), false throws.
    /// </param>
    /// <exception cref="AudioDeviceException">There is no device and silence was not allowed.</exception>
    /// <exception cref="ArgumentException">The source is not stereo, or has another rate.</exception>
    public static ResilientOutput Open(
        string? name,
        int sampleRate,
        int bufferMilliseconds,
        ISampleProvider source,
        bool startWithoutDevice = false) =>
        new(
            () => AudioOutputs.Open(name, sampleRate, bufferMilliseconds, source),
            headStart => PacedClockOutput.Open(sampleRate, source, headStart),
            startWithoutDevice,
            TimeProvider.System);

    /// <inheritdoc/>
    public void Start()
    {
        lock (_gate)
        {
            if (_started || _finished)
            {
                throw new InvalidOperationException("This output was started or stopped before; open another one.");
            }

            _started = true;
            _leg = _leg with { Since = _time.GetTimestamp() };
            _nextTry = _time.GetTimestamp() + Ticks(RetryInterval);
            _leg.Output.Start();
            _timer.Change(PollInterval, PollInterval);
        }
    }

    /// <inheritdoc/>
    public void Stop()
    {
        lock (_gate)
        {
            if (!_finished)
            {
                _leg.Output.Stop();
                AudioOutputState state = _leg.Output.State;
                Finish(state is AudioOutputState.Ended or AudioOutputState.Faulted ? state : AudioOutputState.Stopped);
            }
        }
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        Stop();
        _timer.Dispose();
    }

    /// <summary>One look at how things stand; the timer's work.</summary>
    internal void Supervise()
    {
        // A look that is still busy opening a device makes the next one unnecessary.
        if (!_gate.TryEnter())
        {
            return;
        }

        try
        {
            if (_finished || !_started)
            {
                return;
            }

            switch (_leg.Output.State)
            {
                case AudioOutputState.Lost:
                    GoSilent();
                    break;
                case AudioOutputState.Silent when _time.GetTimestamp() >= _nextTry:
                    TryDevice();
                    break;
                case AudioOutputState.Ended or AudioOutputState.Faulted or AudioOutputState.Stopped:
                    _failure = _leg.Output.Failure ?? _failure;
                    Finish(_leg.Output.State);
                    break;
            }
        }
        finally
        {
            _gate.Exit();
        }
    }

    private IAudioOutput OpenFirst(bool startWithoutDevice)
    {
        try
        {
            return _openDevice();
        }
        catch (AudioDeviceException none) when (startWithoutDevice)
        {
            _failure = none;
            return _openSilence(0);
        }
    }

    private void GoSilent()
    {
        IAudioOutput lost = _leg.Output;
        _failure = lost.Failure;
        OutputClock clock = Clock;
        lost.Dispose();

        // Frames pulled by the device that would not have sounded yet, had it lived: the silence waits them out before it pulls.
        // Once they are over, the difference is negative, and that much is due at once.
        long now = _time.GetTimestamp();
        double elapsed = (double)(now - clock.Timestamp) * SampleRate / _time.TimestampFrequency;
        IAudioOutput silence = _openSilence(clock.DelayFrames - (long)elapsed);
        _leg = new Leg(silence, clock.FramesPulled, now);
        _nextTry = now + Ticks(RetryInterval);
        silence.Start();
    }

    private void TryDevice()
    {
        if (_failure is AudioDeviceException { RetryHelps: false })
        {
            return;
        }

        IAudioOutput device;
        try
        {
            device = _openDevice();
        }
        catch (AudioDeviceException still)
        {
            _failure = still;
            _nextTry = _time.GetTimestamp() + Ticks(RetryInterval);
            return;
        }

        // Stopping waits for the silent clock's last pull; only then may the device begin.
        _leg.Output.Stop();
        AudioOutputState state = _leg.Output.State;
        if (state != AudioOutputState.Stopped)
        {
            device.Dispose();
            return;
        }

        long pulled = Clock.FramesPulled;
        _leg.Output.Dispose();
        _leg = new Leg(device, pulled, _time.GetTimestamp());
        device.Start();
        _failure = null;
        Interlocked.Increment(ref _retakes);
    }

    private void Finish(AudioOutputState end)
    {
        _finished = true;
        _timer.Change(Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
        _leg.Output.Dispose();
        Volatile.Write(ref _end, (int)end);
        _completion.TrySetResult();
    }

    private long Ticks(TimeSpan span) => (long)(span.TotalSeconds * _time.TimestampFrequency);

    /// <summary>One stretch on one output, replaced whole, so that a reader never pairs one output with another's offset.</summary>
    private sealed record Leg(IAudioOutput Output, long FramesBefore, long Since);
}
