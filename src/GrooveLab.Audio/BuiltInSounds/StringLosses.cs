namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>60 dB decay times of a string's partials, in seconds.</summary>
/// <param name="Fundamental">Time of the fundamental.</param>
/// <param name="Upper">Time of partials well above <paramref name="Corner"/>.</param>
/// <param name="Corner">Frequency in Hz around which partials begin to decay faster.</param>
/// <param name="Top">Time of partials at 9 kHz.</param>
internal readonly record struct StringLosses(double Fundamental, double Upper, double Corner, double Top)
{
    /// <summary>The losses of the same string moving across the bridge, which passes more energy to the body and so decays sooner.</summary>
    public StringLosses Faster(double times) => new(Fundamental / times, Upper / Math.Sqrt(times), Corner, Top);
}
