using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// An output for a machine without a device: the source is pulled at the right rate and what it gives is thrown away, so the
/// screen, the count and the drills go on in silence.
/// </summary>
/// <remarks>Its state while it runs is <see cref="AudioOutputState.Silent"/>. It never counts an underrun and is never lost.</remarks>
public static class PacedClockOutput
{
    /// <summary>Makes one, ready to start.</summary>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="source">What to pull: stereo, at that rate.</param>
    /// <exception cref="ArgumentException">The source is not stereo, or has another rate.</exception>
    public static IAudioOutput Open(int sampleRate, ISampleProvider source) => Open(sampleRate, source, 0);

    /// <summary>Makes one that takes over from a device.</summary>
    internal static IAudioOutput Open(int sampleRate, ISampleProvider source, long headStartFrames) =>
        new BlockingOutput(new PacedSink(sampleRate, TimeProvider.System, Thread.Sleep, headStartFrames), source, raisePriority: false);
}
