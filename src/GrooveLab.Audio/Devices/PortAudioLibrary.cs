using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// The functions of PortAudio 19 needed for playback, looked up where package managers install the library. Source: portaudio.h, V19.
/// </summary>
internal sealed unsafe class PortAudioLibrary
{
    public const uint Float32 = 0x00000001;
    public const int NoError = 0;
    public const int OutputUnderflowed = -9980;
    public const int InvalidSampleRate = -9997;
    public const int InvalidChannelCount = -9998;
    public const int SampleFormatNotSupported = -9994;
    public const int DeviceUnavailable = -9985;

    private static readonly string[] Places =
    [
        "libportaudio.2.dylib",
        "/opt/homebrew/lib/libportaudio.2.dylib",
        "/usr/local/lib/libportaudio.2.dylib",
        "/opt/local/lib/libportaudio.2.dylib",
        "libportaudio.so.2",
    ];

    private static readonly Lazy<PortAudioLibrary?> Found = new(Load);

    private readonly delegate* unmanaged[Cdecl]<int> _initialize;
    private readonly delegate* unmanaged[Cdecl]<int, nint> _errorText;
    private readonly delegate* unmanaged[Cdecl]<int> _deviceCount;
    private readonly delegate* unmanaged[Cdecl]<int> _defaultOutput;
    private readonly delegate* unmanaged[Cdecl]<int, DeviceInfo*> _deviceInfo;
    private readonly delegate* unmanaged[Cdecl]<out nint, StreamParameters*, StreamParameters*, double, CULong, CULong, nint, nint, int> _open;
    private readonly delegate* unmanaged[Cdecl]<nint, int> _start;
    private readonly delegate* unmanaged[Cdecl]<nint, int> _abort;
    private readonly delegate* unmanaged[Cdecl]<nint, int> _close;
    private readonly delegate* unmanaged[Cdecl]<nint, void*, CULong, int> _write;
    private readonly delegate* unmanaged[Cdecl]<nint, StreamInfo*> _streamInfo;

    private PortAudioLibrary(nint library)
    {
        _initialize = (delegate* unmanaged[Cdecl]<int>)NativeLibrary.GetExport(library, "Pa_Initialize");
        _errorText = (delegate* unmanaged[Cdecl]<int, nint>)NativeLibrary.GetExport(library, "Pa_GetErrorText");
        _deviceCount = (delegate* unmanaged[Cdecl]<int>)NativeLibrary.GetExport(library, "Pa_GetDeviceCount");
        _defaultOutput = (delegate* unmanaged[Cdecl]<int>)NativeLibrary.GetExport(library, "Pa_GetDefaultOutputDevice");
        _deviceInfo = (delegate* unmanaged[Cdecl]<int, DeviceInfo*>)NativeLibrary.GetExport(library, "Pa_GetDeviceInfo");
        _open = (delegate* unmanaged[Cdecl]<out nint, StreamParameters*, StreamParameters*, double, CULong, CULong, nint, nint, int>)
            NativeLibrary.GetExport(library, "Pa_OpenStream");
        _start = (delegate* unmanaged[Cdecl]<nint, int>)NativeLibrary.GetExport(library, "Pa_StartStream");
        _abort = (delegate* unmanaged[Cdecl]<nint, int>)NativeLibrary.GetExport(library, "Pa_AbortStream");
        _close = (delegate* unmanaged[Cdecl]<nint, int>)NativeLibrary.GetExport(library, "Pa_CloseStream");
        _write = (delegate* unmanaged[Cdecl]<nint, void*, CULong, int>)NativeLibrary.GetExport(library, "Pa_WriteStream");
        _streamInfo = (delegate* unmanaged[Cdecl]<nint, StreamInfo*>)NativeLibrary.GetExport(library, "Pa_GetStreamInfo");
    }

    /// <summary>The library, initialised once for the lifetime of the process.</summary>
    /// <exception cref="AudioDeviceException">It is not installed, or does not start.</exception>
    public static PortAudioLibrary Get() =>
        Found.Value ?? throw new AudioDeviceException(
            AudioDeviceErrorKind.NoLibrary,
            "PortAudio is not installed (with Homebrew: brew install portaudio).");

    public int DeviceCount => _deviceCount();

    public int DefaultOutput => _defaultOutput();

    public string Describe(int error) => Marshal.PtrToStringUTF8(_errorText(error)) ?? $"error {error}";

    public DeviceInfo? Device(int index)
    {
        var info = _deviceInfo(index);
        return info is null ? null : *info;
    }

    public int Open(out nint stream, StreamParameters output, double sampleRate, int framesPerBuffer) =>
        _open(out stream, null, &output, sampleRate, new CULong((uint)framesPerBuffer), new CULong(0), 0, 0);

    public int Start(nint stream) => _start(stream);

    public int Abort(nint stream) => _abort(stream);

    public int Close(nint stream) => _close(stream);

    public int Write(nint stream, float* frames, int count) => _write(stream, frames, new CULong((uint)count));

    /// <summary>Seconds from a write until it is heard, as estimated by the library; 0 if it gives no estimate.</summary>
    public double OutputLatency(nint stream)
    {
        var info = _streamInfo(stream);
        return info is null ? 0 : info->OutputLatency;
    }

    private static PortAudioLibrary? Load()
    {
        foreach (var place in Places)
        {
            if (!NativeLibrary.TryLoad(place, out var library))
            {
                continue;
            }

            PortAudioLibrary found = new(library);
            var error = found._initialize();
            return error == NoError
                ? found
                : throw new AudioDeviceException(AudioDeviceErrorKind.NoDevice, $"PortAudio does not start: {found.Describe(error)}.");
        }

        return null;
    }

    /// <summary>PaDeviceInfo.</summary>
    [StructLayout(LayoutKind.Sequential)]
    internal struct DeviceInfo
    {
        public int StructVersion;
        public nint Name;
        public int HostApi;
        public int MaxInputChannels;
        public int MaxOutputChannels;
        public double DefaultLowInputLatency;
        public double DefaultLowOutputLatency;
        public double DefaultHighInputLatency;
        public double DefaultHighOutputLatency;
        public double DefaultSampleRate;
    }

    /// <summary>PaStreamParameters.</summary>
    [StructLayout(LayoutKind.Sequential)]
    internal struct StreamParameters
    {
        public int Device;
        public int ChannelCount;
        public CULong SampleFormat;
        public double SuggestedLatency;
        public nint HostApiSpecificStreamInfo;
    }

    /// <summary>PaStreamInfo.</summary>
    [StructLayout(LayoutKind.Sequential)]
    internal struct StreamInfo
    {
        public int StructVersion;
        public double InputLatency;
        public double OutputLatency;
        public double SampleRate;
    }
}
