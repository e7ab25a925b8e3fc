using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>The state of an output.</summary>
public enum AudioOutputState
{
    /// <summary>Open; nothing pulled yet.</summary>
    Ready,

    /// <summary>Playing its source.</summary>
    Playing,

    /// <summary>Pulling its source at the right pace in silence, without a device.</summary>
    Silent,

    /// <summary>The source ended and its last frame was heard.</summary>
    Ended,

    /// <summary>Stopped by <see cref="IAudioOutput.Stop"/>.</summary>
    Stopped,

    /// <summary>The device was lost; <see cref="IAudioOutput.Failure"/> has the reason.</summary>
    Lost,

    /// <summary>The source threw, against its contract; <see cref="IAudioOutput.Failure"/> has the exception.</summary>
    Faulted,
}

/// <summary>
/// A sound output that pulls stereo float frames from one source on its own thread.
/// </summary>
/// <remarks>
/// <para>
/// Not NAudio's IWavePlayer: it takes bytes (IWaveProvider) while the engine and three of the four outputs use floats,
/// adds a device volume that this program does not use, and reports a lost device by an event raised on the playing
/// thread or on the context current at construction. Here the source is NAudio's <see cref="ISampleProvider"/>,
/// latency is NAudio's <see cref="IWaveLatency"/>, and callers poll the state.
/// </para>
/// <para>
/// All members may be called from any thread except the audio thread. An output starts once and stops once. Pausing is the
/// transport's task (it supplies silence), so that the device's clock never stops during the music.
/// </para>
/// </remarks>
public interface IAudioOutput : IWaveLatency, IDisposable
{
    /// <summary>The device's name, as used by <see cref="AudioOutputs.Open"/>.</summary>
    string DeviceName { get; }

    /// <summary>Frames a second, in Hz: always the requested rate.</summary>
    int SampleRate { get; }

    /// <summary>The granted buffer size in frames; 0 if the system does not report it.</summary>
    int BufferFrames { get; }

    /// <summary>The current state.</summary>
    AudioOutputState State { get; }

    /// <summary>The position, published by the audio thread after each pull.</summary>
    OutputClock Clock { get; }

    /// <summary>Whether the audio thread was granted real-time priority. The output plays without it too.</summary>
    bool HasRealTimePriority { get; }

    /// <summary>
    /// The gaps that the device has reported. A lower bound, because sound servers hide some; tests check recordings instead.
    /// </summary>
    long Underruns { get; }

    /// <summary>
    /// Why the state is <see cref="AudioOutputState.Lost"/>, <see cref="AudioOutputState.Faulted"/> or, without a device,
    /// <see cref="AudioOutputState.Silent"/>; otherwise null.
    /// </summary>
    Exception? Failure { get; }

    /// <summary>How often a device was lost while playing continued; 0 for an output that ends with its device.</summary>
    long Losses => 0;

    /// <summary>Why the last device was lost; null if none was.</summary>
    Exception? LastLoss => null;

    /// <summary>Whether the output tries a missing device again.</summary>
    bool TriesAgain => false;

    /// <summary>Completes, never with an error, when nothing more will be pulled: ended, stopped, lost or faulted.</summary>
    Task Completion { get; }

    /// <summary>Starts pulling.</summary>
    /// <exception cref="InvalidOperationException">It was already started.</exception>
    void Start();

    /// <summary>Stops at once, discards what has not been heard, and waits until the source is no longer being read.</summary>
    void Stop();
}
