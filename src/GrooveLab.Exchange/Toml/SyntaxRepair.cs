using System.Diagnostics.CodeAnalysis;
using System.Text.RegularExpressions;
using GrooveLab.Music.Wording;
using Tomlyn.Parsing;
using Tomlyn.Syntax;

namespace GrooveLab.Exchange.Toml;

/// <summary>Parses a text that may be broken. Each broken line is reported once and then blanked, so that the rest is still read and its
/// problems are reported too.</summary>
internal sealed partial class SyntaxRepair(SourceText source, Problems problems)
{
    private const int MostRepairs = 40;
    private readonly char[] _text = source.Text.ToCharArray();

    /// <summary>The blanked lines.</summary>
    public SortedSet<int> DamagedLines { get; } = [];

    /// <summary>The places of unreadable headers: the keys below them belong to no table.</summary>
    public List<int> LostHeaders { get; } = [];

    /// <summary>The syntax of the readable text; null with too many broken lines.</summary>
    public DocumentSyntax? Parse()
    {
        for (var repair = 0; repair < MostRepairs; repair++)
        {
            var text = new string(_text);
            if (!TryParse(text, out var document))
            {
                var line = FirstFailingLine(text);
                Explain(line, source.StartOf(line) + Indent(line), string.Empty);
                Blank(line, line);
                continue;
            }

            var error = document.Diagnostics
                .Where(message => message.Kind == DiagnosticMessageKind.Error)
                .OrderBy(message => message.Span.Start.Offset)
                .FirstOrDefault();
            if (error is null)
            {
                return document;
            }

            if (RepairOpenText(text))
            {
                continue;
            }

            var offset = Math.Min(error.Span.Start.Offset, Math.Max(0, source.Text.Length - 1));
            var at = source.LineOf(offset);
            while (at > 0 && source.LineText(at).IsWhiteSpace() || DamagedLines.Contains(at) && at > 0)
            {
                at--;
                offset = source.EndOf(at);
            }

            if (DamagedLines.Contains(at))
            {
                return null;
            }

            Explain(at, offset, error.Message);
            Blank(at, at);
        }

        return null;
    }

    [SuppressMessage("Design", "CA1031", Justification = "The parser throws anything on some broken texts; each is a problem of the file.")]
    private static bool TryParse(string text, [NotNullWhen(true)] out DocumentSyntax? document)
    {
        try
        {
            document = SyntaxParser.Parse(text, "chart", validate: false);
            return true;
        }
        catch (Exception)
        {
            document = null;
            return false;
        }
    }

    // The first line after which the parser fails.
    private int FirstFailingLine(string text)
    {
        var low = 0;
        var high = source.Lines - 1;
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (TryParse(text[..source.EndOf(middle)], out _))
            {
                low = middle + 1;
            }
            else
            {
                high = middle;
            }
        }

