using System.Globalization;

namespace GrooveLab.Music.Wording;

/// <summary>Wording for messages: quotes, lists, counts, and suggestions for unknown words.</summary>
public static class Words
{
    private const string Suggests = "did you mean ";

    /// <summary>A word quoted for a message, shortened if long.</summary>
    public static string Quote(ReadOnlySpan<char> word)
    {
        const int longest = 40;
        return word.Length <= longest ? $"'{word}'" : $"'{word[..(longest - 1)]}…'";
    }

    /// <summary>The candidate that is probably meant: a similar one, or the shortest that begins with the word; null when there is none.</summary>
    public static string? Nearest(string word, IEnumerable<string> candidates)
    {
        // So many letters are enough for the beginning of a word.
        const int fewest = 3;
        if (word.Length > 60)
        {
            return null;
        }

        string? best = null;
        string? longer = null;
        var least = int.MaxValue;
        var given = Plain(word);
        foreach (var candidate in candidates)
        {
            var plain = Plain(candidate);
            var distance = Distance(given, plain);
            var begins = given.Length > 0 && plain.StartsWith(given, StringComparison.Ordinal);
            if (distance < least || (distance == least && begins && !Plain(best!).StartsWith(given, StringComparison.Ordinal)))
            {
                least = distance;
                best = candidate;
            }

            longer = begins && given.Length >= fewest && (longer is null || candidate.Length < longer.Length) ? candidate : longer;
        }

        // A word of one letter is too short to compare.
        var shorter = best is null ? 0 : Math.Min(given.Length, best.Length);
        return best is not null && (least == 0 || (shorter > 1 && least <= Math.Max(1, shorter / 3))) ? best : longer;
    }

    /// <summary>The longest of some names with which a text begins, and what follows it; null for none, or if nothing follows.</summary>
    public static (string Name, string Left)? Beginning(string text, IEnumerable<string> names)
    {
        (string Name, string Left)? found = null;
        foreach (var name in names)
        {
            if (name.Length > (found?.Name.Length ?? 0) && text.Length > name.Length + 1 && text[name.Length] == ' ' && text.StartsWith(name, StringComparison.OrdinalIgnoreCase))
            {
                found = (name, text[(name.Length + 1)..].Trim());
            }
        }

        return found;
    }

    /// <summary>The message for a name that is none of those known: names the first word too many, or suggests the name that is probably
    /// meant.</summary>
    /// <param name="what">What was named: "section".</param>
    /// <param name="name">The text in the place of a name.</param>
    /// <param name="known">The names.</param>
    /// <param name="others">Other words that are accepted there, for the suggestion.</param>
    public static string Unknown(string what, string name, IEnumerable<string> known, params IEnumerable<string> others)
    {
        var (names, more) = (known.ToList(), others.ToList());
        var wrong = Beginning(name, names.Concat(more)) is { } begun
            ? $"unexpected {Quote(begun.Left)} after {Quote(begun.Name)}; {Meant(Nearest(begun.Left, more))}"
            : $"no {what} called {Quote(name)}; {Meant(Nearest(name, names.Concat(more)))}";
        return $"{wrong}{what}s: {string.Join(", ", names)}";
    }

    /// <summary>"did you mean bass? ", with a space behind it; empty for null.</summary>
    public static string Meant(string? word) => word is null ? string.Empty : $"{Suggests}{word}? ";

    /// <summary>True when a message suggests a word.</summary>
    public static bool HasMeant(string message) => message.Contains(Suggests, StringComparison.Ordinal);

    /// <summary>"1 bar", "2 bars".</summary>
    public static string Count(long number, string thing) =>
        string.Create(CultureInfo.InvariantCulture, $"{number} {thing}{(number == 1 ? "" : "s")}");

    /// <summary>"a, b or c".</summary>
    public static string Or(IReadOnlyList<string> words) => Join(words, "or");

    /// <summary>"a, b and c".</summary>
    public static string And(IReadOnlyList<string> words) => Join(words, "and");

    /// <summary>Splits a message into what is wrong and what is accepted.</summary>
    public static (string What, string Accepted) Split(string message, string otherwise)
    {
        var at = message.LastIndexOf("; ", StringComparison.Ordinal);
        return at < 0 ? (message, otherwise) : (message[..at], message[(at + 2)..]);
    }

    private static string Join(IReadOnlyList<string> words, string last) =>
        words.Count < 2 ? string.Concat(words) : string.Join(", ", words.Take(words.Count - 1)) + $" {last} {words[^1]}";

    private static string Plain(string word) => word.Trim().ToLowerInvariant().Replace('_', '-').Replace(' ', '-');

    // Optimal string alignment: a letter added, left out, replaced, or two swapped.
    private static int Distance(string a, string b)
    {
        var table = new int[a.Length + 1, b.Length + 1];
        for (var i = 0; i <= a.Length; i++)
        {
            table[i, 0] = i;
        }

        for (var j = 0; j <= b.Length; j++)
        {
            table[0, j] = j;
        }

        for (var i = 1; i <= a.Length; i++)
        {
            for (var j = 1; j <= b.Length; j++)
            {
                var other = a[i - 1] == b[j - 1] ? 0 : 1;
                var least = Math.Min(Math.Min(table[i - 1, j] + 1, table[i, j - 1] + 1), table[i - 1, j - 1] + other);
                if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                {
                    least = Math.Min(least, table[i - 2, j - 2] + 1);
                }

                table[i, j] = least;
            }
        }

        return table[a.Length, b.Length];
    }
}
