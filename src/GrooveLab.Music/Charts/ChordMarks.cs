using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Charts;

/// <summary>Reads chords in slash notation: "| Am | F C | G / / D / |". Independent of files: reports each problem with its position in
/// the text.</summary>
public sealed class ChordMarks
{
    private readonly string _text;
    private readonly IReadOnlyList<BarMeter>? _meters;
    private readonly Action<int, string, string> _tell;
    private readonly List<Written> _written = [];
    private readonly List<ChartBar> _bars = [];
    private readonly List<(BarMeter? Meter, bool Inserted)> _layout = [];
    private readonly List<int> _places = [];
    private IReadOnlyList<Mark>? _marksBefore;
    private ChordSymbol? _chordBefore;
    private bool _repeatTold;
    private bool _countUnsure;
    private bool _wrong;

    private ChordMarks(string text, IReadOnlyList<BarMeter>? meters, Action<int, string, string> tell)
    {
        _text = text;
        _meters = meters;
        _tell = tell;
    }

    /// <summary>The result of reading bars, as far as they could be read.</summary>
    /// <param name="Bars">The bars; null if there was a problem, which is then reported.</param>
    /// <param name="Layout">The meter of each bar, null where unknown, and whether the bar is inserted; null if the number of bars is
    /// uncertain.</param>
    /// <param name="Places">The position of each bar in the text.</param>
    public sealed record Result(IReadOnlyList<ChartBar>? Bars, IReadOnlyList<(BarMeter? Meter, bool Inserted)>? Layout, IReadOnlyList<int> Places)
    {
        /// <summary>The meter of each bar, null where unknown; null if the number of bars is uncertain.</summary>
        public IReadOnlyList<BarMeter?>? Meters { get; } = Layout?.Select(bar => bar.Meter).ToList();
    }

    /// <summary>Reads bars and reports problems.</summary>
    /// <param name="text">The chords.</param>
    /// <param name="meters">The section's meters, which repeat bar by bar; null if unknown.</param>
    /// <param name="bars">The number of bars of the section, if written; the chords repeat to fill them.</param>
    /// <param name="tell">Receives each problem: its position in the text, from 0, or -1 for the number of bars; what is wrong; what is
    /// accepted.</param>
    public static Result Read(string text, IReadOnlyList<BarMeter>? meters, int? bars, Action<int, string, string> tell)
    {
        var reader = new ChordMarks(text, meters, tell);
        reader.Scan();
        reader.Resolve(bars);
        return new Result(reader._wrong ? null : reader._bars, reader._countUnsure ? null : reader._layout, reader._places);
    }

    /// <summary>A written bar: the position of its meter in brackets, if any, and its marks.</summary>
    /// <param name="Bracket">The start and end of its brackets; null if it has no meter of its own.</param>
    /// <param name="Marks">Its marks, each / separate, with start and end.</param>
    public sealed record WrittenBar((int Start, int End)? Bracket, IReadOnlyList<(string Text, int Start, int End)> Marks);

    /// <summary>The written bars of a text without problems, and the start and end of each bar line.</summary>
    public static (IReadOnlyList<WrittenBar> Bars, IReadOnlyList<(int Start, int End)> BarLines) AsWritten(string text)
    {
        var bars = new List<WrittenBar>();
        var barLines = new List<(int Start, int End)>();
        var marks = new List<(string Text, int Start, int End)>();
        (int Start, int End)? bracket = null;
        var scanner = new BarScanner(text);
        while (scanner.Next() is { } item)
        {
            switch (item.Kind)
            {
                case BarItem.Mark when text.AsSpan(item.Start, item.End - item.Start).IndexOfAnyExcept('/') < 0:
                    marks.AddRange(Enumerable.Range(item.Start, item.End - item.Start).Select(at => ("/", at, at + 1)));
                    break;
                case BarItem.Mark:
                    marks.Add((text[item.Start..item.End], item.Start, item.End));
                    break;
                case BarItem.Bracket:
                    bracket = (item.Start, item.End);
                    break;
                default:
                    if (item.Kind == BarItem.BarLine)
                    {
                        barLines.Add((item.Start, item.End));
                    }

                    if (marks.Count > 0)
                    {
                        bars.Add(new WrittenBar(bracket, [.. marks]));
                        marks.Clear();
                        bracket = null;
                    }

                    break;
            }
        }

        return (bars, barLines);
    }

    private void Tell(int index, string what, string accepted)
    {
        _tell(index, what, accepted);
        _wrong = true;
    }

