using System.Globalization;
using System.Text;
using System.Xml;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads a score element by element: the large ones (score, part, measure) are entered, and each small one is read whole.</summary>
internal sealed class XmlItemReader : IDisposable
{
    private const int CachedLength = 24;
    private const int CacheSize = 4_096;

    private static readonly XmlReaderSettings Settings = new()
    {
        DtdProcessing = DtdProcessing.Ignore,
        XmlResolver = null,
        IgnoreComments = true,
        IgnoreProcessingInstructions = true,
        CloseInput = true,
        MaxCharactersInDocument = MusicXmlLimits.MostCharacters,
    };

    // Page and stems: not in the model.
    private static readonly HashSet<string> DrawingElements = new(StringComparer.Ordinal)
    {
        "defaults", "print", "credit", "part-name-display", "part-abbreviation-display", "measure-numbering", "stem", "part-symbol",
        "instruments", "concert-score", "encoding", "bass-separator",
    };

    // Position and style of drawing: not in the model.
    private static readonly HashSet<string> DrawingAttributes = new(StringComparer.Ordinal)
    {
        "default-x", "default-y", "relative-x", "relative-y", "font-family", "font-style", "font-size", "font-weight", "color", "placement",
        "orientation", "halign", "valign", "justify", "underline", "overline", "line-through", "rotation", "letter-spacing", "line-height",
        "dir", "lang", "space", "enclosure", "bezier-x", "bezier-y", "bezier-x2", "bezier-y2", "bezier-offset", "bezier-offset2",
        "dash-length", "space-length", "width", "height", "end-length", "spread",
    };

    private readonly XmlReader _xml;
    private readonly IXmlLineInfo _place;
    private readonly string?[] _cache = new string?[CacheSize];
    private readonly char[] _chunk = new char[4_096];
    private readonly List<XmlItem> _stack = [];
    private readonly StringBuilder _joined = new();
    private XmlItem? _joining;

    public XmlItemReader(TextReader text)
    {
        _xml = XmlReader.Create(text, Settings);
        _place = (IXmlLineInfo)_xml;
    }

    public int Line => _place.LineNumber;

    public string Name => _xml.LocalName;

    public int Depth => _xml.Depth;

    public string? Attribute(string name) => _xml.GetAttribute(name);

    /// <summary>Moves to the next element inside the one at a depth.</summary>
    /// <returns>False at its end.</returns>
    public bool NextInside(int depth)
    {
        // After an item the reader is already on what follows it.
        while (!_xml.EOF)
        {
            if (_xml.NodeType == XmlNodeType.Element && _xml.Depth == depth + 1)
            {
                return true;
            }

            if (_xml.NodeType == XmlNodeType.EndElement && _xml.Depth == depth)
            {
                return false;
            }

            Advance();
        }

        return false;
    }

    /// <summary>Moves to the root element.</summary>
    public void ToRoot() => _xml.MoveToContent();

    /// <summary>Enters the current element.</summary>
    /// <returns>False when it is empty; the reader is then after it.</returns>
    public bool Enter()
    {
        var isEmpty = _xml.IsEmptyElement;
        Advance();
        return !isEmpty;
    }

    /// <summary>Leaves the element whose end was reached.</summary>
    public void Leave() => Advance();

    /// <summary>Reads what follows the root element.</summary>
    public void ToEnd()
    {
        while (!_xml.EOF)
        {
            Advance();
        }
    }

    public void Skip()
    {
        var depth = _xml.Depth;
        if (Enter())
        {
            while (!_xml.EOF && !(_xml.NodeType == XmlNodeType.EndElement && _xml.Depth == depth))
            {
                CheckDepth();
                Advance();
            }

            Advance();
        }
    }

    /// <summary>Whether an element is layout or drawing.</summary>
    public static bool IsDrawing(string name) => DrawingElements.Contains(name);

