using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Analysis;

/// <summary>Finds the key of music that names none, or names only a signature: from how long each pitch class sounds, from a signature with what
/// the music ends on, or from chords.</summary>
public static class KeySearch
{
    // Krumhansl and Kessler 1982, from memory.
    private static readonly double[] Major = [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88];
    private static readonly double[] Minor = [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17];

    // The usual modes win where the less usual ones are hardly better; common practice, no source.
    private const double UnusualModeCost = 0.03;

    private static readonly (KeyMode Mode, double[] Profile, double Cost)[] Profiles =
    [
        (KeyMode.Major, Major, 0),
        (KeyMode.Minor, Minor, 0),
        (KeyMode.Dorian, Exchanged(Minor, 8, 9), UnusualModeCost),
        (KeyMode.Mixolydian, Exchanged(Major, 10, 11), UnusualModeCost),
    ];

    /// <summary>The key whose profile correlates best with the times, by the profiles of Krumhansl and Kessler (1982); for dorian and mixolydian those of
    /// minor and major exchange the weights of the sixth and of the seventh. C major if nothing sounds, or all pitch classes alike.</summary>
    /// <param name="times">The time that each pitch class sounds, from C, in any unit; twelve values, not negative.</param>
    /// <exception cref="ArgumentException">Not twelve values.</exception>
    public static Key ByTimes(ReadOnlySpan<double> times)
    {
        if (times.Length != 12)
        {
            throw new ArgumentException("There must be twelve times, one for each pitch class.", nameof(times));
        }

        var best = Key.CMajor;
        var most = double.NegativeInfinity;
        foreach (var (mode, profile, cost) in Profiles)
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

    /// <summary>The key of a signature: its mode from the last chord, or else from the last note of the tune.</summary>
    /// <param name="fifths">Sharps, or flats as negative, -7 to 7; null for the signature whose scale sounds longest.</param>
    /// <param name="chord">The last chord; null for none.</param>
    /// <param name="last">The last note of the tune; null for none.</param>
    /// <param name="times">The time that each pitch class sounds in the tune, from C; twelve values.</param>
    public static Key BySignature(int? fifths, ChordSymbol? chord, Pitch? last, IReadOnlyList<double> times)
    {
        var signature = fifths ?? Enumerable.Range(-7, 15)
            .OrderByDescending(one => Enumerable.Range(-1, 7).Sum(step => times[PitchName.FromFifths(one + step).PitchClass]))
            .ThenBy(Math.Abs).First();
        var modes = new (int Distance, KeyMode Mode)[] { (0, KeyMode.Major), (3, KeyMode.Minor), (2, KeyMode.Dorian), (1, KeyMode.Mixolydian) };
        double TimeOf(int distance) => times[PitchName.FromFifths(signature + distance).PitchClass];
        foreach (var (distance, mode) in modes)
        {
            var tonic = PitchName.FromFifths(signature + distance);
            var byChord = chord is not null && chord.Root.PitchClass == tonic.PitchClass
                && (mode is KeyMode.Major or KeyMode.Mixolydian) != chord.Tones.Any(tone => tone.Degree == ChordDegree.Third && tone.Alteration < 0);

            // A tune may end on another note than its tonic: a less usual mode needs a tonic that is heard more than the usual one.
            var byNote = chord is null && last?.Name.PitchClass == tonic.PitchClass
                && (distance is 0 or 3 || TimeOf(distance) > TimeOf(distance == 2 ? 3 : 0));
            if (byChord || byNote)
            {
                return new Key(tonic, mode);
            }
        }

        return TimeOf(3) > 2 * TimeOf(0) ? new Key(PitchName.FromFifths(signature + 3), KeyMode.Minor) : new Key(PitchName.FromFifths(signature), KeyMode.Major);
    }

    /// <summary>The key whose scale has most of the tones of chords, on the root of the last or of the first one.</summary>
    /// <param name="chords">The chords in order; none of them "no chord".</param>
    /// <returns>Null without chords.</returns>
    public static Key? ByChords(IReadOnlyList<ChordSymbol> chords)
    {
        Key? best = null;
        var bestScore = double.MinValue;
        foreach (var (tonic, share) in chords.Count == 0 ? [] : new[] { (chords[^1], 1.0), (chords[0], 0.5) })
        {
            foreach (var mode in new[] { KeyMode.Major, KeyMode.Minor, KeyMode.Dorian, KeyMode.Mixolydian, KeyMode.Phrygian, KeyMode.Lydian })
            {
                if (!Key.TryParse($"{tonic.Root} {mode}", out var key, out _))
                {
                    continue;
                }

                var inside = chords.Average(chord => chord.Tones.Count(tone => key.Contains(tone.Name.PitchClass)) / (double)chord.Tones.Count);
                var score = inside + (0.05 * share) - (0.01 * (int)mode / 10) + (tonic.Tones.Third is { } third && key.Contains(third.Name.PitchClass) ? 0.1 : 0);
                if (score > bestScore + 1e-9)
                {
                    (best, bestScore) = (key, score);
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
                var name = PitchName.FromFifths(fifths - Key.ModeFifths(mode));
                if (name.PitchClass == tonic)
                {
                    return new Key(name, mode);
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
