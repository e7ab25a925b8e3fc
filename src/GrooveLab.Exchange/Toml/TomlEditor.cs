using System.Globalization;
using System.Text;

namespace GrooveLab.Exchange.Toml;

/// <summary>Edits keys, values and tables of a text that was read as a tree; everything else stays the same, and no remark is lost. All
/// places refer to the text as read; the edits are applied together at the end.</summary>
internal sealed class TomlEditor
{
    private readonly TextEdits _edits;
    private readonly IReadOnlyList<(int Start, int End)> _remarks;
    private readonly Dictionary<TomlTable, InlineChange> _inline = [];
    private readonly List<string> _moved = [];
    private readonly SourceText _source;
    private readonly int[] _statements;

    /// <summary>Creates an editor for a text that was read without a problem.</summary>
    /// <param name="source">The text.</param>
    /// <param name="root">Its tree.</param>
    public TomlEditor(SourceText source, TomlTable root)
    {
        _source = source;
        Text = source.Text;
        _edits = new TextEdits(Text);
        _remarks = Remarks.In(Text);
        _statements = [.. Statements(root).Order()];
    }

    /// <summary>The text as read.</summary>
    public string Text { get; }

    /// <summary>Remarks that could not keep their place, each as in the text.</summary>
    public IReadOnlyList<string> MovedRemarks => _moved;

    /// <summary>The text with all edits.</summary>
    public string Finish()
    {
        foreach (var (table, change) in _inline)
        {
            FinishInline(table, change);
        }

        _inline.Clear();
        KeepRemarkColumns();
        return _edits.IsEmpty ? Text : _edits.Apply();
    }

    /// <summary>The start of the line of a place.</summary>
    public int LineStart(int offset) => _source.StartOf(_source.LineOf(Math.Clamp(offset, 0, Text.Length)));

    /// <summary>The start of the next line, or the end of the text.</summary>
    public int AfterLine(int offset) => _source.StartOf(_source.LineOf(Math.Clamp(offset, 0, Text.Length)) + 1);

    // ---- values ----

    /// <summary>Sets a key to a literal: replaces its value, or adds a line after the keys that usually come before it.</summary>
    /// <param name="table">The table.</param>
    /// <param name="key">The key.</param>
    /// <param name="literal">The value as TOML, its lines separated by line feeds.</param>
    /// <param name="order">The keys of such a table in their usual order.</param>
    public void Set(TomlTable table, string key, string literal, IReadOnlyList<string> order)
    {
        if (table.Find(key) is { } entry)
        {
            ReplaceValue(entry.Value, literal);
        }
        else
        {
            Insert(table, key, literal, order);
        }
    }

    /// <summary>Sets a key to a text; in an existing text only the difference changes, and its quotes stay.</summary>
    public void SetText(TomlTable table, string key, string value, IReadOnlyList<string> order)
    {
        if (table.Find(key)?.Value is TomlString text)
        {
            ReplaceText(text, value);
        }
        else
        {
            Set(table, key, TomlLiteral.Text(value), order);
        }
    }

    /// <summary>Replaces a value; remarks inside it move above the key.</summary>
    public void ReplaceValue(TomlNode node, string literal)
    {
        SaveRemarks(node.Start, node.End);
        _edits.Replace(node.Start, node.End, WithLineBreaks(literal, node.Start));
    }

    /// <summary>Gives a text another value, changing only the difference.</summary>
    public void ReplaceText(TomlString text, string value)
    {
        if (text.Value == value)
        {
            return;
        }

        var (from, to, until) = Difference(text.Value, value);
        var middle = Encoded(text, value[from..until]);
        if (middle is null || (IsOfManyLines(text) && (value.Length == 0 || value[0] == '\n' || value[^1] is '"' or '\'')))
        {
            ReplaceValue(text, TomlLiteral.Text(value));
        }
        else
        {
            ReplaceIn(text, from, to, middle);
        }
    }

    /// <summary>Replaces characters of a text. The new ones must need no escapes.</summary>
    /// <param name="text">The text.</param>
    /// <param name="from">The first character of its value to replace.</param>
    /// <param name="to">The one after the last.</param>
    /// <param name="with">The replacement.</param>
    public void ReplaceIn(TomlString text, int from, int to, string with)
    {
        var start = from == to ? EndBefore(text, from) : text.PlaceOf(from);
        start -= start > 0 && start < Text.Length && Text[start] == '\n' && Text[start - 1] == '\r' ? 1 : 0;
        _edits.Replace(start, EndBefore(text, to), with);
    }

