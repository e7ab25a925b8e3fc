using System.Globalization;
using System.Text;

namespace GrooveLab.Files;

/// <summary>Names for files and folders made from any text, such as a song's title, that every common system accepts.</summary>
/// <remarks>
/// Left out are the characters that Windows refuses (source: Microsoft, "Naming Files, Paths, and Namespaces"), controls and invisible format
/// characters; a dot or a space at either end; a dash at the start, which commands take for an option. The reserved names of Windows get an
/// underscore. Letters of all scripts stay.
/// </remarks>
public static class FileNames
{
    /// <summary>The most bytes of a name in UTF-8 unless told otherwise. Common file systems take 255.</summary>
    public const int UsualMostBytes = 80;

    private static readonly HashSet<string> Reserved = new(StringComparer.OrdinalIgnoreCase)
    {
        "CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "CLOCK$",
        "COM0", "COM1", "COM2", "COM3", "COM4", "COM5", "COM6", "COM7", "COM8", "COM9", "COM\u00B9", "COM\u00B2", "COM\u00B3",
        "LPT0", "LPT1", "LPT2", "LPT3", "LPT4", "LPT5", "LPT6", "LPT7", "LPT8", "LPT9", "LPT\u00B9", "LPT\u00B2", "LPT\u00B3",
    };

    /// <summary>A safe name, the text itself if it is one.</summary>
    /// <param name="text">Any text.</param>
    /// <param name="otherwise">The name if nothing of the text can stay; itself safe.</param>
    /// <param name="mostBytes">The most bytes in UTF-8, at least 8. Longer names are cut between letters.</param>
    public static string Safe(string text, string otherwise, int mostBytes = UsualMostBytes)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(mostBytes, 8);
        var clean = new StringBuilder();
        foreach (var rune in text.EnumerateRunes())
        {
            // An unpaired surrogate is enumerated as the replacement character.
            var category = Rune.GetUnicodeCategory(rune);
            if (Rune.IsWhiteSpace(rune) || category is UnicodeCategory.Control or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator)
            {
                AppendOnce(clean, ' ');
            }
            else if (rune.Value is '/' or '\\' or ':' or '|')
            {
                AppendOnce(clean, '-');
            }
            else if (rune.Value is not ('<' or '>' or '"' or '?' or '*' or 0xFFFD)
                && category is not (UnicodeCategory.Format or UnicodeCategory.Surrogate or UnicodeCategory.PrivateUse or UnicodeCategory.OtherNotAssigned))
            {
                clean.Append(rune.ToString());
            }
        }

        // One byte is left for the underscore of a reserved name.
        var name = Trimmed(Cut(Trimmed(clean.ToString()), mostBytes - 1));
        if (name.Length == 0)
        {
            return otherwise;
        }

        var stem = name.IndexOf('.', StringComparison.Ordinal) is var dot and > 0 ? name[..dot] : name;
        return Reserved.Contains(stem.TrimEnd()) ? stem.TrimEnd() + "_" + name[stem.Length..] : name;
    }

    /// <summary>The longest beginning of a text that has at most a number of bytes in UTF-8 and ends between two letters as its reader sees them.</summary>
    internal static string Cut(string text, int mostBytes)
    {
        if (Encoding.UTF8.GetByteCount(text) <= mostBytes)
        {
            return text;
        }

        var (length, bytes) = (0, 0);
        var letters = StringInfo.GetTextElementEnumerator(text);
        while (letters.MoveNext())
        {
            var letter = letters.GetTextElement();
            bytes += Encoding.UTF8.GetByteCount(letter);
            if (bytes > mostBytes)
            {
                break;
            }

            length += letter.Length;
        }

        return text[..length];
    }

    private static void AppendOnce(StringBuilder text, char letter)
    {
        if (text.Length == 0 || text[^1] != letter)
        {
            text.Append(letter);
        }
    }

    private static string Trimmed(string name) => name.TrimStart(' ', '.', '-').TrimEnd(' ', '.');
}

/// <summary>Names that stay different on systems where capital and small letters are the same.</summary>
public sealed class UniqueNames
{
    private readonly HashSet<string> _taken = new(StringComparer.OrdinalIgnoreCase);

    /// <summary>A name that was not given before: the wanted one, or with a number behind it.</summary>
    /// <param name="wanted">A safe name without its ending.</param>
    /// <param name="ending">The ending, such as <c>.mid</c>; may be empty.</param>
    public string Take(string wanted, string ending = "")
    {
        var name = wanted + ending;
        for (var number = 2; !_taken.Add(name); number++)
        {
            name = $"{wanted} {number.ToString(CultureInfo.InvariantCulture)}{ending}";
        }

        return name;
    }
}
