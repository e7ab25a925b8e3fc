namespace GrooveLab.Music.Feel;

/// <summary>How strongly a steady period is felt as a beat, by published models. The models describe listeners hearing even beats:
/// advice, not a rule.</summary>
public static class PulseSalience
{
    /// <summary>The fastest steady events heard as metrical, in seconds. London (2002), abstract.</summary>
    public const double FastestUnit = 0.100;

    /// <summary>The fastest beat that can still be divided in two, in seconds. London (2002), abstract.</summary>
    public const double FastestBeat = 0.200;

    /// <summary>The slowest beat that people can hold steady, in seconds. Parncutt (1994), p. 455; London (2002) gives 1.5-2.</summary>
    public const double SlowestBeat = 1.8;

    /// <summary>The longest cycle heard as one metrical whole, in seconds. London (2002), abstract.</summary>
    public const double LongestCycle = 6.0;

    /// <summary>
    /// Salience of a period, 0-1, greatest at 0.6 s. Parncutt (1994), equation 6, with sigma 0.2.
    /// </summary>
    /// <param name="period">Seconds, above zero.</param>
    public static double Parncutt(double period) => LogGaussian(period, 0.2);

    /// <summary>
    /// Salience of a metrical level, 0-1, greatest at 0.6 s. Gotham (2015), with sigma 0.3.
    /// </summary>
    /// <param name="period">Seconds, above zero.</param>
    public static double Gotham(double period) => LogGaussian(period, 0.3);

    /// <summary>The weight of each place in a cycle: the sum of the saliences of the levels on that place. Gotham (2015).</summary>
    /// <param name="places">Number of places in the cycle, one period of the fastest level apart.</param>
    /// <param name="periods">The period of each level, in places.</param>
    /// <param name="place">Seconds from one place to the next.</param>
    public static IReadOnlyList<double> GothamWeights(int places, IReadOnlyList<int> periods, double place) =>
        [.. Enumerable.Range(0, places).Select(at => periods.Where(period => at % period == 0).Sum(period => Gotham(period * place)))];

    /// <summary>The accent that a note gets from its length, 0-1, saturating above about a second. Parncutt (1994), equation 3, with a
    /// time constant of 0.5 s and an accent index of 2.</summary>
    /// <param name="interval">Seconds to the next onset, not negative.</param>
    public static double DurationalAccent(double interval) => Math.Pow(1 - Math.Exp(-interval / 0.5), 2);

    private static double LogGaussian(double period, double sigma)
    {
        var octaves = Math.Log10(period / 0.6) / sigma;
        return Math.Exp(-0.5 * octaves * octaves);
    }
}
