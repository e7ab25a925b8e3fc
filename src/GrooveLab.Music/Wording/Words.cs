using System.Globalization;

namespace GrooveLab.Music.Wording;

/// <summary>Wording for messages: quotes, lists, counts, and suggestions for unknown words.</summary>
public static class Words
{
    /// <summary>A word quoted for a message, shortened if long.</summary>
    public static string Quote(ReadOnlySpan<char> word)
    {
        const int longest = 40;
        return word.Length <= longest ? $"'{word}'" : $"'{word[..(longest - 1)]}…'";
    }

    /// <summary>The candidate that is probably meant; null when none is similar.</summary>
    public static string? Nearest(string word, IEnumerable<string> candidates)
    {
        if (word.Length > 60)
        {
            return null;
        }

        string? best = null;
        var least = int.MaxValue;
        var given = Plain(word);
        foreach (var candidate in candidates)
        {
            var distance = Distance(given, Plain(candidate));
            if (distance < least)
            {
                least = distance;
                best = candidate;
            }
        }

        // A word of one letter is too short to compare.
        var shorter = best is null ? 0 : Math.Min(given.Length, best.Length);
        return best is not null && (least == 0 || (shorter > 1 && least <= Math.Max(1, shorter / 3))) ? best : null;
    }

    /// <summary>"did you mean bass? ", with a space behind it; empty for null.</summary>
    public static string Meant(string? word) => word is null ? string.Empty : $"did you mean {word}? ";

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