    /// <summary>Replaces a stretch of the file.</summary>
    public void ReplaceRaw(int start, int end, string with) => _edits.Replace(start, end, with);

    /// <summary>The place after the text's character before the index; for 0 the place of its first character.</summary>
    public int EndBefore(TomlString text, int index)
    {
        if (index == 0)
        {
            return text.PlaceOf(0);
        }

        var place = text.PlaceOf(index - 1);
        return place + (Text[place] != '\\' || Text[text.Start] == '\'' ? 1 : Text[place + 1] switch
        {
            'u' => 6,
            'U' => 10,
            'x' => 4,
            _ => 2,
        });
    }

    /// <summary>Removes a key with its line; remarks stay on separate lines.</summary>
    public void Remove(TomlTable table, string key)
    {
        if (table.Find(key) is not { } entry)
        {
            return;
        }

        if (entry.Value is TomlTable { IsHeader: true } own)
        {
            RemoveTables([own]);
        }
        else if (entry.Value is TomlList { OfTables: true } tables)
        {
            RemoveTables([.. tables.Items.Cast<TomlTable>().SelectMany(Pieces)]);
        }
        else if (entry.Value is TomlTable { IsDotted: true } dotted)
        {
            foreach (var inner in dotted.Entries.ToList())
            {
                Remove(dotted, inner.Key);
            }
        }
        else if (InlineHolder(table) is { } holder)
        {
            Change(holder).Removed.Add(entry);
        }
        else
        {
            RemoveLines(LineStart(entry.Start), AfterLine(entry.Value.End), string.Empty);
        }
    }

    private void Insert(TomlTable table, string key, string literal, IReadOnlyList<string> order)
    {
        var prefix = table.IsDotted ? Prefix(table) : string.Empty;
        if (InlineHolder(table) is { } holder)
        {
            var quotes = Style(table.Entries.LastOrDefault());
            Change(holder).Added.Add($"{prefix}{key} = {WithLineBreaks(quotes.Quoted(literal), table.Start)}");
            return;
        }

        // After the nearest key that usually comes before it.
        var rank = Rank(order, key);
        var anchor = OwnLines(table).Where(line => Rank(order, line.Key) < rank).Select(line => line.Entry).MaxBy(entry => entry.Value.End);
        var first = OwnLines(table).Select(line => line.Entry).MinBy(entry => entry.Start);
        var indent = Indent(anchor?.Start ?? first?.Start ?? table.Start);
        var line = $"{indent}{Style(anchor ?? first).Line(prefix + key, literal)}\n";
        if (anchor is not null)
        {
            InsertLines(AfterLine(anchor.Value.End), line);
        }
        else if (table.IsHeader)
        {
            InsertLines(AfterLine(table.Start), line);
        }
        else
        {
            var place = first is null ? 0 : LineStart(first.Start);
            _edits.InsertBefore(place, WithLineBreaks(line, place));
        }
    }

    // The equals sign as in the adjacent line: with or without spaces, or in the column where that line and one beside it have it.
    private KeyStyle Style(TomlEntry? beside)
    {
        if (beside is not { Value: not TomlTable { IsHeader: true } and not TomlList { OfTables: true } })
        {
            return KeyStyle.Usual;
        }

        // Single quotes if the whole text has no others.
        var isPlain = !Text.Contains('"', StringComparison.Ordinal);

        var value = beside.Value.Start;
        var sign = Text.LastIndexOf('=', Math.Max(0, value - 1));
        if (sign < beside.Start || Text.AsSpan(beside.Start, sign - beside.Start).Contains('\n'))
        {
            return KeyStyle.Usual with { HasPlainQuotes = isPlain };
        }

        var after = Text[(sign + 1)..value];
        var isTight = sign > 0 && !char.IsWhiteSpace(Text[sign - 1]);
        var line = _source.LineOf(beside.Start);
        var width = sign - beside.Start;
        var isColumn = !isTight && new[] { line - 1, line + 1 }
            .Any(other => SignOf(other) is { } at && at - LineStart(at) == sign - LineStart(sign) && (IsFilled(at) || IsFilled(sign)));
        return new KeyStyle(isColumn ? width - 1 : 0, isTight && after.Length == 0 ? "=" : isTight ? "= " : after.Length == 0 ? " =" : " = ")
        {
            HasPlainQuotes = isPlain,
        };
    }

    private bool IsFilled(int sign) => Text.AsSpan(LineStart(sign), sign - LineStart(sign)).EndsWith("  ");

