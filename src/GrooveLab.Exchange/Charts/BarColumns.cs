using GrooveLab.Exchange.Toml;

namespace GrooveLab.Exchange.Charts;

/// <summary>Replaces signs in the lines of bars of a section and keeps bar lines aligned where they were, also from one text to another (the
/// tune and its second line): if the width of a sign changes, the spaces after it change.</summary>
/// <param name="editor">Receives the changes.</param>
internal sealed class BarColumns(TomlEditor editor)
{
    private readonly List<Piece> _pieces = [];
    private readonly List<(TomlString Text, Func<IEnumerable<(int Start, int End)>> BarLines)> _texts = [];

    /// <summary>Adds a text that keeps its lines, changed or not.</summary>
    /// <param name="text">The text.</param>
    /// <param name="barLines">Gives the start and end of each bar line in its value, in order; called only if a text changes.</param>
    public void Add(TomlString text, Func<IEnumerable<(int Start, int End)>> barLines) => _texts.Add((text, barLines));

    /// <summary>Replaces signs.</summary>
    /// <param name="text">The text that contains them.</param>
    /// <param name="start">Their start in its value.</param>
    /// <param name="end">Their end in its value.</param>
    /// <param name="with">The replacement; it needs no escapes.</param>
    public void Replace(TomlString text, int start, int end, string with) =>
        _pieces.Add(new Piece(start == end ? editor.EndBefore(text, start) : text.PlaceOf(start), editor.EndBefore(text, end), with));

    /// <summary>Applies the changes.</summary>
    public void Write()
    {
        if (_pieces.Count == 0)
        {
            return;
        }

        var lines = Lines();
        var pieces = new Queue<Piece>(_pieces.OrderBy(piece => piece.Start).ThenBy(piece => piece.End));
        foreach (var slot in lines.SelectMany(line => line.Slots))
        {
            while (pieces.TryPeek(out var piece) && piece.Start <= slot.ContentEnd)
            {
                pieces.Dequeue();
                if (piece.Start >= slot.Start && piece.End <= slot.ContentEnd)
                {
                    slot.Replace(piece);
                }
                else
                {
                    Write(piece);
                }
            }

            slot.Close();
        }

        foreach (var rest in pieces)
        {
            Write(rest);
        }

        foreach (var line in lines)
        {
            line.Slots[^1].IsLast = true;
            line.Slots[^1].LineChanged = line.Slots.Exists(slot => slot.Changed);
        }

        Align(lines);
        foreach (var piece in lines.SelectMany(line => line.Slots).SelectMany(slot => slot.Written))
        {
            Write(piece);
        }
    }

    private void Write(Piece piece) => editor.ReplaceRaw(piece.Start, piece.End, piece.With);

    private List<Line> Lines()
    {
        var lines = new List<Line>();
        foreach (var (text, barLines) in _texts.OrderBy(text => text.Text.Start))
        {
            foreach (var (first, last) in barLines())
            {
                var (start, end) = (text.PlaceOf(first), editor.EndBefore(text, last));
                if (lines.Count == 0 || lines[^1].Text != text || lines[^1].Start != editor.LineStart(start))
                {
                    lines.Add(new Line(text, editor.LineStart(start), []) { Next = Math.Max(editor.LineStart(start), text.PlaceOf(0)) });
                }

                lines[^1].Slots.Add(new Slot(editor.Text, lines[^1].Start, lines[^1].Next, start));
                lines[^1].Next = end;
            }
        }

        return lines;
    }

    // Bar lines are aligned on purpose if there are spaces before some, or if all lines start with equal columns.
    private static bool HaveColumns(List<Line> lines)
    {
        if (lines.Exists(line => line.Slots.Exists(slot => slot.Width > 0 && slot.Trailing > 1)))
        {
            return true;
        }

        for (var i = 1; i < lines.Count; i++)
        {
            if (CommonBarLines(lines[i - 1], lines[i]) < Math.Min(2, Math.Min(lines[i - 1].Slots.Count, lines[i].Slots.Count)))
            {
                return false;
            }
        }

        return true;
    }

    // Bar lines, from the first, that are aligned.
    private static int CommonBarLines(Line a, Line b)
    {
        var count = 0;
        while (count < a.Slots.Count && count < b.Slots.Count && a.Slots[count].End - a.Start == b.Slots[count].End - b.Start)
        {
            count++;
        }

        return count;
    }

    // The lines of a text with columns belong together, and the lines of other texts that are aligned with them.
    private static int[] Groups(List<Line> lines)
    {
        var group = Enumerable.Range(0, lines.Count).ToArray();
        void Join(int one, int other)
        {
            var (from, to) = (group[other], group[one]);
            if (from == to)
            {
                return;
            }

            for (var i = 0; i < group.Length; i++)
            {
                group[i] = group[i] == from ? to : group[i];
            }
        }

        for (int start = 0, end; start < lines.Count; start = end)
        {
            end = start + 1;
            while (end < lines.Count && lines[end].Text == lines[start].Text)
            {
                end++;
            }

            var columns = HaveColumns(lines[start..end]);
            for (var i = start + 1; i < end && columns; i++)
            {
                Join(start, i);
            }

            for (var i = start; i < end; i++)
            {
                for (var j = 0; j < start; j++)
                {
                    if (AreAligned(lines[j], lines[i]))
                    {
                        Join(j, i);
                    }
                }
            }
        }

        return group;
    }