        return low;
    }

    // A text of several lines without closing quotes swallows the lines below: their keys and headers reveal it.
    private bool RepairOpenText(string text)
    {
        foreach (var (start, end, closed) in LongTexts(text))
        {
            var first = source.LineOf(start);
            var last = source.LineOf(Math.Max(start, end - 1));
            int? swallowed = null;
            for (var line = first + 1; line <= last && swallowed is null; line++)
            {
                if (LooksLikeKeyOrHeader().IsMatch(source.LineText(line)))
                {
                    swallowed = line;
                }
            }

            if (closed && swallowed is null)
            {
                continue;
            }

            var quotes = new string(text[start], 3);
            problems.Add(start, $"the text that opens here with {quotes} is not closed", $"end it with {quotes} after its last line");
            Blank(first, (swallowed ?? source.Lines) - 1);
            return true;
        }

        return false;
    }

    private static List<(int Start, int End, bool Closed)> LongTexts(string text)
    {
        var found = new List<(int Start, int End, bool Closed)>();
        for (var i = 0; i < text.Length; i++)
        {
            var c = text[i];
            if (c == '#')
            {
                var lineEnd = text.IndexOf('\n', i);
                i = lineEnd < 0 ? text.Length : lineEnd;
            }
            else if (c is '"' or '\'')
            {
                var quotes = new string(c, 3);
                if (text.AsSpan(i).StartsWith(quotes))
                {
                    var end = i + 3;
                    while (end < text.Length && !text.AsSpan(end).StartsWith(quotes))
                    {
                        end += c == '"' && text[end] == '\\' ? 2 : 1;
                    }

                    var closed = end < text.Length;
                    end = Math.Min(text.Length, end + 3);
                    found.Add((i, end, closed));
                    i = end - 1;
                }
                else
                {
                    i++;
                    while (i < text.Length && text[i] != c && text[i] != '\n')
                    {
                        i += c == '"' && text[i] == '\\' && i + 1 < text.Length && text[i + 1] != '\n' ? 2 : 1;
                    }
                }
            }
        }

        return found;
    }

    private void Blank(int first, int last)
    {
        for (var line = first; line <= last; line++)
        {
            if (source.LineText(line).TrimStart().StartsWith("[") && line == first)
            {
                LostHeaders.Add(source.StartOf(line));
            }

            DamagedLines.Add(line);
            _text.AsSpan(source.StartOf(line), source.EndOf(line) - source.StartOf(line)).Fill(' ');
        }
    }

    private int Indent(int line)
    {
        var text = source.LineText(line);
        return text.Length - text.TrimStart().Length;
    }

    private void Explain(int line, int offset, string message)
    {
        var text = source.LineText(line).Trim().ToString();
        var control = text.FirstOrDefault(c => char.IsControl(c) && c != '\t');
        var equals = text.IndexOf('=');
        if (control != default)
        {
            problems.Add(
                source.StartOf(line) + source.LineText(line).IndexOf(control),
                $"the line contains a control character (U+{(int)control:X4})",
                "write plain text");
        }
        else if (text.StartsWith('['))
        {
            problems.Add(
                source.StartOf(line) + Indent(line),
                $"{Words.Quote(text)} is not a complete header",
                $"write {problems.Headers} on a separate line");
        }
        else if (equals < 0)
        {
            problems.Add(
                source.StartOf(line) + Indent(line),
                $"{Words.Quote(text)} is neither a key with its value nor a header",
                "write key = \"value\", or # before a remark; the bars of a text of several lines go between \"\"\" and \"\"\"");
        }
        else
        {
            ExplainValue(line, offset, message, text[..equals].Trim(), text[(equals + 1)..].Trim());
        }
    }

    private void ExplainValue(int line, int offset, string message, string key, string value)
    {
        var place = source.StartOf(line) + source.LineText(line).IndexOf('=') + 1;
        while (place < source.EndOf(line) && source.Text[place] == ' ')
        {
            place++;
        }

        if (key.Length == 0 || key.Any(char.IsWhiteSpace))
        {
            var hyphened = string.Join('-', key.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries));
            problems.Add(
                source.StartOf(line) + Indent(line),
                key.Length == 0 ? "a value without its key" : $"the key {Words.Quote(key)} has a space in it",
                key.Length == 0 ? "write key = \"value\"" : $"join its words with a hyphen: {hyphened} = …");
        }
        else if (value.Length == 0 || value[0] == '#')
        {
            problems.Add(place, $"{key} has no value", $"write it after the =, such as {key} = \"…\"");
        }
        else if (message.Contains("escape", StringComparison.OrdinalIgnoreCase))
        {
            problems.Add(
                offset,
                "this backslash does not start a valid escape",
                "write \\\\ for a backslash, or put the text between single quotes");
        }
        else if (value[0] is '"' or '\'')
        {
            ExplainText(key, value, place);
        }
        else if (value[0] is '[' or '{')
        {
            problems.Add(
                place,
                $"the list of {key} is not complete",
                "write its items in quotes with commas between them, all in one pair of brackets: [\"one\", \"two\"]");
        }
        else if (char.IsAsciiDigit(value[0]) && message.Contains("Unable to parse", StringComparison.Ordinal))
        {
            problems.Add(place, $"the number {Words.Quote(value)} is too large", "write a smaller number");
        }
        else
        {
            var plain = value.Replace("\"", string.Empty, StringComparison.Ordinal);
            problems.Add(
                place,
                $"the value of {key} is neither a text in quotes nor a plain number, true or false",
                plain.Length > 60 ? $"put it in quotes: {key} = \"…\"" : $"put it in quotes: {key} = \"{plain}\"");
        }
    }

    private void ExplainText(string key, string value, int place)
    {
        var quote = value[0];
        var close = 1;
        while (close < value.Length && value[close] != quote)
        {
            close += quote == '"' && value[close] == '\\' ? 2 : 1;
        }

        if (close >= value.Length)
        {
            problems.Add(
                place,
                $"the text of {key} has no closing {quote}",
                $"end it with {quote}; a text of several lines opens and closes with {new string(quote, 3)}");
        }
        else
        {
            problems.Add(
                place + close + 1,
                $"there is text after the closing {quote} of {key}",
                "write one key and its value per line, and # before a remark");
        }
    }

    [GeneratedRegex(@"^\s*(\[\[?\s*[A-Za-z][\w.\- ]*\]|[A-Za-z][\w\-]*\s*=)", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex LooksLikeKeyOrHeader();
}
