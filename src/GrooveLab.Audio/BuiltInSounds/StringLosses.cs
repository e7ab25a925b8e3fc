namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>60 dB decay times of a string's partials, in seconds.</summary>
/// <param name="Fundamental">Time of the fundamental.</param>
/// <param name="Upper">Time of partials well above <paramref name="Corner"/>.</param>
/// <param name="Corner">Frequency in Hz around which partials begin to decay faster.</param>
/// <param name="Top">Time of partials at 9 kHz.</param>
internal readonly record struct StringLosses(double Fundamental, double Upper, double Corner, double Top)
{
    private const double TopFrequency = 9000;

    /// <summary>The decay rate in nepers a second for a 60 dB decay time in seconds.</summary>
    public static double DecayRate(double seconds) => 3 * Math.Log(10) / seconds;

    /// <summary>The decay rate of a partial, in nepers a second.</summary>
    /// <param name="frequency">Frequency of the partial in Hz.</param>
    /// <param name="fundamental">Frequency of the first partial in Hz.</param>
    public double Rate(double frequency, double fundamental)
    {
        double upper = Math.Min(Upper, Fundamental), top = Math.Min(Top, upper);
        return DecayRate(Fundamental)
            + ((DecayRate(upper) - DecayRate(Fundamental)) * (Shelf(frequency) - Shelf(fundamental)))
            + ((DecayRate(top) - DecayRate(upper)) * (Square(frequency / TopFrequency) - Square(fundamental / TopFrequency)));
    }

    /// <summary>The losses of the same string moving across the bridge, which passes more energy to the body and so decays sooner.</summary>
    public StringLosses Faster(double times) => new(Fundamental / times, Upper / Math.Sqrt(times), Corner, Top);

    private static double Square(double x) => x * x;

    private double Shelf(double frequency) => Square(frequency) / (Square(frequency) + Square(Corner));
}
