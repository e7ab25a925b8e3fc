using GrooveLab.Exchange.Toml;

namespace GrooveLab.Exchange.Charts;

/// <summary>
/// Replaces signs in lines of bars and keeps bar lines below each other where the text had them so: a sign of another width takes blanks
/// from behind it or gives some back.
/// </summary>
/// <param name="editor">Takes the changes.</param>
internal sealed class BarColumns(TomlEditor editor)
{
    private readonly List<Piece> _pieces = [];
    private readonly List<(int Start, int End, int LineFrom)> _barLines = [];

    /// <summary>Takes a text with its bar lines.</summary>
    /// <param name="text">The text.</param>
    /// <param name="barLines">Where in its value bar lines start and end, in order.</param>
    public void Add(TomlString text, IEnumerable<(int Start, int End)> barLines)
    {
        foreach (var (start, end) in barLines)
        {
            var place = text.PlaceOf(start);
            _barLines.Add((place, editor.EndBefore(text, end), Math.Max(editor.LineStart(place), text.PlaceOf(0))));
        }
    }

    /// <summary>Puts other signs in the place of some.</summary>
    /// <param name="text">The text in which they stand.</param>
    /// <param name="start">Where in its value they start.</param>
    /// <param name="end">Where they end.</param>
    /// <param name="with">What comes; it needs no escapes.</param>
    public void Replace(TomlString text, int start, int end, string with) =>
        _pieces.Add(new Piece(start == end ? editor.EndBefore(text, start) : text.PlaceOf(start), editor.EndBefore(text, end), with));

    /// <summary>Creates the changes.</summary>
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

    // Bar lines stand below each other on purpose where blanks were put before some, or where all lines begin alike.
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

    // Bar lines, from the first, that stand below each other.
    private static int CommonBarLines(Line a, Line b)
    {
        var count = 0;
        while (count < a.Slots.Count && count < b.Slots.Count && a.Slots[count].End - a.Start == b.Slots[count].End - b.Start)
        {
            count++;
        }

        return count;
    }

    // Lines belong together as far as all their bar lines, from the first, stand at the same columns.
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
        if (slots.Count == 1 || slots.Any(slot => slot.End - slot.Start != slots[0].End - slots[0].Start))
        {
            foreach (var slot in slots)
            {
                // Blanks that were put there may go or come; the last one parts.
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
            // The last bar lines of lines close columns, but no bar stands below them: a line that is not changed is left alone.
            slot.NewTrailing = slot is { IsLast: true, LineChanged: false } ? slot.Trailing : width - slot.Width - slot.Grown;
        }
    }

    private readonly record struct Piece(int Start, int End, string With);

    private sealed record Line(int Start, List<Slot> Slots)
    {
        public int Next { get; set; }
    }

    /// <summary>What stands between two bar lines of a line, or between its beginning and its first bar line.</summary>
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

        /// <summary>Where its bar line starts.</summary>
        public int End { get; }

        /// <summary>Where the blanks before its bar line start.</summary>
        public int ContentEnd { get; }

        public int Trailing => End - ContentEnd;

        /// <summary>True where its bar line is the last of its line.</summary>
        public bool IsLast { get; set; }

        /// <summary>For the last of its line: true when anything in the line is changed.</summary>
        public bool LineChanged { get; set; }

        public int NewTrailing { get; set; }

        public int Width => ContentEnd - Start;

        /// <summary>By how much what it holds has become wider.</summary>
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

        // Two blanks or more inside a bar were put there to keep what follows in its place.
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