    private void Scan()
    {
        var scanner = new BarScanner(_text);
        var bar = new Written(0);
        while (scanner.Next() is { } item)
        {
            switch (item.Kind)
            {
                case BarItem.BarLine or BarItem.LineBreak or BarItem.End:
                    if (bar.Marks.Count > 0 || bar.Meter is not null)
                    {
                        TellSpaces(bar.Marks);
                        _written.Add(bar);
                    }
                    else if (item.Empty)
                    {
                        _countUnsure = true;
                        Tell(
                            item.Start,
                            "nothing in this bar",
                            "write a chord, % to repeat the bar before, or N.C. for no chord");
                    }

                    bar = new Written(item.End);
                    break;
                case BarItem.Bracket:
                    if (bar.Marks.Count > 0 || bar.Meter is not null)
                    {
                        Tell(item.Start, "a meter in brackets is inside a bar", "put it at the bar's beginning: | [2/4] G |");
                        bar.MeterUnsure = true;
                    }
                    else
                    {
                        bar.Place = item.Start;
                        bar.Meter = (item.Start + 1, item.End - 1);
                    }

                    break;
                case BarItem.OpenBracket:
                    _countUnsure = true;
                    Tell(item.Start, "this bracket is not closed", "write the bar's meter in brackets: | [2/4] G |");
                    break;
                case BarItem.Remark:
                    _countUnsure = true;
                    Tell(
                        item.Start,
                        "a remark cannot be among the chords: inside quotes # is a sharp",
                        "move the remark to a line of its own, before the chords or after their closing quotes");
                    break;
                case BarItem.RepeatSign:
                    _countUnsure = true;
                    if (!_repeatTold)
                    {
                        Tell(item.Start, "repeat signs are not accepted here", "write repeat = 2 in the section, or write the bars again");
                        _repeatTold = true;
                    }

                    break;
                default:
                    if (bar.Marks.Count == 0 && bar.Meter is null)
                    {
                        bar.Place = item.Start;
                    }

                    var word = _text[item.Start..item.End];
                    if (word.All(c => c == '/'))
                    {
                        for (var i = 0; i < word.Length; i++)
                        {
                            bar.Marks.Add(new Mark("/", item.Start + i));
                        }
                    }
                    else
                    {
                        bar.Marks.Add(new Mark(word, item.Start));
                    }

                    break;
            }
        }
    }

    // "D m" was meant as one chord: join marks that are only valid together.
    private void TellSpaces(List<Mark> marks)
    {
        for (var i = 1; i < marks.Count; i++)
        {
            var apart = marks[i - 1].Text;
            var together = apart;
            var more = 0;
            while (i + more < marks.Count && !IsReadable(marks[i + more].Text) && ChordSymbol.TryParse(together + marks[i + more].Text, out _, out _))
            {
                apart += " " + marks[i + more].Text;
                together += marks[i + more].Text;
                more++;
            }

            if (more > 0)
            {
                Tell(marks[i].Place, $"{Words.Quote(apart)} has a space inside", $"no space inside a chord: write {together}");
                marks[i - 1] = marks[i - 1] with { Text = together };
                marks.RemoveRange(i, more);
            }
        }
    }

    private static bool IsReadable(string mark) => mark is "/" or "%" || ChordSymbol.TryParse(mark, out _, out _);

    private void Resolve(int? bars)
    {
        if (_written.Count == 0)
        {
            _countUnsure = true;
            if (!_wrong)
            {
                Tell(0, "no bars found", "write bars between bar lines: \"| Am | G |\"");
            }

            return;
        }

        if (bars < _written.Count)
        {
            Tell(
                -1,
                $"the section has {Words.Count(bars.Value, "bar")}, but its chords fill {_written.Count}",
                $"write bars = {_written.Count} or more (the chords then repeat), or leave bars out");
            _countUnsure = true;
        }

        var total = Math.Max(bars ?? 0, _written.Count);
        var round = 0;
        for (var i = 0; i < total; i++)
        {
            var written = _written[i % _written.Count];
            var usual = _meters?[round % _meters.Count];
            var meter = MeterOf(written, usual);
            var inserted = written.Meter is not null && meter != usual;
            round += inserted ? 0 : 1;
            var chords = Chords(written, meter, (i % _written.Count) + 1);
            if (chords is not null && meter is not null)
            {
                _bars.Add(new ChartBar(meter, chords, inserted));
            }
            else
            {
                _wrong = true;
            }

            _layout.Add((meter, inserted));
            _places.Add(written.Place);
        }
    }

    private BarMeter? MeterOf(Written written, BarMeter? usual)
    {
        if (written.Meter is not { } inside)
        {
            return written.MeterUnsure ? null : usual;
        }

        var said = usual is null ? _meters : (_meters ?? []).Prepend(usual);
        if (MeterMark.Read(_text[inside.Start..inside.End], said, "write the bar's meter in brackets: | [2/4] G |", out var problem) is { } meter)
        {
            return meter;
        }

        Tell(inside.Start, problem!.Value.What, problem.Value.Accepted);
        return null;
    }

