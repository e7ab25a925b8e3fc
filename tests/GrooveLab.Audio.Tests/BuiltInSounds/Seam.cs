using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>
/// The difference between the waveform across a loop's end and that into its start, over eight frames before and after each, relative to
/// the loop's level, in dB. A perfect loop leaves only the rounding error.
/// </summary>
internal static class Seam
{
    public static double Of(BankUnderTest bank, SampleHeader header)
    {
        var frames = bank.Sample(header);
        int start = (int)(header.StartLoop - header.Start), end = (int)(header.EndLoop - header.Start);
        var difference = new double[16];
        for (var i = -8; i < 8; i++)
        {
            difference[i + 8] = frames[end + i] - frames[start + i];
        }

        return Measure.Decibels(Measure.Rms(difference) / Measure.Rms(frames.AsSpan(start, end - start)));
    }
}
