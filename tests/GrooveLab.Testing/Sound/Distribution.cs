namespace GrooveLab.Testing.Sound;

/// <summary>The distribution of some values.</summary>
/// <param name="values">The values; of none, every number is 0.</param>
public sealed class Distribution(IEnumerable<double> values)
{
    private readonly double[] _sorted = [.. values.Order()];

    /// <summary>The middle value.</summary>
    public double Median => Quantile(_sorted, 0.5);

    /// <summary>How far from the median a share of the values lie at most.</summary>
    /// <param name="share">The share, 0-1.</param>
    public double Within(double share) => Quantile([.. _sorted.Select(value => Math.Abs(value - Median)).Order()], share);

    private static double Quantile(double[] sorted, double share) =>
        sorted.Length == 0 ? 0 : sorted[(int)Math.Round(share * (sorted.Length - 1))];
}
