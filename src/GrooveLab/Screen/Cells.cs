using System.Collections.Concurrent;
using System.Globalization;
using System.Text;
using Terminal.Gui.Text;

namespace GrooveLab.Screen;

/// <summary>
/// Texts with one character for each column of the terminal, so that a text's length is its width. A sign of several characters, such as a letter
/// with a combining mark, is represented by one character of Unicode's private use area; <see cref="Cluster"/> has the sign. Thread-safe.
/// </summary>
internal static class Cells
{
    /// <summary>Stands after a sign that is two columns wide. It is never written.</summary>
    public const char Filler = '\0';

    // Below it, every character but the control characters and the soft hyphen is one column wide.
    private const char FirstOdd = '\u0300';

    private const char SoftHyphen = '\u00ad';
    private const char Joiner = '\u200d';

    // Unicode's private use area.
    private const char FirstOwn = '\ue000';
    private const char LastOwn = '\uf8ff';

    // More marks on a letter are not of a language.
    private const int MostMarks = 4;

    private static readonly ConcurrentDictionary<string, char> Own = new(StringComparer.Ordinal);
    private static readonly string?[] Clusters = new string?[LastOwn - FirstOwn + 1];

    /// <summary>
    /// A text as it fits the cells. A sign two columns wide is followed by <see cref="Filler"/>. What terminals do not agree on has one meaning: of
    /// joined signs the first is shown, without the colour of its skin, and a flag is shown as its two letters. A character that has no width, or
    /// stands for nothing, is left out; what cannot be shown becomes a question mark.
    /// </summary>
    public static string Of(string text)
    {
        var plain = true;
        foreach (var sign in text)
        {
            plain &= sign < FirstOdd && !char.IsControl(sign) && sign != SoftHyphen;
        }

        if (plain)
        {
            return text;
        }

        var cells = new StringBuilder(text.Length);
        var elements = StringInfo.GetTextElementEnumerator(text);
        while (elements.MoveNext())
        {
            Add(cells, elements.GetTextElement());
        }

        return cells.ToString();
    }

    /// <summary>The sign for which a character of a cell stands; null if it stands for itself.</summary>
    public static string? Cluster(char sign) => sign is >= FirstOwn and <= LastOwn ? Clusters[sign - FirstOwn] : null;

    /// <summary>Cells cut to a number of columns, with a mark at the end; whole if they fit.</summary>
    public static string Cut(string cells, int room) =>
        cells.Length <= room ? cells
        : room <= 0 ? string.Empty
        : cells[room - 1] == Filler ? cells[..(room - 2)] + " ~"
        : cells[..(room - 1)] + "~";

    /// <summary>A text as it fits the cells, with a space between two signs.</summary>
    public static string Spaced(string text)
    {
        var spaced = new StringBuilder(2 * text.Length);
        foreach (var sign in Of(text))
        {
            if (spaced.Length > 0 && sign != Filler)
            {
                spaced.Append(' ');
            }

            spaced.Append(sign);
        }

        return spaced.ToString();
    }

    // A text element is what a reader takes for one sign. Some have two places, such as a Thai vowel behind its consonant.
    private static void Add(StringBuilder cells, string element)
    {
        var sign = new StringBuilder(element.Length);
        var (columns, marks, isJoined) = (0, 0, false);
        foreach (var rune in element.EnumerateRunes())
        {
            var category = Rune.GetUnicodeCategory(rune);
            if (rune.Value is >= 0x1F1E6 and <= 0x1F1FF)
            {
                // Regional indicators.
                End();
                (sign, columns) = (sign.Append((char)('A' + rune.Value - 0x1F1E6)), 1);
                End();
            }
            else if (rune.Value is Joiner or >= 0xFE00 and <= 0xFE0F || category is UnicodeCategory.Format or UnicodeCategory.EnclosingMark)
            {
                isJoined |= rune.Value == Joiner;
            }
            else if (columns > 0 && (rune.Value is >= 0x1F3FB and <= 0x1F3FF || (isJoined && rune.GetColumns() > 1)))
            {
                // The colour of a skin, or what is joined to a picture.
            }
            else if (columns > 0 && rune.GetColumns() == 0)
            {
                marks++;
                sign = marks > MostMarks ? sign : sign.Append(rune);
            }
            else
            {
                End();
                var isShown = rune.GetColumns() is 1 or 2 && rune.Value is < FirstOwn or > LastOwn && rune != Rune.ReplacementChar
                    && category is not (UnicodeCategory.Control or UnicodeCategory.OtherNotAssigned or UnicodeCategory.PrivateUse);
                (sign, columns) = (isShown ? sign.Append(rune) : sign.Append('?'), isShown ? rune.GetColumns() : 1);
            }
        }

        End();

        void End()
        {
            if (columns > 0)
            {
                var one = sign.Length == 1 ? sign[0] : OwnOf(sign.ToString());
                cells.Append(one).Append(one == '?' ? ' ' : Filler, columns - 1);
            }

            sign.Clear();
            (columns, marks, isJoined) = (0, 0, false);
        }
    }

    private static char OwnOf(string cluster)
    {
        if (Own.TryGetValue(cluster, out var known))
        {
            return known;
        }

        lock (Clusters)
        {
            if (Own.TryGetValue(cluster, out known))
            {
                return known;
            }

            if (Own.Count == Clusters.Length)
            {
                // More different signs than any song has: without its marks.
                return char.IsSurrogate(cluster[0]) ? '?' : cluster[0];
            }

            var own = (char)(FirstOwn + Own.Count);
            Clusters[own - FirstOwn] = cluster;
            Own[cluster] = own;
            return own;
        }
    }
}
