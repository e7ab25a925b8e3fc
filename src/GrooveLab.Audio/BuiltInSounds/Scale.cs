namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A quantity that changes by equal ratios from the lowest key of an instrument to its highest.</summary>
/// <param name="Low">Value at the lowest key.</param>
/// <param name="High">Value at the highest key.</param>
internal readonly record struct Scale(double Low, double High)
{
    /// <param name="place">0 at the lowest key, 1 at the highest.</param>
    public double At(double place) => Low == 0 ? 0 : Low * Math.Pow(High / Low, place);
}
