namespace GrooveLab.Music.Analysis;

/// <summary>A bar of a performance on its pulses.</summary>
/// <param name="Start">The pulse on which it begins; negative before the first pulse.</param>
/// <param name="Pulses">Its pulses as performed.</param>
/// <param name="Written">Its pulses as counted: fewer or more than performed where the players paused.</param>
internal readonly record struct PulseBar(int Start, int Pulses, int Written);

/// <summary>A length that bars may have.</summary>
/// <param name="Pulses">Pulses in a bar.</param>
/// <param name="Strength">How clearly the accents mark such bars.</param>
internal readonly record struct BarLength(int Pulses, double Strength);

/// <summary>Finds bar lines on pulses from their accents.</summary>
/// <remarks>A bar line is where accents are strong again and again: the strength of a length is the mean accent on its bar lines times the
/// square root of their number (the statistic of a mean against chance). Half a bar has weak accents among the strong ones, and two bars
/// have fewer bar lines, so both are less. Time is proportional to the number of pulses.</remarks>
internal static class PerformedBars
{
    /// <summary>Minimum and maximum number of pulses in a bar.</summary>
    public const int Fewest = 2;

    /// <inheritdoc cref="Fewest"/>
    public const int Most = 32;

    // The bar that is felt best, and how much longer or shorter ones are less likely (a standard deviation of the logarithm). From the range in
    // which cycles are felt: London, Hearing in Time; from memory.
    private const double UsualSeconds = 1.7;
    private const double SecondsDeviation = 1.7;

    // Two pulses are rather half a bar of four: common practice.
    private const double InTwo = 0.7;

    // Bar lines that leave their row cost as much as this many of the strongest accents.
    private const double JumpCost = 3;
    private const double ChangeCost = 3;
    private const double PauseCost = 3;

    // One bar of another length; half a bar more or less is likelier.
    private const double OneBarCost = 4.5;
    private const double HalfBarCost = 3.5;
    private const double OddCost = 0.25;
    private const double SilentCost = 0.3;

    // A pause lasts at least so many seconds, and is longer than this share of all silences.
    private const double ShortestPause = 1.2;

    // A longer silence is a rest.
    private const double LongestPause = 5;
    private const double UsualGaps = 0.9;
    private const int FewSilences = 10;

    // Two bars that are almost as clear as one of twice their length are two bars.
    private const double HalfIsClear = 0.88;

    // An accent counts up to this many deviations: one loud note is no bar line.
    private const double StrongestAccent = 3;

    /// <summary>The sum of the accents on each pulse, with mean 0 and deviation 1.</summary>
    public static double[] Accents(PerformedAccents accents)
    {
        ReadOnlySpan<double> weights = [0.5, 1, 1, 0.5, 1];
        var sum = new double[accents.Series[0].Length];
        for (var s = 0; s < weights.Length; s++)
        {
            for (var k = 0; k < sum.Length; k++)
            {
                sum[k] += weights[s] * Math.Min(accents.Series[s][k], StrongestAccent);
            }
        }

        var mean = sum.Average();
        var deviation = Math.Max(1e-9, Statistics.Deviation(sum));
        return Array.ConvertAll(sum, value => (value - mean) / deviation);
    }

    /// <summary>The lengths that bars may have, the likeliest first.</summary>
    public static List<BarLength> Lengths(double[] accents, double period, int most)
    {
        var found = new List<BarLength>();
        for (var length = Fewest; length <= most && length * 2 <= accents.Length; length++)
        {
            var away = Math.Log(length * period / UsualSeconds) / SecondsDeviation;
            var likely = Math.Exp(-0.5 * away * away) * (length == 2 ? InTwo : 1);
            found.Add(new BarLength(length, likely * Strength(accents, length)));
        }

        List<BarLength> sorted = [.. found.OrderByDescending(one => one.Strength)];
        var half = sorted.Count == 0 ? -1 : sorted.FindIndex(one => one.Pulses * 2 == sorted[0].Pulses && one.Pulses > 2 && one.Strength > HalfIsClear * sorted[0].Strength);
        if (half > 0)
        {
            var shorter = sorted[half];
            sorted.RemoveAt(half);
            sorted.Insert(0, shorter);
        }

        return sorted;
    }

