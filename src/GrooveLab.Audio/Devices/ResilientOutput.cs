using System.Diagnostics;
using GrooveLab.Audio.Failures;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// An output that outlives its device: when the device is lost, it pulls the source in silence at the right pace, and
/// uses the device again as soon as it can be opened.
/// </summary>
/// <remarks>
/// <para>
/// Musical time does not stop or jump: the silent clock starts at the place that the lost device reached, after waiting for the frames
/// that it had pulled but not played; a device that returns fills its buffer from the place of the silent clock.
/// </para>
/// <para>
/// A supervisor checks every 50 ms, on a timer's thread, never on the audio thread; no events are raised. The screen
/// reads <see cref="State"/>, <see cref="Failure"/>, <see cref="Losses"/> and <see cref="Retakes"/>. Only one output pulls the source at a
/// time.
/// </para>
/// <para>
/// It survives any exception of a device, from any member: a device that throws while it is opened is missing, and one that throws while it plays
/// is lost. Unexpected exceptions are recorded.
/// </para>
/// </remarks>
public sealed class ResilientOutput : IAudioOutput
{
    /// <summary>The interval between attempts to reopen a lost device.</summary>
    public static readonly TimeSpan RetryInterval = TimeSpan.FromSeconds(1.5);

    private static readonly TimeSpan PollInterval = TimeSpan.FromMilliseconds(50);

    private readonly ISampleProvider _source;
    private readonly Func<ISampleProvider, IAudioOutput> _openDevice;
    private readonly Func<ISampleProvider, long, IAudioOutput> _openSilence;
    private readonly FailureLog _failures;
    private readonly TimeProvider _time;
    private readonly ITimer _timer;
    private readonly Lock _gate = new();
    private readonly TaskCompletionSource _completion = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private volatile Leg _leg;
    private long _nextTry;
    private bool _started;
    private bool _isLost;
    private volatile bool _finished;
    private int _end = -1;
    private int _retakes;
    private long _losses;
    private long _underrunsBefore;
    private volatile Exception? _failure;
    private volatile Exception? _lastLoss;

