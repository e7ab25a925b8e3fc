using GrooveLab.Exchange.Toml;

namespace GrooveLab.Exchange.Charts;

/// <summary>Replaces signs in lines of bars and keeps bar lines aligned where they were: if the width of a sign changes, the spaces after
/// it change.</summary>
/// <param name="editor">Receives the changes.</param>
internal sealed class BarColumns(TomlEditor editor)
{
    private readonly List<Piece> _pieces = [];
    private readonly List<(int Start, int End, int LineFrom)> _barLines = [];

    /// <summary>Adds a text with its bar lines.</summary>
    /// <param name="text">The text.</param>
    /// <param name="barLines">The start and end of each bar line in its value, in order.</param>
    public void Add(TomlString text, IEnumerable<(int Start, int End)> barLines)
    {
        foreach (var (start, end) in barLines)
        {
            var place = text.PlaceOf(start);
            _barLines.Add((place, editor.EndBefore(text, end), Math.Max(editor.LineStart(place), text.PlaceOf(0))));
        }
    }

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
        foreach (var (start, end, from) in _barLines)
        {
            if (lines.Count == 0 || lines[^1].Start != editor.LineStart(start))
            {
                lines.Add(new Line(editor.LineStart(start), []) { Next = from });
            }

            lines[^1].Slots.Add(new Slot(editor.Text, lines[^1].Next, start));
            lines[^1].Next = end;
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

    // Lines belong together as far as all their bar lines, from the first, are in the same columns.
    private static void Align(List<Line> lines)
    {
        var columns = lines.Count > 1 && HaveColumns(lines);
        var group = Enumerable.Range(0, lines.Count).Select(line => columns ? 0 : line).ToArray();
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

        if (slots.Count == 1 || slots.Any(slot => slot.End - slot.Start != slots[0].End - slots[0].Start))
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
        var before = slots[0].End - slots[0].Start;
        var spare = before - slots.Max(slot => slot.Width + parting);
        var needed = slots.Max(slot => slot.Width + slot.Grown + parting);
        var width = slots.All(slot => slot.Changed) ? needed + spare : Math.Max(before, needed);
        foreach (var slot in slots)
        {
            // The last bar lines of lines end columns without a bar after them: an unchanged line is left alone.
            slot.NewTrailing = slot is { IsLast: true, LineChanged: false } ? slot.Trailing : width - slot.Width - slot.Grown;
        }
    }

    private readonly record struct Piece(int Start, int End, string With);

    private sealed record Line(int Start, List<Slot> Slots)
    {
        public int Next { get; set; }
    }

    /// <summary>The text between two bar lines of a line, or between its start and its first bar line.</summary>
    private sealed class Slot
    {
        private readonly string _text;
        private readonly List<Piece> _pieces = [];

        public Slot(string text, int start, int end)
        {
            _text = text;
            (Start, End, ContentEnd) = (start, end, end);
            while (ContentEnd > start && text[ContentEnd - 1] == ' ')
            {
                ContentEnd--;
            }

            NewTrailing = Trailing;
        }

        public int Start { get; }

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
