using GrooveLab.Audio.Failures;

namespace GrooveLab.Audio.Devices;

/// <summary>What stands in the way of sounding on a device.</summary>
public enum AudioDeviceErrorKind
{
    /// <summary>The system's sound library is not installed (libasound on Linux, PortAudio on macOS).</summary>
    NoLibrary,

    /// <summary>There is no output device, or none of that name, or it may not be opened by this user.</summary>
    NoDevice,

    /// <summary>The device is there and somebody else holds it.</summary>
    Busy,

    /// <summary>The device was open and went away: unplugged, its sound server gone, or stalled.</summary>
    Lost,

    /// <summary>The device does not take stereo, this sample rate, or any of the sample formats offered.</summary>
    Unsupported,

    /// <summary>The device or the system's library failed in a way that nobody foresaw; the inner exception says how.</summary>
    Failed,
}

/// <summary>
/// A sound device that cannot be opened or that went away, with its kind and whether trying again may help.
/// </summary>
/// <remarks>
/// It is made on the thread that opens a device or asks for its state, never on the audio thread.
/// </remarks>
public sealed class AudioDeviceException : Exception
{
    /// <summary>Says what went wrong.</summary>
    /// <param name="kind">What stands in the way.</param>
    /// <param name="message">A sentence for the user, with the remedy where there is one.</param>
    /// <param name="inner">The system's own error, if it threw one.</param>
    public AudioDeviceException(AudioDeviceErrorKind kind, string message, Exception? inner = null)
        : base(message, inner)
    {
        Kind = kind;
    }

    /// <summary>What stands in the way.</summary>
    public AudioDeviceErrorKind Kind { get; }

    /// <summary>
    /// Whether the same call may succeed later without the user changing what was asked for: a device may be plugged in,
    /// let go by its holder or come back; a library or a format will not turn up by waiting.
    /// </summary>
    public bool RetryHelps =>
        Kind is AudioDeviceErrorKind.NoDevice or AudioDeviceErrorKind.Busy or AudioDeviceErrorKind.Lost or AudioDeviceErrorKind.Failed;

    /// <summary>Any exception as one of a device's: itself where it is one, else of the kind <see cref="AudioDeviceErrorKind.Failed"/>.</summary>
    internal static AudioDeviceException Of(string? device, Exception thrown) => thrown as AudioDeviceException ?? new AudioDeviceException(
        AudioDeviceErrorKind.Failed,
        $"The sound device \"{device ?? "default"}\" failed: {FailureLog.MessageOf(thrown).TrimEnd('.')}.",
        thrown);
}
