using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using GrooveLab.Audio.Failures;
using NAudio.CoreAudioApi;
using NAudio.Wave;
using NAudio.Wave.SampleProviders;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Playback through WASAPI in shared mode, on Windows, by NAudio's player.
/// </summary>
/// <remarks>
/// Written from NAudio's documentation and compiled, but never run, for lack of a Windows machine. NAudio owns the playing thread
/// and requests its priority from MMCSS. NAudio does not report whether it was granted, so <see cref="HasRealTimePriority"/> is false. An
/// exception of the player means a lost device; <see cref="MeasuredSource"/> keeps an exception of the source.
/// </remarks>
[SupportedOSPlatform("windows")]
internal sealed class WasapiOutput : IAudioOutput
{
    // HRESULTs of audioclient.h: the device was removed, is in use, or has lost its service.
    private const int DeviceInvalidated = unchecked((int)0x88890004);
    private const int DeviceInUse = unchecked((int)0x8889000A);
    private const int UnsupportedFormat = unchecked((int)0x88890008);

    private readonly WasapiPlayer _player;
    private readonly MeasuredSource _source;
    private readonly FailureLog? _failures;
    private readonly TaskCompletionSource _completion = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private int _state = (int)AudioOutputState.Ready;
    private int _started;
    private int _disposed;
    private volatile bool _stopRequested;
    private volatile Exception? _failure;
    private long _latencyTicks;

    private WasapiOutput(WasapiPlayer player, MeasuredSource source, string name, int sampleRate, FailureLog? failures)
    {
        _player = player;
        _source = source;
        _failures = failures;
        DeviceName = name;
        SampleRate = sampleRate;
        _player.PlaybackStopped += WhenStopped;
    }

    public string DeviceName { get; }

    public int SampleRate { get; }

    public int BufferFrames => (int)(AverageLatency.TotalSeconds * SampleRate);

    public AudioOutputState State => (AudioOutputState)Volatile.Read(ref _state);

    public OutputClock Clock
    {
        get
        {
            var read = _source.Clock;
            return read with { DelayFrames = (long)(AverageLatency.TotalSeconds * SampleRate) };
        }
    }

    public bool HasRealTimePriority => false;

    public long Underruns => 0;

    public Exception? Failure => _failure;

    public Task Completion => _completion.Task;

    public TimeSpan AverageLatency => Asked(static player => player.AverageLatency);

    public TimeSpan CurrentLatency => State == AudioOutputState.Playing ? Asked(static player => player.CurrentLatency) : AverageLatency;

