using System.Globalization;
using System.Text.RegularExpressions;

namespace GrooveLab.Music.FromScore;

/// <summary>What is known of a section when it is named.</summary>
/// <param name="Given">The name in the score; null for none.</param>
/// <param name="Plays">How often it is played.</param>
/// <param name="HasNotes">True when the tune has notes in it.</param>
/// <param name="HasWords">True when it has words.</param>
/// <param name="Verses">How many different verses it has.</param>
/// <param name="IsFirst">True when the piece begins with it.</param>
/// <param name="IsLast">True when the piece ends with it.</param>
internal readonly record struct SectionFacts(string? Given, int Plays, bool HasNotes, bool HasWords, int Verses, bool IsFirst, bool IsLast);

/// <summary>Names sections plainly.</summary>
internal static partial class SectionNames
{
    private const int Longest = 30;

    /// <summary>A name for each section, all different: the one given; with words verse (other words each time), refrain (the same words)
    /// and bridge; without words intro, interlude and ending; in a piece without words letters.</summary>
    public static IReadOnlyList<string> Of(IReadOnlyList<SectionFacts> sections)
    {
        var taken = new HashSet<string>(StringComparer.OrdinalIgnoreCase);
        var isSung = sections.Any(section => section.HasWords);
        var isPlayed = sections.Any(section => section.HasNotes);
        var names = sections.Select(section => Given(section.Given)).ToArray();
        var hasVerse = sections.Any(section => section is { HasWords: true, Verses: > 1 });
        var letter = 0;
        for (var i = 0; i < names.Length; i++)
        {
            var section = sections[i];
            if (names[i] is null && isSung && section.HasWords)
            {
                names[i] = section.Verses > 1 ? "verse"
                    : section.Plays > 1 ? "refrain"
                    : !hasVerse ? "verse"
                    : section.IsLast ? "ending"
                    : "bridge";
                hasVerse |= names[i] == "verse";
            }
            else if (names[i] is null && (isSung || (isPlayed && !section.HasNotes)))
            {
                names[i] = section.IsFirst ? "intro" : section.IsLast ? "ending" : "interlude";
            }

            names[i] ??= Letter(letter++);
        }

        for (var i = 0; i < names.Length; i++)
        {
            var free = names[i]!;
            for (var number = 2; !taken.Add(free); number++)
            {
                free = string.Create(CultureInfo.InvariantCulture, $"{names[i]} {number}");
            }

            names[i] = free;
        }

        return names!;
    }

    /// <summary>The name of a section that the score names at each playing: "verse" for "Verse 1" and "Verse 2"; the first one if they differ in more than
    /// a number. Null without any.</summary>
    public static string? Shared(IReadOnlyList<string> names)
    {
        if (names.Distinct(StringComparer.OrdinalIgnoreCase).Count() < 2)
        {
            return names.Count == 0 ? null : names[0];
        }

        var plain = names.Select(name => name.TrimEnd().TrimEnd(':', '.').TrimEnd([.. "0123456789"]).TrimEnd()).Distinct(StringComparer.OrdinalIgnoreCase).ToList();
        return plain.Count == 1 && plain[0].Length > 0 ? plain[0] : names[0];
    }

    private static string Letter(int index) =>
        index < 26 ? ((char)('A' + index)).ToString() : string.Create(CultureInfo.InvariantCulture, $"A{index - 25}");

    // A name must not read as "x2", "up 2" or "ending 1" of another.
    [GeneratedRegex(@"\s+(([x×]\s*\d+)|((up|down|ending)\s+.*))$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex FormWords();

    private static string? Given(string? name)
    {
        var plain = string.Join(' ', new string([.. (name ?? string.Empty).Where(c => !char.IsControl(c) && c is not ('"' or '\\' or '[' or ']'))])
            .Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)).Trim(' ', '.', ':', ',', ';');
        plain = FormWords().Replace(plain, string.Empty);
        plain = plain.Length > Longest ? plain[..Longest].Trim() : plain;
        return plain.Length == 0 ? null
            : PlayedScoreReader.IsSectionName(plain) ? plain.ToLowerInvariant()
            : plain;
    }
}
