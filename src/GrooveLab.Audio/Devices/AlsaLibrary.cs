using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// The functions of libasound needed for playback, under their own names. Source: the ALSA library's API reference (PCM interface,
/// configuration, control: device name hints).
/// </summary>
internal static unsafe partial class AlsaLibrary
{
    public const int StreamPlayback = 0;
    public const int AccessReadWriteInterleaved = 3;

    // Little-endian formats; every .NET platform that runs ALSA today is little-endian.
    public const int FormatSigned16 = 2;
    public const int FormatSigned32 = 10;
    public const int FormatFloat = 14;

    public const int NoEntry = -2;
    public const int NotPermitted = -1;
    public const int InputOutput = -5;
    public const int NoSuchDeviceOrAddress = -6;
    public const int TryAgain = -11;
    public const int AccessDenied = -13;
    public const int DeviceBusy = -16;
    public const int NoDevice = -19;
    public const int BrokenPipe = -32;
    public const int StreamSuspended = -86;
    public const int Interrupted = -4;
    public const int ConnectionRefused = -111;

    private const string Name = "libasound.so.2";

    private static int Silenced;

    /// <summary>
    /// Keeps the library from writing to stderr, which would disturb the screen.
    /// </summary>
    /// <exception cref="DllNotFoundException">The library is not installed.</exception>
    public static void Silence()
    {
        if (Interlocked.Exchange(ref Silenced, 1) == 0)
        {
            _ = SetErrorHandler((nint)(delegate* unmanaged[Cdecl]<nint, int, nint, int, nint, void>)&Ignore);
        }
    }

    /// <summary>The library's text for an error number.</summary>
    public static string Describe(int error) => Marshal.PtrToStringUTF8(ErrorText(error)) ?? $"error {error}";

    // The handler is variadic in C. The caller removes the arguments, so this one may ignore all but the fixed ones.
    [UnmanagedCallersOnly(CallConvs = [typeof(CallConvCdecl)])]
    private static void Ignore(nint file, int line, nint function, int error, nint format)
    {
        // The functions return their errors; the caller turns them into messages.
    }

    [LibraryImport(Name, EntryPoint = "snd_lib_error_set_handler")]
    private static partial int SetErrorHandler(nint handler);

    [LibraryImport(Name, EntryPoint = "snd_strerror")]
    private static partial nint ErrorText(int error);

    [LibraryImport(Name, EntryPoint = "snd_config_update_free_global")]
    public static partial int ForgetConfiguration();

    [LibraryImport(Name, EntryPoint = "snd_pcm_open", StringMarshalling = StringMarshalling.Utf8)]
    public static partial int Open(out nint pcm, string name, int stream, int mode);

    [LibraryImport(Name, EntryPoint = "snd_pcm_close")]
    public static partial int Close(nint pcm);

    [LibraryImport(Name, EntryPoint = "snd_pcm_drop")]
    public static partial int Drop(nint pcm);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_malloc")]
    public static partial int AllocateHardwareParameters(out nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_free")]
    public static partial void FreeHardwareParameters(nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_any")]
    public static partial int AnyHardwareParameters(nint pcm, nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_set_access")]
    public static partial int SetAccess(nint pcm, nint parameters, int access);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_set_format")]
    public static partial int SetFormat(nint pcm, nint parameters, int format);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_set_channels")]
    public static partial int SetChannels(nint pcm, nint parameters, uint channels);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_set_rate")]
    public static partial int SetRate(nint pcm, nint parameters, uint rate, int direction);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_set_period_size_near")]
    public static partial int SetPeriodSizeNear(nint pcm, nint parameters, ref nuint frames, ref int direction);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params_set_buffer_size_near")]
    public static partial int SetBufferSizeNear(nint pcm, nint parameters, ref nuint frames);

    [LibraryImport(Name, EntryPoint = "snd_pcm_hw_params")]
    public static partial int InstallHardwareParameters(nint pcm, nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_get_params")]
    public static partial int GetSizes(nint pcm, out nuint bufferFrames, out nuint periodFrames);

    [LibraryImport(Name, EntryPoint = "snd_pcm_sw_params_malloc")]
    public static partial int AllocateSoftwareParameters(out nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_sw_params_free")]
    public static partial void FreeSoftwareParameters(nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_sw_params_current")]
    public static partial int CurrentSoftwareParameters(nint pcm, nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_sw_params_set_start_threshold")]
    public static partial int SetStartThreshold(nint pcm, nint parameters, nuint frames);

    [LibraryImport(Name, EntryPoint = "snd_pcm_sw_params_set_avail_min")]
    public static partial int SetAvailableMinimum(nint pcm, nint parameters, nuint frames);

    [LibraryImport(Name, EntryPoint = "snd_pcm_sw_params")]
    public static partial int InstallSoftwareParameters(nint pcm, nint parameters);

    [LibraryImport(Name, EntryPoint = "snd_pcm_wait")]
    public static partial int Wait(nint pcm, int milliseconds);

    [LibraryImport(Name, EntryPoint = "snd_pcm_writei")]
    public static partial nint WriteInterleaved(nint pcm, void* frames, nuint count);

    [LibraryImport(Name, EntryPoint = "snd_pcm_recover")]
    public static partial int Recover(nint pcm, int error, int silent);

    [LibraryImport(Name, EntryPoint = "snd_pcm_delay")]
    public static partial int Delay(nint pcm, out nint frames);

    [LibraryImport(Name, EntryPoint = "snd_device_name_hint", StringMarshalling = StringMarshalling.Utf8)]
    public static partial int NameHints(int card, string @interface, out nint* hints);

    [LibraryImport(Name, EntryPoint = "snd_device_name_get_hint", StringMarshalling = StringMarshalling.Utf8)]
    public static partial nint NameHint(nint hint, string id);

    [LibraryImport(Name, EntryPoint = "snd_device_name_free_hint")]
    public static partial int FreeNameHints(nint* hints);

    [LibraryImport("libc", EntryPoint = "free")]
    public static partial void Free(nint memory);
}
