namespace GrooveLab.Music.Ensemble;

/// <summary>How many group starts may have a note that comes late on paper.</summary>
/// <remarks>Common practice, no source: where most notes come late, none is heard as late.</remarks>
internal static class LateShare
{
    // In hundredths of the group starts.
    private const int Most = 35;

    /// <summary>True when one more note may come late.</summary>
    /// <param name="late">Late notes so far.</param>
    /// <param name="starts">Group starts so far, that of the note included.</param>
    public static bool Allows(int late, int starts) => (late + 1) * 100 <= starts * Most;
}
