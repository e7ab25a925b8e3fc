using System.Globalization;
using System.Text;

namespace GrooveLab.Exchange.Sheets;

/// <summary>Writes text and numbers into HTML and SVG.</summary>
internal static class Markup
{
    /// <summary>Text as it stands between tags or in a quoted attribute. Characters that no document may contain become spaces.</summary>
    public static string Escape(string text)
    {
        var escaped = new StringBuilder(text.Length + 16);
        foreach (var rune in text.EnumerateRunes())
        {
            escaped.Append(rune.Value switch
            {
                '&' => "&amp;",
                '<' => "&lt;",
                '>' => "&gt;",
                '"' => "&quot;",
                '\'' => "&#39;",
                < 0x20 or (>= 0x7F and < 0xA0) or 0xFFFE or 0xFFFF => " ",
                _ => rune.ToString(),
            });
        }

        return escaped.ToString();
    }

    /// <summary>Escaped text whose direction of writing does not reach beyond it.</summary>
    public static string Isolated(string text) => $"<bdi>{Escape(text)}</bdi>";

    /// <summary>A length or place in millimetres, with at most two decimals.</summary>
    public static string Number(double value) => Math.Round(value, 2).ToString("0.##", CultureInfo.InvariantCulture);
}