    // The place of the equals sign of a line with a key; null for another line.
    private int? SignOf(int line)
    {
        if (line < 0 || _source.StartOf(line) is var start && start >= Text.Length)
        {
            return null;
        }

        var end = Text.AsSpan(start).IndexOfAny("=\n#\"'");
        return end >= 0 && Text[start + end] == '=' ? start + end : null;
    }

    // A remark behind a value stays in its column as far as there is room, if there are several spaces before it, or if the line above or below has
    // a remark there too.
    private void KeepRemarkColumns()
    {
        var columns = new Dictionary<int, (int Spaces, int Start)>();
        foreach (var (start, _) in _remarks)
        {
            var line = LineStart(start);
            var spaces = start;
            while (spaces > line && Text[spaces - 1] == ' ')
            {
                spaces--;
            }

            if (spaces > line && spaces < start)
            {
                columns[_source.LineOf(start)] = (spaces, start);
            }
        }

        int? ColumnIn(int line) => columns.TryGetValue(line, out var found) ? found.Start - _source.StartOf(line) : null;
        foreach (var (line, (spaces, start)) in columns)
        {
            var isColumn = start - spaces > 1 || ColumnIn(line - 1) == ColumnIn(line) || ColumnIn(line + 1) == ColumnIn(line);
            if (isColumn && _edits.Growth(_source.StartOf(line), spaces) is { } more and not 0)
            {
                _edits.Replace(spaces, start, new string(' ', Math.Max(1, start - spaces - more)));
            }
        }
    }

    // ---- tables ----

    /// <summary>Writes tables in another order: unchanged ones keep their text, others are moved, removed or new.</summary>
    /// <param name="list">The tables.</param>
    /// <param name="name">The name in their headers.</param>
    /// <param name="order">For each new position: the index of the old table, or the keys of a new one with the keys of a table inside
    /// it.</param>
    /// <returns>False when a table to be moved is not in one piece; then nothing changes.</returns>
    public bool Arrange(TomlList list, string name, IReadOnlyList<(int? Was, NewTable? New)> order)
    {
        if (!list.OfTables)
        {
            var braces = Style((list.Items.FirstOrDefault() as TomlTable)?.Entries.FirstOrDefault());
            ArrangeItems(list, [.. order.Select(item => (item.Was, item.New?.Inline(braces)))]);
            return true;
        }

        var tables = list.Items.Cast<TomlTable>().ToList();
        var stable = Rising([.. order.Where(item => item.Was is not null).Select(item => item.Was!.Value)]);
        var kept = order.Where(item => item.Was is not null).Select(item => item.Was!.Value).ToHashSet();
        if (order.Any(item => item.Was is { } was && !stable.Contains(was) && !InOnePiece(tables[was])))
        {
            return false;
        }

        // The place for tables before the first one that stays.
        var lead = order.Where(item => item.Was is { } was && stable.Contains(was)).Select(item => (int?)item.Was).FirstOrDefault();
        var place = lead is { } index ? BlockStart(tables[index]) : EndOf(tables[^1]);
        var behind = lead is null;
        var open = behind;
        var (indent, style) = (Indent(tables[0].Start), Style(tables[0].Entries.Find(entry => entry.Value is not TomlTable)));
        foreach (var (was, made) in order)
        {
            if (was is { } stays && stable.Contains(stays))
            {
                place = BlockEnd(tables[stays]);
                (behind, open) = (true, true);
                continue;
            }

            if (open && Text[place - 1] != '\n')
            {
                _edits.InsertBetween(place, NewLine(place));
            }

            open = false;
            if (was is { } moves)
            {
                var (start, end) = (BlockStart(tables[moves]), BlockEnd(tables[moves]));
                _edits.RemoveMoved(start, end);
                _edits.InsertCopy(place, start, end);
                _edits.InsertBetween(place, Text[end - 1] != '\n' ? NewLine(place) : string.Empty);
            }
            else
            {
                // The next table keeps its blank line, if it has one.
                var lines = made!.Lines(name, indent, style);
                lines = behind || IsBlankAt(place) ? "\n" + lines : lines + "\n";
                _edits.InsertBetween(place, WithLineBreaks(lines, place));
            }
        }

        foreach (var gone in Enumerable.Range(0, tables.Count).Where(index => !kept.Contains(index)))
        {
            RemoveTables([.. Pieces(tables[gone])]);
        }

        return true;
    }

    /// <summary>Adds the first tables of a name, before another table and the remarks directly above that.</summary>
    public void InsertTables(TomlTable before, string name, IEnumerable<NewTable> tables)
    {
        var place = BlockStart(before);
        var style = Style(before.Entries.FirstOrDefault());
        var lines = tables.Select(table => table.Lines(name, Indent(before.Start), style));
        var text = string.Concat(lines.Select(line => IsBlankAt(place) ? "\n" + line : line + "\n"));
        _edits.InsertBetween(place, WithLineBreaks(text, place));
    }

