using System.Globalization;
using GrooveLab.Exchange.Charts.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Score;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads a section's chords: bars in slash notation.</summary>
internal sealed class ChordBars
{
    private readonly TomlString _text;
    private readonly IReadOnlyList<BarMeter> _meters;
    private readonly Problems _problems;
    private readonly List<Written> _written = [];
    private readonly List<ChartBar> _bars = [];
    private readonly List<int> _places = [];
    private IReadOnlyList<Mark>? _marksBefore;
    private ChordSymbol? _chordBefore;
    private bool _repeatTold;
    private bool _wrong;

    private ChordBars(TomlString text, IReadOnlyList<BarMeter> meters, Problems problems)
    {
        _text = text;
        _meters = meters;
        _problems = problems;
    }

    /// <summary>Reads bars; null when something is wrong, which is then told.</summary>
    /// <param name="text">The chords.</param>
    /// <param name="meters">The section's meters, which go round bar by bar.</param>
    /// <param name="bars">How many bars the section has, when it says so; the chords go round until then.</param>
    /// <param name="problems">Takes what is wrong.</param>
    /// <param name="places">Where each bar stands in the file.</param>
    public static IReadOnlyList<ChartBar>? Read(
        TomlString text, IReadOnlyList<BarMeter> meters, (int Count, int Place)? bars, Problems problems, out IReadOnlyList<int> places)
    {
        var reader = new ChordBars(text, meters, problems);
        places = reader._places;
        reader.Scan();
        reader.Resolve(bars);
        return reader._wrong ? null : reader._bars;
    }

    /// <summary>
    /// Tells which chords cannot be read, where the bars cannot be laid out because their meter is not known.
    /// </summary>
    public static void CheckChords(TomlString text, Problems problems)
    {
        var reader = new ChordBars(text, [], problems);
        reader.Scan();
        foreach (var mark in reader._written.SelectMany(written => written.Marks).Where(mark => mark.Text is not ("/" or "%")))
        {
            if (!ChordSymbol.TryParse(mark.Text, out _, out var problem))
            {
                reader.TellChord(mark, problem);
            }
        }
    }

    /// <summary>
    /// Where the marks of each written bar start and end in the text, its meter in brackets left out; null when the text is not
    /// bars.
    /// </summary>
    public static IReadOnlyList<(int Start, int End)>? MarkSpans(TomlString text)
    {
        var spans = new List<(int Start, int End)>();
        var scanner = new BarScanner(text.Value);
        (int Start, int End)? bar = null;
        while (scanner.Next() is { } item)
        {
            switch (item.Kind)
            {
                case BarItem.Mark:
                    bar = (bar?.Start ?? item.Start, item.End);
                    break;
                case BarItem.BarLine or BarItem.LineBreak or BarItem.End:
                    if (bar is { } done)
                    {
                        spans.Add(done);
                    }

                    bar = null;
                    break;
                case BarItem.Bracket:
                    break;
                default:
                    return null;
            }
        }

        return spans;
    }

    private void Tell(int index, string what, string accepted)
    {
        _problems.Add(_text.PlaceOf(index), what, accepted);
        _wrong = true;
    }

