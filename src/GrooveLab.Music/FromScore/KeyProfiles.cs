using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.FromScore;

/// <summary>Finds a key from how long each pitch class sounds, by the profiles of Krumhansl and Kessler (1982). For dorian and mixolydian
/// the profiles of minor and major exchange the weights of the sixth and of the seventh.</summary>
public static class KeyProfiles
{
    // Krumhansl and Kessler 1982, from memory.
    private static readonly double[] Major = [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88];
    private static readonly double[] Minor = [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17];

    // The usual modes win where the less usual ones are hardly better; common practice, no source.
    private const double UnusualModeCost = 0.03;

    private static readonly (KeyMode Mode, double[] Profile, double Cost)[] Modes =
    [
        (KeyMode.Major, Major, 0),
        (KeyMode.Minor, Minor, 0),
        (KeyMode.Dorian, Exchanged(Minor, 8, 9), UnusualModeCost),
        (KeyMode.Mixolydian, Exchanged(Major, 10, 11), UnusualModeCost),
    ];

    /// <summary>The key whose profile correlates best with the times; C major if nothing sounds, or all pitch classes alike.</summary>
    /// <param name="times">The time that each pitch class sounds, from C, in any unit; twelve values, not negative.</param>
    /// <exception cref="ArgumentException">Not twelve values.</exception>
    public static Key Find(ReadOnlySpan<double> times)
    {
        if (times.Length != 12)
        {
            throw new ArgumentException("There must be twelve times, one for each pitch class.", nameof(times));
        }

        var best = Key.CMajor;
        var most = double.NegativeInfinity;
        foreach (var (mode, profile, cost) in Modes)
        {
            for (var tonic = 0; tonic < 12; tonic++)
            {
                var score = Correlation(times, profile, tonic) - cost;
                if (score > most + 1e-12)
                {
                    (best, most) = (Plainest(tonic, mode), score);
                }
            }
        }

        return best;
    }

    private static double[] Exchanged(double[] profile, int a, int b)
    {
        var copy = (double[])profile.Clone();
        (copy[a], copy[b]) = (copy[b], copy[a]);
        return copy;
    }

    // Of the names of a tonic the one with the fewest accidentals in its signature, flats for six.
    private static Key Plainest(int tonic, KeyMode mode)
    {
        for (var accidentals = 0; ; accidentals++)
        {
            foreach (var fifths in new[] { -accidentals, accidentals })
            {
                if (new WrittenKey(fifths, mode.ToString()).ToKey() is { } key && key.Tonic.PitchClass == tonic)
                {
                    return key;
                }
            }
        }
    }

    private static double Correlation(ReadOnlySpan<double> times, double[] profile, int tonic)
    {
        var meanTime = 0.0;
        foreach (var time in times)
        {
            meanTime += time / 12;
        }

        var meanProfile = profile.Average();
        var (product, squareTime, squareProfile) = (0.0, 0.0, 0.0);
        for (var i = 0; i < 12; i++)
        {
            var a = times[(tonic + i) % 12] - meanTime;
            var b = profile[i] - meanProfile;
            product += a * b;
            squareTime += a * a;
            squareProfile += b * b;
        }

        return squareTime <= 0 ? 0 : product / Math.Sqrt(squareTime * squareProfile);
    }
}
