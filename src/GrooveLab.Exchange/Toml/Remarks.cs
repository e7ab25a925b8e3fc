namespace GrooveLab.Exchange.Toml;

/// <summary>Finds the remarks of a text: from a # outside quotes to the end of its line.</summary>
internal static class Remarks
{
    /// <summary>Where each remark starts, at its #, and ends, before the line break.</summary>
    public static IReadOnlyList<(int Start, int End)> In(string text)
    {
        var found = new List<(int Start, int End)>();
        for (var i = 0; i < text.Length; i++)
        {
            if (text[i] == '#')
            {
                var start = i;
                i = LineEnd(text, i);
                found.Add((start, i));
            }
            else if (text[i] is '"' or '\'')
            {
                i = BehindQuotes(text, i) - 1;
            }
        }

        return found;
    }

    private static int LineEnd(string text, int from)
    {
        var end = text.IndexOf('\n', from);
        return end < 0 ? text.Length : end > from && text[end - 1] == '\r' ? end - 1 : end;
    }

    private static int BehindQuotes(string text, int start)
    {
        var quote = text[start];
        var many = start + 2 < text.Length && text[start + 1] == quote && text[start + 2] == quote;
        var i = start + (many ? 3 : 1);
        while (i < text.Length)
        {
            if (quote == '"' && text[i] == '\\')
            {
                i += 2;
                continue;
            }

            if (!many && text[i] == '\n')
            {
                // Not closed: it ends at the end of the line at the latest.
                return i;
            }

            if (text[i] == quote && (!many || (i + 2 < text.Length && text[i + 1] == quote && text[i + 2] == quote)))
            {
                i += many ? 3 : 1;

                // Up to two quotes may directly precede the closing ones.
                for (var more = 0; many && more < 2 && i < text.Length && text[i] == quote; more++)
                {
                    i++;
                }

                return i;
            }

            i++;
        }

        return text.Length;
    }
}
