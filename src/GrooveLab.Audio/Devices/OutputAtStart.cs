using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// An output that opens its device when it starts and closes it when it ends, so that music can be prepared while another output plays, and a device
/// is free between two pieces.
/// </summary>
/// <remarks>Starting takes as long as opening the device; call <see cref="Start"/> where this may take a moment.</remarks>
public sealed class OutputAtStart : IAudioOutput
{
    private readonly ISampleProvider _source;
    private readonly Func<ISampleProvider, IAudioOutput> _open;
    private readonly Lock _gate = new();
    private readonly TaskCompletionSource _completion = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private volatile IAudioOutput? _output;
    private bool _stopped;

    /// <summary>Creates an output without a device.</summary>
    /// <param name="source">The source of stereo frames.</param>
    /// <param name="open">Opens the device's output.</param>
    public OutputAtStart(ISampleProvider source, Func<ISampleProvider, IAudioOutput> open)
    {
        _source = source;
        _open = open;
    }

    /// <inheritdoc/>
    public string DeviceName => _output?.DeviceName ?? string.Empty;

    /// <inheritdoc/>
    public int SampleRate => _source.WaveFormat.SampleRate;

    /// <inheritdoc/>
    public int BufferFrames => _output?.BufferFrames ?? 0;

    /// <inheritdoc/>
    public AudioOutputState State => _output?.State ?? (_completion.Task.IsCompleted ? AudioOutputState.Stopped : AudioOutputState.Ready);

    /// <inheritdoc/>
    public OutputClock Clock => _output?.Clock ?? default;

    /// <inheritdoc/>
    public bool HasRealTimePriority => _output?.HasRealTimePriority ?? false;

    /// <inheritdoc/>
    public long Underruns => _output?.Underruns ?? 0;

    /// <inheritdoc/>
    public Exception? Failure => _output?.Failure;

    /// <inheritdoc/>
    public long Losses => _output?.Losses ?? 0;

    /// <inheritdoc/>
    public Exception? LastLoss => _output?.LastLoss;

    /// <inheritdoc/>
    public bool TriesAgain => _output?.TriesAgain ?? false;

    /// <inheritdoc/>
    public Task Completion => _completion.Task;

    /// <inheritdoc/>
    public TimeSpan AverageLatency => _output?.AverageLatency ?? TimeSpan.Zero;

    /// <inheritdoc/>
    public TimeSpan CurrentLatency => _output?.CurrentLatency ?? TimeSpan.Zero;

    /// <summary>Opens the device and starts pulling. Does nothing after <see cref="Stop"/>.</summary>
    /// <exception cref="InvalidOperationException">It was already started.</exception>
    /// <exception cref="AudioDeviceException">The device cannot be opened.</exception>
    public void Start()
    {
        lock (_gate)
        {
            if (_stopped)
            {
                return;
            }

            if (_output is not null)
            {
                throw new InvalidOperationException("The output was already started.");
            }

            var output = _open(_source);
            _output = output;
            output.Start();
            _ = output.Completion.ContinueWith(_ => Close(output), TaskScheduler.Default);
        }
    }

    /// <inheritdoc/>
    public void Stop()
    {
        lock (_gate)
        {
            _stopped = true;
            if (_output is null)
            {
                _completion.TrySetResult();
                return;
            }
        }

        _output.Stop();
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        Stop();
        _output?.Dispose();
    }

    // The device is free before anyone hears of the end.
    private void Close(IAudioOutput output)
    {
        try
        {
            output.Dispose();
        }
        finally
        {
            _completion.TrySetResult();
        }
    }
}
