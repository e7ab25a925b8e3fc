namespace GrooveLab.Exchange.Toml;

/// <summary>A text whose offsets can be converted to line and column.</summary>
internal sealed class SourceText
{
    private readonly List<int> _lineStarts = [0];

    public SourceText(string text)
    {
        Text = text;
        for (var i = 0; i < text.Length; i++)
        {
            if (text[i] == '\n')
            {
                _lineStarts.Add(i + 1);
            }
        }
    }

    public string Text { get; }

    public int Lines => _lineStarts.Count;

    /// <summary>Line from 0.</summary>
    public int LineOf(int offset)
    {
        var found = _lineStarts.BinarySearch(offset);
        return found >= 0 ? found : ~found - 1;
    }

    public int StartOf(int line) => line < _lineStarts.Count ? _lineStarts[line] : Text.Length;

    /// <summary>The end of the line's text, before its line break.</summary>
    public int EndOf(int line)
    {
        var end = line + 1 < _lineStarts.Count ? _lineStarts[line + 1] - 1 : Text.Length;
        return end > _lineStarts[line] && Text[end - 1] == '\r' ? end - 1 : end;
    }

    public ReadOnlySpan<char> LineText(int line) => Text.AsSpan(StartOf(line), EndOf(line) - StartOf(line));

    /// <summary>Line and column from 1; a character outside the basic multilingual plane is one column.</summary>
    public (int Line, int Column) PlaceOf(int offset)
    {
        offset = Math.Clamp(offset, 0, Text.Length);
        var line = LineOf(offset);
        var column = 1;
        for (var i = _lineStarts[line]; i < offset; i++)
        {
            if (!char.IsLowSurrogate(Text[i]))
            {
                column++;
            }
        }

        return (line + 1, column);
    }
}