    internal ResilientOutput(
        ISampleProvider source,
        Func<ISampleProvider, IAudioOutput> openDevice,
        Func<ISampleProvider, long, IAudioOutput> openSilence,
        bool startWithoutDevice,
        TimeProvider time,
        FailureLog? failures = null)
    {
        _source = source;
        _openDevice = openDevice;
        _openSilence = openSilence;
        _time = time;
        _failures = failures ?? new FailureLog();
        _leg = OpenFirst(startWithoutDevice);
        _timer = time.CreateTimer(_ => Supervise(), null, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
    }

    /// <summary>The longest time that a hanging device can delay the end of the program.</summary>
    internal TimeSpan StopPatience { get; init; } = TimeSpan.FromSeconds(5);

    /// <summary>The current device, or the silent clock.</summary>
    public string DeviceName => _leg.DeviceName;

    /// <inheritdoc/>
    public int SampleRate => _source.WaveFormat.SampleRate;

    /// <inheritdoc/>
    public int BufferFrames => _leg.BufferFrames;

    /// <summary>
    /// The current state; <see cref="AudioOutputState.Silent"/> without a device, never <see cref="AudioOutputState.Lost"/>.
    /// </summary>
    public AudioOutputState State
    {
        get
        {
            var end = Volatile.Read(ref _end);
            if (end >= 0)
            {
                return (AudioOutputState)end;
            }

            // It is already silent between the loss and the supervisor's next check.
            var state = StateOf(_leg);
            return state == AudioOutputState.Lost ? AudioOutputState.Silent : state;
        }
    }

    /// <summary>The position since the start, over all devices and silent stretches.</summary>
    public OutputClock Clock
    {
        get
        {
            var leg = _leg;
            var clock = Ask(leg, static output => output.Clock, default);
            return clock.Timestamp == 0
                ? new OutputClock(leg.FramesBefore, 0, leg.Since)
                : clock with { FramesPulled = leg.FramesBefore + clock.FramesPulled };
        }
    }

    /// <inheritdoc/>
    public bool HasRealTimePriority => Ask(_leg, static output => output.HasRealTimePriority, false);

    /// <summary>The gaps that all devices have reported since the start.</summary>
    public long Underruns => Interlocked.Read(ref _underrunsBefore) + UnderrunsOf(_leg);

    /// <summary>Why there is no device, or why it ended; null while a device plays.</summary>
    public Exception? Failure => _failure;

    /// <inheritdoc/>
    public long Losses => Interlocked.Read(ref _losses);

    /// <inheritdoc/>
    public Exception? LastLoss => _lastLoss;

    /// <summary>Whether the output tries a missing device again. It does not if waiting cannot help, such as without the library.</summary>
    public bool TriesAgain => !_finished && _failure is not AudioDeviceException { RetryHelps: false };

    /// <summary>How often a lost device was reopened; a change tells the screen that sound is back.</summary>
    public int Retakes => Volatile.Read(ref _retakes);

    /// <inheritdoc/>
    public Task Completion => _completion.Task;

    /// <inheritdoc/>
    public TimeSpan AverageLatency => Ask(_leg, static output => output.AverageLatency, TimeSpan.Zero);

    /// <inheritdoc/>
    public TimeSpan CurrentLatency => Ask(_leg, static output => output.CurrentLatency, TimeSpan.Zero);

    /// <summary>Opens a device of this system and supervises it.</summary>
    /// <param name="name">A name of <see cref="AudioOutputs.List"/>; null for the default.</param>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="bufferMilliseconds">The requested buffer in milliseconds.</param>
    /// <param name="source">The source to pull: stereo, at that rate.</param>
    /// <param name="startWithoutDevice">
    /// If no device can be opened: true starts in silence (and uses a device as soon as one appears), false throws.
    /// </param>
    /// <param name="failures">Records the failures that are caught; null to record nothing.</param>
    /// <exception cref="AudioDeviceException">No device can be opened, and silence is not allowed.</exception>
    /// <exception cref="ArgumentException">The source is not stereo, or has another rate.</exception>
    public static ResilientOutput Open(
        string? name,
        int sampleRate,
        int bufferMilliseconds,
        ISampleProvider source,
        bool startWithoutDevice = false,
        FailureLog? failures = null)
    {
        BlockingOutput.RequireStereo(source, sampleRate);
        return new ResilientOutput(
            source,
            lent => AudioOutputs.Open(name, sampleRate, bufferMilliseconds, lent, failures),
            (lent, headStart) => PacedClockOutput.Open(sampleRate, lent, headStart),
            startWithoutDevice,
            TimeProvider.System,
            failures);
    }

    /// <inheritdoc/>
    public void Start()
    {
        lock (_gate)
        {
            if (_started || _finished)
            {
                throw new InvalidOperationException("This output was already started or stopped; open another one.");
            }

            _started = true;
            _leg = _leg with { Since = _time.GetTimestamp() };
            _nextTry = _time.GetTimestamp() + Ticks(RetryInterval);
            if (!TryStart(_leg))
            {
                GoSilent();
            }

            _timer.Change(PollInterval, PollInterval);
        }
    }

    /// <inheritdoc/>
    public void Stop()
    {
        if (!_gate.TryEnter(StopPatience))
        {
            // The supervisor hangs in a device. The source is taken from the device, and the thread is abandoned.
            _failures.Add("stopping the sound device", $"no response for {StopPatience.TotalSeconds:0} s");
            _finished = true;
            TryEnd(_leg.Source);
            Conclude(AudioOutputState.Stopped);
            return;
        }

        try
        {
            if (!_finished)
            {
                Quiet(_leg.Output, static output => output.Stop(), "stopping the sound device");
                var state = StateOf(_leg);
                Finish(state is AudioOutputState.Ended or AudioOutputState.Faulted ? state : AudioOutputState.Stopped);
            }
        }
        finally
        {
            _gate.Exit();
        }
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        Stop();
        _timer.Dispose();
    }

    /// <summary>Checks the output; called by the timer. It never throws, because an exception on a timer's thread would end the process.</summary>
    internal void Supervise()
    {
        // If a check is still opening a device, the next one is unnecessary.
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

            switch (_isLost ? AudioOutputState.Lost : StateOf(_leg))
            {
                case AudioOutputState.Lost:
                    GoSilent();
                    break;
                case AudioOutputState.Silent when _time.GetTimestamp() >= _nextTry:
                    TryDevice();
                    break;
                case AudioOutputState.Ended or AudioOutputState.Faulted or AudioOutputState.Stopped:
                    _failure = Ask(_leg, static output => output.Failure, null) ?? _failure;
                    Finish(StateOf(_leg));
                    break;
            }
        }
#pragma warning disable CA1031 // The next check tries again.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failures.Add("supervising the sound output", thrown);
        }
        finally
        {
            _gate.Exit();
        }
    }

    private Leg OpenFirst(bool startWithoutDevice)
    {
        try
        {
            return OpenDevice();
        }
        catch (AudioDeviceException none) when (startWithoutDevice)
        {
            _failure = none;
            return OpenSilence(0, 0);
        }
    }

    private Leg OpenDevice()
    {
        var lease = new SourceLease(_source);
        IAudioOutput? opened = null;
        try
        {
            opened = _openDevice(lease);
            return new Leg(opened, lease, 0, 0);
        }
#pragma warning disable CA1031 // Any exception means that the device cannot be opened.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            Quiet(opened, static output => output.Dispose(), "closing the sound device");
            throw Foreseen("opening the sound device", thrown);
        }
    }

    private Leg OpenSilence(long headStart, long framesBefore)
    {
        var lease = new SourceLease(_source);
        return new Leg(_openSilence(lease, headStart), lease, framesBefore, _time.GetTimestamp());
    }

    // A step that fails is tried again at the next check.
    private void GoSilent()
    {
        _isLost = true;
        var lost = _leg;
        _failure = Ask(lost, static output => output.Failure, null) ?? _failure
            ?? new AudioDeviceException(AudioDeviceErrorKind.Lost, $"The sound device \"{lost.DeviceName}\" was lost.");
        var clock = Ask(lost, static output => output.Clock, default);
        if (!TryRelease(lost))
        {
            return;
        }

        // Frames pulled by the lost device that would not have been heard yet; the silent clock waits for that long before it pulls.
        // If that time has passed, the difference is negative, and that many frames are due at once.
        var now = _time.GetTimestamp();
        var pulled = lost.Source.Frames;
        var elapsed = (double)(now - clock.Timestamp) * SampleRate / _time.TimestampFrequency;
        var ahead = clock.Timestamp == 0 ? 0 : clock.DelayFrames + pulled - clock.FramesPulled - (long)elapsed;
        var silence = OpenSilence(ahead, lost.FramesBefore + pulled);
        if (_finished)
        {
            TryRelease(silence);
            return;
        }

        Interlocked.Add(ref _underrunsBefore, UnderrunsOf(lost));
        _lastLoss = _failure;
        Interlocked.Increment(ref _losses);
        _leg = silence;
        _isLost = false;
        _nextTry = now + Ticks(RetryInterval);
        silence.Output.Start();
    }

    private void TryDevice()
    {
        if (!TriesAgain)
        {
            return;
        }

        _nextTry = _time.GetTimestamp() + Ticks(RetryInterval);
        Leg device;
        try
        {
            device = OpenDevice();
        }
        catch (AudioDeviceException still)
        {
            _failure = still;
            return;
        }

        // Stopping waits for the silent clock's last pull; the device may start only after it.
        var silence = _leg;
        Quiet(silence.Output, static output => output.Stop(), "stopping the silent clock");
        if (_finished || StateOf(silence) is AudioOutputState.Ended or AudioOutputState.Faulted || !TryRelease(silence))
        {
            TryRelease(device);
            return;
        }

        _leg = device with { FramesBefore = silence.FramesBefore + silence.Source.Frames, Since = _time.GetTimestamp() };
        if (!TryStart(_leg))
        {
            GoSilent();
            return;
        }

        _failure = null;
        Interlocked.Increment(ref _retakes);
    }

    private bool TryStart(Leg leg)
    {
        try
        {
            leg.Output.Start();
            return true;
        }
#pragma warning disable CA1031 // A device that does not start is lost.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failure = Foreseen("starting the sound device", thrown);
            return false;
        }
    }

    // False while a read of the source is in progress, so that no other output may read it yet.
    private bool TryRelease(Leg leg)
    {
        Quiet(leg.Output, static output => output.Stop(), "stopping the sound device");
        var ended = TryEnd(leg.Source);
        Quiet(leg.Output, static output => output.Dispose(), "closing the sound device");
        return ended;
    }

    // A read in progress lasts a few milliseconds.
    private bool TryEnd(SourceLease lease)
    {
        var start = Stopwatch.GetTimestamp();
        while (!lease.TryEnd())
        {
            if (Stopwatch.GetElapsedTime(start) > StopPatience)
            {
                _failures.Add("taking the source from the sound device", $"a read has lasted {StopPatience.TotalSeconds:0} s");
                return false;
            }

            Thread.Yield();
        }

        return true;
    }

    private void Finish(AudioOutputState end)
    {
        _finished = true;
        TryRelease(_leg);
        Conclude(end);
    }

    private void Conclude(AudioOutputState end)
    {
        _timer.Change(Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
        Volatile.Write(ref _end, (int)end);
        _completion.TrySetResult();
    }

    private AudioOutputState StateOf(Leg leg) => Ask(leg, static output => output.State, AudioOutputState.Lost);

    private long UnderrunsOf(Leg leg) => Ask(leg, static output => output.Underruns, 0);

    private T Ask<T>(Leg leg, Func<IAudioOutput, T> what, T otherwise)
    {
        try
        {
            return what(leg.Output);
        }
#pragma warning disable CA1031 // The device is soon queried again; the failure is recorded.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failures.Add("querying the sound device", thrown);
            return otherwise;
        }
    }

    private void Quiet(IAudioOutput? output, Action<IAudioOutput> what, string doing)
    {
        try
        {
            if (output is not null)
            {
                what(output);
            }
        }
#pragma warning disable CA1031 // A device that cannot be released must not stop the music; the failure is recorded.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failures.Add(doing, thrown);
        }
    }

    private AudioDeviceException Foreseen(string doing, Exception thrown)
    {
        if (thrown is not AudioDeviceException)
        {
            _failures.Add(doing, thrown);
        }

        return AudioDeviceException.Of(null, thrown);
    }

    private long Ticks(TimeSpan span) => (long)(span.TotalSeconds * _time.TimestampFrequency);

    /// <summary>One stretch on one output, replaced as a whole, so that a reader never combines one output with another's offset.</summary>
    private sealed record Leg(IAudioOutput Output, SourceLease Source, long FramesBefore, long Since)
    {
        /// <summary>The output's name when it was opened.</summary>
        public string DeviceName { get; } = Output.DeviceName;

        /// <summary>The value granted when it was opened.</summary>
        public int BufferFrames { get; } = Output.BufferFrames;
    }
}
