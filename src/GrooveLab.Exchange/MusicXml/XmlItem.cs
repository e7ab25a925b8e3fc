namespace GrooveLab.Exchange.MusicXml;

/// <summary>One small element with all that is inside it, such as a note. Layout and drawing are left out.</summary>
internal sealed class XmlItem(string name, int line)
{
    private static readonly List<XmlItem> None = [];
    private static readonly List<(string Name, string Value)> NoAttributes = [];
    private List<XmlItem>? _children;
    private List<(string Name, string Value)>? _attributes;

    public string Name { get; } = name;

    /// <summary>The line on which it begins, from 1.</summary>
    public int Line { get; } = line;

    /// <summary>Its text as written; empty if it has elements inside.</summary>
    public string Value { get; set; } = "";

    public List<XmlItem> Children => _children ?? None;

    public List<(string Name, string Value)> Attributes => _attributes ?? NoAttributes;

    public bool HasElements => _children is not null;

    public void Add(XmlItem child)
    {
        (_children ??= []).Add(child);
        Value = "";
    }

    public void Add(string attribute, string value) => (_attributes ??= []).Add((attribute, value));

    /// <summary>Its first element of a name; null for none.</summary>
    public XmlItem? Element(string name)
    {
        foreach (var child in Children)
        {
            if (child.Name == name)
            {
                return child;
            }
        }

        return null;
    }

    public IEnumerable<XmlItem> Elements(string name)
    {
        foreach (var child in Children)
        {
            if (child.Name == name)
            {
                yield return child;
            }
        }
    }

    public bool Has(string name) => Element(name) is not null;

    /// <summary>The text of its first element of a name; null for none.</summary>
    public string? Text(string name) => Element(name)?.Value;

    public string? Attribute(string name)
    {
        foreach (var (known, value) in Attributes)
        {
            if (known == name)
            {
                return value;
            }
        }

        return null;
    }

    /// <summary>How many elements of a name directly follow the child at an index.</summary>
    public int CountAfter(int index, string name)
    {
        var count = 0;
        while (index + 1 + count < Children.Count && Children[index + 1 + count].Name == name)
        {
            count++;
        }

        return count;
    }
}
