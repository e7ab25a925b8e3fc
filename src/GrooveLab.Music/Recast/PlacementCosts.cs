namespace GrooveLab.Music.Recast;

/// <summary>
/// What each kind of change costs when the onsets of a phrase get places in another meter. Only the ratios between them matter. The first three defaults are
/// those of a worked example: a dotted eighth, a sixteenth and a quarter in five eighths become quarter, eighth, quarter.
/// </summary>
public sealed record PlacementCosts
{
    /// <summary>The usual costs.</summary>
    public static PlacementCosts Usual { get; } = new();

    /// <summary>An onset that moves by a whole span; a smaller move costs its share.</summary>
    public double Moved { get; init; } = 1;

    /// <summary>An interval between onsets, measured in spans, that becomes twice or half as long; other ratios by their logarithm to base 2.</summary>
    public double IntervalChanged { get; init; } = 0.3;

    /// <summary>Two neighbouring intervals whose order of long and short is reversed; half of it if unequal intervals become equal.</summary>
    public double FigureReversed { get; init; } = 0.3;

    /// <summary>A stressed syllable on a weaker place than its unstressed neighbour.</summary>
    public double StressOnWeakPlace { get; init; } = 0.5;

    /// <summary>A syllable shorter than <see cref="ShortestSyllable"/>.</summary>
    public double TooShort { get; init; } = 1;

    /// <summary>Each level of metrical weight that an onset loses. Under 0.2 it decides between equals and leaves figures their shape.</summary>
    public double WeightLost { get; init; } = 0.1;

    /// <summary>An unstressed syllable that doubles its length in relation to its stressed neighbour; other ratios by their logarithm to base 2, above 0.1.</summary>
    public double WeakLengthened { get; init; } = 0.3;

    /// <summary>A figure that is recast unlike the same figure elsewhere.</summary>
    public double UnlikeFigure { get; init; } = 0.4;

    /// <summary>The shortest length of a syllable, in seconds: 0.15; 0.12 in patter.</summary>
    public double ShortestSyllable { get; init; } = 0.15;

    /// <summary>The names of the costs in a chart.</summary>
    public static IReadOnlyList<string> Names { get; } =
        ["moved", "interval", "figure", "weak-place", "too-short", "weight", "weak-longer", "unlike", "shortest"];

    /// <summary>The costs with some of them changed.</summary>
    /// <param name="changed">Name and value of each change; the name is one of <see cref="Names"/>.</param>
    /// <exception cref="ArgumentException">Another name.</exception>
    public PlacementCosts With(IEnumerable<(string Name, double Value)> changed) => changed.Aggregate(this, (costs, change) => change.Name switch
    {
        "moved" => costs with { Moved = change.Value },
        "interval" => costs with { IntervalChanged = change.Value },
        "figure" => costs with { FigureReversed = change.Value },
        "weak-place" => costs with { StressOnWeakPlace = change.Value },
        "too-short" => costs with { TooShort = change.Value },
        "weight" => costs with { WeightLost = change.Value },
        "weak-longer" => costs with { WeakLengthened = change.Value },
        "unlike" => costs with { UnlikeFigure = change.Value },
        "shortest" => costs with { ShortestSyllable = change.Value },
        _ => throw new ArgumentException($"There is no cost {change.Name}.", nameof(changed)),
    });

    /// <summary>The names and values that are negative or not finite.</summary>
    internal IEnumerable<(string Name, double Value)> Impossible() =>
        new[]
        {
            (nameof(Moved), Moved), (nameof(IntervalChanged), IntervalChanged), (nameof(FigureReversed), FigureReversed), (nameof(StressOnWeakPlace), StressOnWeakPlace),
            (nameof(TooShort), TooShort), (nameof(WeightLost), WeightLost), (nameof(WeakLengthened), WeakLengthened), (nameof(UnlikeFigure), UnlikeFigure),
            (nameof(ShortestSyllable), ShortestSyllable),
        }.Where(cost => !double.IsFinite(cost.Item2) || cost.Item2 < 0);
}
