namespace GrooveLab.Music.Analysis;

/// <summary>The places of onsets on a series of pulses and their plain divisions, chosen together: all onsets between two pulses share one
/// division, a division costs the more the less the piece uses it, and to change between twos and threes costs again.</summary>
internal static class PulseGrid
{
    /// <summary>The places of an interval are multiples of one over this.</summary>
    public const int Fine = 12;

    // An onset so many standard deviations from any place belongs to none in particular.
    private const double Outlier = 3.5;
    private const double SwitchCost = 2;

    // Neighbouring places must be so many standard deviations and so many seconds apart to be told from each other.
    private const double LeastSteps = 3.6;
    private const double LeastSeconds = 0.045;
    private const double TooFine = 1000;
    private const double LeastCost = 0.3;
    private const double MostCost = 5;

    private static readonly int[] Divisions = [1, 2, 4, 3, 6];

    // What an onset off the pulse costs besides, so that one onset is never divided finely for a few milliseconds.
    private static readonly double[] OnsetCosts = [0, 0.3, 0.8, 0.8, 0.9];

    /// <summary>The costs of the divisions before anything is known of the piece, in nats an interval.</summary>
    public static double[] FirstCosts => [0, 2, 4, 4, 5];

    /// <summary>Assigns each onset.</summary>
    /// <param name="pulses">The pulses' times, ascending; at least two.</param>
    /// <param name="onsets">The onsets in seconds, ascending.</param>
    /// <param name="spread">The standard deviation of onsets around their places, in seconds.</param>
    /// <param name="costs">What each division costs; replaced by what this piece's use of them says.</param>
    /// <param name="errors">Receives the distance of each onset from its place, in seconds; late is positive.</param>
    /// <returns>For each onset its place in twelfths of pulses from the first pulse.</returns>
    public static int[] Assign(double[] pulses, ReadOnlySpan<double> onsets, double spread, double[] costs, Span<double> errors)
    {
        var first = new int[pulses.Length];
        var interval = new int[onsets.Length];
        var k = 0;
        for (var i = 0; i < onsets.Length; i++)
        {
            while (k + 2 < pulses.Length && onsets[i] >= pulses[k + 1])
            {
                first[++k] = i;
            }

            interval[i] = k;
        }

        while (++k < pulses.Length)
        {
            first[k] = onsets.Length;
        }

        var divisions = ChooseDivisions(pulses, onsets, spread, costs, first);
        var places = new int[onsets.Length];
        for (var i = 0; i < onsets.Length; i++)
        {
            var (place, error, _) = Nearest(pulses, onsets[i], interval[i], divisions[interval[i]], spread);
            places[i] = (interval[i] * Fine) + (place * Fine / Divisions[divisions[interval[i]]]);
            errors[i] = error;
        }

        Learn(costs, divisions, interval);
        return places;
    }

    // Intervals without onsets tell nothing.
    private static void Learn(double[] costs, int[] divisions, int[] interval)
    {
        var used = new double[Divisions.Length];
        Array.Fill(used, 1);
        var all = (double)Divisions.Length;
        for (var i = 0; i < interval.Length; i++)
        {
            if (i == 0 || interval[i] != interval[i - 1])
            {
                used[divisions[interval[i]]]++;
                all++;
            }
        }

        for (var d = 0; d < costs.Length; d++)
        {
            costs[d] = Math.Clamp(-Math.Log(used[d] / all), LeastCost, MostCost);
        }
    }

    private static int[] ChooseDivisions(double[] pulses, ReadOnlySpan<double> onsets, double spread, double[] costs, int[] first)
    {
        var n = pulses.Length - 1;
        var total = new double[Divisions.Length];
        var next = new double[Divisions.Length];
        var from = new byte[n * Divisions.Length];
        for (var k = 0; k < n; k++)
        {
            for (var d = 0; d < Divisions.Length; d++)
            {
                var step = (pulses[k + 1] - pulses[k]) / Divisions[d];
                var cost = first[k] < first[k + 1] ? costs[d] : 0;
                cost += d > 0 && (step < LeastSteps * spread || step < LeastSeconds) ? TooFine : 0;
                for (var i = first[k]; i < first[k + 1]; i++)
                {
                    cost += Nearest(pulses, onsets[i], k, d, spread).Cost;
                }

                var (best, least) = (d, total[d]);
                for (var e = 0; e < Divisions.Length; e++)
                {
                    // From twos to threes or back.
                    var value = total[e] + (IsOther(d, e) ? SwitchCost : 0);
                    if (value < least)
                    {
                        (best, least) = (e, value);
                    }
                }

                next[d] = least + cost;
                from[(k * Divisions.Length) + d] = (byte)best;
            }

            (total, next) = (next, total);
        }

        var chosen = new int[n];
        var at = Array.IndexOf(total, total.Min());
        for (var k = n - 1; k >= 0; k--)
        {
            chosen[k] = at;
            at = from[(k * Divisions.Length) + at];
        }

        return chosen;
    }

    private static bool IsOther(int a, int b) => (a is 1 or 2 && b >= 3) || (b is 1 or 2 && a >= 3);

    private static (int Place, double Error, double Cost) Nearest(double[] pulses, double onset, int k, int division, double spread)
    {
        var parts = Divisions[division];
        var length = pulses[k + 1] - pulses[k];
        var low = (int)Math.Floor((onset - pulses[k]) / length * parts);
        var best = (Place: low, Error: 0.0, Cost: double.PositiveInfinity);
        for (var place = low; place <= low + 1; place++)
        {
            var error = onset - (pulses[k] + (length * place / parts));
            var away = Math.Min(Math.Abs(error) / spread, Outlier);
            var cost = (0.5 * away * away) + (place % parts == 0 ? 0 : OnsetCosts[division]);
            if (cost < best.Cost)
            {
                best = (place, error, cost);
            }
        }

        return best;
    }
}
