using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Analysis;

/// <summary>Names the meters of bars that are counted in pulses.</summary>
/// <param name="pulse">The written value of a pulse.</param>
internal sealed class PulseMeters(Span pulse)
{
    private const int FewestGrouped = 5;

    // A grouping must be so much clearer than none, in deviations of the accents.
    private const double Clear = 0.2;

    /// <summary>Maximum number of pulses in a bar that a time signature can express.</summary>
    public int Most => (int)(TimeSignature.LargestNumerator / pulse.Wholes.Numerator);

    /// <summary>The meter of a bar.</summary>
    /// <param name="pulses">Its pulses, 1 to <see cref="Most"/>.</param>
    /// <param name="profile">The mean accent on each of its pulses; null if not known.</param>
    public BarMeter Of(int pulses, double[]? profile)
    {
        var (above, below) = ((int)pulse.Wholes.Numerator, (int)pulse.Wholes.Denominator);
        var signature = new TimeSignature(pulses * above, below);
        if (above > 1)
        {
            // Pulses of several units are the groups.
            return new BarMeter(signature, pulses == 1 ? Grouping.Usual(signature) : Grouping.Of([.. Enumerable.Repeat(above, pulses)]));
        }

        if (profile is null || pulses < FewestGrouped || Groups(profile) is not { } groups)
        {
            return Usual(InTwos(pulses, below));
        }

        return groups.TrueForAll(size => size == 2) ? Usual(InTwos(pulses / 2, below / 2)) : new BarMeter(signature, Grouping.Of([.. groups]));
    }

    // Two or four short pulses are written in longer units.
    private static TimeSignature InTwos(int pulses, int below)
    {
        while (pulses is 2 or 4 && below > 4)
        {
            (pulses, below) = (pulses / 2, below / 2);
        }

        return new TimeSignature(pulses, below);
    }

    private static BarMeter Usual(TimeSignature signature) => new(signature, Grouping.Usual(signature));

    // Groups of two and three whose starts have the strongest accents; null where none are clear.
    private static List<int>? Groups(double[] profile)
    {
        List<int>? best = null;
        var most = Clear;
        var all = profile.Skip(1).Sum();
        foreach (var sizes in Compositions(profile.Length))
        {
            var (inside, count, at) = (0.0, sizes.Count - 1, 0);
            foreach (var size in sizes.SkipLast(1))
            {
                inside += profile[at += size];
            }

            var clear = (inside / count) - ((all - inside) / (profile.Length - 1 - count));
            if (clear > most)
            {
                (best, most) = (sizes, clear);
            }
        }

        return best;
    }

    private static IEnumerable<List<int>> Compositions(int units)
    {
        if (units == 0)
        {
            yield return [];
        }

        for (var size = 2; size <= Math.Min(3, units); size++)
        {
            foreach (var rest in Compositions(units - size))
            {
                yield return [size, .. rest];
            }
        }
    }
}