    /// <summary>Opens a device by its endpoint id or friendly name; null for the default.</summary>
    /// <exception cref="AudioDeviceException">It does not exist, or cannot play.</exception>
    public static WasapiOutput Open(
        string? name, int sampleRate, int bufferMilliseconds, ISampleProvider source, FailureLog? failures = null)
    {
        BlockingOutput.RequireStereo(source, sampleRate);
        MeasuredSource measured = new(source);

        // NAudio raises its events on the context of its creation; a busy or stopped screen must not hide a lost device.
        var context = SynchronizationContext.Current;
        SynchronizationContext.SetSynchronizationContext(null);
        WasapiPlayer? player = null;
        try
        {
            using MMDeviceEnumerator devices = new();
            var device = Find(devices, name);
            var id = device.ID;
            player = new WasapiPlayerBuilder()
                .WithDevice(device)
                .WithSharedMode()
                .WithLatency(bufferMilliseconds)
                .WithLowLatency()
                .WithEventSync()
                .WithMmcssThreadPriority("Pro Audio")
                .Build();
            player.Init(new SampleToWaveProvider(measured));
            return new WasapiOutput(player, measured, id, sampleRate, failures);
        }
#pragma warning disable CA1031 // The caller gets one kind of exception, whatever Windows throws.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            Release(player, failures);
            throw Explain(thrown, name ?? "default");
        }
        finally
        {
            SynchronizationContext.SetSynchronizationContext(context);
        }
    }

    /// <summary>The active outputs, the default first.</summary>
    /// <exception cref="AudioDeviceException">The Windows audio service does not respond.</exception>
    public static IReadOnlyList<AudioDevice> List()
    {
        try
        {
            using MMDeviceEnumerator devices = new();
            var standard = devices.TryGetDefaultAudioEndpoint(DataFlow.Render, Role.Multimedia, out var found)
                ? found?.ID
                : null;
            List<AudioDevice> list = [];
            foreach (var device in devices.EnumerateAudioEndPoints(DataFlow.Render, DeviceState.Active))
            {
                list.Add(new AudioDevice(device.ID, device.FriendlyName, device.ID == standard));
            }

            return [.. list.OrderByDescending(device => device.IsDefault)];
        }
#pragma warning disable CA1031 // The caller gets one kind of exception, whatever Windows throws.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            throw Explain(thrown, "default");
        }
    }

    public void Start()
    {
        if (Interlocked.Exchange(ref _started, 1) != 0)
        {
            throw new InvalidOperationException("This output was already started or stopped; open another one.");
        }

        Volatile.Write(ref _state, (int)AudioOutputState.Playing);
        try
        {
            _player.Play();
        }
#pragma warning disable CA1031 // A device that does not start is lost; the state reports it.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failure = Explain(thrown, DeviceName);
            Finish(AudioOutputState.Lost);
        }
    }

    public void Stop()
    {
        _stopRequested = true;
        if (Interlocked.Exchange(ref _started, 1) == 0)
        {
            Finish(AudioOutputState.Stopped);
            return;
        }

        if (Volatile.Read(ref _disposed) == 0)
        {
            try
            {
                _player.Stop();
            }
#pragma warning disable CA1031 // A device that cannot be stopped must not block the waiting thread; the failure is recorded.
            catch (Exception thrown)
#pragma warning restore CA1031
            {
                _failures?.Add("stopping the sound device", thrown);
            }
        }

        // The event may not be raised for a requested stop; the player has joined its thread in any case.
        Finish(AudioOutputState.Stopped);
    }

    public void Dispose()
    {
        Stop();
        if (Interlocked.Exchange(ref _disposed, 1) == 0)
        {
            Release(_player, _failures);
        }
    }

    private static void Release(WasapiPlayer? player, FailureLog? failures)
    {
        try
        {
            player?.Dispose();
        }
#pragma warning disable CA1031 // A device that cannot be closed must not block the waiting thread; the failure is recorded.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            failures?.Add("closing the sound device", thrown);
        }
    }

    // A lost device may not respond; then its last latency applies.
    private TimeSpan Asked(Func<WasapiPlayer, TimeSpan> latency)
    {
        try
        {
            var answer = latency(_player);
            Volatile.Write(ref _latencyTicks, answer.Ticks);
            return answer;
        }
#pragma warning disable CA1031 // The screen queries many times a second; the state reports that the device is lost.
        catch (Exception thrown)
#pragma warning restore CA1031
        {
            _failures?.Add("querying the latency of the sound device", thrown);
            return new TimeSpan(Volatile.Read(ref _latencyTicks));
        }
    }

    private static MMDevice Find(MMDeviceEnumerator devices, string? name)
    {
        if (name is null)
        {
            return devices.TryGetDefaultAudioEndpoint(DataFlow.Render, Role.Multimedia, out var standard) && standard is not null
                ? standard
                : throw new AudioDeviceException(AudioDeviceErrorKind.NoDevice, "No sound output found.");
        }

        foreach (var device in devices.EnumerateAudioEndPoints(DataFlow.Render, DeviceState.Active))
        {
            if (device.ID == name || string.Equals(device.FriendlyName, name, StringComparison.OrdinalIgnoreCase))
            {
                return device;
            }
        }

        throw new AudioDeviceException(AudioDeviceErrorKind.NoDevice, $"Sound device \"{name}\" not found.");
    }

    private static AudioDeviceException Explain(Exception thrown, string name) => thrown.HResult switch
    {
        DeviceInvalidated => new(AudioDeviceErrorKind.Lost, $"The sound device \"{name}\" was lost.", thrown),
        DeviceInUse => new(AudioDeviceErrorKind.Busy, $"The sound device \"{name}\" is in use by another program.", thrown),
        UnsupportedFormat => new(AudioDeviceErrorKind.Unsupported, $"The sound device \"{name}\" does not accept this format.", thrown),
        _ when thrown is NotSupportedException =>
            new(AudioDeviceErrorKind.Unsupported, $"The sound device \"{name}\" does not accept this format: {thrown.Message}", thrown),
        _ when thrown is COMException =>
            new(AudioDeviceErrorKind.NoDevice, $"The sound device \"{name}\" cannot be opened: {thrown.Message}", thrown),
        _ => AudioDeviceException.Of(name, thrown),
    };

    private void WhenStopped(object? sender, StoppedEventArgs stopped)
    {
        if (_source.Failure is { } failed)
        {
            _failure = failed;
            Finish(AudioOutputState.Faulted);
        }
        else if (stopped.Exception is { } thrown && !_stopRequested)
        {
            _failure = Explain(thrown, DeviceName);
            Finish(AudioOutputState.Lost);
        }
        else
        {
            Finish(_source.Ended && !_stopRequested ? AudioOutputState.Ended : AudioOutputState.Stopped);
        }
    }

    private void Finish(AudioOutputState end)
    {
        if (_completion.Task.IsCompleted)
        {
            return;
        }

        Volatile.Write(ref _state, (int)end);
        _completion.TrySetResult();
    }
}