    /// <summary>Adds the first tables of a name, after the keys of another table.</summary>
    public void AppendTables(TomlTable table, string name, IEnumerable<NewTable> tables) =>
        InsertLines(EndOf(table), string.Concat(tables.Select(made => "\n" + made.Lines(name))));

    /// <summary>Adds a table inside another one that has none of that name.</summary>
    /// <param name="table">The other one.</param>
    /// <param name="name">The name.</param>
    /// <param name="header">Its header, with brackets.</param>
    /// <param name="made">Its keys.</param>
    /// <param name="order">The keys of the other one in their usual order.</param>
    public void AddTable(TomlTable table, string name, string header, NewTable made, IReadOnlyList<string> order)
    {
        if (InlineHolder(table) is not null)
        {
            Insert(table, name, made.Inline(), order);
        }
        else
        {
            var indent = Indent(table.Start);
            InsertLines(EndOf(table), $"\n{indent}{header}\n{made.KeyLines(indent, Style(table.Entries.FirstOrDefault()))}");
        }
    }

    /// <summary>Adds a list of tables inside another one that has none of that name.</summary>
    /// <param name="table">The other one.</param>
    /// <param name="behind">A table inside it, after which they go; null to go after the other one's own keys and additions.</param>
    /// <param name="name">The name.</param>
    /// <param name="header">The name in their headers.</param>
    /// <param name="made">Their keys.</param>
    /// <param name="order">The keys of the other one in their usual order.</param>
    public void AddTables(
        TomlTable table, TomlTable? behind, string name, string header, IReadOnlyList<NewTable> made, IReadOnlyList<string> order)
    {
        if (InlineHolder(table) is not null)
        {
            Insert(table, name, "[" + string.Join(", ", made.Select(one => one.Inline())) + "]", order);
            return;
        }

        var place = behind is { IsHeader: true } ? EndOf(behind) : EndOf(table);
        var (indent, style) = (Indent(table.Start), Style(table.Entries.FirstOrDefault()));
        foreach (var one in made)
        {
            InsertLines(place, "\n" + one.Lines(header, indent, style));
        }
    }

    // The start of the remarks directly above a table, otherwise its header's line.
    private int LeadStart(TomlTable table)
    {
        var at = LineStart(table.Start);
        while (at > 0 && LineStart(at - 1) is var above && IsRemarkLine(above))
        {
            at = above;
        }

        return at;
    }

    // The header's table and those below it that belong to it.
    internal static IEnumerable<TomlTable> Pieces(TomlTable table) => table.Entries
        .SelectMany(entry => entry.Value is TomlList { OfTables: true } list ? list.Items : [entry.Value])
        .OfType<TomlTable>().Where(inner => inner.IsHeader).SelectMany(Pieces).OrderBy(inner => inner.Start).Prepend(table);

    private bool InOnePiece(TomlTable table)
    {
        var end = EndOf(table);
        foreach (var piece in Pieces(table).Skip(1))
        {
            for (var at = end; at < LineStart(piece.Start); at = AfterLine(at))
            {
                if (!IsBlankAt(at) && !IsRemarkLine(at))
                {
                    return false;
                }
            }

            end = EndOf(piece);
        }

        return true;
    }

    // With the remarks directly above it and the blank lines above those.
    private int BlockStart(TomlTable table)
    {
        var at = LeadStart(table);
        while (at > 0 && LineStart(at - 1) is var above && IsBlankAt(above))
        {
            at = above;
        }

        return at;
    }

    // With the remarks directly below its last key, unless they are directly above another header.
    private int BlockEnd(TomlTable table)
    {
        var end = Pieces(table).Max(EndOf);
        var at = end;
        while (at < Text.Length && IsRemarkLine(at))
        {
            at = AfterLine(at);
        }

        return at < Text.Length && !IsBlankAt(at) ? end : at;
    }

    /// <summary>After the last line of the table's own keys.</summary>
    private int EndOf(TomlTable table) => AfterLine(OwnLines(table).Select(line => line.Entry.Value.End).DefaultIfEmpty(table.Start).Max());

