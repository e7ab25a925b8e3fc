using GrooveLab.Music.Band;
using Tomlyn.Syntax;

namespace GrooveLab.Exchange.Toml;

/// <summary>Creates the tree of tables and values from the syntax of a file.</summary>
internal sealed class TomlTreeReader
{
    private const int DeepestKey = 8;
    private readonly SourceText _source;
    private readonly Problems _problems;
    private readonly IReadOnlySet<string> _manyTables;
    private readonly SyntaxRepair _repair;
    private readonly List<(TomlTable Table, int From, int To)> _ranges = [];

    private TomlTreeReader(SourceText source, Problems problems, IReadOnlySet<string> manyTables)
    {
        _source = source;
        _problems = problems;
        _manyTables = manyTables;
        _repair = new SyntaxRepair(source, problems);
    }

    /// <summary>Reads a text; null when it is too broken to continue.</summary>
    /// <param name="source">The text.</param>
    /// <param name="problems">Receives the problems.</param>
    /// <param name="manyTables">The names of the tables in double brackets.</param>
    public static TomlTable? Read(SourceText source, Problems problems, IReadOnlySet<string> manyTables) =>
        new TomlTreeReader(source, problems, manyTables).Read();

    private TomlTable? Read()
    {
        var document = _repair.Parse();
        if (document is null)
        {
            return null;
        }

        var root = new TomlTable(0, _source.Text.Length);
        var firstHeader = document.Tables.ChildrenCount > 0 ? Offset(document.Tables.GetChild(0)!) : _source.Text.Length;
        _ranges.Add((root, 0, firstHeader));
        foreach (var item in document.KeyValues)
        {
            AddEntry(root, item, 0);
        }

        for (var i = 0; i < document.Tables.ChildrenCount; i++)
        {
            var syntax = document.Tables.GetChild(i)!;
            var end = i + 1 < document.Tables.ChildrenCount ? Offset(document.Tables.GetChild(i + 1)!) : _source.Text.Length;
            var table = Open(root, syntax, end);
            if (table is null)
            {
                continue;
            }

            _ranges.Add((table, Offset(syntax), end));
            foreach (var item in syntax.Items)
            {
                AddEntry(table, item, Offset(syntax));
            }
        }

        foreach (var line in _repair.DamagedLines)
        {
            var offset = _source.StartOf(line);
            foreach (var (table, from, to) in _ranges)
            {
                table.Damaged |= from <= offset && offset < to;
            }

            // A lost header may have been a section to which others refer.
            root.Damaged = true;
        }

        return root;
    }

    private static int Offset(SyntaxNode node) => node.Span.Offset;

    private TomlTable? Open(TomlTable root, TableSyntaxBase syntax, int end)
    {
        var names = Names(syntax.Name);
        var at = Offset(syntax);
        if (names.Count is 0 or > DeepestKey)
        {
            _problems.Add(at, "this header names no table", $"write {_problems.Headers}");
            return null;
        }

        var parent = root;
        for (var i = 0; i < names.Count - 1; i++)
        {
            parent = Into(parent, names[i].Name, at);
            if (parent is null)
            {
                return null;
            }
        }

        var (name, _) = names[^1];
        var many = syntax is TableArraySyntax;
        if (names.Count == 1 && !many && _manyTables.Contains(name))
        {
            _problems.Add(at, $"[{name}] has single brackets", $"write [[{name}]]: a chart may have many");
            many = true;
        }
        else if (many && !(names.Count == 1 && _manyTables.Contains(name)) && names[0].Name is "section" && name is "tune")
        {
            _problems.Add(at, "[[section.tune]] has double brackets", "write [section.tune]: a section has one tune");
            many = false;
        }

        else if (!many && names.Count == 2 && names[0].Name is "section" && name is "ending")
        {
            _problems.Add(at, "[section.ending] has single brackets", "write [[section.ending]]: a section may have many");
            many = true;
        }

        else if (!many && names.Count == 2 && names[0].Name is "section" && name is "line")
        {
            _problems.Add(at, "[section.line] has single brackets", "write [[section.line]]: a section may have many");
            many = true;
        }

        var table = new TomlTable(at, end) { Kind = TomlTableKind.Header };
        var there = parent.Find(name);
        if (many)
        {
            if (there is null)
            {
                var list = new TomlList(ofTables: true, at, end);
                list.Items.Add(table);
                parent.Add(new TomlEntry(name, at, list));
                return table;
            }

            if (there.Value is TomlList { OfTables: true } tables)
            {
                tables.Items.Add(table);
                return table;
            }
        }
        else if (there is null)
        {
            parent.Add(new TomlEntry(name, at, table));
            return table;
        }

        var (line, _) = _source.PlaceOf(there.KeyStart);
        _problems.Add(at, $"'{name}' already exists in line {line}", "keep one of the two");
        return null;
    }

