using System.Buffers.Binary;

namespace GrooveLab.Testing;

/// <summary>The analysis of a recorded frame counter.</summary>
/// <param name="CountedFrames">Frames whose count was read.</param>
/// <param name="Gaps">Places where the count does not increase by one.</param>
/// <param name="SilentFrames">Silent frames inserted between counts.</param>
/// <param name="SkippedFrames">Counts that never arrived (modulo the counter's period).</param>
/// <param name="FirstGap">Frames from the first count to the first gap; -1 for none.</param>
public sealed record FrameCounterReport(long CountedFrames, int Gaps, long SilentFrames, long SkippedFrames, long FirstGap);

/// <summary>Reads the counter that <see cref="FrameCounterTap"/> puts on the right channel from a recording in 16-bit stereo.</summary>
/// <remarks>Silence before the first count and after the last one does not count.</remarks>
public static class FrameCounterAnalyser
{
    /// <summary>Analyses raw little-endian 16-bit stereo frames.</summary>
    /// <param name="recording">The recording, read to its end.</param>
    /// <param name="period">The counter's period.</param>
    /// <param name="step">The distance of adjacent counts, in 16-bit steps.</param>
    public static FrameCounterReport Analyse(Stream recording, int period, int step)
    {
        var block = new byte[1 << 16];
        long counted = 0;
        long silent = 0;
        long pendingSilence = 0;
        long skipped = 0;
        long firstGap = -1;
        var gaps = 0;
        var previous = -1;
        while (true)
        {
            var bytes = recording.ReadAtLeast(block, block.Length, throwOnEndOfStream: false);
            for (var at = 0; at + 4 <= bytes; at += 4)
            {
                int sample = BinaryPrimitives.ReadInt16LittleEndian(block.AsSpan(at + 2));
                var count = (int)Math.Round((double)sample / step);
                if (count <= 0)
                {
                    pendingSilence += previous < 0 ? 0 : 1;
                    continue;
                }

                if (previous >= 0)
                {
                    var missing = (count - previous - 1 + period) % period;
                    if (missing != 0 || pendingSilence != 0)
                    {
                        firstGap = firstGap < 0 ? counted : firstGap;
                        gaps++;
                        skipped += missing;
                        silent += pendingSilence;
                    }
                }

                pendingSilence = 0;
                previous = count;
                counted++;
            }

            if (bytes < block.Length)
            {
                return new FrameCounterReport(counted, gaps, silent, skipped, firstGap);
            }
        }
    }
}
