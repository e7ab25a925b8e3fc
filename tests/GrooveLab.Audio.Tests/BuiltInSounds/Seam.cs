using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>
/// How much the way over a loop's end differs from the way into its start: the eight frames before and after each, against the loop's level, in dB.
/// Frames of rounding error are all that is left of a perfect one.
/// </summary>
internal static class Seam
{
    public static double Of(BankUnderTest bank, SampleHeader header)
    {
        double[] frames = bank.Sample(header);
        int start = (int)(header.StartLoop - header.Start), end = (int)(header.EndLoop - header.Start);
        double[] difference = new double[16];
        for (int i = -8; i < 8; i++)
        {
            difference[i + 8] = frames[end + i] - frames[start + i];
        }

        return Measure.Decibels(Measure.Rms(difference) / Measure.Rms(frames.AsSpan(start, end - start)));
    }
}
