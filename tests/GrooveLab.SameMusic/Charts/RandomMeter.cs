namespace GrooveLab.SameMusic.Charts;

/// <summary>A meter of a random chart, with its limits.</summary>
/// <param name="Text">As written.</param>
/// <param name="Units">Number of units in a bar.</param>
/// <param name="Unit">The denominator: 8 for eighths.</param>
/// <param name="Slowest">The slowest tempo chosen for it, in units per minute.</param>
/// <param name="Quickest">The fastest tempo chosen for it, in units per minute.</param>
/// <param name="Chords">The number of chords that a bar may have besides one and one per unit.</param>
internal sealed record RandomMeter(string Text, int Units, int Unit, int Slowest, int Quickest, params IReadOnlyList<int> Chords)
{
    /// <summary>The meters, plain ones first.</summary>
    public static IReadOnlyList<RandomMeter> All { get; } =
    [
        new("4/4", 4, 4, 84, 160, 2),
        new("5/8 3+2", 5, 8, 190, 320, 2),
        new("7/8 2+2+3", 7, 8, 190, 330, 3),
        new("6/8", 6, 8, 190, 330, 2),
        new("3/4", 3, 4, 100, 190),
        new("5/8 2+3", 5, 8, 190, 320, 2),
        new("5/8 none", 5, 8, 190, 320),
        new("5/4 3+2", 5, 4, 90, 150, 2),
        new("5/4 none", 5, 4, 80, 140),
        new("7/4 4+3", 7, 4, 100, 150, 2),
        new("7/8 3+2+2", 7, 8, 190, 330, 3),
        new("8/8 3+3+2", 8, 8, 220, 330, 3),
        new("9/8 2+2+2+3", 9, 8, 220, 340, 4),
        new("9/8", 9, 8, 200, 330, 3),
        new("12/8", 12, 8, 220, 330, 4),
        new("10/8 3+2+2+3", 10, 8, 220, 330, 4),
        new("11/8 2+2+3+2+2", 11, 8, 220, 330, 5),
        new("13/16 3+3+2+3+2", 13, 16, 400, 560, 5),
        new("15/16 2+2+2+2+3+2+2", 15, 16, 400, 540, 7),
        new("5/16 2+3", 5, 16, 380, 520, 2),
        new("3/8", 3, 8, 190, 300),
        new("2/4", 2, 4, 84, 150),
        new("9/8 (2+2)+(2+3)", 9, 8, 220, 330, 2, 4),
        new("7/8 (2+2)+3", 7, 8, 200, 330, 2, 3),
        new("19/8 (3+2+2)+(3+2)+(3+2+2)", 19, 8, 260, 340, 3, 8),
        new("7/12 2+2+3", 7, 12, 220, 320, 3),
        new("5/12 3+2", 5, 12, 220, 320, 2),
        new("7/10 3+2+2", 7, 10, 210, 300, 3),
    ];

    /// <summary>The meters for bars with brackets.</summary>
    public static IReadOnlyList<RandomMeter> Inserted { get; } =
    [
        new("2/4", 2, 4, 0, 0),
        new("3/4", 3, 4, 0, 0),
        new("5/4 2+3", 5, 4, 0, 0, 2),
        new("3/8", 3, 8, 0, 0),
        new("6/8 3+3", 6, 8, 0, 0, 2),
        new("9/16 2+2+2+3", 9, 16, 0, 0, 4),
    ];

    public bool IsUndivided => Chords.Count == 0;

    public bool IsNested => Text.Contains('(', StringComparison.Ordinal);

    /// <summary>The unit's name; null if it has none.</summary>
    public string? UnitName => Unit switch
    {
        4 => "quarter",
        8 => "eighth",
        16 => "sixteenth",
        _ => null,
    };
}
