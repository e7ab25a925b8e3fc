using System.Text.RegularExpressions;

namespace GrooveLab.SameMusic.Live;

/// <summary>A change that is worded differently than in the base, with the words it has now, and why.</summary>
/// <param name="Old">The words in the base.</param>
/// <param name="New">The words now, as a replacement.</param>
/// <param name="Reason">Why they changed.</param>
internal sealed record ChangedWords(Regex Old, string New, string Reason)
{
    private const string Steps = "A sign was a step in one place and a value in another; a step is now said with \"by\" everywhere.";

    /// <summary>The table. Changes not in it have the same words as in the base.</summary>
    public static IReadOnlyList<ChangedWords> All { get; } =
    [
        new(Words(@"tempo \+(\d+)"), "tempo by $1", Steps),
        new(Words(@"tempo (-\d+)"), "tempo by $1", Steps),
        new(Words(@"(level .+|master) \+(\S+)"), "$1 by $2", Steps),
        new(Words(@"(level .+|master) --(\S+)"), "$1 by -$2", Steps),
    ];

    /// <summary>The current words for a change in the words of the base.</summary>
    public static string Now(string words) =>
        All.FirstOrDefault(changed => changed.Old.IsMatch(words)) is { } found ? found.Old.Replace(words, found.New) : words;

    private static Regex Words(string pattern) => new($"^{pattern}$", RegexOptions.CultureInvariant, TimeSpan.FromSeconds(1));
}
