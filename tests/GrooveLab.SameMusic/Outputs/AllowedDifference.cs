using System.Text.RegularExpressions;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>A difference that is meant, because a fault was corrected. Each time that it occurs it is counted and shown.</summary>
/// <param name="Kind">The output in which it is allowed.</param>
/// <param name="Charts">The names of the charts in which it is allowed.</param>
/// <param name="Path">The kind of place, as <see cref="Difference.Path"/> names it; empty for WAV, MIDI and live changes.</param>
/// <param name="From">What the base may have there.</param>
/// <param name="To">What must stand there now, as a replacement for <paramref name="From"/>; null where the values cannot be said.</param>
/// <param name="Reason">The fault, and what is right.</param>
internal sealed record AllowedDifference(OutputKind Kind, Regex Charts, string Path, Regex From, string? To, string Reason)
{
    /// <summary>The list: each entry with its reason. Anything that is not here fails the comparison.</summary>
    public static IReadOnlyList<AllowedDifference> All { get; } = [];

    /// <summary>Whether it covers a difference.</summary>
    public bool Covers(OutputKind kind, string chart, Difference difference) =>
        kind == Kind
        && Charts.IsMatch(chart)
        && difference.Path == Path
        && From.IsMatch(difference.Base)
        && (To is null || From.Replace(difference.Base, To) == difference.Current);
}
