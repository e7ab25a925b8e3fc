using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>What an output is doing now.</summary>
public enum AudioOutputState
{
    /// <summary>Open, and nothing pulled yet.</summary>
    Ready,

    /// <summary>Pulling its source and sounding.</summary>
    Playing,

    /// <summary>Pulling its source at the right pace with nothing to hear it on.</summary>
    Silent,

    /// <summary>The source came to its end and its last frame was heard.</summary>
    Ended,

    /// <summary>Stopped by <see cref="IAudioOutput.Stop"/>.</summary>
    Stopped,

    /// <summary>The device went away; <see cref="IAudioOutput.Failure"/> says how.</summary>
    Lost,

    /// <summary>The source threw, against its contract; <see cref="IAudioOutput.Failure"/> holds what it threw.</summary>
    Faulted,
}

/// <summary>
/// A place where sound goes, that pulls stereo float frames from one source on a thread of its own.
/// </summary>
/// <remarks>
/// <para>
/// Not NAudio's IWavePlayer: that one takes bytes (IWaveProvider) where the engine and three of the four outputs speak float,
/// puts a volume on the device that this program leaves alone, and tells of a lost device by an event raised on the playing
/// thread or on whatever context was current at construction. Here the source is NAudio's <see cref="ISampleProvider"/> as it
/// stands, latency is NAudio's <see cref="IWaveLatency"/> as it stands, and state is read by whoever wants to know.
/// </para>
/// <para>
/// All members may be called from any thread but the audio thread. An output starts once and stops once; pausing is the
/// transport's matter (it hands out silence), so that the device's clock never stands still under the music.
/// </para>
/// </remarks>
public interface IAudioOutput : IWaveLatency, IDisposable
{
    /// <summary>The device's name, as <see cref="AudioOutputs.Open"/> takes it.</summary>
    string DeviceName { get; }

    /// <summary>Frames a second, in Hz: what was asked for, never another rate.</summary>
    int SampleRate { get; }

    /// <summary>Frames that the device holds when full, as granted; 0 where the system does not say.</summary>
    int BufferFrames { get; }

    /// <summary>What the output is doing now.</summary>
    AudioOutputState State { get; }

    /// <summary>The position, published by the audio thread after each pull.</summary>
    OutputClock Clock { get; }

    /// <summary>Whether the audio thread was granted real-time priority. Best effort: without it the output plays all the same.</summary>
    bool HasRealTimePriority { get; }

    /// <summary>
    /// Gaps that the device has owned up to. A lower bound: sound servers swallow some, so what matters is checked in a recording.
    /// </summary>
    long Underruns { get; }

    /// <summary>
    /// Why the state is <see cref="AudioOutputState.Lost"/>, <see cref="AudioOutputState.Faulted"/> or, where a device is missing,
    /// <see cref="AudioOutputState.Silent"/>; otherwise null.
    /// </summary>
    Exception? Failure { get; }

    /// <summary>How often a device was lost and playing went on; 0 for an output that ends with its device.</summary>
    long Losses => 0;

    /// <summary>Why the last one was lost; null when none was.</summary>
    Exception? LastLoss => null;

    /// <summary>Whether a device that is missing is looked for again.</summary>
    bool TriesAgain => false;

    /// <summary>Ends, never with an error, when nothing will be pulled any more: ended, stopped, lost or faulted.</summary>
    Task Completion { get; }

    /// <summary>Begins to pull.</summary>
    /// <exception cref="InvalidOperationException">It was started before.</exception>
    void Start();

    /// <summary>Stops at once, dropping what is not yet heard, and waits until the source is no longer being read.</summary>
    void Stop();
}
