using GrooveLab.SameMusic.Outputs;

namespace GrooveLab.SameMusic;

/// <summary>What comparing one output came to.</summary>
internal enum Verdict
{
    /// <summary>The same, but for added members of JSON.</summary>
    Identical,

    /// <summary>Different only where that is allowed.</summary>
    Allowed,

    /// <summary>Different, or not made.</summary>
    Different,
}

/// <summary>A comparison that was made.</summary>
/// <param name="Group">The row of the result in which it is counted.</param>
/// <param name="Kind">What was compared.</param>
/// <param name="Of">Of what: the chart, and the options.</param>
/// <param name="Verdict">What it came to.</param>
/// <param name="Differences">What is not allowed.</param>
/// <param name="Allowed">What is, with its entry in the list.</param>
internal sealed record Compared(
    string Group,
    OutputKind Kind,
    string Of,
    Verdict Verdict,
    IReadOnlyList<Difference> Differences,
    IReadOnlyList<(AllowedDifference Entry, Difference Difference)> Allowed)
{
    /// <summary>Judges differences by the list of those that are allowed.</summary>
    /// <param name="group">The row of the result.</param>
    /// <param name="kind">What was compared.</param>
    /// <param name="chart">The chart's name.</param>
    /// <param name="of">Of what.</param>
    /// <param name="differences">What was found.</param>
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
