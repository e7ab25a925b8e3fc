using System.Text.RegularExpressions;

namespace GrooveLab.SameMusic.Live;

/// <summary>Where the words of a change are others than in the base: each with what must be said now, and why.</summary>
/// <param name="Old">The words in the base; they are matched whole.</param>
/// <param name="New">The words now, as a replacement.</param>
/// <param name="Reason">Why they changed.</param>
internal sealed record ChangedWords(Regex Old, string New, string Reason)
{
    /// <summary>The table. What is not in it has the same words as in the base.</summary>
    public static IReadOnlyList<ChangedWords> All { get; } = [];

    /// <summary>The words that are said now for a change in the words of the base.</summary>
    public static string Now(string words)
    {
        foreach (var changed in All)
        {
            if (changed.Old.Match(words) is { Success: true, Index: 0 } match && match.Length == words.Length)
            {
                return match.Result(changed.New);
            }
        }

        return words;
    }
}
