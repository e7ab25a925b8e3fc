namespace GrooveLab.Music.Analysis;

/// <summary>The times of a series of pulses, as a smooth tempo curve through onsets at known places: least squares, where the distance of
/// an onset from its place and the change of the period from pulse to pulse both cost. Onsets far from their places count less.</summary>
/// <remarks>Time and memory are proportional to the number of pulses plus the number of onsets: the equations form a band of five.</remarks>
internal static class PulseCurve
{
    // An onset farther than this many standard deviations from its place pulls with a limited force (Huber).
    private const double FarAway = 1.5;

    /// <summary>Fits the curve.</summary>
    /// <param name="pulses">The times in seconds, as far as they are known; replaced by the curve.</param>
    /// <param name="places">For each onset its pulse, the fraction of the way to the next one, and its time in seconds.</param>
    /// <param name="spread">The standard deviation of the onsets around their places, in seconds.</param>
    /// <param name="change">The standard deviation of the period's relative change from one pulse to the next.</param>
    public static void Fit(double[] pulses, IReadOnlyList<(int Pulse, double Fraction, double Time)> places, double spread, double change)
    {
        var n = pulses.Length;
        if (n < 3)
        {
            return;
        }

        double[] middle = new double[n], next = new double[n], second = new double[n], right = new double[n];
        var period = (pulses[^1] - pulses[0]) / (n - 1);
        foreach (var (k, f, time) in places)
        {
            var inside = k + 1 < n ? f : 0;
            var at = inside == 0 ? pulses[k] : ((1 - inside) * pulses[k]) + (inside * pulses[k + 1]);
            var weight = Math.Min(1, FarAway * spread / Math.Max(1e-12, Math.Abs(time - at))) / (spread * spread);
            middle[k] += weight * (1 - inside) * (1 - inside);
            right[k] += weight * (1 - inside) * time;
            if (inside > 0)
            {
                next[k] += weight * (1 - inside) * inside;
                middle[k + 1] += weight * inside * inside;
                right[k + 1] += weight * inside * time;
            }
        }

        for (var k = 1; k + 1 < n; k++)
        {
            // The local period, so that a slow stretch may change as much in proportion as a fast one.
            var local = Math.Clamp((pulses[k + 1] - pulses[k - 1]) / 2, period / 4, period * 4);
            var weight = 1 / (local * local * change * change);
            middle[k - 1] += weight;
            middle[k] += 4 * weight;
            middle[k + 1] += weight;
            next[k - 1] -= 2 * weight;
            next[k] -= 2 * weight;
            second[k - 1] += weight;
        }

        Solve(middle, next, second, right);
        right.CopyTo(pulses, 0);
        for (var k = 1; k < n; k++)
        {
            // Pulses never run backwards.
            pulses[k] = Math.Max(pulses[k], pulses[k - 1] + (period / 16));
        }
    }

    // L D L' with two diagonals below the main one.
    private static void Solve(double[] middle, double[] next, double[] second, double[] right)
    {
        var n = middle.Length;
        for (var i = 0; i < n; i++)
        {
            middle[i] += 1e-9;
            if (i + 1 < n)
            {
                var one = next[i] / middle[i];
                var two = i + 2 < n ? second[i] / middle[i] : 0;
                middle[i + 1] -= one * next[i];
                right[i + 1] -= one * right[i];
                if (i + 2 < n)
                {
                    next[i + 1] -= one * second[i];
                    middle[i + 2] -= two * second[i];
                    right[i + 2] -= two * right[i];
                }
            }
        }

        for (var i = n - 1; i >= 0; i--)
        {
            var value = right[i];
            value -= i + 1 < n ? next[i] * right[i + 1] : 0;
            value -= i + 2 < n ? second[i] * right[i + 2] : 0;
            right[i] = value / middle[i];
        }
    }
}
