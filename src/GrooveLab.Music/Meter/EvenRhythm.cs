namespace GrooveLab.Music.Meter;

/// <summary>
/// Onsets spread over pulses as evenly as whole numbers allow.
/// </summary>
/// <remarks>
/// Clough and Douthett (1991), Maximally even sets: the j-th of k onsets among n pulses stands on floor(j·n/k). Up to rotation the
/// same rhythms as Toussaint's Euclidean ones (2005).
/// </remarks>
public static class EvenRhythm
{
    /// <summary>The distances between the onsets, longest ones as late as the rule puts them; they add up to the pulses.</summary>
    /// <exception cref="ArgumentOutOfRangeException">No onset, or more onsets than pulses.</exception>
    public static IReadOnlyList<int> Intervals(int onsets, int pulses)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(onsets, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(pulses, onsets);
        var intervals = new int[onsets];
        for (var j = 0; j < onsets; j++)
        {
            intervals[j] = (int)(((j + 1L) * pulses / onsets) - ((long)j * pulses / onsets));
        }

        return intervals;
    }

    /// <summary>
    /// True when the intervals are maximally even: for every number of steps at most two, consecutive, sizes occur.
    /// </summary>
    public static bool IsMaximallyEven(IReadOnlyList<int> intervals)
    {
        var count = intervals.Count;
        for (var steps = 1; steps < count; steps++)
        {
            var least = int.MaxValue;
            var most = 0;
            for (var start = 0; start < count; start++)
            {
                var size = 0;
                for (var i = 0; i < steps; i++)
                {
                    size += intervals[(start + i) % count];
                }

                least = Math.Min(least, size);
                most = Math.Max(most, size);
            }

            if (most - least > 1)
            {
                return false;
            }
        }

        return true;
    }
}
