using GrooveLab.Music.Band;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>The result of a check of the band: a number, its limits, and whether it is within them. Not a judgement of taste.</summary>
public sealed record CheckResult
{
    /// <summary>The source for rules that players follow without a published number.</summary>
    public const string CommonPractice = "common practice, no source";

    /// <summary>Maximum number of places named when a check fails.</summary>
    public const int MostPlaces = 5;

    /// <summary>Its short name, the same for every chart: "roll patterns".</summary>
    public required string Name { get; init; }

    /// <summary>The measured number; null if not applicable (no roll, no swing, no ending).</summary>
    public required double? Value { get; init; }

    /// <summary>The printed unit: "dB", "ms", "%", or a plural noun for a count.</summary>
    public required string Unit { get; init; }

    /// <summary>The minimum; null for none.</summary>
    public double? AtLeast { get; init; }

    /// <summary>The maximum; null for none.</summary>
    public double? AtMost { get; init; }

    /// <summary>The source of the limit.</summary>
    public string Source { get; init; } = CommonPractice;

    /// <summary>Some places where it fails, or measured values with their places, as text; at most <see cref="MostPlaces"/>.</summary>
    public IReadOnlyList<string> Places { get; init; } = [];

    /// <summary>True when the number is within its limits or there is nothing to measure.</summary>
    public bool Holds => Value is not { } value
        || ((AtLeast is null || value >= AtLeast) && (AtMost is null || value <= AtMost) && !double.IsNaN(value));

    /// <summary>The result of a rule without exceptions: how often it is broken, and where.</summary>
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
