using System.Globalization;
using System.Text;

namespace GrooveLab.Exchange.Sheets;

/// <summary>A text that fits a width: its characters, and the width in which it is to be set whatever the font.</summary>
/// <param name="Text">The text, shortened with an ellipsis where it was too long; empty when not even one character fits.</param>
/// <param name="Width">The width, in the unit of the font size.</param>
public readonly record struct FittedText(string Text, double Width);

/// <summary>Measures text without a font at hand. The widths are those of Liberation Sans (from its hmtx table), which are also those of Arial and
/// Helvetica; characters outside it get a generous width. A reader with another font sees the text pressed or stretched to this width.</summary>
public static class TextMeasure
{
    /// <summary>Text is pressed to no less than this share of its width; then it is shortened.</summary>
    public const double MostPressed = 0.5;

    /// <summary>The height of capitals as a share of the font size: 0.688 in Liberation Sans and Arial, 0.73 in DejaVu Sans (from their tables), 0.655 in
    /// Liberation Serif and Times. This is the least of them.</summary>
    public const double CapitalHeight = 0.65;

    private const int Unknown = 650, Wide = 1000, Emoji = 1400;

    // Thousandths of the font size, from the space to the tilde.
    private static ReadOnlySpan<short> Regular =>
    [
        278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
        1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
        333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
    ];

    private static ReadOnlySpan<short> Bold =>
    [
        278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611,
        975, 722, 722, 722, 722, 667, 611, 778, 722, 278, 556, 722, 611, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584, 556,
        333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611, 611, 611, 389, 556, 333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584,
    ];

    // The letters from U+00C0 to U+017F without their accents; for a pair of letters a percent sign, which is as wide.
    private static string Plain =>
        "AAAAAA%CEEEEIIIIDNOOOOO+OUUUUYPoaaaaaa%ceeeeiiiionooooo+ouuuuypy"
        + "AaAaAaCcCcCcCcDdDdEeEeEeEeEeGgGgGgGgHhHhIiIiIiIiIiIiJjKkkLlLlLlLlLlNnNnNnnNnOoOoOo%%RrRrRrSsSsSsSsTtTtTtUuUuUuUuUuUuWwYyYZzZzZzs";

    /// <summary>The width of a text.</summary>
    /// <param name="text">The text; ill-formed characters count as unknown ones.</param>
    /// <param name="size">The font size, in any unit.</param>
    /// <param name="bold">Whether it is bold.</param>
    public static double Width(string text, double size, bool bold = false)
    {
        var sum = 0;
        foreach (var rune in text.EnumerateRunes())
        {
            sum += Width(rune, bold);
        }

        return sum * size / 1000;
    }

    /// <summary>A text that fits: as it is, pressed to no less than <paramref name="pressed"/> of its width, or shortened with an ellipsis.</summary>
    /// <param name="text">The text.</param>
    /// <param name="size">The font size.</param>
    /// <param name="most">The width that is there.</param>
    /// <param name="bold">Whether it is bold.</param>
    /// <param name="pressed">The least share of its width, 0.5 to 1.</param>
    public static FittedText Fit(string text, double size, double most, bool bold = false, double pressed = MostPressed)
    {
        var width = Width(text, size, bold);
        if (width <= most)
        {
            return new FittedText(text, width);
        }

        if (width * pressed <= most)
        {
            return new FittedText(text, most);
        }

        var dots = Width("…", size, bold);
        var kept = new StringBuilder();
        var sum = dots;
        var elements = StringInfo.GetTextElementEnumerator(text);
        while (elements.MoveNext())
        {
            var element = elements.GetTextElement();
            sum += Width(element, size, bold);
            if (sum * pressed > most)
            {
                break;
            }

            kept.Append(element);
        }

        if (kept.Length == 0)
        {
            return new FittedText(string.Empty, 0);
        }

        var shortened = kept.ToString().TrimEnd() + "…";
        return new FittedText(shortened, Math.Min(most, Width(shortened, size, bold)));
    }

    private static int Width(Rune rune, bool bold)
    {
        var table = bold ? Bold : Regular;
        var value = rune.Value;
        if (value is >= 0x20 and < 0x7F)
        {
            return table[value - 0x20];
        }

        switch (Rune.GetUnicodeCategory(rune))
        {
            case UnicodeCategory.NonSpacingMark or UnicodeCategory.EnclosingMark or UnicodeCategory.Format or UnicodeCategory.Control:
                return 0;
        }

        if (value is 0x2018 or 0x2019 or 0xB7)
        {
            return 278;
        }

        if (value is >= 0x266D and <= 0x266F)
        {
            return 560;
        }

        if (value is 0x2026 or 0x2014)
        {
            return 1000;
        }

        // A letter with an accent is as wide as the letter.
        if (value is >= 0xC0 and < 0x180)
        {
            return table[Plain[value - 0xC0] - 0x20];
        }

        return value >= 0x1F000 || value is >= 0x2600 and < 0x2800 ? Emoji : IsWide(value) ? Wide : Unknown;
    }

    // East Asian characters, which fill a square.
    private static bool IsWide(int value) =>
        value is >= 0x1100 and < 0x1160 or >= 0x2E80 and < 0xA4D0 or >= 0xA960 and < 0xA980 or >= 0xAC00 and < 0xD7B0 or >= 0xF900 and < 0xFB00 or >= 0xFE30 and < 0xFE70
            or >= 0xFF00 and < 0xFF61 or >= 0xFFE0 and < 0xFFE7;
}