    private void RemoveTables(IReadOnlyList<TomlTable> tables)
    {
        foreach (var table in tables)
        {
            var header = LineStart(table.Start);
            var start = header;
            while (start > 0 && LineStart(start - 1) is var above && IsBlankAt(above))
            {
                start = above;
            }

            // The blank lines above are removed with it; remaining remarks go directly below the text above.
            var end = EndOf(table);
            var led = start == header && header > 0 && IsRemarkLine(LineStart(header - 1));
            var follows = end < Text.Length && !IsBlankAt(end);
            var kept = RemarksIn(start, end).Any() || led;
            RemoveLines(start, end, follows && (kept || start < header) && start > 0 ? "\n" : string.Empty);
        }
    }

    // Whole lines are removed; their remarks stay, on separate lines.
    private void RemoveLines(int start, int end, string behind)
    {
        var text = new StringBuilder();
        foreach (var (from, to) in RemarksIn(start, end))
        {
            text.Append(Indent(from)).Append(Text, from, to - from).Append('\n');
            if (!IsRemarkLine(LineStart(from)))
            {
                _moved.Add(Text[from..to]);
            }
        }

        var open = text.Length > 0 && start > 0 && Text[start - 1] != '\n' ? "\n" : string.Empty;
        _edits.Replace(start, end, WithLineBreaks(open + text + behind, start));
    }

    // ---- lists ----

    /// <summary>Writes the values of a list in another order, with additions or removals; unchanged values keep their text and
    /// remarks.</summary>
    /// <param name="list">The list.</param>
    /// <param name="order">For each new position: the index of the old value, or a literal.</param>
    public void ArrangeItems(TomlList list, IReadOnlyList<(int? Was, string? Literal)> order)
    {
        var stable = Rising([.. order.Where(item => item.Was is not null).Select(item => item.Was!.Value)]);
        var elsewhere = order.Where(item => item.Was is { } was && !stable.Contains(was)).Select(item => item.Was!.Value).ToHashSet();
        var from = (Old: -1, New: -1);
        for (var at = 0; at < order.Count; at++)
        {
            if (order[at].Was is { } was && stable.Contains(was))
            {
                FillGap(list, order, elsewhere, from, (was, at));
                from = (was, at);
            }
        }

        FillGap(list, order, elsewhere, from, (list.Items.Count, order.Count));
    }

    // Between two unchanged values: replace values one by one, then remove or add the rest.
    private void FillGap(
        TomlList list, IReadOnlyList<(int? Was, string? Literal)> order, HashSet<int> elsewhere, (int Old, int New) from, (int Old, int New) to)
    {
        var gone = Enumerable.Range(from.Old + 1, to.Old - from.Old - 1).ToList();
        var come = order.Skip(from.New + 1).Take(to.New - from.New - 1).ToList();
        var pairs = Math.Min(gone.Count, come.Count);
        for (var i = 0; i < pairs; i++)
        {
            var item = list.Items[gone[i]];
            InsertItem(item.Start, list, come[i]);
            if (elsewhere.Contains(gone[i]))
            {
                _edits.RemoveMoved(item.Start, item.End);
            }
            else
            {
                SaveRemarks(item.Start, item.End);
                _edits.Replace(item.Start, item.End, string.Empty);
            }
        }

        var last = pairs > 0 ? gone[pairs - 1] : from.Old;
        if (come.Count > pairs)
        {
            InsertItems(list, last, come[pairs..]);
        }
        else if (gone.Count > pairs)
        {
            RemoveItems(list, last, gone[pairs..], elsewhere);
        }
    }

    private void InsertItem(int place, TomlList list, (int? Was, string? Literal) item)
    {
        if (item.Was is { } was)
        {
            _edits.InsertCopy(place, list.Items[was].Start, list.Items[was].End);
        }
        else
        {
            _edits.InsertBetween(place, WithLineBreaks(item.Literal!, place));
        }
    }

    private void InsertItems(TomlList list, int after, IReadOnlyList<(int? Was, string? Literal)> items)
    {
        if (list.Items.Count == 0)
        {
            _edits.InsertBetween(list.End - 1, WithLineBreaks(string.Join(", ", items.Select(item => item.Literal)), list.Start));
            return;
        }

        if (after < 0)
        {
            var first = list.Items[0].Start;
            var alone = Text.AsSpan(LineStart(first)..first).IsWhiteSpace();
            foreach (var item in items)
            {
                InsertItem(first, list, item);
                _edits.InsertBetween(first, alone ? "," + NewLine(first) + Indent(first) : ", ");
            }

            return;
        }

        var before = list.Items[after];
        var comma = CommaAfter(list, after);
        var behind = AfterLine(comma + 1 ?? before.End);
        if (Text.AsSpan(LineStart(before.Start)..before.Start).IsWhiteSpace() && behind < list.End && IsBlankOrRemark(comma + 1 ?? before.End, behind))
        {
            if (comma is null)
            {
                _edits.InsertBetween(before.End, ",");
            }

            for (var i = 0; i < items.Count; i++)
            {
                _edits.InsertBetween(behind, Indent(before.Start));
                InsertItem(behind, list, items[i]);
                _edits.InsertBetween(behind, (comma is null && i == items.Count - 1 ? string.Empty : ",") + NewLine(behind));
            }

            return;
        }

        foreach (var item in items)
        {
            _edits.InsertBetween(before.End, ", ");
            InsertItem(before.End, list, item);
        }
    }

