namespace GrooveLab.Music.Ensemble;

/// <summary>The lane of a note in a roll's cell.</summary>
internal enum Lane
{
    /// <summary>The low voice: the thumb, or the low course.</summary>
    Low,

    /// <summary>The middle: the index finger.</summary>
    Middle,

    /// <summary>The top: the middle finger.</summary>
    High,

    /// <summary>The drone, also played by the thumb.</summary>
    Drone,
}

/// <summary>The cells of a roll: short figures of two, three or four notes. A bar starts with the low voice and ends on another, as does
/// each group where the hand allows, so that cells join at any bar line without repeating a finger or string.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class RollCells
{
    private const Lane L = Lane.Low;
    private const Lane M = Lane.Middle;
    private const Lane H = Lane.High;
    private const Lane D = Lane.Drone;

    // By the cell's size; after any lane there is always one that starts with another finger and does not end with the thumb.
    private static readonly Lane[][][] FingerCells =
    [
        [],
        [[L], [M], [H]],
        [[L, H], [L, M], [M, H]],
        [[L, M, H], [L, H, M], [H, M, L], [M, L, H]],
        [[L, M, L, H], [L, H, L, M], [L, M, D, H], [L, H, D, M], [M, L, M, H]],
    ];

    private static readonly Lane[][] FallingPairs = [[L, H], [L, M], [M, H], [H, M], [H, L], [M, L]];

    /// <summary>The ways to split a number of notes of a group into cells. Eight and more are built from fours and threes.</summary>
    public static IReadOnlyList<int[]> Cuts(int notes)
    {
        return notes switch
        {
            1 => [[1]],
            2 => [[2]],
            3 => [[3]],
            4 => [[4], [2, 2]],
            5 => [[3, 2], [2, 3]],
            6 => [[3, 3], [4, 2], [2, 4], [2, 2, 2]],
            7 => [[4, 3], [3, 4], [3, 2, 2], [2, 2, 3]],
            8 => [[4, 4], [3, 3, 2], [2, 3, 3]],
            9 => [[3, 3, 3], [4, 3, 2], [2, 3, 4]],
            10 => [[3, 3, 2, 2], [2, 2, 3, 3], [3, 3, 4], [4, 3, 3], [3, 4, 3], [2, 2, 2, 2, 2]],
            _ => [[.. FirstCut(notes - 4), 4], [4, .. LastCut(notes - 4)], [3, .. FirstCut(notes - 3)]],
        };
    }

    // Only these two are continued, so that a long undivided bar does not need all splits of all shorter ones.
    private static int[] FirstCut(int notes) => notes <= 10 ? Cuts(notes)[0] : [.. FirstCut(notes - 4), 4];

    private static int[] LastCut(int notes) => notes <= 10 ? Cuts(notes)[^1] : [3, .. FirstCut(notes - 3)];

    /// <summary>The lanes of plucking fingers in consecutive cells; no finger plays twice in a row.</summary>
    /// <param name="sizes">The sizes of the cells, and which of them start a group.</param>
    /// <param name="chanceOf">The source of random choices for a cell.</param>
    /// <param name="before">The last lane played; null at the start.</param>
    /// <param name="freely">True to allow pairs that go down.</param>
    /// <param name="closesEach">True to end each cell on another finger than the thumb; false only the last.</param>
    public static IReadOnlyList<Lane> Lanes(IReadOnlyList<(int Size, bool StartsGroup)> sizes, Func<int, Chance> chanceOf, Lane? before, bool closesEach, bool freely = false)
    {
        var lanes = new List<Lane>();
        for (var i = 0; i < sizes.Count; i++)
        {
            var (size, startsGroup) = sizes[i];
            var closes = closesEach || i == sizes.Count - 1;
            var after = lanes.Count == 0 ? before : lanes[^1];
            var fitting = (freely && size == 2 ? FallingPairs : FingerCells[size]).Where(cell => Joins(after, cell) && !(closes && IsThumb(cell[^1]))).ToArray();
            if (fitting.Length == 0)
            {
                // The thumb plays a bar with a single note.
                fitting = [FingerCells[size][0]];
            }

            // The low voice marks the group start; inside the group any cell may follow.
            var low = startsGroup ? fitting.Where(cell => cell[0] == L).ToArray() : [];
            var choice = low.Length > 0 ? low : fitting;
            lanes.AddRange(choice[chanceOf(i).At(i).Below(choice.Length)]);
        }

        return lanes;
    }

    /// <summary>The finger that plays a lane: 0 thumb, 1 index, 2 middle.</summary>
    public static int Finger(Lane lane) => lane switch
    {
        M => 1,
        H => 2,
        _ => 0,
    };

    private static bool Joins(Lane? after, Lane[] cell) => after is not { } lane || Finger(lane) != Finger(cell[0]);

    private static bool IsThumb(Lane lane) => Finger(lane) == 0;
}
