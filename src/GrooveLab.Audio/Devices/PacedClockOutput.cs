using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// An output for a machine without a device: it pulls the source at the right rate and discards the sound, so that the
/// screen, the count and the drills continue in silence.
/// </summary>
/// <remarks>While running, its state is <see cref="AudioOutputState.Silent"/>. It has no underruns and is never lost.</remarks>
public static class PacedClockOutput
{
    /// <summary>Creates one, ready to start.</summary>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="source">The source to pull: stereo, at that rate.</param>
    /// <exception cref="ArgumentException">The source is not stereo, or has another rate.</exception>
    public static IAudioOutput Open(int sampleRate, ISampleProvider source) => Open(sampleRate, source, 0);

    /// <summary>Creates one that takes over from a device.</summary>
    internal static IAudioOutput Open(int sampleRate, ISampleProvider source, long headStartFrames) =>
        new BlockingOutput(new PacedSink(sampleRate, TimeProvider.System, Thread.Sleep, headStartFrames), source, raisePriority: false);
}