    private void Scan()
    {
        var scanner = new BarScanner(_text.Value);
        var bar = new Written(0);
        while (scanner.Next() is { } item)
        {
            switch (item.Kind)
            {
                case BarItem.BarLine or BarItem.LineBreak or BarItem.End:
                    if (bar.Marks.Count > 0 || bar.Meter is not null)
                    {
                        _written.Add(bar);
                    }
                    else if (item.Empty)
                    {
                        Tell(
                            item.Start,
                            "there is nothing in this bar",
                            "write a chord, % for the bar before once more, or N.C. for no chord");
                    }

                    bar = new Written(item.End);
                    break;
                case BarItem.Bracket:
                    if (bar.Marks.Count > 0 || bar.Meter is not null)
                    {
                        Tell(item.Start, "a meter in brackets stands inside a bar", "put it at the bar's beginning: | [2/4] G |");
                    }
                    else
                    {
                        bar.Place = item.Start;
                        bar.Meter = _text.Slice(item.Start + 1, item.End - 1);
                    }

                    break;
                case BarItem.OpenBracket:
                    Tell(item.Start, "this bracket is not closed", "write the bar's meter in brackets: | [2/4] G |");
                    break;
                case BarItem.RepeatSign:
                    if (!_repeatTold)
                    {
                        Tell(item.Start, "repeat signs are not read here", "write repeat = 2 in the section, or the bars once more");
                        _repeatTold = true;
                    }

                    break;
                default:
                    if (bar.Marks.Count == 0 && bar.Meter is null)
                    {
                        bar.Place = item.Start;
                    }

                    var word = _text.Value[item.Start..item.End];
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

    private void Resolve((int Count, int Place)? bars)
    {
        if (_written.Count == 0)
        {
            if (!_wrong)
            {
                Tell(0, "there are no bars here", "write bars between bar lines: \"| Am | G |\"");
            }

            return;
        }

        if (bars is { } said && said.Count < _written.Count)
        {
            _problems.Add(
                said.Place,
                $"the section has {said.Count} bars, but its chords {_written.Count}",
                $"write bars = {_written.Count} or more (the chords then go round), or leave bars out");
            _wrong = true;
        }

        var total = Math.Max(bars?.Count ?? 0, _written.Count);
        var round = 0;
        for (var i = 0; i < total; i++)
        {
            var written = _written[i % _written.Count];
            var usual = _meters[round % _meters.Count];
            var meter = MeterOf(written, usual);
            if (meter is null)
            {
                _wrong = true;
                if (i >= _written.Count)
                {
                    return;
                }

                continue;
            }

            var inserted = meter != usual;
            round += inserted ? 0 : 1;
            var chords = Chords(written, meter, (i % _written.Count) + 1);
            if (chords is not null)
            {
                _bars.Add(new ChartBar(meter, chords, inserted));
                _places.Add(_text.PlaceOf(written.Place));
            }
            else
            {
                _wrong = true;
            }
        }
    }

    private BarMeter? MeterOf(Written written, BarMeter usual)
    {
        if (written.Meter is not { } text)
        {
            return usual;
        }

        return MeterText.Read(text, _meters.Prepend(usual), _problems, "write the bar's meter in brackets: | [2/4] G |", out _);
    }

    private List<ChordSpan>? Chords(Written written, BarMeter meter, int number)
    {
        var marks = written.Marks;
        if (marks.Count == 0)
        {
            Tell(written.Place, $"bar {number} has a meter but no chord", "write a chord behind it: | [2/4] G |");
            return null;
        }

        IReadOnlyList<Mark> fitted = marks;
        if (marks.Exists(mark => mark.Text == "%"))
        {
            if (marks.Count > 1)
            {
                Tell(marks.Find(mark => mark.Text == "%").Place, "% repeats a whole bar", "let it stand alone in its bar: | Am | % |");
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

        var lengths = Lengths(fitted.Count, meter);
        _marksBefore = fitted;
        if (lengths is null)
        {
            // What repeats a bar that fits nowhere is no second mistake.
            _marksBefore = null;
            Misfit(written, fitted.Count, meter, number, repeated: !ReferenceEquals(fitted, marks));
        }

        return Spans(fitted, lengths, ReferenceEquals(fitted, marks));
    }

    // How long each mark holds: the bar, the groups (of any nesting), or the units.
    private static IReadOnlyList<Span>? Lengths(int marks, BarMeter meter)
    {
        if (marks == 1)
        {
            return [meter.Length];
        }

        for (IReadOnlyList<GroupNode> groups = meter.Grouping.Root.Children; groups.Count > 0; groups = Inside(groups))
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

        ways.Add(string.Create(CultureInfo.InvariantCulture, $"{meter.Units} (one for each {unit}, with / where a chord goes on)"));
        var what = repeated
            ? $"bar {number} repeats a bar of {marks} marks, which do not fit its meter {meter}"
            : $"bar {number} has {marks} marks, which do not fit its meter {meter}";
        Tell(written.Place, what, $"write {Words.Or(ways)}");
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
                        Tell(marks[i].Place, "/ goes on with the chord before, but there is none", "write the chord");
                    }

                    well = false;
                }
            }
            else if (ChordSymbol.TryParse(marks[i].Text, out var chord, out var problem))
            {
                spans.Add(new ChordSpan(at, length, chord));
            }
            else
            {
                if (firstTime)
                {
                    TellChord(marks[i], problem);
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

    private void TellChord(Mark mark, string problem)
    {
        var (what, accepted) = MeterText.Split(problem, "write a chord such as Am7, G/B, Dsus4 or N.C.");
        Tell(mark.Place, what, accepted);
    }

    private readonly record struct Mark(string Text, int Place);

    private sealed class Written(int place)
    {
        public int Place { get; set; } = place;

        public TomlString? Meter { get; set; }

        public List<Mark> Marks { get; } = [];
    }
}
