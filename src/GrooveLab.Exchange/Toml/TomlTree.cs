namespace GrooveLab.Exchange.Toml;

/// <summary>A value of the file with its place in the text.</summary>
internal abstract class TomlNode(int start, int end)
{
    /// <summary>Offset of its first character.</summary>
    public int Start { get; } = start;

    /// <summary>Offset after its last character.</summary>
    public int End { get; } = end;
}

/// <summary>A string, with the place of each of its characters.</summary>
internal sealed class TomlString(string value, int[] places, int start, int end) : TomlNode(start, end)
{
    public string Value { get; } = value;

    /// <summary>The offset in the file of a character of the value; its length gives the place after the last.</summary>
    public int PlaceOf(int index) => places[Math.Clamp(index, 0, places.Length - 1)];

    /// <summary>A part of it as a string of its own.</summary>
    public TomlString Slice(int from, int to) =>
        new(Value[from..to], places[from..(to + 1)], places[from], places[to]);

    /// <summary>A string that is not in a file, to be read alone.</summary>
    public static TomlString Of(string value) => new(value, new int[value.Length + 1], 0, 0);

    /// <summary>Several strings as one, separated by line breaks.</summary>
    public static TomlString Lines(IReadOnlyList<TomlString> lines) => lines.Count == 1 ? lines[0] : new TomlString(
        string.Join('\n', lines.Select(line => line.Value)),
        [.. lines.SelectMany(line => Enumerable.Range(0, line.Value.Length + 1).Select(line.PlaceOf))],
        lines[0].Start,
        lines[^1].End);
}

/// <summary>A whole number.</summary>
internal sealed class TomlInteger(long value, int start, int end) : TomlNode(start, end)
{
    public long Value { get; } = value;
}

/// <summary>A number with a decimal point.</summary>
internal sealed class TomlFloat(double value, int start, int end) : TomlNode(start, end)
{
    public double Value { get; } = value;
}

/// <summary>True or false.</summary>
internal sealed class TomlBoolean(bool value, int start, int end) : TomlNode(start, end)
{
    public bool Value { get; } = value;
}

/// <summary>A date, a time or anything else not used in charts.</summary>
internal sealed class TomlOther(int start, int end) : TomlNode(start, end);

/// <summary>A list of values, or of tables in double brackets.</summary>
internal sealed class TomlList(bool ofTables, int start, int end) : TomlNode(start, end)
{
    /// <summary>True for tables with headers in double brackets.</summary>
    public bool OfTables { get; } = ofTables;

    public List<TomlNode> Items { get; } = [];
}

/// <summary>A key with its value.</summary>
/// <param name="Key">The last word of its name.</param>
/// <param name="KeyStart">The place of that word.</param>
/// <param name="Value">The value.</param>
internal sealed record TomlEntry(string Key, int KeyStart, TomlNode Value)
{
    /// <summary>The start of the whole name, including the words before its dots.</summary>
    public int Start { get; init; } = KeyStart;
}

/// <summary>How a table is written.</summary>
internal enum TomlTableKind
{
    /// <summary>The file itself.</summary>
    File,

    /// <summary>A header in brackets.</summary>
    Header,

    /// <summary>In braces.</summary>
    Inline,

    /// <summary>Dotted keys.</summary>
    Dotted,
}

/// <summary>A table: keys and values in the order of the file.</summary>
internal sealed class TomlTable(int start, int end) : TomlNode(start, end)
{
    private readonly Dictionary<string, TomlEntry> _byKey = new(StringComparer.Ordinal);

    public List<TomlEntry> Entries { get; } = [];

    /// <summary>True when a line inside could not be read, so that a missing key is not reported.</summary>
    public bool Damaged { get; set; }

    /// <summary>How it is written.</summary>
    public TomlTableKind Kind { get; init; }

    /// <summary>For a table from dotted keys: the table that contains those keys; otherwise null.</summary>
    public TomlTable? Holder { get; init; }

    /// <summary>True when it has a header in brackets.</summary>
    public bool IsHeader => Kind == TomlTableKind.Header;

    /// <summary>True when it is in braces as the value of a key.</summary>
    public bool IsInline => Kind == TomlTableKind.Inline;

    /// <summary>True when it comes only from dotted keys.</summary>
    public bool IsDotted => Kind == TomlTableKind.Dotted;

    public TomlEntry? Find(string key) => _byKey.GetValueOrDefault(key);

    public bool Add(TomlEntry entry)
    {
        if (!_byKey.TryAdd(entry.Key, entry))
        {
            return false;
        }

        Entries.Add(entry);
        return true;
    }
}
