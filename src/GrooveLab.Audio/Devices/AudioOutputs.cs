using GrooveLab.Audio.Failures;
using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>Finds and opens the sound outputs of the system it runs on.</summary>
public static class AudioOutputs
{
    /// <summary>The default buffer in milliseconds: safe on a busy machine.</summary>
    public const int DefaultBufferMilliseconds = 40;

    /// <summary>The default frames a second.</summary>
    public const int DefaultSampleRate = 48000;

    /// <summary>The available outputs, the default one first; empty if the system lists none.</summary>
    /// <remarks>A listed output may still fail to open; only <see cref="Open"/> shows whether it works.</remarks>
    /// <exception cref="AudioDeviceException">The system's sound library is missing.</exception>
    public static IReadOnlyList<AudioDevice> List()
    {
        try
        {
            return ListHere();
        }
#pragma warning disable CA1031 // The caller gets one kind of exception, whatever the system's library throws.
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
    /// <param name="bufferMilliseconds">The requested buffer, 1 to 1000 ms; the system may grant a similar one.</param>
    /// <param name="source">The source to pull: stereo, at that rate; <see cref="ISampleProvider.Read"/> runs on the audio thread.</param>
    /// <param name="failures">Records the failures that are caught; null to record nothing.</param>
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
#pragma warning disable CA1031 // The caller gets one kind of exception, whatever the system's library throws.
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
        new(AudioDeviceErrorKind.NoLibrary, "Sound output works only on Linux, Windows and macOS; rendering to a file works everywhere.");
}
