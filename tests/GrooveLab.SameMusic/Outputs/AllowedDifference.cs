using System.Text.RegularExpressions;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>An intended difference, because a fault was corrected. Each occurrence is counted and shown.</summary>
/// <param name="Kind">The output in which it is allowed.</param>
/// <param name="Charts">The names of the charts in which it is allowed.</param>
/// <param name="Path">The kind of place, as in <see cref="Difference.Path"/>; empty for WAV, MIDI and live changes.</param>
/// <param name="From">The value in the base.</param>
/// <param name="To">The required current value, as a replacement for <paramref name="From"/>; null if the values cannot be given.</param>
/// <param name="Reason">The fault, and the correct result.</param>
internal sealed record AllowedDifference(OutputKind Kind, Regex Charts, string Path, Regex From, string? To, string Reason)
{
    /// <summary>The list: each entry with its reason. Any other difference fails the comparison.</summary>
    public static IReadOnlyList<AllowedDifference> All { get; } = [];

    /// <summary>True when it covers a difference.</summary>
    public bool Covers(OutputKind kind, string chart, Difference difference) =>
        kind == Kind
        && Charts.IsMatch(chart)
        && difference.Path == Path
        && From.IsMatch(difference.Base)
        && (To is null || From.Replace(difference.Base, To) == difference.Current);
}
