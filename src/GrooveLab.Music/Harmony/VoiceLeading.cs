namespace GrooveLab.Music.Harmony;

/// <summary>The movement of the voices between two voicings.</summary>
/// <param name="Total">Total semitones moved by all voices.</param>
/// <param name="Largest">Semitones moved by the voice that moves most.</param>
public readonly record struct Movement(int Total, int Largest);

/// <summary>Voice leading with the least movement.</summary>
public static class VoiceLeading
{
    /// <summary>The largest leap of a voice: a perfect fourth, the usual limit for inner voices. Common practice, no source.</summary>
    public const int DefaultLargestLeap = 5;

    /// <summary>The least movement from one voicing to another. With equal numbers of notes, the lowest goes to the lowest and so on,
    /// which is minimal in total and for the voice that moves most. With different numbers, voices split or merge: all notes of both are
    /// used.</summary>
    /// <param name="from">MIDI numbers in any order, at most 64.</param>
    /// <param name="to">MIDI numbers in any order, at most 64.</param>
    /// <exception cref="ArgumentException">One side is empty and the other is not, or a side has more than 64 notes.</exception>
    public static Movement Between(IReadOnlyList<int> from, IReadOnlyList<int> to) => Between(from, to, int.MaxValue)!.Value;

    // Null when one of the voices must move more than the largest leap.
    private static Movement? Between(IReadOnlyList<int> from, IReadOnlyList<int> to, int largestLeap)
    {
        if (from.Count == 0 && to.Count == 0)
            return default(Movement);
        if (from.Count == 0 || to.Count == 0 || from.Count > 64 || to.Count > 64)
            throw new ArgumentException("Voice leading needs 1 to 64 notes on each side.");
        Span<int> left = stackalloc int[from.Count];
        Span<int> right = stackalloc int[to.Count];
        for (var i = 0; i < left.Length; i++)
            left[i] = from[i];
        for (var i = 0; i < right.Length; i++)
            right[i] = to[i];
        left.Sort();
        right.Sort();
        var movement = left.Length == right.Length ? InOrder(left, right) : Parting(left, right, largestLeap);
        return movement.Largest <= largestLeap ? movement : null;
    }

    /// <summary>The candidate (voicing, fingering or anything with pitches) reached with the least total movement, with no voice moving
    /// more than allowed; among equals the one whose largest movement is smallest, then the first. If none is within the leap: smallest
    /// largest movement, then least total, then the first. Deterministic.</summary>
    /// <param name="previous">The previous voicing, MIDI numbers. If empty, the first candidate wins.</param>
    /// <param name="candidates">The candidates.</param>
    /// <param name="pitches">The MIDI numbers of a candidate.</param>
    /// <param name="largestLeap">Maximum movement of a voice, in semitones.</param>
    /// <returns>One of the candidates, or default if there are none.</returns>
    public static T? NearestOrClosest<T>(
        IReadOnlyList<int> previous, IEnumerable<T> candidates, Func<T, IReadOnlyList<int>> pitches, int largestLeap = DefaultLargestLeap)
    {
        T? best = default;
        var found = false;
        var bestFits = false;
        Movement least = default;
        foreach (var candidate in candidates)
        {
            var notes = pitches(candidate);
            if (notes.Count == 0)
                continue;
            if (previous.Count == 0)
                return candidate;
            var bounded = Between(previous, notes, largestLeap);
            var fits = bounded is not null;
            var movement = bounded ?? Between(previous, notes);
            var better = !found || (fits, bestFits) switch
            {
                (true, true) => IsLess(movement, least),
                (false, false) => (movement.Largest, movement.Total).CompareTo((least.Largest, least.Total)) < 0,
                _ => fits,
            };
            if (!better)
                continue;
            found = true;
            bestFits = fits;
            best = candidate;
            least = movement;
        }

        return best;
    }

    private static bool IsLess(Movement left, Movement right) =>
        left.Total < right.Total || (left.Total == right.Total && left.Largest < right.Largest);

    private static Movement InOrder(ReadOnlySpan<int> left, ReadOnlySpan<int> right)
    {
        var total = 0;
        var largest = 0;
        for (var i = 0; i < left.Length; i++)
        {
            var moved = Math.Abs(left[i] - right[i]);
            total += moved;
            largest = Math.Max(largest, moved);
        }

        return new Movement(total, largest);
    }

    // Each note of the larger side goes to one note of the smaller, in order, and all notes of the smaller are used: one row of the usual
    // dynamic programming, with the largest movement kept beside the total to break ties.
    private static Movement Parting(Span<int> left, Span<int> right, int largestLeap)
    {
        var many = left.Length > right.Length ? left : right;
        var few = left.Length > right.Length ? right : left;
        var unreachable = new Movement(int.MaxValue, int.MaxValue);
        Span<Movement> row = stackalloc Movement[few.Length];
        row.Fill(unreachable);
        for (var i = 0; i < many.Length; i++)
        {
            for (var j = few.Length - 1; j >= 0; j--)
            {
                var before = i == 0 && j == 0 ? default : row[j];
                if (i > 0 && j > 0 && IsLess(row[j - 1], before))
                    before = row[j - 1];
                var moved = Math.Abs(many[i] - few[j]);
                row[j] = before == unreachable || moved > largestLeap
                    ? unreachable
                    : new Movement(before.Total + moved, Math.Max(before.Largest, moved));
            }
        }

        return row[^1];
    }
}
