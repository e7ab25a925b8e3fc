using System.Buffers;
using System.Globalization;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Passes XML text on to a parser, and refuses what would make a parser use much memory or work: text beyond the limit, endless
/// tags, and declarations of entities.</summary>
internal sealed class GuardedText(TextReader source) : TextReader
{
    private const string CommentStart = "!--";
    private const string DataStart = "![CDATA[";
    private const string EntityStart = "!ENTITY";

    private static readonly SearchValues<char> Ends = SearchValues.Create(">\"'<");
    private State _state;
    private char _quote;
    private long _characters;
    private int _tagLength;
    private int _line = 1;

    // The first characters after "<", to tell the kinds of markup apart.
    private string _opening = "";

    // How much of "-->", "]]>" or "?>" has been seen.
    private int _closing;

    private enum State
    {
        Text,
        Opening,
        Tag,
        Quoted,
        Comment,
        Data,
        Instruction,
    }

    /// <summary>The line of the first character that the encoding cannot have; null for none.</summary>
    public int? FirstUnreadableLine { get; private set; }

    public override int Peek() => throw new NotSupportedException();

    public override int Read()
    {
        var one = new char[1];
        return Read(one, 0, 1) == 0 ? -1 : one[0];
    }

    public override int Read(char[] buffer, int index, int count)
    {
        var read = source.Read(buffer, index, count);
        Check(buffer.AsSpan(index, read));
        return read;
    }

    public override int Read(Span<char> buffer)
    {
        var read = source.Read(buffer);
        Check(buffer[..read]);
        return read;
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing)
        {
            source.Dispose();
        }

        base.Dispose(disposing);
    }

    private void Check(ReadOnlySpan<char> text)
    {
        _characters += text.Length;
        if (FirstUnreadableLine is null && text.IndexOf('\uFFFD') is >= 0 and var unreadable)
        {
            FirstUnreadableLine = _line + text[..unreadable].Count('\n');
        }

        var at = 0;
        while (at < text.Length)
        {
            at += Step(text, at);
        }

        _line += text.Count('\n');
        if (_characters > MusicXmlLimits.MostCharacters)
        {
            throw new MusicXmlRefusal(_line, string.Create(
                CultureInfo.InvariantCulture, $"the score has more than {MusicXmlLimits.MostCharacters >> 20} million characters"), "divide it");
        }
    }

    // The number of characters checked.
    private int Step(ReadOnlySpan<char> text, int at)
    {
        var rest = text[at..];
        switch (_state)
        {
            case State.Text:
                var open = rest.IndexOf('<');
                if (open < 0)
                {
                    return rest.Length;
                }

                (_state, _opening, _tagLength) = (State.Opening, "", 0);
                return open + 1;
            case State.Opening:
                Open(rest[0], text, at);
                return 1;
            case State.Tag:
                var end = rest.IndexOfAny(Ends);
                var length = end < 0 ? rest.Length : end + 1;
                Grow(length, text, at);
                if (end >= 0)
                {
                    // A "<" inside a tag begins a declaration inside the document type.
                    (_state, _quote) = rest[end] switch
                    {
                        '>' => (State.Text, _quote),
                        '<' => (State.Opening, _quote),
                        var quote => (State.Quoted, quote),
                    };
                    _opening = "";
                }

                return length;
            case State.Quoted:
                var close = rest.IndexOf(_quote);
                var quoted = close < 0 ? rest.Length : close + 1;
                Grow(quoted, text, at);
                _state = close < 0 ? State.Quoted : State.Tag;
                return quoted;
            default:
                return Close(rest);
        }
    }

    private void Open(char next, ReadOnlySpan<char> text, int at)
    {
        _opening += next;
        _closing = 0;
        if (_opening == "?")
        {
            _state = State.Instruction;
        }
        else if (_opening == CommentStart)
        {
            _state = State.Comment;
        }
        else if (_opening == DataStart)
        {
            _state = State.Data;
        }
        else if (_opening == EntityStart)
        {
            throw new MusicXmlRefusal(
                LineAt(text, at), "the document type declares entities, which are never expanded", "save the score again from a notation program");
        }
        else if (!CommentStart.StartsWith(_opening, StringComparison.Ordinal)
            && !DataStart.StartsWith(_opening, StringComparison.Ordinal)
            && !EntityStart.StartsWith(_opening, StringComparison.Ordinal))
        {
            _state = next == '>' ? State.Text : State.Tag;
        }
    }

    private int Close(ReadOnlySpan<char> rest)
    {
        var end = _state switch { State.Comment => "-->", State.Data => "]]>", _ => "?>" };
        for (var i = 0; i < rest.Length; i++)
        {
            var next = rest[i];
            if (next == end[_closing])
            {
                _closing++;
                if (_closing == end.Length)
                {
                    _state = State.Text;
                    return i + 1;
                }
            }
            else if (!(next == end[0] && _closing == end.Length - 1 && end.Length == 3))
            {
                // A third hyphen or bracket still leaves two before the ">".
                _closing = next == end[0] ? 1 : 0;
            }
        }

        return rest.Length;
    }

    private void Grow(int length, ReadOnlySpan<char> text, int at)
    {
        _tagLength += length;
        if (_tagLength > MusicXmlLimits.LongestTag)
        {
            throw new MusicXmlRefusal(LineAt(text, at), string.Create(
                CultureInfo.InvariantCulture, $"a tag is longer than {MusicXmlLimits.LongestTag} characters"));
        }
    }

    private int LineAt(ReadOnlySpan<char> text, int at) => _line + text[..at].Count('\n');
}