    // More than all accents of a piece: what the musician says.
    private const double Certain = 1e6;

    // Where a bar line is given, the others follow from it: a bar of another length needs so much more evidence.
    private const double GivenPrice = 20;

    /// <summary>The best bar lines for mostly one length; bars of other lengths come in where the accents ask for them.</summary>
    /// <param name="accents">The accents.</param>
    /// <param name="length">The usual length.</param>
    /// <param name="most">Maximum number of pulses in a bar.</param>
    /// <param name="gaps">For each pulse the number of pulses just before it on which nothing begins.</param>
    /// <param name="period">The mean period of the pulses in seconds.</param>
    /// <param name="anchor">A pulse on which a bar begins; null if not known.</param>
    public static List<PulseBar> Find(double[] accents, int length, int most, int[] gaps, double period, int? anchor)
    {
        var n = accents.Length;
        var (strong, other) = Levels(accents, length);
        var level = (strong + other) / 2;
        var unit = Math.Max(0.2, strong - level);
        var price = anchor is null ? 1 : GivenPrice;
        const int lengths = Most + 1;
        var leastPause = LeastPause(gaps, period);
        var longestPause = Math.Min(2 * Most, (int)Math.Ceiling(LongestPause / period));
        var best = new double[n];
        var bestLength = new int[n];
        var total = new double[n * lengths];
        var from = new (short Step, short Length)[n * lengths];
        var half = length / 2;
        var onsets = new int[n + 1];
        var pauses = new bool[n];
        for (var k = 0; k < n; k++)
        {
            onsets[k + 1] = onsets[k] + (k + 1 < n && gaps[k + 1] > 0 ? 0 : 1);
            for (var back = 0; back < Most && back <= k; back++)
            {
                pauses[k] |= gaps[k - back] >= leastPause;
            }
        }

        for (var k = 0; k < n; k++)
        {
            best[k] = double.NegativeInfinity;
            // Where nothing is played, no bar line is better than another; fewer are a little better, so that a pause is in one bar.
            var isSilent = onsets[Math.Min(n, k + half + 1)] == onsets[Math.Max(0, k - half)];
            var reward = (isSilent ? -SilentCost : accents[k] - level) + (anchor == k ? Certain : 0);
            for (var l = Fewest; l <= most; l++)
            {
                // Bars of a multiple or of a part of the usual length say nothing new.
                var (value, step, before) = (double.NegativeInfinity, 0, l);
                if (l != length && (l % length == 0 || length % l == 0))
                {
                    total[(k * lengths) + l] = double.NegativeInfinity;
                    continue;
                }

                if (k < l)
                {
                    // The first bar line; what comes before is a pickup.
                    value = l == length ? 0 : -price * ChangeCost;
                }

                if (k >= l)
                {
                    (value, step) = (total[((k - l) * lengths) + l], l);
                    if (best[k - l] - (price * ChangeCost) > value)
                    {
                        (value, before) = (best[k - l] - (price * ChangeCost), bestLength[k - l]);
                    }

                    // A bar other than usual pays for itself each time, so that they are few. The bar that is known to begin here is no pickup.
                    value += l != length ? -OddCost * unit : k - l == anchor ? Certain : 0;
                }

                if (l == length)
                {
                    for (var a = Fewest; a <= Math.Min(k, Math.Min(most, 2 * length)); a++)
                    {
                        var odd = total[((k - a) * lengths) + l] - (price * (a * 2 == length || a * 2 == length * 3 ? HalfBarCost : OneBarCost));
                        if (a != l && odd > value)
                        {
                            (value, step, before) = (odd, a, l);
                        }
                    }
                }

                if (pauses[k])
                {
                    for (var a = 1; a <= k && a <= l + longestPause; a++)
                    {
                        if (a != l && HasPause(gaps, k, a, l, leastPause) && total[((k - a) * lengths) + l] - PauseCost > value)
                        {
                            // Counted as a bar of the usual length.
                            (value, step, before) = (total[((k - a) * lengths) + l] - PauseCost, -a, l);
                        }
                    }
                }

                total[(k * lengths) + l] = value + reward;
                from[(k * lengths) + l] = ((short)step, (short)before);
                if (total[(k * lengths) + l] > best[k])
                {
                    (best[k], bestLength[k]) = (total[(k * lengths) + l], l);
                }
            }
        }

        return Back(total, from, most, n);
    }