    private List<ChordSpan>? Chords(Written written, BarMeter? meter, int number)
    {
        var marks = written.Marks;
        if (marks.Count == 0)
        {
            Tell(written.Place, $"bar {number} has a meter but no chord", "write a chord after it: | [2/4] G |");
            return null;
        }

        IReadOnlyList<Mark> fitted = marks;
        if (marks.Exists(mark => mark.Text == "%"))
        {
            if (marks.Count > 1)
            {
                Tell(marks.Find(mark => mark.Text == "%").Place, "% repeats a whole bar", "make it stand alone in its bar: | Am | % |");
                foreach (var mark in marks.Where(mark => !IsReadable(mark.Text)))
                {
                    TellChord(mark);
                }

                return null;
            }

            if (_marksBefore is null)
            {
                if (number == 1 && _written[0] == written)
                {
                    Tell(written.Place, "% has no bar before it to repeat", "write the chord");
                }

                return null;
            }

            fitted = _marksBefore;
        }

        var lengths = meter is null ? null : Lengths(fitted.Count, meter);

        // Repeating a bar with a mistake is not a second mistake.
        _marksBefore = lengths is null ? null : fitted;
        if (lengths is null && meter is not null)
        {
            Misfit(written, fitted.Count, meter, number, repeated: !ReferenceEquals(fitted, marks));
        }

        return Spans(fitted, lengths, ReferenceEquals(fitted, marks));
    }

    /// <summary>The length of each of a number of marks: bar, groups (of any nesting) or units; null for another number.</summary>
    public static IReadOnlyList<Span>? Lengths(int marks, BarMeter meter)
    {
        if (marks == 1)
        {
            return [meter.Length];
        }

        for (var groups = meter.Grouping.Root.Children; groups.Count > 0; groups = Inside(groups))
        {
            if (groups.Count == marks)
            {
                return [.. groups.Select(group => meter.Unit * group.Units)];
            }

            if (groups.All(group => group.Children.Count == 0))
            {
                break;
            }
        }

        return marks == meter.Units ? [.. Enumerable.Repeat(meter.Unit, marks)] : null;
    }

    private static List<GroupNode> Inside(IReadOnlyList<GroupNode> groups) =>
        [.. groups.SelectMany(group => group.Children.Count == 0 ? [group] : group.Children)];

    private void Misfit(Written written, int marks, BarMeter meter, int number, bool repeated)
    {
        var unit = NoteValue.NameOf(meter.Unit);
        var ways = new List<string> { "one chord for the whole bar" };
        if (!meter.Grouping.IsUndivided)
        {
            ways.Add(string.Create(CultureInfo.InvariantCulture, $"{meter.GroupSizes.Count} (one for each group of {meter.Grouping})"));
        }

        ways.Add(string.Create(CultureInfo.InvariantCulture, $"{meter.Units} (one for each {unit}, with / where a chord continues)"));
        var remedy = $"write {Words.Or(ways)}";
        if (meter.Grouping.IsUndivided && marks < meter.Units)
        {
            var grouping = Grouping.Of([.. Enumerable.Range(0, marks).Select(i => (meter.Units + marks - 1 - i) / marks)]);
            remedy = $"the bar is undivided: give the meter a grouping such as {meter.Signature} {grouping} for {marks} chords, or {remedy}";
        }

        var what = repeated
            ? $"bar {number} repeats a bar of {marks} marks, which do not fit its meter {meter}"
            : $"bar {number} has {marks} marks, which do not fit its meter {meter}";
        Tell(written.Place, what, remedy);
    }

    private List<ChordSpan>? Spans(IReadOnlyList<Mark> marks, IReadOnlyList<Span>? lengths, bool firstTime)
    {
        var spans = new List<ChordSpan>();
        var at = Span.Zero;
        var well = lengths is not null;
        for (var i = 0; i < marks.Count; i++)
        {
            var length = lengths?[i] ?? Span.Zero;
            if (marks[i].Text == "/")
            {
                if (spans.Count > 0)
                {
                    spans[^1] = spans[^1] with { Length = spans[^1].Length + length };
                }
                else if (_chordBefore is not null)
                {
                    spans.Add(new ChordSpan(at, length, _chordBefore));
                }
                else
                {
                    if (_written[0].Marks.Count > 0 && _written[0].Marks[0].Place == marks[i].Place)
                    {
                        Tell(marks[i].Place, "/ continues the chord before, but there is none", "write the chord");
                    }

                    well = false;
                }
            }
            else if (ChordSymbol.TryParse(marks[i].Text, out var chord, out _))
            {
                spans.Add(new ChordSpan(at, length, chord));
            }
            else
            {
                if (firstTime)
                {
                    TellChord(marks[i]);
                }

                well = false;
            }

            at += length;
        }

        if (spans.Count > 0)
        {
            _chordBefore = spans[^1].Symbol;
        }

        return well ? spans : null;
    }

    private void TellChord(Mark mark)
    {
        if (ChordSymbol.TryParse(mark.Text, out _, out var problem))
        {
            return;
        }

        var (what, accepted) = Words.Split(problem, "write a chord such as Am7, G/B, Dsus4 or N.C.");
        Tell(mark.Place, what, accepted);
    }

    private readonly record struct Mark(string Text, int Place);

    private sealed class Written(int place)
    {
        public int Place { get; set; } = place;

        public (int Start, int End)? Meter { get; set; }

        public bool MeterUnsure { get; set; }

        public List<Mark> Marks { get; } = [];
    }
}
