using System.Buffers;

namespace GrooveLab.Exchange.Charts;

/// <summary>The elements of a line of notes.</summary>
internal enum NoteItem
{
    /// <summary>A note or a rest.</summary>
    Note,

    /// <summary>Grace notes in parentheses.</summary>
    Graces,

    /// <summary>A mark between exclamation marks, for the next note.</summary>
    Mark,

    /// <summary>An opening brace with its ratio.</summary>
    OpenTuplet,

    /// <summary>A closing brace.</summary>
    CloseTuplet,

    /// <summary>A repeat of the bar before.</summary>
    Repeat,

    /// <summary>A meter in square brackets, which is not allowed here.</summary>
    Bracket,

    /// <summary>A bar line.</summary>
    BarLine,

    /// <summary>A line break.</summary>
    LineBreak,

    /// <summary>A number sign with the rest of its line: a remark where none is possible.</summary>
    Remark,
}

/// <summary>Splits the bars of a tune into notes, brackets and bar lines.</summary>
internal sealed class NoteScanner(string text)
{
    private static readonly SearchValues<char> OctaveOrLength = SearchValues.Create("0123456789:");

    private int _at;

    /// <summary>An item with its start and end in the text.</summary>
    public readonly record struct Item(NoteItem Kind, int Start, int End);

    /// <summary>True when another note follows without a space.</summary>
    public bool Glued { get; private set; }

    /// <summary>The next item; null at the end.</summary>
    public Item? Next()
    {
        while (_at < text.Length && text[_at] != '\n' && char.IsWhiteSpace(text[_at]))
        {
            _at++;
        }

        if (_at >= text.Length)
        {
            return null;
        }

        Glued = false;
        var start = _at++;
        switch (text[start])
        {
            case '\n':
                return new Item(NoteItem.LineBreak, start, _at);
            case '|' or '‖':
                while (_at < text.Length && text[_at] is '|' or '‖')
                {
                    _at++;
                }

                return new Item(NoteItem.BarLine, start, _at);
            case '#':
                var rest = text.AsSpan(_at).IndexOf('\n');
                _at = rest < 0 ? text.Length : _at + rest;
                return new Item(NoteItem.Remark, start, _at);
            case '%':
                return new Item(NoteItem.Repeat, start, _at);
            case '[':
                var end = text.AsSpan(_at).IndexOfAny(']', '|', '\n');
                _at = end < 0 ? text.Length : text[_at + end] == ']' ? _at + end + 1 : _at + end;
                return new Item(NoteItem.Bracket, start, _at);
            case '}':
                return new Item(NoteItem.CloseTuplet, start, _at);
            case '{':
                while (_at < text.Length && (char.IsAsciiDigit(text[_at]) || text[_at] == ':'))
                {
                    _at++;
                }

                return new Item(NoteItem.OpenTuplet, start, _at);
            case '!':
                while (_at < text.Length && !char.IsWhiteSpace(text[_at]) && text[_at] is not ('|' or '‖' or '!'))
                {
                    _at++;
                }

                _at += _at < text.Length && text[_at] == '!' ? 1 : 0;
                return new Item(NoteItem.Mark, start, _at);
            case '(':
                var close = text.AsSpan(_at).IndexOfAny(')', '|', '\n');
                if (close >= 0 && text[_at + close] == ')')
                {
                    _at += close + 1;
                    return new Item(NoteItem.Graces, start, _at);
                }

                break;
        }

        while (_at < text.Length && !char.IsWhiteSpace(text[_at]) && text[_at] is not ('|' or '‖' or '}' or '{' or '(' or '%' or '[' or '!'))
        {
            _at++;
            if (text[_at - 1] == '~' || (text[_at - 1] == '-' && IsTie(_at - 1, start)))
            {
                Glued = _at < text.Length && char.IsLetterOrDigit(text[_at]);
                break;
            }
        }

        return new Item(NoteItem.Note, start, _at);
    }

    // A minus belongs to the number after it: an octave below C0, a length that is wrong.
    private bool IsTie(int minus, int start) =>
        minus > start && text[minus - 1] is not (':' or '/')
        && !(minus + 1 < text.Length && char.IsAsciiDigit(text[minus + 1]) && text.AsSpan(start, minus - start).IndexOfAny(OctaveOrLength) < 0);
}
