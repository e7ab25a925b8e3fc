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

    // By the number of notes.
    private static readonly int[][][] ShortCuts =
    [
        [],
        [[1]],
        [[2]],
        [[3]],
        [[4], [2, 2]],
        [[3, 2], [2, 3]],
        [[3, 3], [4, 2], [2, 4], [2, 2, 2]],
        [[4, 3], [3, 4], [3, 2, 2], [2, 2, 3]],
        [[4, 4], [3, 3, 2], [2, 3, 3]],
        [[3, 3, 3], [4, 3, 2], [2, 3, 4]],
        [[3, 3, 2, 2], [2, 2, 3, 3], [3, 3, 4], [4, 3, 3], [3, 4, 3], [2, 2, 2, 2, 2]],
    ];

    /// <summary>The ways to split a number of notes of a group into cells. Eight and more are built from fours and threes.</summary>
    public static IReadOnlyList<int[]> Cuts(int notes) => notes < ShortCuts.Length
        ? ShortCuts[notes]
        : [[.. FirstCut(notes - 4), 4], [4, .. LastCut(notes - 4)], [3, .. FirstCut(notes - 3)]];

    // Only these two are continued, so that a long undivided bar does not need all splits of all shorter ones.
    private static int[] FirstCut(int notes) => notes < ShortCuts.Length ? Cuts(notes)[0] : [.. FirstCut(notes - 4), 4];

    private static int[] LastCut(int notes) => notes < ShortCuts.Length ? Cuts(notes)[^1] : [3, .. FirstCut(notes - 3)];

    /// <summary>The lanes of plucking fingers in consecutive cells; no finger plays twice in a row.</summary>
    /// <param name="sizes">The sizes of the cells, and which of them start a group.</param>
    /// <param name="chanceOf">The source of random choices for a cell.</param>
    /// <param name="before">The last lane played; null at the start.</param>
    /// <param name="freely">True to allow pairs that go down.</param>
    /// <param name="closesEach">True to end each cell on another finger than the thumb; false only the last.</param>
    public static IReadOnlyList<Lane> Lanes(IReadOnlyList<(int Size, bool StartsGroup)> sizes, Func<int, Chance> chanceOf, Lane? before, bool closesEach, bool freely = false)
    {
        var lanes = new List<Lane>();
        var fitting = new List<Lane[]>();
        for (var i = 0; i < sizes.Count; i++)
        {
            var (size, startsGroup) = sizes[i];
            var closes = closesEach || i == sizes.Count - 1;
            var after = lanes.Count == 0 ? before : lanes[^1];
            fitting.Clear();
            var low = 0;
            foreach (var cell in freely && size == 2 ? FallingPairs : FingerCells[size])
            {
                if (Joins(after, cell) && !(closes && IsThumb(cell[^1])))
                {
                    // The low voice marks the group start, where it can; inside the group any cell may follow.
                    var isLow = startsGroup && cell[0] == L;
                    fitting.Insert(isLow ? low : fitting.Count, cell);
                    low += isLow ? 1 : 0;
                }
            }

            if (fitting.Count == 0)
            {
                // The thumb plays a bar with a single note.
                fitting.Add(FingerCells[size][0]);
            }

            lanes.AddRange(fitting[chanceOf(i).At(i).Below(low > 0 ? low : fitting.Count)]);
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