    private static List<PulseBar> Back(double[] total, (short Step, short Length)[] from, int most, int n)
    {
        const int lengths = Most + 1;
        // The last bar line is anywhere in the last bar.
        var (at, l) = (-1, Fewest);
        for (var k = Math.Max(0, n - most); k < n; k++)
        {
            for (var length = Fewest; length <= most; length++)
            {
                if (k + length >= n && (at < 0 || total[(k * lengths) + length] > total[(at * lengths) + l]))
                {
                    (at, l) = (k, length);
                }
            }
        }

        var bars = new List<PulseBar> { new(at, l, l) };
        while (from[(at * lengths) + l].Step != 0)
        {
            var (step, before) = from[(at * lengths) + l];
            var performed = Math.Abs(step);
            bars.Add(new PulseBar(at - performed, performed, step < 0 ? l : performed));
            (at, l) = (at - performed, before);
        }

        if (at > 0)
        {
            // The pickup.
            bars.Add(new PulseBar(0, at, at));
        }

        bars.Reverse();
        return bars;
    }

    // A pause is longer than all but the longest silences of the piece.
    private static int LeastPause(int[] gaps, double period)
    {
        var ends = Enumerable.Range(1, gaps.Length - 1).Where(k => gaps[k] == 0 && gaps[k - 1] > 0).Select(k => gaps[k - 1]).Order().ToList();
        var usual = ends.Count < FewSilences ? 0 : ends[(int)(ends.Count * UsualGaps)];
        return Math.Max((int)Math.Ceiling(ShortestPause / period), usual + 1);
    }

    // True when the bar that ends at a pulse, performed with another number of pulses than counted, has a pause long enough to explain it.
    private static bool HasPause(int[] gaps, int end, int performed, int counted, int least)
    {
        // The tempo curve bends into a pause, so that a pulse more or less may be counted in it.
        var needed = Math.Max(least, performed - counted - 1);
        for (var k = end; k > end - performed; k--)
        {
            if (gaps[k] >= needed && gaps[k] <= performed)
            {
                return true;
            }
        }

        return false;
    }

    private static double Strength(double[] accents, int length)
    {
        double[] value = new double[length], next = new double[length];
        int[] lines = new int[length], nextLines = new int[length];
        for (var k = 0; k < accents.Length; k++)
        {
            var (top, topAt) = (double.NegativeInfinity, 0);
            for (var p = 0; p < length; p++)
            {
                if (value[p] > top)
                {
                    (top, topAt) = (value[p], p);
                }
            }

            for (var p = 0; p < length; p++)
            {
                var before = p == 0 ? length - 1 : p - 1;
                (next[p], nextLines[p]) = (value[before], lines[before]);
            }

            if (k > 0 && top - JumpCost > next[0])
            {
                (next[0], nextLines[0]) = (top - JumpCost, lines[topAt]);
            }

            next[0] += accents[k];
            nextLines[0]++;
            (value, next) = (next, value);
            (lines, nextLines) = (nextLines, lines);
        }

        var best = 0.0;
        for (var p = 0; p < length; p++)
        {
            best = Math.Max(best, value[p] / Math.Sqrt(Math.Max(1, lines[p])));
        }

        return best;
    }

    // The mean accent on the bar lines of a length at its best place, and on the next best place in the bar.
    private static (double Strong, double Other) Levels(double[] accents, int length)
    {
        var means = new double[length];
        for (var k = 0; k < accents.Length; k++)
        {
            means[k % length] += accents[k] * length / accents.Length;
        }

        Array.Sort(means);
        return (means[^1], means[^2]);
    }
}
