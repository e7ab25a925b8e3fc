using System.Globalization;
using System.Text;

namespace GrooveLab.Exchange.Toml;

/// <summary>Writes values as TOML literals.</summary>
internal static class TomlLiteral
{
    public static string Text(string value) => '"' + Escape(value) + '"';

    public static string Lines(IEnumerable<string> lines) =>
        "\"\"\"\n" + string.Concat(lines.Select(line => Escape(line) + "\n")) + "\"\"\"";

    public static string List(IEnumerable<string> texts) => "[" + string.Join(", ", texts.Select(Text)) + "]";

    public static string Number(double value) => value.ToString("R", CultureInfo.InvariantCulture);

    public static string Number(long value) => value.ToString(CultureInfo.InvariantCulture);

    public static string Flag(bool value) => value ? "true" : "false";

    /// <summary>The inside of a string in double quotes.</summary>
    public static string Escape(string value)
    {
        var text = new StringBuilder(value.Length);
        foreach (var c in value)
        {
            switch (c)
            {
                case '"':
                    text.Append("\\\"");
                    break;
                case '\\':
                    text.Append("\\\\");
                    break;
                case '\n':
                    text.Append("\\n");
                    break;
                case '\t':
                    text.Append("\\t");
                    break;
                // The TOML reader takes U+FFFD for a byte that is no UTF-8.
                case var control when char.IsControl(control) || control == '\uFFFD':
                    text.Append(CultureInfo.InvariantCulture, $"\\u{(int)control:X4}");
                    break;
                default:
                    text.Append(c);
                    break;
            }
        }

        return text.ToString();
    }
}
