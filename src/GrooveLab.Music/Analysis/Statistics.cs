namespace GrooveLab.Music.Analysis;

/// <summary>The statistics that the checks use. They describe the music and are never musical time, so they may use doubles.</summary>
public static class Statistics
{
    /// <summary>Standard deviation of a whole population; 0 for fewer than two numbers.</summary>
    public static double Deviation(IReadOnlyCollection<double> values)
    {
        if (values.Count < 2)
        {
            return 0;
        }

        var mean = values.Average();
        return Math.Sqrt(values.Average(value => (value - mean) * (value - mean)));
    }

    /// <summary>Pearson's correlation; 0 when one side is constant.</summary>
    /// <exception cref="ArgumentException">The two lengths differ.</exception>
    public static double Correlation(IReadOnlyList<double> a, IReadOnlyList<double> b)
    {
        if (a.Count != b.Count)
        {
            throw new ArgumentException($"{a.Count} numbers cannot be paired with {b.Count}.", nameof(b));
        }

        if (a.Count == 0)
        {
            return 0;
        }

        double meanA = a.Average(), meanB = b.Average(), ab = 0, aa = 0, bb = 0;
        for (var i = 0; i < a.Count; i++)
        {
            var (x, y) = (a[i] - meanA, b[i] - meanB);
            ab += x * y;
            aa += x * x;
            bb += y * y;
        }

        return aa < 1e-12 || bb < 1e-12 ? 0 : ab / Math.Sqrt(aa * bb);
    }

    /// <summary>How well measured numbers follow the order of a plan, -1 to 1: Spearman's rank correlation divided by its maximum for a
    /// plan with ties. Numbers tied in the plan may be in any order.</summary>
    public static double RankMatch(IReadOnlyList<double> plan, IReadOnlyList<double> measured)
    {
        var planned = Ranks(plan);
        var best = Ranks([.. plan.Select((value, i) => (Value: value, At: i)).Select(item => (double)plan
            .Select((value, i) => (Value: value, At: i))
            .Count(other => other.Value < item.Value || (other.Value == item.Value && other.At < item.At)))]);
        var most = Correlation(planned, best);
        return most == 0 ? 0 : Correlation(planned, Ranks(measured)) / most;
    }

    /// <summary>Ranks from 1, equal numbers share their mean rank.</summary>
    public static IReadOnlyList<double> Ranks(IReadOnlyList<double> values)
    {
        var order = Enumerable.Range(0, values.Count).OrderBy(i => values[i]).ToArray();
        var ranks = new double[values.Count];
        for (int from = 0, to; from < order.Length; from = to)
        {
            to = from + 1;
            while (to < order.Length && values[order[to]] == values[order[from]])
            {
                to++;
            }

            for (var i = from; i < to; i++)
            {
                ranks[order[i]] = (from + 1 + to) / 2.0;
            }
        }

        return ranks;
    }

    /// <summary>Autocorrelation at each lag from 0 up to <paramref name="lags"/>, exclusive: the mean product over the available pairs,
    /// relative to the variance. All 0 when the values are constant.</summary>
    public static IReadOnlyList<double> Autocorrelation(IReadOnlyList<double> series, int lags)
    {
        var mean = series.Count == 0 ? 0 : series.Average();
        var centred = series.Select(value => value - mean).ToArray();
        var variance = centred.Length == 0 ? 0 : centred.Average(value => value * value);
        var result = new double[lags];
        for (var lag = 0; lag < Math.Min(lags, centred.Length) && variance > 1e-12; lag++)
        {
            var sum = 0.0;
            for (var i = 0; i + lag < centred.Length; i++)
            {
                sum += centred[i] * centred[i + lag];
            }

            result[lag] = sum / (centred.Length - lag) / variance;
        }

        return result;
    }
}