    /// <summary>Reads the current element whole; the reader is then after it.</summary>
    /// <exception cref="MusicXmlRefusal">It is too large or too deep.</exception>
    public XmlItem ReadItem()
    {
        var count = 0;
        var item = Begin();
        if (!Enter())
        {
            return item;
        }

        _stack.Clear();
        _stack.Add(item);
        while (_stack.Count > 0)
        {
            switch (_xml.NodeType)
            {
                case XmlNodeType.Element when IsDrawing(_xml.LocalName):
                    Skip();
                    continue;
                case XmlNodeType.Element:
                    CheckDepth();
                    if (++count > MusicXmlLimits.MostInside)
                    {
                        throw new MusicXmlRefusal(Line, string.Create(
                            CultureInfo.InvariantCulture, $"more than {MusicXmlLimits.MostInside} elements are inside one {item.Name}"));
                    }

                    var child = Begin();
                    _stack[^1].Add(child);
                    if (!_xml.IsEmptyElement)
                    {
                        _stack.Add(child);
                    }

                    break;
                case XmlNodeType.EndElement:
                    if (_joining == _stack[^1])
                    {
                        _joining.Value = _joining.HasElements ? "" : _joined.ToString();
                        _joining = null;
                    }

                    _stack.RemoveAt(_stack.Count - 1);
                    break;
                case XmlNodeType.Text or XmlNodeType.CDATA or XmlNodeType.SignificantWhitespace:
                    AddText(_stack[^1]);
                    break;
                case XmlNodeType.Whitespace when _stack[^1].Name is "text" or "elision" or "words":
                    AddText(_stack[^1]);
                    break;
            }

            if (!_xml.Read() && _stack.Count > 0)
            {
                throw new MusicXmlRefusal(Line, "the file ends inside an element");
            }
        }

        return item;
    }

    public void Dispose() => _xml.Dispose();

    private void Advance() => _xml.Read();

    private void CheckDepth()
    {
        if (_xml.Depth > MusicXmlLimits.Deepest)
        {
            throw new MusicXmlRefusal(Line, string.Create(CultureInfo.InvariantCulture, $"elements are nested more than {MusicXmlLimits.Deepest} deep"));
        }
    }

    private XmlItem Begin()
    {
        var item = new XmlItem(_xml.LocalName, Line);
        while (_xml.MoveToNextAttribute())
        {
            if (!DrawingAttributes.Contains(_xml.LocalName) && _xml.Prefix != "xmlns" && _xml.Name != "xmlns")
            {
                item.Add(_xml.LocalName, _xml.Value);
            }
        }

        _xml.MoveToElement();
        return item;
    }

    private void AddText(XmlItem item)
    {
        var read = 0;
        for (int more; read < _chunk.Length && (more = _xml.ReadValueChunk(_chunk, read, _chunk.Length - read)) > 0;)
        {
            read += more;
        }

        var text = read < _chunk.Length ? Cached(_chunk.AsSpan(0, read)) : Long();
        if (!item.HasElements)
        {
            if (item.Value.Length == 0)
            {
                item.Value = text;
            }
            else
            {
                Join(item, text);
            }
        }
    }

    // Text in pieces, as between comments.
    private void Join(XmlItem item, string text)
    {
        if (_joining != item)
        {
            _joining = item;
            _joined.Clear().Append(item.Value);
        }

        _joined.Append(text);
        if (_joined.Length > MusicXmlLimits.LongestText)
        {
            throw TooLong();
        }
    }

    private string Long()
    {
        var text = new StringBuilder().Append(_chunk);
        for (int read; (read = _xml.ReadValueChunk(_chunk, 0, _chunk.Length)) > 0;)
        {
            text.Append(_chunk, 0, read);
            if (text.Length > MusicXmlLimits.LongestText)
            {
                throw TooLong();
            }
        }

        return text.ToString();
    }

    private MusicXmlRefusal TooLong() => new(Line, string.Create(
        CultureInfo.InvariantCulture, $"a text is longer than {MusicXmlLimits.LongestText} characters"));

    // Most texts are short words of the format and small numbers; each is kept once.
    private string Cached(ReadOnlySpan<char> text)
    {
        if (text.Length > CachedLength)
        {
            return text.ToString();
        }

        ref var known = ref _cache[string.GetHashCode(text, StringComparison.Ordinal) & (CacheSize - 1)];
        if (known is null || !text.SequenceEqual(known))
        {
            known = text.ToString();
        }

        return known;
    }
}
