using GrooveLab.Audio.Failures;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>Finds and opens the sound outputs of the system it runs on.</summary>
public static class AudioOutputs
{
    /// <summary>Milliseconds of buffer when nothing is asked for: safe on a busy machine.</summary>
    public const int DefaultBufferMilliseconds = 40;

    /// <summary>Frames a second when nothing is asked for.</summary>
    public const int DefaultSampleRate = 48000;

    /// <summary>
    /// The buffers to offer, in milliseconds, the safe one first. Below 10 ms gaps were heard on a machine with ordinary priority.
    /// </summary>
    public static IReadOnlyList<int> OfferedBufferMilliseconds { get; } = [40, 20, 10];

    /// <summary>The outputs there are, the default one first; empty where the system names none.</summary>
    /// <remarks>That a name is listed does not say that it will open: only <see cref="Open"/> tells.</remarks>
    /// <exception cref="AudioDeviceException">The system's sound library is missing.</exception>
    public static IReadOnlyList<AudioDevice> List()
    {
        try
        {
            return ListHere();
        }
#pragma warning disable CA1031 // Whatever a system's library throws, the caller is told of a device that failed, with what it was inside.
        catch (Exception thrown) when (thrown is not AudioDeviceException)
#pragma warning restore CA1031
        {
            throw AudioDeviceException.Of(null, thrown);
        }
    }

    private static IReadOnlyList<AudioDevice> ListHere()
    {
        if (OperatingSystem.IsLinux())
        {
            return AlsaSink.List();
        }

        if (OperatingSystem.IsWindows())
        {
            return WasapiOutput.List();
        }

        return OperatingSystem.IsMacOS() ? PortAudioSink.List() : throw NoSystem();
    }

    /// <summary>Opens an output, ready to start.</summary>
    /// <param name="name">A name of <see cref="List"/>; null for the system's default.</param>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="bufferMilliseconds">The buffer wanted, 1 to 1000 ms; the system may grant a near one.</param>
    /// <param name="source">What to pull: stereo, at that rate; <see cref="ISampleProvider.Read"/> runs on the audio thread.</param>
    /// <param name="failures">Where failures that are survived are recorded; nowhere if null.</param>
    /// <exception cref="AudioDeviceException">It cannot be opened; the kind says why, and whether a retry helps.</exception>
    /// <exception cref="ArgumentException">The source is not stereo, or has another rate.</exception>
    public static IAudioOutput Open(
        string? name, int sampleRate, int bufferMilliseconds, ISampleProvider source, FailureLog? failures = null)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(bufferMilliseconds, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(bufferMilliseconds, 1000);
        BlockingOutput.RequireStereo(source, sampleRate);
        try
        {
            return OpenHere(name, sampleRate, bufferMilliseconds, source, failures);
        }
#pragma warning disable CA1031 // Whatever a system's library throws, the caller is told of a device that failed, with what it was inside.
        catch (Exception thrown) when (thrown is not AudioDeviceException)
#pragma warning restore CA1031
        {
            throw AudioDeviceException.Of(name, thrown);
        }
    }

    private static IAudioOutput OpenHere(string? name, int sampleRate, int bufferMilliseconds, ISampleProvider source, FailureLog? failures)
    {
        if (OperatingSystem.IsLinux())
        {
            return new BlockingOutput(AlsaSink.Open(name, sampleRate, bufferMilliseconds), source, raisePriority: true, failures);
        }

        if (OperatingSystem.IsWindows())
        {
            return WasapiOutput.Open(name, sampleRate, bufferMilliseconds, source, failures);
        }

        return OperatingSystem.IsMacOS()
            ? new BlockingOutput(PortAudioSink.Open(name, sampleRate, bufferMilliseconds), source, raisePriority: false, failures)
            : throw NoSystem();
    }

    private static AudioDeviceException NoSystem() =>
        new(AudioDeviceErrorKind.NoLibrary, "Sound output is known for Linux, Windows and macOS only; rendering to a file works everywhere.");
}