    private void RemoveItems(TomlList list, int after, IReadOnlyList<int> gone, HashSet<int> elsewhere)
    {
        var last = list.Items[gone[^1]];
        if (gone[^1] == list.Items.Count - 1 && CommaAfter(list, gone[^1]) is null && after >= 0
            && !Text.AsSpan(list.Items[after].End..last.End).Contains('\n'))
        {
            RemoveRange(list.Items[after].End, last.End, gone.Any(elsewhere.Contains));
            return;
        }

        foreach (var index in gone)
        {
            var item = list.Items[index];
            var end = CommaAfter(list, index) + 1 ?? item.End;
            var line = LineStart(item.Start);
            var behind = AfterLine(end);
            if (!elsewhere.Contains(index) && Text.AsSpan(line..item.Start).IsWhiteSpace() && behind < list.End && IsBlankOrRemark(end, behind))
            {
                RemoveLines(line, behind, string.Empty);
                continue;
            }

            SaveRemarks(item.End, end);
            while (end < list.End - 1 && Text[end] == ' ')
            {
                end++;
            }

            RemoveRange(item.Start, end, elsewhere.Contains(index));
        }
    }

    private void RemoveRange(int start, int end, bool copied)
    {
        if (copied)
        {
            _edits.RemoveMoved(start, end);
        }
        else
        {
            _edits.Replace(start, end, string.Empty);
        }
    }

    private int? CommaAfter(TomlList list, int index)
    {
        var at = list.Items[index].End;
        var end = index + 1 < list.Items.Count ? list.Items[index + 1].Start : list.End - 1;
        while (at < end)
        {
            if (Text[at] == ',')
            {
                return at;
            }

            at = Text[at] == '#' ? AfterLine(at) : at + 1;
        }

        return null;
    }

    // ---- tables in braces ----

    private InlineChange Change(TomlTable table)
    {
        if (!_inline.TryGetValue(table, out var change))
        {
            _inline.Add(table, change = new InlineChange());
        }

        return change;
    }

    private void FinishInline(TomlTable table, InlineChange change)
    {
        var items = InlineItems(table).OrderBy(entry => entry.Start).ToList();
        var lastKept = items.FindLastIndex(entry => !change.Removed.Contains(entry));
        var kept = false;
        for (var i = 0; i < items.Count; i++)
        {
            if (!change.Removed.Contains(items[i]))
            {
                kept = true;
                continue;
            }

            var from = kept ? items[i - 1].Value.End : items[i].Start;
            var to = kept || i == items.Count - 1 ? items[i].Value.End : items[i + 1].Start;
            SaveRemarks(from, to);
            _edits.Replace(from, to, string.Empty);
        }

        if (change.Added.Count > 0)
        {
            var all = string.Join(", ", change.Added);
            var place = lastKept >= 0 ? items[lastKept].Value.End : table.Start + 1;
            _edits.InsertBehind(place, lastKept >= 0 ? ", " + all : items.Count > 0 ? all : $" {all}{(Text[table.Start + 1] == '}' ? " " : string.Empty)}");
        }
    }

    private static IEnumerable<TomlEntry> InlineItems(TomlTable table) => table.Entries.SelectMany(entry =>
        entry.Value is TomlTable { IsDotted: true } dotted ? InlineItems(dotted) : [entry]);

    private static TomlTable? InlineHolder(TomlTable table) =>
        table.IsInline ? table : table.IsDotted && table.Holder is { } holder ? InlineHolder(holder) : null;

    private static string Prefix(TomlTable dotted)
    {
        var holder = dotted.Holder!;
        var name = holder.Entries.First(entry => ReferenceEquals(entry.Value, dotted)).Key;
        return (holder.IsDotted ? Prefix(holder) : string.Empty) + name + ".";
    }

    // ---- places ----

