using System.Diagnostics;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// A consistent reading of an output's position: how many frames it has pulled, how many of them are not yet heard, and when.
/// </summary>
/// <param name="FramesPulled">Frames taken from the source since the output started.</param>
/// <param name="DelayFrames">Frames between the one heard at <paramref name="Timestamp"/> and the last one pulled.</param>
/// <param name="Timestamp">The time of this reading, as of <see cref="Stopwatch.GetTimestamp"/>; 0 before the first pull.</param>
public readonly record struct OutputClock(long FramesPulled, long DelayFrames, long Timestamp)
{
    /// <summary>
    /// The frame of the source that is heard at a given time, with fractions.
    /// </summary>
    /// <remarks>
    /// Negative until the first buffer is heard; never beyond the frames pulled. For drawing and for tapped tempi,
    /// not for scheduling, which uses the engine's own frame counter.
    /// </remarks>
    /// <param name="timestamp">A time of <see cref="Stopwatch.GetTimestamp"/>.</param>
    /// <param name="sampleRate">Frames a second.</param>
    public double AudibleFrame(long timestamp, int sampleRate)
    {
        if (Timestamp == 0)
        {
            return -DelayFrames;
        }

        var elapsed = (double)(timestamp - Timestamp) * sampleRate / Stopwatch.Frequency;
        return Math.Min(FramesPulled, FramesPulled - DelayFrames + elapsed);
    }
}
