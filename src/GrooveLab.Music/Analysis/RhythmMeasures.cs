using GrooveLab.Music.Time;

namespace GrooveLab.Music.Analysis;

/// <summary>How rhythms of onsets on a grid of pulses differ, and how far they go against the beat. Rhythms are cycles: the last interval leads to the first onset again.</summary>
public static class RhythmMeasures
{
    /// <summary>Swap distance: how many steps onsets must move from one pulse to the next to make one rhythm into the other. With unequal numbers of onsets each onset of
    /// the larger rhythm goes to one of the smaller, and each of the smaller is reached (directed swap distance). Toussaint 2004.</summary>
    /// <param name="first">Onsets, ascending.</param>
    /// <param name="second">Onsets, ascending, on the same pulses. Neither is empty.</param>
    /// <exception cref="ArgumentException">One has no onset.</exception>
    public static long Swap(IReadOnlyList<int> first, IReadOnlyList<int> second)
    {
        if (first.Count == 0 || second.Count == 0)
        {
            throw new ArgumentException("A rhythm has onsets.", nameof(first));
        }

        var (more, fewer) = first.Count >= second.Count ? (first, second) : (second, first);
        // The least cost if the onsets so far go to the first ones of the smaller rhythm, of which the last is reached.
        var cost = new long[fewer.Count];
        Array.Fill(cost, long.MaxValue / 2);
        for (var i = 0; i < more.Count; i++)
        {
            for (var j = fewer.Count - 1; j >= 0; j--)
            {
                var before = i == 0 ? (j == 0 ? 0 : long.MaxValue / 2) : j == 0 ? cost[0] : Math.Min(cost[j], cost[j - 1]);
                cost[j] = before + Math.Abs((long)more[i] - fewer[j]);
            }
        }

        return cost[^1];
    }

    /// <summary>Chronotonic distance: the area between the curves that show at each pulse the length of the interval it lies in. Gustafson 1988; Toussaint 2004.</summary>
    /// <param name="first">Onsets, ascending, from 0 to below <paramref name="pulses"/>.</param>
    /// <param name="second">Onsets on the same pulses.</param>
    /// <param name="pulses">The pulses of the cycle.</param>
    /// <exception cref="ArgumentException">One has no onset, or one lies outside the cycle.</exception>
    public static long Chronotonic(IReadOnlyList<int> first, IReadOnlyList<int> second, int pulses)
    {
        var (one, two) = (IntervalAtPulses(first, pulses), IntervalAtPulses(second, pulses));
        return one.Zip(two, (a, b) => (long)Math.Abs(a - b)).Sum();
    }

    /// <summary>Normalized pairwise variability index: 0 for equal lengths, higher the more neighbours differ. Grabe and Low 2002.</summary>
    /// <param name="lengths">Lengths over 0, at least two; not a cycle.</param>
    /// <exception cref="ArgumentException">Fewer than two lengths, or one not over 0.</exception>
    public static double Npvi(IReadOnlyList<double> lengths)
    {
        if (lengths.Count < 2 || lengths.Any(length => !(length > 0)))
        {
            throw new ArgumentException("The index needs two lengths over 0.", nameof(lengths));
        }

        return 100.0 / (lengths.Count - 1) * lengths.Zip(lengths.Skip(1), (a, b) => Math.Abs(a - b) / ((a + b) / 2)).Sum();
    }

    /// <summary>Weighted note-to-beat distance: higher the nearer notes come to a beat without meeting it, and the more beats they are held over. Gómez, Melvin, Rappaport
    /// and Toussaint 2005; a note that ends on the second next beat counts once.</summary>
    /// <param name="onsets">Onsets, ascending, from 0 to below <paramref name="pulses"/>.</param>
    /// <param name="beats">Onsets of the beats, ascending, the first at 0; they may be of unequal length.</param>
    /// <param name="pulses">The pulses of the cycle.</param>
    /// <exception cref="ArgumentException">No onset or beat, or one outside the cycle.</exception>
    public static Rational WeightedNoteToBeat(IReadOnlyList<int> onsets, IReadOnlyList<int> beats, int pulses)
    {
        Check(onsets, pulses);
        Check(beats, pulses);
        var sum = Rational.Zero;
        for (var i = 0; i < onsets.Count; i++)
        {
            var beat = 0;
            while (beat + 1 < beats.Count && beats[beat + 1] <= onsets[i])
            {
                beat++;
            }

            var next = At(beats, beat + 1, pulses);
            var nearest = Math.Min(onsets[i] - beats[beat], next - onsets[i]);
            if (nearest == 0)
            {
                continue;
            }

            var end = At(onsets, i + 1, pulses);
            var held = end > next && end < At(beats, beat + 2, pulses) ? 2 : 1;
            sum += new Rational(held * (next - beats[beat]), nearest);
        }

        return sum / onsets.Count;
    }

    /// <summary>Onsets that begin at another pulse than their length asks for: not at a multiple of its next lower power of two. Keith 1991, in Toussaint's use.</summary>
    /// <param name="onsets">Onsets, ascending, from 0 to below <paramref name="pulses"/>.</param>
    /// <param name="pulses">The pulses of the cycle.</param>
    /// <exception cref="ArgumentException">No onset, or one outside the cycle.</exception>
    public static int Keith(IReadOnlyList<int> onsets, int pulses)
    {
        Check(onsets, pulses);
        return Enumerable.Range(0, onsets.Count).Count(i =>
        {
            var length = At(onsets, i + 1, pulses) - onsets[i];
            return onsets[i] % (1 << (int)Math.Log2(length)) != 0;
        });
    }

    /// <summary>Onsets that no even division of the cycle meets: their pulse has no common divisor with the number of pulses. Gómez and others 2005. For a prime number
    /// every pulse but 0 counts.</summary>
    /// <param name="onsets">Onsets, ascending, from 0 to below <paramref name="pulses"/>.</param>
    /// <param name="pulses">The pulses of the cycle.</param>
    /// <exception cref="ArgumentException">No onset, or one outside the cycle.</exception>
    public static int OffBeatness(IReadOnlyList<int> onsets, int pulses)
    {
        Check(onsets, pulses);
        return onsets.Count(onset => Divisor(onset, pulses) == 1);
    }

    private static int Divisor(int a, int b) => b == 0 ? a : Divisor(b, a % b);

    private static int[] IntervalAtPulses(IReadOnlyList<int> onsets, int pulses)
    {
        Check(onsets, pulses);
        var lengths = new int[pulses];
        for (var i = 0; i < onsets.Count; i++)
        {
            var end = At(onsets, i + 1, pulses);
            for (var pulse = onsets[i]; pulse < end; pulse++)
            {
                lengths[pulse % pulses] = end - onsets[i];
            }
        }

        return lengths;
    }

    private static int At(IReadOnlyList<int> places, int i, int pulses) => places[i % places.Count] + (i / places.Count * pulses);

    private static void Check(IReadOnlyList<int> places, int pulses)
    {
        if (places.Count == 0 || places[0] < 0 || places[^1] >= pulses || places.Zip(places.Skip(1), (a, b) => a < b).Contains(false))
        {
            throw new ArgumentException("A rhythm has onsets in ascending order inside its cycle.", nameof(places));
        }
    }
}
