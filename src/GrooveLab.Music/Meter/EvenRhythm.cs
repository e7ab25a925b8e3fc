namespace GrooveLab.Music.Meter;

/// <summary>Onsets spread over pulses as evenly as whole numbers allow.</summary>
/// <remarks>Clough and Douthett (1991), Maximally even sets: the j-th of k onsets among n pulses is on floor(j·n/k). Up to rotation,
/// these are Toussaint's Euclidean rhythms (2005).</remarks>
public static class EvenRhythm
{
    /// <summary>The intervals between the onsets, in pulses; they add up to the number of pulses. Longer intervals come as late as the
    /// rule allows.</summary>
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

    /// <summary>True when the intervals are maximally even: for each number of steps at most two sizes occur, and they are
    /// consecutive.</summary>
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