    // Lines of two texts, hardly by chance: all bar lines of one are aligned with those of the other, and there are several bars, or spaces that
    // make them so.
    private static bool AreAligned(Line one, Line other)
    {
        var common = Math.Min(one.Slots.Count, other.Slots.Count);
        var bars = one.Slots.Take(common).Concat(other.Slots.Take(common)).Where(slot => slot.Width > 0).ToList();
        return one.Start != other.Start && CommonBarLines(one, other) == common
            && (bars.Exists(slot => slot.Trailing > 1) ? bars.Count > 0 : bars.Count > 2 && one.Slots.Count == other.Slots.Count);
    }

    // Lines belong together as far as all their bar lines, from the first, are in the same columns.
    private static void Align(List<Line> lines)
    {
        var group = Groups(lines);
        var left = Enumerable.Range(0, lines.Count).ToList();
        for (var k = 0; left.Count > 0; k++)
        {
            left.RemoveAll(line => lines[line].Slots.Count <= k);
            foreach (var together in left.GroupBy(line => (group[line], lines[line].Slots[k].End - lines[line].Start)).ToList())
            {
                foreach (var line in together)
                {
                    group[line] = together.First();
                }

                AlignOne([.. together.Select(line => lines[line].Slots[k])]);
            }
        }
    }

    private static void AlignOne(IReadOnlyList<Slot> slots)
    {
        // Tabs align by themselves.
        if (slots.Any(slot => slot.IsTabbed))
        {
            return;
        }

        if (slots.Count == 1)
        {
            foreach (var slot in slots)
            {
                // Padding spaces may be removed or added; the last space separates.
                slot.NewTrailing = slot.Trailing > 1 ? Math.Max(1, slot.Trailing - slot.Grown) : slot.Trailing;
            }

            return;
        }

        if (!slots.Any(slot => slot.Changed))
        {
            return;
        }

        var parting = slots.Min(slot => slot.Trailing) > 0 ? 1 : 0;
        var before = slots[0].Column + slots[0].Width + slots[0].Trailing;
        var spare = before - slots.Max(slot => slot.Column + slot.Width + parting);
        var needed = slots.Max(slot => slot.Column + slot.Width + slot.Grown + parting);

        // Narrower only if all are; wider only if there is no room.
        var width = slots.All(slot => slot.Changed) && needed + spare < before ? needed + spare : Math.Max(before, needed);
        foreach (var slot in slots)
        {
            // The last bar lines of lines end columns without a bar after them: an unchanged line is left alone.
            slot.NewTrailing = slot is { IsLast: true, LineChanged: false } ? slot.Trailing : width - slot.Column - slot.Width - slot.Grown;
        }
    }

    private readonly record struct Piece(int Start, int End, string With);

    private sealed record Line(TomlString Text, int Start, List<Slot> Slots)
    {
        public int Next { get; set; }
    }

    /// <summary>The text between two bar lines of a line, or between its start and its first bar line.</summary>
    private sealed class Slot
    {
        private readonly string _text;
        private readonly List<Piece> _pieces = [];

        public Slot(string text, int line, int start, int end)
        {
            _text = text;
            Column = start - line;
            (Start, End, ContentEnd) = (start, end, end);
            while (ContentEnd > start && text[ContentEnd - 1] == ' ')
            {
                ContentEnd--;
            }

            NewTrailing = Trailing;
        }

        public int Start { get; }

        /// <summary>The column of its start.</summary>
        public int Column { get; }

        /// <summary>The start of its bar line.</summary>
        public int End { get; }

        /// <summary>The start of the spaces before its bar line.</summary>
        public int ContentEnd { get; }

        public int Trailing => End - ContentEnd;

        /// <summary>True when a tab precedes its bar line.</summary>
        public bool IsTabbed => ContentEnd > Start && _text[ContentEnd - 1] == '\t';

        /// <summary>True when its bar line is the last of its line.</summary>
        public bool IsLast { get; set; }

        /// <summary>For the last of its line: true when anything in the line changes.</summary>
        public bool LineChanged { get; set; }

        public int NewTrailing { get; set; }

        public int Width => ContentEnd - Start;

        /// <summary>The increase in width of its content.</summary>
        public int Grown { get; private set; }

        public bool Changed => _pieces.Count > 0;

        public IEnumerable<Piece> Written =>
            NewTrailing == Trailing ? _pieces : _pieces.Append(new Piece(ContentEnd, End, new string(' ', NewTrailing)));

        public void Replace(Piece piece)
        {
            Absorb(piece.Start);
            _pieces.Add(piece);
            Grown += piece.With.Length - (piece.End - piece.Start);
        }

        public void Close() => Absorb(ContentEnd);

        // Two or more spaces inside a bar keep the following text in its column.
        private void Absorb(int until)
        {
            var at = _pieces.Count > 0 ? _pieces[^1].End : until;
            while (at < until && Grown != 0)
            {
                var end = at;
                while (end < until && _text[end] == ' ')
                {
                    end++;
                }

                if (end - at > 1)
                {
                    var now = Math.Max(1, end - at - Grown);
                    _pieces.Add(new Piece(at, end, new string(' ', now)));
                    Grown += now - (end - at);
                }

                at = end + 1;
            }
        }
    }
}