    // The keys on separate lines in the table, with the first word of each.
    private static IEnumerable<(string Key, TomlEntry Entry)> OwnLines(TomlTable table)
    {
        foreach (var entry in table.Entries)
        {
            if (entry.Value is TomlTable { IsDotted: true } dotted)
            {
                foreach (var (_, inner) in OwnLines(dotted))
                {
                    yield return (entry.Key, inner);
                }
            }
            else if (entry.Value is not TomlList { OfTables: true } and not TomlTable { IsHeader: true })
            {
                yield return (entry.Key, entry);
            }
        }
    }

    private static int Rank(IReadOnlyList<string> order, string key)
    {
        for (var i = 0; i < order.Count; i++)
        {
            if (order[i] == key)
            {
                return i;
            }
        }

        return order.Count;
    }

    // The largest set of numbers that ascend in the given order.
    private static HashSet<int> Rising(IReadOnlyList<int> numbers)
    {
        var tails = new List<int>();
        var before = new int[numbers.Count];
        for (var i = 0; i < numbers.Count; i++)
        {
            var low = 0;
            var high = tails.Count;
            while (low < high)
            {
                var middle = (low + high) / 2;
                (low, high) = numbers[tails[middle]] < numbers[i] ? (middle + 1, high) : (low, middle);
            }

            before[i] = low > 0 ? tails[low - 1] : -1;
            if (low == tails.Count)
            {
                tails.Add(i);
            }
            else
            {
                tails[low] = i;
            }
        }

        var found = new HashSet<int>();
        for (var i = tails.Count > 0 ? tails[^1] : -1; i >= 0; i = before[i])
        {
            found.Add(numbers[i]);
        }

        return found;
    }

    private void InsertLines(int place, string lines)
    {
        var open = place > 0 && Text[place - 1] != '\n' ? "\n" : string.Empty;
        _edits.InsertBehind(place, WithLineBreaks(open + lines, place));
    }

    // Remarks inside replaced text move to a line above its key.
    private void SaveRemarks(int start, int end)
    {
        foreach (var (from, to) in RemarksIn(start, end))
        {
            var line = StatementLine(start);
            _edits.InsertBefore(line, $"{Indent(line)}{Text[from..to]}{NewLine(line)}");
            _moved.Add(Text[from..to]);
        }
    }

    // The starts of keys and headers: these are never inside a text or a list.
    private static IEnumerable<int> Statements(TomlTable table)
    {
        if (table.IsHeader)
        {
            yield return table.Start;
        }

        foreach (var entry in table.Entries)
        {
            var inside = entry.Value switch
            {
                TomlList { OfTables: true } list => list.Items.Cast<TomlTable>().SelectMany(Statements),
                TomlTable { IsInline: false } inner => Statements(inner),
                _ => [entry.Start],
            };
            foreach (var start in inside)
            {
                yield return start;
            }
        }
    }

    // The start of the line with the key whose value contains the place.
    private int StatementLine(int place)
    {
        var found = Array.BinarySearch(_statements, place);
        return LineStart(_statements[found >= 0 ? found : Math.Max(0, ~found - 1)]);
    }

    private IEnumerable<(int Start, int End)> RemarksIn(int start, int end)
    {
        var low = 0;
        var high = _remarks.Count;
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = _remarks[middle].Start < start ? (middle + 1, high) : (low, middle);
        }

