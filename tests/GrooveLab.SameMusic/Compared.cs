using GrooveLab.SameMusic.Outputs;

namespace GrooveLab.SameMusic;

/// <summary>The verdict of comparing one output.</summary>
internal enum Verdict
{
    /// <summary>Equal, except for added JSON members.</summary>
    Identical,

    /// <summary>Different only where allowed.</summary>
    Allowed,

    /// <summary>Different, or missing.</summary>
    Different,
}

/// <summary>A completed comparison.</summary>
/// <param name="Group">The row of the result in which it is counted.</param>
/// <param name="Kind">The kind of output.</param>
/// <param name="Of">The chart and the options.</param>
/// <param name="Verdict">The verdict.</param>
/// <param name="Differences">The differences that are not allowed.</param>
/// <param name="Allowed">The allowed differences, with their entries in the list.</param>
internal sealed record Compared(
    string Group,
    OutputKind Kind,
    string Of,
    Verdict Verdict,
    IReadOnlyList<Difference> Differences,
    IReadOnlyList<(AllowedDifference Entry, Difference Difference)> Allowed)
{
    /// <summary>Judges differences by the list of allowed ones.</summary>
    /// <param name="group">The row of the result.</param>
    /// <param name="kind">The kind of output.</param>
    /// <param name="chart">The chart's name.</param>
    /// <param name="of">The chart and the options.</param>
    /// <param name="differences">The differences found.</param>
    public static Compared Judge(string group, OutputKind kind, string chart, string of, IEnumerable<Difference> differences)
    {
        var (different, allowed) = (new List<Difference>(), new List<(AllowedDifference, Difference)>());
        foreach (var difference in differences)
        {
            if (AllowedDifference.All.FirstOrDefault(entry => entry.Covers(kind, chart, difference)) is { } entry)
            {
                allowed.Add((entry, difference));
            }
            else
            {
                different.Add(difference);
            }
        }

        var verdict = different.Count > 0 ? Verdict.Different : allowed.Count > 0 ? Verdict.Allowed : Verdict.Identical;
        return new Compared(group, kind, of, verdict, different, allowed);
    }
}
