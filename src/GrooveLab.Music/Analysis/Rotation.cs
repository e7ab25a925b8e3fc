namespace GrooveLab.Music.Analysis;

/// <summary>Finds where a pattern begins in a repeating profile by trying all rotations. Statistics, so it uses doubles.</summary>
public static class Rotation
{
    /// <summary>How well a profile, read from each of its places, fits a pattern: Pearson's correlation, -1 to 1, by rotation from 0.
    /// Rotation 0 fits best when both begin at the same place.</summary>
    /// <param name="profile">The measured value at each step of a period, such as the onsets of a bar.</param>
    /// <param name="pattern">The expected value at each step; as long as the profile.</param>
    /// <exception cref="ArgumentException">The two lengths differ.</exception>
    public static IReadOnlyList<double> Fits(IReadOnlyList<double> profile, IReadOnlyList<double> pattern) =>
        [.. Enumerable.Range(0, profile.Count).Select(by =>
            Statistics.Correlation(pattern, [.. Enumerable.Range(0, profile.Count).Select(at => profile[(at + by) % profile.Count])]))];
}