        for (var i = low; i < _remarks.Count && _remarks[i].Start < end; i++)
        {
            yield return _remarks[i];
        }
    }

    private bool IsRemarkLine(int line)
    {
        var at = line;
        while (at < Text.Length && Text[at] is ' ' or '\t')
        {
            at++;
        }

        return at < Text.Length && Text[at] == '#' && RemarksIn(at, at + 1).Any();
    }

    private bool IsBlankAt(int line) => line < Text.Length && Text.AsSpan(line..AfterLine(line)).IsWhiteSpace();

    private bool IsBlankOrRemark(int from, int to)
    {
        var rest = Text.AsSpan(from, to - from).TrimStart();
        return rest.IsEmpty || rest[0] == '#';
    }

    private string Indent(int place)
    {
        var start = LineStart(place);
        var end = start;
        while (end < Text.Length && Text[end] is ' ' or '\t')
        {
            end++;
        }

        return Text[start..end];
    }

    // The kind of line break in the surrounding lines.
    private string NewLine(int place)
    {
        var line = _source.LineOf(Math.Clamp(place, 0, Text.Length));
        var end = line > 0 ? _source.StartOf(line) : _source.StartOf(1);
        return end > 1 && Text[end - 1] == '\n' && Text[end - 2] == '\r' ? "\r\n" : "\n";
    }

    private string WithLineBreaks(string lines, int place) =>
        NewLine(place) == "\n" ? lines : lines.Replace("\n", "\r\n", StringComparison.Ordinal);

    private static (int From, int To, int Until) Difference(string old, string now)
    {
        var from = 0;
        while (from < old.Length && from < now.Length && old[from] == now[from])
        {
            from++;
        }

        var tail = 0;
        while (tail < old.Length - from && tail < now.Length - from && old[^(tail + 1)] == now[^(tail + 1)])
        {
            tail++;
        }

        // Never inside a pair of surrogates.
        from -= from > 0 && char.IsHighSurrogate(old[from - 1]) ? 1 : 0;
        tail -= tail > 0 && char.IsLowSurrogate(old[^tail]) ? 1 : 0;
        return (from, old.Length - tail, now.Length - tail);
    }

    private bool IsOfManyLines(TomlString text) =>
        text.End - text.Start >= 6 && Text.AsSpan(text.Start, 3).IndexOfAnyExcept(Text[text.Start]) < 0;

    // The characters as written in the text's quotes; null if impossible.
    private string? Encoded(TomlString text, string characters)
    {
        var many = IsOfManyLines(text);
        if (Text[text.Start] == '"')
        {
            return many
                ? string.Join(NewLine(text.Start), characters.Split('\n').Select(TomlLiteral.Escape))
                : TomlLiteral.Escape(characters);
        }

        return characters.All(c => c != '\'' && (!char.IsControl(c) || c == '\t' || (many && c == '\n')))
            ? WithLineBreaks(characters, text.Start)
            : null;
    }

    /// <summary>How a key and its equals sign are written.</summary>
    /// <param name="Width">The width to which the key is filled with spaces; 0 for none.</param>
    /// <param name="Sign">The equals sign with the spaces around it.</param>
    public sealed record KeyStyle(int Width, string Sign)
    {
        /// <summary>The usual way.</summary>
        public static KeyStyle Usual { get; } = new(0, " = ");

        /// <summary>True for texts in single quotes, in which nothing is escaped.</summary>
        public bool HasPlainQuotes { get; init; }

        /// <summary>A key with its value.</summary>
        public string Line(string key, string literal) => key.PadRight(Width) + Sign + Quoted(literal);

        /// <summary>A value in the quotes of this style, if they can hold it.</summary>
        public string Quoted(string literal) => HasPlainQuotes && literal.AsSpan().IndexOfAny("'\\\n") < 0 ? literal.Replace('"', '\'') : literal;
    }

    /// <summary>A new table: its keys, and those of one table inside it.</summary>
    public sealed record NewTable(IReadOnlyList<(string Key, string Literal)> Keys)
    {
        /// <summary>The tables inside it, in order: the name of each, and whether it is in a list.</summary>
        public IReadOnlyList<(string Name, bool InList, NewTable Table)> Inner { get; init; } = [];

        /// <summary>With a header in double brackets.</summary>
        /// <param name="name">The name in it.</param>
        /// <param name="indent">The indentation of each line.</param>
        /// <param name="style">How its keys are written; null for the usual way.</param>
        public string Lines(string name, string indent = "", KeyStyle? style = null) => Lines(name, inList: true, indent, style);

        private string Lines(string name, bool inList, string indent, KeyStyle? style) =>
            $"{indent}{(inList ? $"[[{name}]]" : $"[{name}]")}\n{KeyLines(indent, style)}"
            + string.Concat(Inner.Select(inner => "\n" + inner.Table.Lines($"{name}.{inner.Name}", inner.InList, indent, style)));

        /// <summary>A line for each key.</summary>
        public string KeyLines(string indent = "", KeyStyle? style = null) =>
            string.Concat(Keys.Select(key => $"{indent}{(style ?? KeyStyle.Usual).Line(key.Key, key.Literal.Replace("\n", "\n" + indent, StringComparison.Ordinal))}\n"));

        /// <summary>In braces.</summary>
        /// <param name="style">How its values are quoted; null for the usual way.</param>
        public string Inline(KeyStyle? style = null)
        {
            var keys = Keys.Concat(Inner.GroupBy(inner => inner.Name, StringComparer.Ordinal).Select(group => (
                Key: group.Key,
                Literal: group.First().InList
                    ? "[" + string.Join(", ", group.Select(inner => inner.Table.Inline(style))) + "]"
                    : group.First().Table.Inline(style))));
            return "{ " + string.Join(", ", keys.Select(key => $"{key.Key} = {(style ?? KeyStyle.Usual).Quoted(key.Literal)}")) + " }";
        }
    }

    private sealed class InlineChange
    {
        public HashSet<TomlEntry> Removed { get; } = [];

        public List<string> Added { get; } = [];
    }
}
