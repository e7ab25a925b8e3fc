namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>Levels by third octaves (IEC 61260 centres from 63 Hz to 10 kHz) and how far two of them lie apart.</summary>
internal static class ThirdOctaves
{
    // Below this, relative to the loudest band, a band is masked. Common practice, no source.
    private const double Unheard = -30;

    private static readonly double[] Centres = [.. Enumerable.Range(-12, 23).Select(n => 1000 * Math.Pow(10, n / 10.0))];

    /// <summary>The level of each band in dB.</summary>
    public static double[] Of(ReadOnlySpan<double> x, double rate)
    {
        var power = Measure.PowerSpectrum(x);
        return [.. Centres.Select(c => 10 * Math.Log10(Measure.Band(power, rate, c * Math.Pow(10, -0.05), c * Math.Pow(10, 0.05)) + 1e-12))];
    }

    /// <summary>The mean difference in dB, either way, over the bands that are heard in both.</summary>
    public static double Difference(double[] one, double[] other)
    {
        var loudest = Math.Max(one.Max(), other.Max());
        return one.Zip(other).Where(pair => Math.Min(pair.First, pair.Second) > loudest + Unheard).Average(pair => Math.Abs(pair.First - pair.Second));
    }
}
