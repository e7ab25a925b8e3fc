using System.Globalization;
using System.Text;
using Terminal.Gui.Text;

namespace GrooveLab.Screen;

/// <summary>Texts with one character for each column of the terminal, so that a text's length is its width.</summary>
internal static class Cells
{
    /// <summary>Stands after a sign that is two columns wide. It is never written.</summary>
    public const char Filler = '\0';

    // Below it, every character but the control characters is one column wide.
    private const char FirstOdd = '\u0300';

    /// <summary>
    /// A text as it fits the cells: a mark that is a character of its own is left out, a sign two columns wide is followed by <see cref="Filler"/>,
    /// and a sign that has no single character, or no width, becomes a question mark.
    /// </summary>
    public static string Of(string text)
    {
        var plain = true;
        foreach (var sign in text)
        {
            plain &= sign < FirstOdd && !char.IsControl(sign);
        }

        if (plain)
        {
            return text;
        }

        var cells = new StringBuilder();
        foreach (var rune in text.EnumerateRunes())
        {
            if (Rune.GetUnicodeCategory(rune) is UnicodeCategory.NonSpacingMark or UnicodeCategory.EnclosingMark or UnicodeCategory.Format)
            {
                continue;
            }

            var columns = rune.GetColumns();
            cells.Append(rune.IsBmp && columns is 1 or 2 ? (char)rune.Value : '?');
            if (rune.IsBmp && columns == 2)
            {
                cells.Append(Filler);
            }
        }

        return cells.ToString();
    }
}
