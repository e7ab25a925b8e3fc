namespace GrooveLab.Audio.Devices;

/// <summary>
/// Playback through libasound, on Linux: a PCM opened for blocking, interleaved writes.
/// </summary>
/// <remarks>
/// Uses the first format that the device accepts: float, 32 or 16 bits. It writes when the device has room for a period;
/// it recovers from an underrun or a suspended machine at once, and counts it.
/// </remarks>
internal sealed unsafe partial class AlsaSink : IBlockingSink
{
    /// <summary>ALSA's name for the user's default output.</summary>
    public const string DefaultName = "default";

    private const int Channels = 2;

    // The device requests data when one period is free; the other seven eighths of the buffer are the time left to deliver it.
    private const int Periods = 8;

    // A device that accepts nothing for this long is lost or stuck; a buffer lasts a few hundredths of it.
    private const int StallMilliseconds = 1000;

    // Failures in succession with nothing written between them: the device fails although it was prepared again.
    private const int RecoveryLimit = 8;

    private readonly int _format;
    private readonly byte[] _converted;
    private nint _pcm;
    private long _delay;
    private long _underruns;
    private int _error;

    private AlsaSink(nint pcm, string name, int sampleRate, int format, int bufferFrames, int periodFrames)
    {
        _pcm = pcm;
        DeviceName = name;
        SampleRate = sampleRate;
        _format = format;
        BufferFrames = bufferFrames;
        PeriodFrames = periodFrames;
        _converted = GC.AllocateArray<byte>(periodFrames * Channels * sizeof(int), pinned: true);
    }

    public string DeviceName { get; }

    public int SampleRate { get; }

    public int PeriodFrames { get; }

    public int BufferFrames { get; }

    public bool IsSilent => false;

    public long DelayFrames => _delay;

    public long Underruns => Interlocked.Read(ref _underruns);

    /// <summary>Opens a device.</summary>
    /// <param name="name">An ALSA PCM name; null for the user's default.</param>
    /// <param name="sampleRate">Frames a second, exactly.</param>
    /// <param name="bufferMilliseconds">The requested buffer, in eight periods; the device may grant a similar one.</param>
    /// <exception cref="AudioDeviceException">It cannot be opened, or does not accept the format.</exception>
    public static AlsaSink Open(string? name, int sampleRate, int bufferMilliseconds)
    {
        var device = name ?? DefaultName;
        try
        {
            AlsaLibrary.Silence();

            // The library reads its configuration only once, including whether a sound server is running.
            _ = AlsaLibrary.ForgetConfiguration();
            nint pcm = 0;
            var error = ThreadPriorities.WithInherited(() => AlsaLibrary.Open(out pcm, device, AlsaLibrary.StreamPlayback, 0));
            if (error < 0)
            {
                throw CannotOpen(device, error);
            }

            try
            {
                var format = Configure(pcm, device, sampleRate, bufferMilliseconds);
                Check(AlsaLibrary.GetSizes(pcm, out var buffer, out var period), device, "report its buffer size");
                StartWhenFull(pcm, device, buffer, period);
                return new AlsaSink(pcm, device, sampleRate, format, (int)buffer, (int)period);
            }
            catch
            {
                _ = AlsaLibrary.Close(pcm);
                throw;
            }
        }
        catch (DllNotFoundException missing)
        {
            throw NoLibrary(missing);
        }
    }

    /// <summary>The playback devices that ALSA's configuration names, the default first.</summary>
    /// <exception cref="AudioDeviceException">The library is not installed.</exception>
    public static IReadOnlyList<AudioDevice> List()
    {
        try
        {
            AlsaLibrary.Silence();
            _ = AlsaLibrary.ForgetConfiguration();
            if (AlsaLibrary.NameHints(-1, "pcm", out var hints) < 0)
            {
                return [];
            }

            List<AudioDevice> devices = [];
            for (var hint = hints; *hint != 0; hint++)
            {
                var name = TakeHint(*hint, "NAME");
                var direction = TakeHint(*hint, "IOID");
                var description = TakeHint(*hint, "DESC");

                // "null" accepts sound as fast as it is written; without a clock it cannot be used for playback.
                if (name is null or "null" || direction == "Input")
                {
                    continue;
                }

                var line = (description ?? name).ReplaceLineEndings(", ");
                devices.Add(new AudioDevice(name, line, name == DefaultName));
            }

            _ = AlsaLibrary.FreeNameHints(hints);
            return [.. devices.OrderByDescending(device => device.IsDefault)];
        }
        catch (DllNotFoundException missing)
        {
            throw NoLibrary(missing);
        }
    }

    public AudioDeviceException DescribeFailure() =>
        new(AudioDeviceErrorKind.Lost, $"The sound device \"{DeviceName}\" was lost: {AlsaLibrary.Describe(_error)}.");

