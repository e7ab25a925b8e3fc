using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>The tuning error of a region at a key, from its frames.</summary>
internal static class Tuning
{
    private static readonly Dictionary<SampleHeader, double> Stored = [];

    public static double CentsOff(BankUnderTest bank, SoundFontRegion region, int key)
    {
        var header = region.Sample;
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

    // The worse of attack and loop, so that neither hides the other. A rising tone has no settled pitch yet, so with the long loops of
    // sustained tones the attack is measured from a tenth of a second on.
    private static double Frequency(BankUnderTest bank, SampleHeader header, int lead)
    {
        var frames = bank.Sample(header)[lead..];
        double rate = header.SampleRate, expected = Measure.KeyFrequency(header.OriginalPitch);
        int start = (int)(header.StartLoop - header.Start) - lead, loop = (int)(header.EndLoop - header.StartLoop);
        if (loop == 0)
        {
            var length = frames.Length / rate;
            return Measure.Frequency(frames, rate, expected, 0.05 * length, 0.45 * length, 0.45 * length);
        }

        var played = new double[(int)(2 * rate)];
        for (var i = 0; i < played.Length; i++)
        {
            played[i] = frames[i < start ? i : start + ((i - start) % loop)];
        }

        var attack = Measure.Frequency(played, rate, expected, loop > 3000 ? 0.1 : 0.03, 0.2, 0.2);
        var steady = Measure.Frequency(played, rate, expected, 1, 0.4, 0.45);
        return Math.Abs(Measure.Cents(attack, expected)) > Math.Abs(Measure.Cents(steady, expected)) ? attack : steady;
    }
}
