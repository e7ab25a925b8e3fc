namespace GrooveLab.Exchange.Abc;

/// <summary>A line of an ABC file, without its comment and joined with its continuations.</summary>
/// <param name="Number">Its number in the file, from 1.</param>
/// <param name="Text">Its text.</param>
internal readonly record struct AbcLine(int Number, string Text)
{
    /// <summary>The letter of a field line such as "M:4/4"; null for a line of music.</summary>
    public char? Field => Text.Length > 1 && Text[1] == ':' && (char.IsAsciiLetter(Text[0]) || Text[0] == '+') && !(Text[0] is '|' or ':') ? Text[0] : null;

    /// <summary>The text after the colon of a field.</summary>
    public string Value => Text[2..].Trim();
}

/// <summary>A tune of an ABC file: its lines from X: to the next empty line or the next X:.</summary>
/// <param name="Number">The number after X:; the position in the file where it is none.</param>
/// <param name="Lines">Its lines.</param>
internal sealed record AbcTune(int Number, IReadOnlyList<AbcLine> Lines)
{
    /// <summary>Its first title; empty for none.</summary>
    public string Title => Lines.FirstOrDefault(line => line.Field == 'T') is { Text: not null } title ? title.Value : "";
}

/// <summary>Divides an ABC file into its tunes.</summary>
/// <remarks>ABC 2.1, sections 2 and 3, from memory: a tune begins with X: and ends with an empty line; % begins a comment,
/// %% and I: are directives; a backslash at the end of a line of music continues it; "+:" continues a field.</remarks>
internal static class AbcTunes
{
    /// <summary>Maximum length of a line with its continuations; further ones are lines of their own.</summary>
    public const int LongestLine = 10_000;

    /// <summary>Maximum number of tunes of a file; further ones are left out.</summary>
    public const int MostTunes = 10_000;

    /// <summary>The tunes. The fields before the first tune apply to all.</summary>
    public static IReadOnlyList<AbcTune> Of(string text)
    {
        var tunes = new List<AbcTune>();
        var common = new List<AbcLine>();
        List<AbcLine>? current = null;
        var number = 0;
        void Close()
        {
            if (current is not null)
            {
                tunes.Add(new AbcTune(number, [.. common, .. current]));
                current = null;
            }
        }

        var lines = text.Replace("\r\n", "\n", StringComparison.Ordinal).Replace('\r', '\n').Split('\n');
        for (var i = 0; i < lines.Length; i++)
        {
            var line = new AbcLine(i + 1, WithoutComment(lines[i]).TrimEnd());
            if (line.Field == 'X')
            {
                Close();
                if (tunes.Count == MostTunes)
                {
                    break;
                }

                number = int.TryParse(line.Value, out var stated) && stated > 0 ? stated : tunes.Count + 1;
                current = [line];
            }
            else if (line.Text.Trim().Length == 0)
            {
                // A line with only a comment is not an empty line.
                if (lines[i].Trim().Length == 0)
                {
                    Close();
                }
            }
            else if (current is not null)
            {
                Add(current, line);
            }
            else if (line.Field is { } field && field is 'L' or 'M' or 'K' or 'Q' or 'I' or 'U' && tunes.Count == 0)
            {
                common.Add(line);
            }
            else if (line.Text.StartsWith("K:", StringComparison.Ordinal) || (tunes.Count == 0 && line.Field is 'T'))
            {
                // A tune without X:, as people send them.
                number = tunes.Count + 1;
                current = [line];
            }
        }

        Close();
        return tunes;
    }

    private static void Add(List<AbcLine> lines, AbcLine line)
    {
        if (line.Field == '+' && line.Text.Length < LongestLine && lines.FindLastIndex(other => other.Field is not null) is >= 0 and var at && lines[at].Text.Length < LongestLine)
        {
            lines[at] = lines[at] with { Text = lines[at].Text + " " + line.Value };
            return;
        }

        // The line before asked to be continued.
        if (lines.Count > 0 && lines[^1] is { Field: null } before && before.Text.EndsWith('\\') && before.Text.Length < LongestLine && line.Field is null && !line.Text.StartsWith("%%", StringComparison.Ordinal))
        {
            lines[^1] = before with { Text = before.Text[..^1] + line.Text };
            return;
        }

        lines.Add(line);
    }

    private static string WithoutComment(string line)
    {
        if (line.StartsWith("%%", StringComparison.Ordinal))
        {
            return line;
        }

        for (var at = line.IndexOf('%', StringComparison.Ordinal); at >= 0; at = at + 1 < line.Length ? line.IndexOf('%', at + 1) : -1)
        {
            if (at == 0 || line[at - 1] != '\\')
            {
                return line[..at];
            }
        }

        return line;
    }
}
