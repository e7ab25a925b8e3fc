using System.Globalization;
using System.Text;

namespace GrooveLab.Exchange.Toml;

/// <summary>Reads a TOML string again from the file's text, to know the place of each character of its value: in a text of several lines
/// a problem is reported at its own line and column.</summary>
internal static class StringDecoder
{
    public static TomlString Decode(string text, int start, int end)
    {
        var token = text.AsSpan(start, end - start);
        var quote = token[0];
        var multi = token.Length >= 6 && token[1] == quote && token[2] == quote;
        var from = start + (multi ? 3 : 1);
        var to = end - (multi ? 3 : 1);
        if (multi && from < to && text[from] == '\n')
        {
            from++;
        }
        else if (multi && from + 1 < to && text[from] == '\r' && text[from + 1] == '\n')
        {
            from += 2;
        }

        var value = new StringBuilder(Math.Max(0, to - from));
        var places = new List<int>(Math.Max(1, to - from + 1));
        void Take(ReadOnlySpan<char> characters, int at)
        {
            foreach (var character in characters)
            {
                value.Append(character);
                places.Add(at);
            }
        }

        for (var i = from; i < to; i++)
        {
            var c = text[i];
            if (c == '\r' && i + 1 < to && text[i + 1] == '\n')
            {
                continue;
            }

            if (quote == '\'' || c != '\\' || i + 1 >= to)
            {
                Take([c], i);
                continue;
            }

            var at = i;
            var sign = text[++i];
            switch (sign)
            {
                case 'b':
                    Take("\b", at);
                    break;
                case 't':
                    Take("\t", at);
                    break;
                case 'n':
                    Take("\n", at);
                    break;
                case 'f':
                    Take("\f", at);
                    break;
                case 'r':
                    Take("\r", at);
                    break;
                case 'e':
                    Take("\u001b", at);
                    break;
                case 'x' or 'u' or 'U':
                    var digits = sign == 'x' ? 2 : sign == 'u' ? 4 : 8;
                    if (i + digits < text.Length
                        && int.TryParse(text.AsSpan(i + 1, digits), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out var code)
                        && Rune.IsValid(code))
                    {
                        Take(new Rune(code).ToString(), at);
                    }

                    i += digits;
                    break;
                case ' ' or '\t' or '\r' or '\n':
                    // A backslash at a line's end joins it to the next word.
                    while (i < to && text[i] is ' ' or '\t' or '\r' or '\n')
                    {
                        i++;
                    }

                    i--;
                    break;
                default:
                    Take([sign], at);
                    break;
            }
        }

        places.Add(Math.Max(from, to));
        return new TomlString(value.ToString(), [.. places], start, end);
    }
}
