using System.Globalization;
using System.Text;
using System.Xml;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Writes the elements of a score one after another; nothing of what was written is kept. Characters that XML cannot hold become
/// U+FFFD.</summary>
internal sealed class ScoreXml : IDisposable
{
    private const int CachedNumbers = 2_048;

    private static readonly XmlWriterSettings Settings = new()
    {
        Encoding = new UTF8Encoding(encoderShouldEmitUTF8Identifier: false),
        NewLineHandling = NewLineHandling.Entitize,
        CloseOutput = false,

        // Checked where texts come in, once.
        CheckCharacters = false,
    };

    private static readonly string[] Numbers = [.. Enumerable.Range(0, CachedNumbers).Select(number => number.ToString(CultureInfo.InvariantCulture))];

    private readonly XmlWriter _xml;

    public ScoreXml(Stream stream) => _xml = XmlWriter.Create(stream, Settings);

    /// <summary>A whole number.</summary>
    public static string TextOf(long number) =>
        number is >= 0 and < CachedNumbers ? Numbers[number] : number.ToString(CultureInfo.InvariantCulture);

    /// <summary>A decimal number, rounded after the sixteenth decimal: all numbers of a score file are decimal.</summary>
    public static string TextOf(Rational number) => number.IsInteger
        ? TextOf(number.Numerator)
        : ((decimal)number.Numerator / number.Denominator).ToString("0.################", CultureInfo.InvariantCulture);

    public void Declare() => _xml.WriteStartDocument();

    /// <summary>Begins a line.</summary>
    public void Line() => _xml.WriteWhitespace("\n");

    public void Open(string name) => _xml.WriteStartElement(name);

    public void Close() => _xml.WriteEndElement();

    public void Empty(string name)
    {
        _xml.WriteStartElement(name);
        _xml.WriteEndElement();
    }

    public void Empty(string name, int times)
    {
        for (var i = 0; i < times; i++)
        {
            Empty(name);
        }
    }

    /// <summary>An element with a text; nothing for null.</summary>
    public void Element(string name, string? value)
    {
        if (value is not null)
        {
            _xml.WriteStartElement(name);
            Text(value);
            _xml.WriteEndElement();
        }
    }

    /// <summary>An element with a number; nothing for null.</summary>
    public void Element(string name, int? value)
    {
        if (value is { } number)
        {
            _xml.WriteStartElement(name);
            _xml.WriteString(TextOf(number));
            _xml.WriteEndElement();
        }
    }

    /// <summary>An attribute; nothing for null.</summary>
    public void Attribute(string name, string? value)
    {
        if (value is not null)
        {
            _xml.WriteAttributeString(name, Legal(value));
        }
    }

    /// <summary>A number as an attribute; nothing for null.</summary>
    public void Attribute(string name, int? value)
    {
        if (value is { } number)
        {
            _xml.WriteAttributeString(name, TextOf(number));
        }
    }

    /// <summary>"yes" or "no" as an attribute; nothing for null.</summary>
    public void Attribute(string name, bool? value)
    {
        if (value is { } yes)
        {
            _xml.WriteAttributeString(name, yes ? "yes" : "no");
        }
    }

    /// <summary>The passes to which something applies; nothing for all.</summary>
    public void Passes(ValueList<int> passes)
    {
        if (passes.Count > 0)
        {
            _xml.WriteAttributeString("time-only", string.Join(',', passes));
        }
    }

    public void Text(string value)
    {
        if (value.Length > 0)
        {
            _xml.WriteString(Legal(value));
        }
    }

    /// <summary>What is inside an element, its attributes first.</summary>
    public void Details(ValueList<Detail> details)
    {
        foreach (var detail in details)
        {
            if (detail.Name[0] == '@')
            {
                Attribute(detail.Name[1..], detail.Value);
            }
        }

        Children(details);
    }

    /// <summary>The elements among details, without the attributes.</summary>
    public void Children(ValueList<Detail> details)
    {
        foreach (var detail in details)
        {
            if (detail.Name[0] != '@')
            {
                DetailElement(detail);
            }
        }
    }

    public void DetailElement(Detail detail)
    {
        Open(detail.Name);
        Details(detail.Inside);
        if (!detail.Inside.Any(inside => inside.Name[0] != '@'))
        {
            Text(detail.Value);
        }

        Close();
    }

    public void Flush() => _xml.Flush();

    public void Dispose() => _xml.Dispose();

    private static string Legal(string text)
    {
        for (var i = 0; i < text.Length; i++)
        {
            if (!XmlConvert.IsXmlChar(text[i]))
            {
                if (i + 1 < text.Length && XmlConvert.IsXmlSurrogatePair(text[i + 1], text[i]))
                {
                    i++;
                }
                else
                {
                    return Mended(text);
                }
            }
        }

        return text;
    }

    private static string Mended(string text)
    {
        var mended = new StringBuilder(text.Length);
        for (var i = 0; i < text.Length; i++)
        {
            if (i + 1 < text.Length && XmlConvert.IsXmlSurrogatePair(text[i + 1], text[i]))
            {
                mended.Append(text, i++, 2);
            }
            else
            {
                mended.Append(XmlConvert.IsXmlChar(text[i]) ? text[i] : '\uFFFD');
            }
        }

        return mended.ToString();
    }
}
