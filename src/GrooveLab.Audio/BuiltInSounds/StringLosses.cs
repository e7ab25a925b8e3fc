namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>How fast a string's partials die, each as the seconds of a fall of 60 dB.</summary>
/// <param name="Fundamental">Of the fundamental.</param>
/// <param name="Upper">Of partials well above <paramref name="Corner"/>.</param>
/// <param name="Corner">Hz about which partials begin to die faster.</param>
/// <param name="Top">Of partials at 9 kHz.</param>
internal readonly record struct StringLosses(double Fundamental, double Upper, double Corner, double Top)
{
    /// <summary>The same string moving across the bridge, which gives more to the body and so dies sooner.</summary>
    public StringLosses Faster(double times) => new(Fundamental / times, Upper / Math.Sqrt(times), Corner, Top);
}