    private TomlTable? Into(TomlTable parent, string name, int at)
    {
        switch (parent.Find(name)?.Value)
        {
            case TomlTable table:
                return table;
            case TomlList { OfTables: true } list:
                return (TomlTable)list.Items[^1];
            case null:
                if (_manyTables.Contains(name))
                {
                    _problems.Add(at, $"this is before the first [[{name}]]", $"put it below the [[{name}]] to which it belongs");
                    return null;
                }

                var made = new TomlTable(at, at) { Kind = TomlTableKind.Dotted, Holder = parent };
                parent.Add(new TomlEntry(name, at, made));
                return made;
            default:
                _problems.Add(at, $"'{name}' is a value and cannot hold other keys", "use two different names");
                return null;
        }
    }

    private void AddEntry(TomlTable table, KeyValueSyntax item, int header)
    {
        var at = Offset(item);
        if (_repair.LostHeaders.Exists(lost => header <= lost && lost < at) || item.Key is null || item.Value is null)
        {
            return;
        }

        var names = Names(item.Key);
        if (names.Count is 0 or > DeepestKey)
        {
            _problems.Add(at, "this key has too many dots", "write one word before the =");
            return;
        }

        var into = table;
        foreach (var (name, place) in names.Take(names.Count - 1))
        {
            into = Into(into, name, place);
            if (into is null)
            {
                return;
            }
        }

        var (key, keyPlace) = names[^1];
        if (!into.Add(new TomlEntry(key, keyPlace, Value(item.Value)) { Start = at }))
        {
            var (line, _) = _source.PlaceOf(into.Find(key)!.KeyStart);
            _problems.Add(keyPlace, $"'{key}' is already set in line {line}", "keep one of the two");
        }
    }

    private static List<(string Name, int Place)> Names(KeySyntax? key)
    {
        var names = new List<(string Name, int Place)>();
        if (key?.Key is { } first)
        {
            names.Add((NameOf(first), Offset(first)));
            foreach (var dotted in key.DotKeys)
            {
                if (dotted.Key is { } next)
                {
                    names.Add((NameOf(next), Offset(next)));
                }
            }
        }

        return names;
    }

    private static string NameOf(SyntaxNode key) => key switch
    {
        BareKeySyntax bare => bare.Key?.Text ?? string.Empty,
        StringValueSyntax text => text.Value ?? string.Empty,
        _ => string.Empty,
    };

    private TomlNode Value(ValueSyntax syntax)
    {
        var start = syntax.Span.Offset;
        var end = start + syntax.Span.Length;
        switch (syntax)
        {
            case StringValueSyntax:
                return StringDecoder.Decode(_source.Text, start, end);
            case IntegerValueSyntax integer:
                return new TomlInteger(integer.Value, start, end);
            case FloatValueSyntax number:
                return new TomlFloat(number.Value, start, end);
            case BooleanValueSyntax boolean:
                return new TomlBoolean(boolean.Value, start, end);
            case ArraySyntax array:
                var list = new TomlList(ofTables: false, start, end);
                foreach (var item in array.Items)
                {
                    if (item.Value is { } value)
                    {
                        list.Items.Add(Value(value));
                    }
                }

                return list;
            case InlineTableSyntax inline:
                var table = new TomlTable(start, end) { Kind = TomlTableKind.Inline };
                foreach (var item in inline.Items)
                {
                    if (item.KeyValue is { } pair)
                    {
                        AddEntry(table, pair, start);
                    }
                }

                return table;
            default:
                return new TomlOther(start, end);
        }
    }
}
