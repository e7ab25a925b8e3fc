namespace GrooveLab.Music.Charts;

/// <summary>The elements of a line of bars.</summary>
internal enum BarItem
{
    /// <summary>A mark: a chord, a slash, a repeat.</summary>
    Mark,

    /// <summary>A meter in square brackets.</summary>
    Bracket,

    /// <summary>An unclosed square bracket.</summary>
    OpenBracket,

    /// <summary>A bar line.</summary>
    BarLine,

    /// <summary>A repeat sign.</summary>
    RepeatSign,

    /// <summary>A number sign with the rest of its line: a remark where none is possible.</summary>
    Remark,

    /// <summary>A line break, which also ends a bar.</summary>
    LineBreak,

    /// <summary>The end of the text.</summary>
    End,
}

/// <summary>Splits chord bars into marks, meters and bar lines.</summary>
internal sealed class BarScanner(string text)
{
    private int _at;
    private bool _open;
    private bool _filled;
    private bool _ended;

    /// <summary>An item, with its start and end in the text; <c>Empty</c> for a bar line that ends an empty bar.</summary>
    public readonly record struct Item(BarItem Kind, int Start, int End, bool Empty);

    /// <summary>The next item; null after the end.</summary>
    public Item? Next()
    {
        while (_at < text.Length && text[_at] != '\n' && char.IsWhiteSpace(text[_at]))
        {
            _at++;
        }

        var start = _at;
        if (_at >= text.Length)
        {
            if (_ended)
            {
                return null;
            }

            _ended = true;
            return new Item(BarItem.End, start, start, Empty: false);
        }

        switch (text[_at])
        {
            case '\n':
                _at++;
                _open = false;
                _filled = false;
                return new Item(BarItem.LineBreak, start, _at, Empty: false);
            case '|' or '‖':
                return BarLine(start);
            case ':' when start + 1 < text.Length && text[start + 1] == '|':
                _at += 2;
                return new Item(BarItem.RepeatSign, start, _at, Empty: false);
            case '#':
                // The bar that it interrupts is not reported as empty too.
                _filled = true;
                var end = text.AsSpan(start).IndexOf('\n');
                _at = end < 0 ? text.Length : start + end;
                return new Item(BarItem.Remark, start, _at, Empty: false);
            case '[':
                _filled = true;
                var close = text.AsSpan(start).IndexOfAny(']', '|', '\n');
                if (close < 0 || text[start + close] != ']')
                {
                    _at = close < 0 ? text.Length : start + close;
                    return new Item(BarItem.OpenBracket, start, _at, Empty: false);
                }

                _at = start + close + 1;
                return new Item(BarItem.Bracket, start, _at, Empty: false);
            default:
                return Mark(start);
        }
    }

    private Item BarLine(int start)
    {
        while (_at < text.Length && text[_at] is '|' or '‖')
        {
            _at++;
        }

        var empty = _open && !_filled;
        _open = true;
        _filled = false;
        if (_at < text.Length && text[_at] == ':')
        {
            _at++;
            return new Item(BarItem.RepeatSign, start, _at, Empty: false);
        }

        return new Item(BarItem.BarLine, start, _at, empty);
    }

    // Spaces inside parentheses belong to the chord: C7(b9, #11).
    private Item Mark(int start)
    {
        _filled = true;
        var depth = 0;
        while (_at < text.Length && text[_at] is not ('|' or '‖' or '\n' or '[') && (depth > 0 || !char.IsWhiteSpace(text[_at])))
        {
            if (_at > start && text[_at] == ':' && _at + 1 < text.Length && text[_at + 1] == '|')
            {
                break;
            }

            depth += text[_at] == '(' ? 1 : text[_at] == ')' && depth > 0 ? -1 : 0;
            _at++;
        }

        return new Item(BarItem.Mark, start, _at, Empty: false);
    }
}
