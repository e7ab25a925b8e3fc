using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Playback through PortAudio's blocking interface, for macOS if the user has that library.
/// </summary>
/// <remarks>Never run on macOS, for lack of a machine.</remarks>
internal sealed unsafe partial class PortAudioSink : IBlockingSink
{
    private const int Channels = 2;
    private const int Periods = 4;

    private readonly PortAudioLibrary _library;
    private nint _stream;
    private long _underruns;
    private int _error;

    private PortAudioSink(PortAudioLibrary library, nint stream, string name, int sampleRate, int period, int buffer)
    {
        _library = library;
        _stream = stream;
        DeviceName = name;
        SampleRate = sampleRate;
        PeriodFrames = period;
        BufferFrames = buffer;
    }

    public string DeviceName { get; }

    public int SampleRate { get; }

    public int PeriodFrames { get; }

    public int BufferFrames { get; }

    public bool IsSilent => false;

    // The blocking interface does not report its fill level; a write returns when the buffer is full again.
    public long DelayFrames => BufferFrames;

    public long Underruns => Interlocked.Read(ref _underruns);

    /// <summary>Opens a device by name; null for the default output.</summary>
    /// <exception cref="AudioDeviceException">The library is missing, the device does not exist, or it cannot play.</exception>
    public static PortAudioSink Open(string? name, int sampleRate, int bufferMilliseconds)
    {
        var library = PortAudioLibrary.Get();
        var device = Find(library, name);
        var shown = NameOf(library, device);
        var period = Math.Max(1, (int)((long)sampleRate * bufferMilliseconds / (1000 * Periods)));
        PortAudioLibrary.StreamParameters output = new()
        {
            Device = device,
            ChannelCount = Channels,
            SampleFormat = new CULong(PortAudioLibrary.Float32),
            SuggestedLatency = bufferMilliseconds / 1000.0,
        };
        var error = library.Open(out var stream, output, sampleRate, period);
        if (error != PortAudioLibrary.NoError)
        {
            throw CannotOpen(library, shown, error);
        }

        error = library.Start(stream);
        if (error != PortAudioLibrary.NoError)
        {
            _ = library.Close(stream);
            throw CannotOpen(library, shown, error);
        }

        var latency = library.OutputLatency(stream);
        var buffer = latency > 0 ? (int)Math.Ceiling(latency * sampleRate) : period * Periods;
        return new PortAudioSink(library, stream, shown, sampleRate, period, Math.Max(period, buffer));
    }

    /// <summary>The devices with stereo outputs, the default first.</summary>
    /// <exception cref="AudioDeviceException">The library is missing or does not start.</exception>
    public static IReadOnlyList<AudioDevice> List()
    {
        var library = PortAudioLibrary.Get();
        var standard = library.DefaultOutput;
        List<AudioDevice> devices = [];
        for (var i = 0; i < library.DeviceCount; i++)
        {
            if (library.Device(i) is { MaxOutputChannels: >= Channels })
            {
                var name = NameOf(library, i);
                devices.Add(new AudioDevice(name, name, i == standard));
            }
        }

        return [.. devices.OrderByDescending(device => device.IsDefault)];
    }

    public AudioDeviceException DescribeFailure() =>
        new(AudioDeviceErrorKind.Lost, $"The sound device \"{DeviceName}\" was lost: {_library.Describe(_error)}.");

    public void Dispose()
    {
        var stream = Interlocked.Exchange(ref _stream, 0);
        if (stream != 0)
        {
            _ = _library.Abort(stream);
            _ = _library.Close(stream);
        }
    }

    private static int Find(PortAudioLibrary library, string? name)
    {
        if (name is null)
        {
            var standard = library.DefaultOutput;
            return standard >= 0 ? standard : throw new AudioDeviceException(AudioDeviceErrorKind.NoDevice, "No sound output found.");
        }

        for (var i = 0; i < library.DeviceCount; i++)
        {
            if (NameOf(library, i) == name)
            {
                return i;
            }
        }

        throw new AudioDeviceException(AudioDeviceErrorKind.NoDevice, $"Sound device \"{name}\" not found.");
    }

    private static string NameOf(PortAudioLibrary library, int device) =>
        library.Device(device) is { } info ? Marshal.PtrToStringUTF8(info.Name) ?? $"device {device}" : $"device {device}";

    private static AudioDeviceException CannotOpen(PortAudioLibrary library, string device, int error)
    {
        var kind = error switch
        {
            PortAudioLibrary.InvalidSampleRate or PortAudioLibrary.InvalidChannelCount or PortAudioLibrary.SampleFormatNotSupported =>
                AudioDeviceErrorKind.Unsupported,
            PortAudioLibrary.DeviceUnavailable => AudioDeviceErrorKind.Busy,
            _ => AudioDeviceErrorKind.NoDevice,
        };
        return new AudioDeviceException(kind, $"The sound device \"{device}\" cannot be opened: {library.Describe(error)}.");
    }
}
