using GrooveLab.Audio.Failures;

namespace GrooveLab.Audio.Devices;

/// <summary>Why a device cannot play.</summary>
public enum AudioDeviceErrorKind
{
    /// <summary>The system's sound library is not installed (libasound on Linux, PortAudio on macOS).</summary>
    NoLibrary,

    /// <summary>No output device exists, none has that name, or this user may not open it.</summary>
    NoDevice,

    /// <summary>Another program is using the device.</summary>
    Busy,

    /// <summary>The device was open and was lost: unplugged, its sound server ended, or stalled.</summary>
    Lost,

    /// <summary>The device does not accept stereo, this sample rate, or any of the offered sample formats.</summary>
    Unsupported,

    /// <summary>The device or the system's library threw an unexpected exception: the inner exception.</summary>
    Failed,
}

/// <summary>
/// A sound device cannot be opened or was lost; with the kind of error and whether a retry may help.
/// </summary>
/// <remarks>
/// Created on the thread that opens a device or reads its state, never on the audio thread.
/// </remarks>
public sealed class AudioDeviceException : Exception
{
    /// <summary>Creates the exception.</summary>
    /// <param name="kind">Why the device cannot play.</param>
    /// <param name="message">A sentence for the user, with the remedy if there is one.</param>
    /// <param name="inner">The system's own error, if it threw one.</param>
    public AudioDeviceException(AudioDeviceErrorKind kind, string message, Exception? inner = null)
        : base(message, inner)
    {
        Kind = kind;
    }

    /// <summary>Why the device cannot play.</summary>
    public AudioDeviceErrorKind Kind { get; }

    /// <summary>
    /// Whether the same call may succeed later: a device may be plugged in,
    /// released by another program or reconnected. A missing library or format does not appear by waiting.
    /// </summary>
    public bool RetryHelps =>
        Kind is AudioDeviceErrorKind.NoDevice or AudioDeviceErrorKind.Busy or AudioDeviceErrorKind.Lost or AudioDeviceErrorKind.Failed;

    /// <summary>Turns any exception but a device exception into the kind <see cref="AudioDeviceErrorKind.Failed"/>.</summary>
    internal static AudioDeviceException Of(string? device, Exception thrown) => thrown as AudioDeviceException ?? new AudioDeviceException(
        AudioDeviceErrorKind.Failed,
        $"The sound device \"{device ?? "default"}\" failed: {FailureLog.MessageOf(thrown).TrimEnd('.')}.",
        thrown);
}