    public void Dispose()
    {
        var pcm = Interlocked.Exchange(ref _pcm, 0);
        if (pcm != 0)
        {
            _ = AlsaLibrary.Drop(pcm);
            _ = AlsaLibrary.Close(pcm);
        }
    }

    private static int Configure(nint pcm, string device, int sampleRate, int bufferMilliseconds)
    {
        Check(AlsaLibrary.AllocateHardwareParameters(out var parameters), device, "be configured");
        try
        {
            Check(AlsaLibrary.AnyHardwareParameters(pcm, parameters), device, "be configured");
            Check(AlsaLibrary.SetAccess(pcm, parameters, AlsaLibrary.AccessReadWriteInterleaved), device, "accept interleaved frames");
            Check(AlsaLibrary.SetChannels(pcm, parameters, Channels), device, "play stereo");
            Check(AlsaLibrary.SetRate(pcm, parameters, (uint)sampleRate, 0), device, $"play at {sampleRate} Hz");

            var format = AlsaLibrary.FormatFloat;
            if (AlsaLibrary.SetFormat(pcm, parameters, format) < 0)
            {
                format = AlsaLibrary.FormatSigned32;
                if (AlsaLibrary.SetFormat(pcm, parameters, format) < 0)
                {
                    format = AlsaLibrary.FormatSigned16;
                    Check(AlsaLibrary.SetFormat(pcm, parameters, format), device, "accept float, 32-bit or 16-bit samples");
                }
            }

            var period = (nuint)Math.Max(1, (long)sampleRate * bufferMilliseconds / (1000 * Periods));
            var buffer = period * Periods;
            var direction = 0;
            Check(AlsaLibrary.SetPeriodSizeNear(pcm, parameters, ref period, ref direction), device, "accept periods of this size");
            Check(AlsaLibrary.SetBufferSizeNear(pcm, parameters, ref buffer), device, "accept a buffer of this size");
            Check(AlsaLibrary.InstallHardwareParameters(pcm, parameters), device, "accept these settings");
            return format;
        }
        finally
        {
            AlsaLibrary.FreeHardwareParameters(parameters);
        }
    }

    private static void StartWhenFull(nint pcm, string device, nuint buffer, nuint period)
    {
        Check(AlsaLibrary.AllocateSoftwareParameters(out var parameters), device, "be configured");
        try
        {
            Check(AlsaLibrary.CurrentSoftwareParameters(pcm, parameters), device, "be configured");

            // Whole periods only: if the buffer is not a multiple of the period, its last part is never filled and playback never starts.
            Check(AlsaLibrary.SetStartThreshold(pcm, parameters, buffer / period * period), device, "start when its buffer is full");
            Check(AlsaLibrary.SetAvailableMinimum(pcm, parameters, period), device, "wake once a period");
            Check(AlsaLibrary.InstallSoftwareParameters(pcm, parameters), device, "accept these settings");
        }
        finally
        {
            AlsaLibrary.FreeSoftwareParameters(parameters);
        }
    }

    private static void Check(int result, string device, string deed)
    {
        if (result < 0)
        {
            throw new AudioDeviceException(
                AudioDeviceErrorKind.Unsupported,
                $"The sound device \"{device}\" cannot {deed}: {AlsaLibrary.Describe(result)}.");
        }
    }

    private static AudioDeviceException CannotOpen(string device, int error)
    {
        var reason = AlsaLibrary.Describe(error);
        return error switch
        {
            AlsaLibrary.DeviceBusy or AlsaLibrary.TryAgain => new(
                AudioDeviceErrorKind.Busy, $"The sound device \"{device}\" is in use by another program."),
            AlsaLibrary.AccessDenied or AlsaLibrary.NotPermitted => new(
                AudioDeviceErrorKind.NoDevice, $"The sound device \"{device}\" cannot be opened by this user: {reason}."),
            AlsaLibrary.NoEntry or AlsaLibrary.NoDevice or AlsaLibrary.NoSuchDeviceOrAddress or AlsaLibrary.ConnectionRefused => new(
                AudioDeviceErrorKind.NoDevice, $"Sound device \"{device}\" not found: {reason}."),
            _ => new(AudioDeviceErrorKind.NoDevice, $"The sound device \"{device}\" cannot be opened: {reason}."),
        };
    }

    private static AudioDeviceException NoLibrary(DllNotFoundException missing) =>
        new(AudioDeviceErrorKind.NoLibrary, "The ALSA library is not installed (libasound.so.2; on Debian, package libasound2).", missing);

    private static string? TakeHint(nint hint, string id)
    {
        var text = AlsaLibrary.NameHint(hint, id);
        if (text == 0)
        {
            return null;
        }

        var copy = System.Runtime.InteropServices.Marshal.PtrToStringUTF8(text);
        AlsaLibrary.Free(text);
        return copy;
    }
}
