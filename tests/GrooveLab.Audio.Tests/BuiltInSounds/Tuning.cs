using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>How far a region is out of tune at a key, by what its frames hold.</summary>
internal static class Tuning
{
    private static readonly Dictionary<SampleHeader, double> Stored = [];

    public static double CentsOff(BankUnderTest bank, SoundFontRegion region, int key)
    {
        SampleHeader header = region.Sample;
        double stored;
        lock (Stored)
        {
            if (!Stored.TryGetValue(header, out stored))
            {
                stored = Frequency(bank, header, region.Generators.StartAddressOffset);
                Stored.Add(header, stored);
            }
        }

        return Measure.Cents(BankUnderTest.Transposed(region, key, stored), Measure.KeyFrequency(key));
    }

    // The worse of attack and loop, so that neither hides behind the other.
    private static double Frequency(BankUnderTest bank, SampleHeader header, int lead)
    {
        double[] frames = bank.Sample(header)[lead..];
        double rate = header.SampleRate, expected = Measure.KeyFrequency(header.OriginalPitch), length = frames.Length / rate;
        double window = Math.Min(0.2, 0.45 * length), from = Math.Min(0.03, 0.05 * length);
        double attack = Measure.Frequency(frames, rate, expected, from, window, Math.Min(0.2, length - window - from - 0.001));
        int start = (int)(header.StartLoop - header.Start) - lead, loop = (int)(header.EndLoop - header.StartLoop);
        if (loop == 0)
        {
            return attack;
        }

        double[] looped = new double[(int)rate];
        for (int i = 0; i < looped.Length; i++)
        {
            looped[i] = frames[start + (i % loop)];
        }

        double steady = Measure.Frequency(looped, rate, expected, 0.05, 0.4, 0.45);
        return Math.Abs(Measure.Cents(attack, expected)) > Math.Abs(Measure.Cents(steady, expected)) ? attack : steady;
    }
}
