using GrooveLab.Music.Band;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>What a check of the band came to: a number, what it may be, and whether it is. Not a judgement of taste.</summary>
public sealed record CheckResult
{
    /// <summary>A rule that players follow and nobody has published as a number.</summary>
    public const string CommonPractice = "common practice, no source";

    /// <summary>Most places that are named where a check fails.</summary>
    public const int MostPlaces = 5;

    /// <summary>Its short name, the same for every chart: "roll patterns".</summary>
    public required string Name { get; init; }

    /// <summary>What was measured; null when the chart has nothing of the kind (no roll, no swing, no ending).</summary>
    public required double? Value { get; init; }

    /// <summary>The number's unit as it is printed: "dB", "ms", "%", or a plural noun for a number of things.</summary>
    public required string Unit { get; init; }

    /// <summary>The least that is accepted; null for no such limit.</summary>
    public double? AtLeast { get; init; }

    /// <summary>The most that is accepted; null for no such limit.</summary>
    public double? AtMost { get; init; }

    /// <summary>Where the limit comes from.</summary>
    public string Source { get; init; } = CommonPractice;

    /// <summary>Some of the places where it fails, or what was measured where, in words; at most <see cref="MostPlaces"/>.</summary>
    public IReadOnlyList<string> Places { get; init; } = [];

    /// <summary>True when the number is inside its limits, or when there was nothing to measure.</summary>
    public bool Holds => Value is not { } value
        || ((AtLeast is null || value >= AtLeast) && (AtMost is null || value <= AtMost) && !double.IsNaN(value));

    /// <summary>A rule that nothing may break: how often it is broken, and where.</summary>
    internal static CheckResult None(string name, string unit, bool applies, IEnumerable<string> broken)
    {
        var places = broken.ToList();
        return new CheckResult
        {
            Name = name,
            Value = applies ? places.Count : null,
            Unit = unit,
            AtMost = 0,
            Places = [.. places.Take(MostPlaces)],
        };
    }
}
