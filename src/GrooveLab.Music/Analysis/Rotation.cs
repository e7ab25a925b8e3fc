namespace GrooveLab.Music.Analysis;

/// <summary>Finds where in a repeating profile a pattern begins, by trying every rotation. Statistics about music, so doubles.</summary>
public static class Rotation
{
    /// <summary>
    /// How well a profile fits a pattern when it is read from each of its places on: Pearson's correlation, -1 to 1, by rotation from 0. A profile
    /// that begins where the pattern does fits best at 0.
    /// </summary>
    /// <param name="profile">What was measured at each step of a period, such as the onsets of a bar.</param>
    /// <param name="pattern">What is expected there; as long as the profile.</param>
    /// <exception cref="ArgumentException">The two are not of one length.</exception>
    public static IReadOnlyList<double> Fits(IReadOnlyList<double> profile, IReadOnlyList<double> pattern) =>
        [.. Enumerable.Range(0, profile.Count).Select(by =>
            Statistics.Correlation(pattern, [.. Enumerable.Range(0, profile.Count).Select(at => profile[(at + by) % profile.Count])]))];
}
