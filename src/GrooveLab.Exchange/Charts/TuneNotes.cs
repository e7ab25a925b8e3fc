using System.Globalization;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads the notes of a tune, or of another line: pickup and bars.</summary>
internal sealed class TuneNotes
{
    private const string ToFormat2 = "write format = 2 as the first line";
    private const int DeepestTuplet = 3;
    private readonly Problems _problems;
    private readonly IReadOnlyList<BarMeter?> _meters;
    private readonly int? _count;
    private readonly List<TuneBar> _bars = [];
    private TomlString _text = new(string.Empty, [0], 0, 0);
    private Span? _carried;
    private bool _lengthSaid;
    private bool _wrong;
    private bool _barsUnsure;
    private bool _barsMissing;
    private readonly int _format;
    private readonly bool _leadsOn;

    // The open lines (phrases, hairpins, glides), with their places.
    private readonly Dictionary<string, int> _lines = new(StringComparer.Ordinal);
    private int _tuplets;

    // The places of marks that lay a note back too far; a repeated bar has them again.
    private readonly HashSet<int> _tooLate = [];

    private TuneNotes(IReadOnlyList<BarMeter?> meters, int? count, int format, Problems problems, bool leadsOn)
    {
        _leadsOn = leadsOn;
        _format = format;
        _meters = meters;
        _count = count;
        _problems = problems;
    }

    /// <summary>The result of reading a tune, as far as it could be read.</summary>
    /// <param name="Notes">The notes; null if there was a problem, which is then reported.</param>
    /// <param name="Pickup">Notes in the pickup, 0 without one; null if uncertain.</param>
    /// <param name="Bars">Notes that start in each written bar, null where uncertain; null if the bars are uncertain.</param>
    /// <param name="Heard">All pitches of notes and grace notes, with its place in the file.</param>
    /// <param name="Units">The meter's unit at each note, for the lengths of syllable marks.</param>
    public sealed record Result(
        TuneMeasures? Notes,
        int? Pickup,
        IReadOnlyList<int?>? Bars,
        IReadOnlyList<(Pitch Pitch, int Place)> Heard,
        IReadOnlyList<Span?> Units)
    {
        /// <summary>Total number of notes; null if uncertain.</summary>
        public int? Count { get; init; }
    }

    /// <summary>Reads notes and reports problems.</summary>
    /// <param name="pickup">The pickup, if any.</param>
    /// <param name="notes">The bars.</param>
    /// <param name="meters">The meters of the section's bars null for an unknown one, whose bar cannot be measured.</param>
    /// <param name="count">The number of bars of the section; null if unknown.</param>
    /// <param name="format">The format of the chart.</param>
    /// <param name="problems">Receives the problems.</param>
    /// <param name="leadsOn">True if the last note may be tied: endings follow.</param>
    public static Result Read(
        TomlString? pickup, TomlString notes, IReadOnlyList<BarMeter?> meters, int? count, int format, Problems problems, bool leadsOn = false)
    {
        var reader = new TuneNotes(meters, count, format, problems, leadsOn);
        var lead = new TuneBar();
        if (pickup is not null)
        {
            reader._text = pickup;
            reader.ReadPickup(lead);
        }

        reader._text = notes;
        reader.ReadBars();
        var known = count is not null && meters.Count == count && meters.All(meter => meter is not null);
        var units = reader.CountNotes(lead);
        reader.CloseLines();
        var made = reader._wrong || !known ? null : new TuneMeasures(Measure(lead), [.. reader._bars.Select(Measure)]);
        var counts = reader._bars.ConvertAll(bar => bar.NotesSure ? bar.Notes : (int?)null);
        int? leadCount = lead.NotesSure ? lead.Notes : null;
        return new Result(
            made,
            leadCount,
            reader._barsUnsure ? null : counts,
            [.. reader._bars.Prepend(lead).SelectMany(bar => bar.Elements).SelectMany(Pitches)],
            units)
        {
            Count = counts.Aggregate(leadCount, (sum, more) => sum + more),
        };
    }

    private static IEnumerable<(Pitch Pitch, int Place)> Pitches(Element element) =>
        (element.Pitch is { } pitch ? element.Graces.Append(pitch) : element.Graces).Select(heard => (heard, element.Place));

    private void Tell(int index, string what, string accepted) => TellAt(_text.PlaceOf(index), what, accepted);

    private void TellAt(int place, string what, string accepted)
    {
        _problems.Add(place, what, accepted);
        _wrong = true;
    }

    private void TellRemark(NoteScanner.Item item) => Tell(
        item.Start,
        "a remark cannot be among the notes: inside quotes # is a sharp",
        "move the remark to a line of its own, before the notes or after their closing quotes");

    private void ReadPickup(TuneBar bar)
    {
        var scan = new NoteScanner(_text.Value);
        var meter = _meters.Count > 0 ? _meters[0] : null;
        var told = false;
        while (scan.Next() is { } item)
        {
            if (item.Kind == NoteItem.BarLine)
            {
                if (!told)
                {
                    Tell(
                        item.Start,
                        "a pickup has no bar line inside",
                        "write only the notes before the first bar line: pickup = \"E4:1/8 F#4\"");
                }

                told = true;
                bar.Uncertain = true;
                bar.NotesSure = false;
            }
            else if (item.Kind == NoteItem.Remark)
            {
                TellRemark(item);
                bar.Uncertain = true;
            }
            else if (item.Kind != NoteItem.LineBreak)
            {
                Take(item, scan, bar, meter?.Unit);
            }
        }

        Close(bar);
        var length = Length(bar);
        if (meter is not null && !bar.Uncertain && length >= meter.Length * Tune.MostPickupBars)
        {
            Tell(
                bar.Place,
                $"the pickup is {InUnits(length, meter)} long, and {Tune.MostPickupBars} bars of {meter.Signature} have {meter.Units * Tune.MostPickupBars}",
                $"make the pickup shorter than {Tune.MostPickupBars} bars");
        }
    }

    private void ReadBars()
    {
        var scan = new NoteScanner(_text.Value);
        var bar = new TuneBar();
        var open = false;
        var guessed = false;
        var empty = false;
        while (true)
        {
            var item = scan.Next();
            var meter = _bars.Count < _meters.Count ? _meters[_bars.Count] : null;
            if (item?.Kind == NoteItem.Remark)
            {
                TellRemark(item.Value);
                _barsUnsure = true;
                continue;
            }

            if (item is not null && item.Value.Kind != NoteItem.LineBreak)
            {
                // A bar of unknown length was assumed to end with its line; notes that follow without a bar line may belong to it.
                _barsUnsure |= guessed && item.Value.Kind != NoteItem.BarLine;
                guessed = false;
            }

            var atBreak = item?.Kind == NoteItem.LineBreak;
            var ends = item is null || item.Value.Kind == NoteItem.BarLine || (atBreak && EndsWithItsLine(bar, meter));
            if (atBreak && bar.IsEmpty)
            {
                open = false;
            }
            else if (ends && !bar.IsEmpty)
            {
                guessed = atBreak && bar.Repeat is null && !bar.IsLoneRest && (bar.Uncertain || meter is null);
                Finish(bar, meter);
                _bars.Add(bar);
                bar = new TuneBar();
                open = item?.Kind == NoteItem.BarLine;
            }
            else if (item?.Kind == NoteItem.BarLine)
            {
                if (open)
                {
                    Tell(item.Value.Start, "nothing in this bar", $"write {Rest} for a bar's rest, or % to repeat the bar before");
                    empty = true;
                }

                open = true;
            }
            else if (item is { } other && other.Kind != NoteItem.LineBreak)
            {
                Take(other, scan, bar, meter?.Unit);
            }

            if (item is null)
            {
                break;
            }
        }

        _barsUnsure |= empty;
        if (_count is { } count && _bars.Count != count)
        {
            _barsMissing = _bars.Count < count;
            if (!_barsUnsure && !BarLineAccountsFor(_bars.Count - count))
            {
                Tell(
                    0,
                    $"the tune has {Words.Count(_bars.Count, "bar")}, but the section has {Words.Count(count, "bar")}",
                    _barsMissing ? $"write {Rest} for every bar in which the tune rests" : "leave out the excess, or give the section more chords");
            }
        }
    }

    // A missing bar line makes one bar much too long; an extra one makes two adjacent bars too short. Either was already reported.
    private bool BarLineAccountsFor(int surplus) => surplus < 0
        ? _bars.Exists(bar => bar.Fill >= new Rational(3, 2))
        : Enumerable.Range(1, Math.Max(0, _bars.Count - 1)).Any(i => _bars[i - 1].Fill < Rational.One && _bars[i].Fill < Rational.One);

    private static bool EndsWithItsLine(TuneBar bar, BarMeter? meter) =>
        bar.Uncertain || bar.Repeat is not null || bar.IsLoneRest || meter is null || Length(bar) == meter.Length;

    private static Span Length(TuneBar bar) => bar.Elements.Aggregate(Span.Zero, (sum, element) => sum + element.Length);

    private void Take(NoteScanner.Item item, NoteScanner scan, TuneBar bar, Span? unit)
    {
        if (item.Kind == NoteItem.Bracket)
        {
            Tell(item.Start, "a meter is among the notes", "leave it out: the chords set each bar's meter");
            return;
        }

        if (bar.IsEmpty)
        {
            bar.Place = item.Start;
        }

        switch (item.Kind)
        {
            case NoteItem.Repeat:
                if (!bar.IsEmpty)
                {
                    Tell(item.Start, "% repeats a whole bar", "make it stand alone in its bar: | G4:5 | % |");
                    bar.Uncertain = true;
                    bar.NotesSure = false;
                }

                bar.Repeat = item.Start;
                break;
            case NoteItem.Mark:
                TakeMark(item, bar, unit);
                break;
            case NoteItem.OpenTuplet:
                OpenTuplet(item, bar);
                break;
            case NoteItem.CloseTuplet:
                if (bar.Tuplets.Count == 0)
                {
                    Tell(item.Start, "this closing brace has no opening brace", "write {3:2 G4:1/8 A4 B4}");
                }
                else
                {
                    bar.Tuplets.RemoveAt(bar.Tuplets.Count - 1);
                }

                break;
            case NoteItem.Graces:
                bar.Graces.AddRange(Graces(item));
                bar.GracesAt = item.Start;
                break;
            default:
                TakeNote(item, scan, bar, unit);
                break;
        }
    }

    private void OpenTuplet(NoteScanner.Item item, TuneBar bar)
    {
        bar.TupletAt = item.Start;
        var sides = _text.Value[(item.Start + 1)..item.End].Split(':');
        if (bar.Tuplets.Count < DeepestTuplet
            && sides.Length == 2
            && int.TryParse(sides[0], NumberStyles.None, CultureInfo.InvariantCulture, out var many)
            && int.TryParse(sides[1], NumberStyles.None, CultureInfo.InvariantCulture, out var of)
            && many is >= 1 and <= 64
            && of is >= 1 and <= 64)
        {
            bar.Tuplets.Add(new Tuplet(++_tuplets, many, of));
            return;
        }

        Tell(
            item.Start,
            "this tuplet has no ratio",
            "write {3:2 G4:1/8 A4 B4} for three in the time of two; numbers are 1 to 64");
        bar.Tuplets.Add(new Tuplet(++_tuplets, 1, 1));
        bar.Uncertain = true;
    }

    private List<Pitch> Graces(NoteScanner.Item item)
    {
        var inside = _text.Value[(item.Start + 1)..(item.End - 1)];
        var graces = new List<Pitch>();
        var well = true;
        foreach (var word in inside.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries))
        {
            if (ReadPitch(word) is { } pitch)
            {
                graces.Add(pitch);
            }
            else
            {
                well = false;
                Tell(
                    item.Start,
                    $"the grace note {Words.Quote(word)} is not a pitch",
                    "write pitches without lengths: (F#4)G4:1/4 or (E4 F#4)G4:1/4");
            }
        }

        if (graces.Count == 0 && well)
        {
            Tell(item.Start, "no grace note in these brackets", "write (F#4)G4:1/4");
        }

        return graces;
    }

    private void TakeNote(NoteScanner.Item item, NoteScanner scan, TuneBar bar, Span? unit)
    {
        var word = _text.Value[item.Start..item.End];
        if (word is "~" or "-" or ['~' or '-', >= 'A' and <= 'H' or >= 'a' and <= 'h', ..])
        {
            TellTieApart(item, bar);
            return;
        }

        var tie = word[^1] is '~' or '-';
        var body = tie ? word[..^1] : word;
        var colon = body.IndexOf(':');
        var name = colon < 0 ? body : body[..colon];
        var isRest = name is "r" or "R" or "z" or "Z";
        if (_format == 1 && (word[^1] == '-' || name is "z" or "Z"))
        {
            var (sign, other) = word[^1] == '-' ? ("the tie -", "~ after the note") : ("the rest z", "r");
            Tell(word[^1] == '-' ? item.End - 1 : item.Start, $"{sign} belongs to format 2", $"write {other}, or format = 2 as the first line");
        }

        Pitch? pitch = null;
        if (!isRest)
        {
            pitch = ReadPitch(name);
            if (pitch is null)
            {
                Tell(item.Start, NotAPitch(name), AcceptedNote);

                // A word longer than any pitch may contain several notes.
                bar.NotesSure &= name.Length <= 3;
            }
        }

        var written = colon < 0 ? Carried(unit) : Written(body[(colon + 1)..], unit, item.Start + colon + 1);
        if (colon >= 0)
        {
            _carried = written;
            _lengthSaid = true;
        }

        if (isRest && (tie || bar.Graces.Count > 0))
        {
            Tell(item.Start, tie ? "a rest cannot be tied" : "grace notes before a rest", "put ties and grace notes only on notes");
        }

        if (scan.Glued)
        {
            Tell(item.End, "no space between two notes", "put a space between notes");
        }

        bar.Uncertain |= written is null;
        var factor = bar.Tuplets.Aggregate(Rational.One, (product, tuplet) => product * tuplet.Ratio);
        bar.LoneRest = isRest && colon < 0 && bar.Elements.Count == 0 && bar.Tuplets.Count == 0;
        var element = new Element(_text.PlaceOf(item.Start), pitch, isRest, (written ?? Span.Zero) * factor, tie, [.. bar.Graces])
        {
            Written = written ?? Span.Zero,
            Tuplets = [.. bar.Tuplets],
            Marks = [.. bar.Marks.Select(mark => mark.Mark)],
            Late = bar.Late,
            LatePlace = bar.Late > Span.Zero ? _text.PlaceOf(bar.LateAt) : 0,
            Unit = unit,
        };
        CheckMarks(bar, element);
        bar.Elements.Add(element);
        bar.Graces.Clear();
        bar.Marks.Clear();
        bar.Late = Span.Zero;
    }

    private void TellTieApart(NoteScanner.Item item, TuneBar bar)
    {
        var isAfterTuplet = _text.Value.AsSpan(0, item.Start).TrimEnd().EndsWith("}", StringComparison.Ordinal);
        Tell(
            item.Start,
            isAfterTuplet ? "a tie is after the end of a tuplet" : "a tie is apart from its note",
            isAfterTuplet ? $"write it after the last note, before the }}: {{3:2 G4:1/8 A4 B4{Tie}}}" : $"write it right after its note: G4:2{Tie}");

        // A note may follow in the same word.
        bar.NotesSure &= item.End == item.Start + 1;
        bar.Uncertain |= item.End > item.Start + 1;
    }

    private string AcceptedNote =>
        "write pitch:length, such as G4:1/8 (an eighth), F#4:3 (three of the meter's units) or G4 (as long as the note before); "
        + $"{Rest} for a rest";

    private char Rest => _format == 1 ? 'r' : 'z';

    private char Tie => _format == 1 ? '~' : '-';

    private void TakeMark(NoteScanner.Item item, TuneBar bar, Span? unit)
    {
        bar.MarksAt = item.Start;
        var name = _text.Value[(item.Start + 1)..item.End];
        if (!name.EndsWith('!'))
        {
            Tell(item.Start, "this mark is not closed", "write it between exclamation marks, right before its note: !accent!G4:1");
            return;
        }

        name = name[..^1];
        if (_format == 1)
        {
            Tell(item.Start, $"marks such as !{(name.Length > 0 ? name : "accent")}! belong to format 2", ToFormat2);
        }
        else if (name.StartsWith(TuneMarks.Late, StringComparison.Ordinal))
        {
            bar.Late = Written(name[TuneMarks.Late.Length..], unit, item.Start + 1 + TuneMarks.Late.Length) ?? Span.Zero;
            bar.LateAt = item.Start;
        }
        else if (TuneMarks.Read(name) is { } mark)
        {
            TakeLine(item, mark, name);
            bar.Marks.Add((mark, item.Start));
        }
        else
        {
            Tell(
                item.Start,
                $"{Words.Quote(name)} is not a mark",
                Words.Nearest(name, TuneMarks.Names.Append("late:1/16")) is { } near
                    ? $"did you mean !{near}!?"
                    : "write one such as !accent!, !staccato!, !tenuto!, !breath!, !phrase(! and !phrase)!, !late:1/16!");
        }
    }

    // An open line must end before it starts again.
    private void TakeLine(NoteScanner.Item item, Mark mark, string name)
    {
        if (mark.Edge == MarkEdge.Single)
        {
            return;
        }

        var line = TuneMarks.NameOf(mark)![..^1];
        if (mark.Edge == MarkEdge.Start && !_lines.TryAdd(line, _text.PlaceOf(item.Start)))
        {
            Tell(item.Start, $"!{name}! starts before the previous one has ended", $"write !{line})! before the last note of the first");
        }
        else if (mark.Edge == MarkEdge.Stop && !_lines.Remove(line))
        {
            Tell(item.Start, $"!{name}! ends a line that has not started", $"write !{line}(! before its first note");
        }
    }

    private void CloseLines()
    {
        foreach (var (line, place) in _lines)
        {
            if (!_barsMissing)
            {
                TellAt(place, $"!{line}(! does not end in this section", $"write !{line})! before its last note");
            }
        }
    }

    private void CheckMarks(TuneBar bar, Element element)
    {
        foreach (var (mark, at) in bar.Marks)
        {
            if (element.IsRest && !TuneMarks.SuitsARest(mark))
            {
                Tell(at, $"!{TuneMarks.NameOf(mark)}! is before a rest", "write it before a note");
            }
        }

        if (bar.Late == Span.Zero)
        {
            return;
        }

        if (element.IsRest)
        {
            Tell(bar.LateAt, "a rest cannot lay back", "write !late:…! before a note");
        }
    }

    // A tied note lasts until the end of its last part.
    private void CheckLate(Element? first, Span length)
    {
        if (first is { Late: var late, LatePlace: var place } && late > Span.Zero && length > Span.Zero && late >= length && _tooLate.Add(place))
        {
            TellAt(place, $"this note is {late} of a whole note late but lasts only {length}", "make it less late, or longer");
        }
    }

    private static string NotAPitch(string name) => name switch
    {
        [var letter, ..] when char.ToUpperInvariant(letter) is >= 'A' and <= 'G' && !name.Any(char.IsAsciiDigit) =>
            $"{Words.Quote(name)} has no octave (middle C is C4)",
        ['H' or 'h', ..] => $"{Words.Quote(name)} is not a pitch (the note below C is B, and a half step lower Bb; there is no H)",
        _ => $"{Words.Quote(name)} is not a pitch",
    };

    private Span? Carried(Span? unit)
    {
        if (!_lengthSaid)
        {
            _lengthSaid = true;
            _carried = unit;
        }

        return _carried;
    }

    private Span? Written(string text, Span? unit, int index)
    {
        if (NoteLength.TryRead(text, unit, out var length))
        {
            return length;
        }

        Tell(
            index,
            $"{Words.Quote(text)} is not a length",
            "write a fraction of a whole note (1/8 is an eighth) or a number of the meter's units (3)");
        return null;
    }

    /// <summary>A pitch in the range of MIDI; lower case is accepted.</summary>
    internal static Pitch? ReadPitch(string word) =>
        word.Length > 0
        && Pitch.TryParse(char.ToUpperInvariant(word[0]) + word[1..], out var pitch)
        && pitch.Midi is >= 0 and <= 127
            ? pitch
            : null;

    private void Close(TuneBar bar)
    {
        if (bar.Tuplets.Count > 0)
        {
            Tell(bar.TupletAt, "this tuplet is not closed in its bar", "end it with } in the same bar: {3:2 G4:1/8 A4 B4}");
            bar.Tuplets.Clear();
            bar.Uncertain = true;
        }

        if (bar.Graces.Count > 0)
        {
            Tell(bar.GracesAt, "grace notes without a note after them", "write them before their note: (F#4)G4:1/4");
        }

        if (bar.Marks.Count > 0 || bar.Late > Span.Zero)
        {
            Tell(bar.MarksAt, "a mark without a note after it", "write it right before its note: !accent!G4:1");
        }
    }

    private void Finish(TuneBar bar, BarMeter? meter)
    {
        Close(bar);
        if (bar.Repeat is { } repeat)
        {
            if (_bars.Count == 0)
            {
                Tell(repeat, "% has no bar before it to repeat", "write the notes");
                bar.NotesSure = false;
                return;
            }

            var before = _bars[^1];
            bar.NotesSure &= before.NotesSure;

            if (before.Elements.SelectMany(element => element.Marks).Where(mark => mark.Edge != MarkEdge.Single)
                .GroupBy(mark => TuneMarks.NameOf(mark)![..^1], StringComparer.Ordinal)
                .FirstOrDefault(line => line.Count(mark => mark.Edge == MarkEdge.Start) * 2 != line.Count()) is { } half)
            {
                Tell(repeat, $"% repeats only one end of !{half.Key}(!", "write the notes of this bar");
            }

            bar.Elements.AddRange(Again(before.Elements));
            bar.Uncertain |= before.Uncertain;
            if (before.IsLoneRest)
            {
                bar.LoneRest = true;
            }
        }

        if (meter is null || bar.Uncertain)
        {
            return;
        }

        if (bar.IsLoneRest)
        {
            bar.Elements[0] = bar.Elements[0] with { Length = meter.Length };
            return;
        }

        var length = Length(bar);
        bar.Fill = length / meter.Length;
        if (length == meter.Length)
        {
            return;
        }

        // A note may be missing, or there may be one too many.
        bar.NotesSure = false;
        var missing = meter.Length - length;
        var amount = missing.Wholes.Abs();
        var units = amount / meter.Unit.Wholes;
        var what = $"bar {_bars.Count + 1} of the tune is {InUnits(length, meter)} long where {meter.Signature} has {meter.Units}: "
            + $"{OfAWhole(amount)} ({Count(units, "unit")}) {(missing.Wholes.Sign > 0 ? "is missing" : "is too much")}";
        Tell(
            bar.Place,
            what,
            missing.Wholes.Sign > 0 ? $"fill the bar with notes or rests ({Rest})" : $"shorten it, or tie a note over the bar line: G4:2{Tie} | G4:1");
    }

    private static string OfAWhole(Rational amount) =>
        amount == Rational.One ? "a whole note" : amount.IsInteger ? $"{amount} whole notes" : $"{amount} of a whole note";

    private static string InUnits(Span length, BarMeter meter) => Count(length / meter.Unit, "unit");

    private static string Count(Rational number, string thing) => number == Rational.One ? $"{number} {thing}" : $"{number} {thing}s";

    // The tuplets of a repeated bar are new ones.
    private IEnumerable<Element> Again(IEnumerable<Element> elements)
    {
        var again = new Dictionary<int, Tuplet>();
        foreach (var element in elements)
        {
            foreach (var tuplet in element.Tuplets.Where(tuplet => !again.ContainsKey(tuplet.Id)))
            {
                again.Add(tuplet.Id, tuplet with { Id = ++_tuplets });
            }

            yield return element with { Tuplets = [.. element.Tuplets.Select(tuplet => again[tuplet.Id])] };
        }
    }

    // Tied notes count once, rests not at all. Returns the unit of each note.
    private List<Span?> CountNotes(TuneBar lead)
    {
        var units = new List<Span?>();
        Element? tied = null;
        Element? first = null;
        var lasting = Span.Zero;
        foreach (var bar in _bars.Prepend(lead))
        {
            bar.BeginsTied = tied is not null;
            foreach (var element in bar.Elements)
            {
                if (tied is { } before && GoesOn(before, element, bar))
                {
                    // Of unknown length if any part is.
                    lasting = lasting > Span.Zero && element.Length > Span.Zero ? lasting + element.Length : Span.Zero;
                    if (element.Late > Span.Zero)
                    {
                        TellAt(element.Place, "this note is tied to the one before and cannot lay back", "write !late:…! before the first of them");
                    }
                }
                else
                {
                    CheckLate(first, lasting);
                    (first, lasting) = (element.IsRest ? null : element, element.Length);
                    if (!element.IsRest)
                    {
                        units.Add(element.Unit);
                        bar.Notes++;
                    }
                }

                tied = element.Tie && !element.IsRest ? element : null;
            }
        }

        CheckLate(first, lasting);
        if (tied is { } last && !_barsMissing && !_leadsOn)
        {
            TellAt(last.Place, "the last note is tied to nothing", $"leave out its {Tie}; a tune ends with its section");
        }

        return units;
    }

    private static PartMeasure Measure(TuneBar bar)
    {
        var events = new List<VoiceEvent>();
        var placed = new List<PlacedMark>();
        var at = Span.Zero;
        var tied = bar.BeginsTied;
        foreach (var element in bar.Elements)
        {
            events.AddRange(element.Graces.Select(TuneBuilder.Grace));
            placed.AddRange(element.Marks.Where(mark => TuneMarks.IsPlaced(mark.Kind)).Select(mark => new PlacedMark(at, mark)));
            events.Add(Event(element, tied, bar.IsLoneRest) with { Marks = [.. element.Marks.Where(mark => !TuneMarks.IsPlaced(mark.Kind))] });
            tied = element.Tie && !element.IsRest;
            at += element.Length;
        }

        return events.Count == 0 ? PartMeasure.Empty : new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])], Marks = [.. placed] };
    }

    private static VoiceEvent Event(Element element, bool isTied, bool isWholeMeasure)
    {
        // Lengths without a note value (five eighths, a unit of 7/12) are kept unchanged.
        var value = !isWholeMeasure && NoteUnit.TryFrom(element.Written, out var unit) ? new WrittenValue(unit, element.Tuplets.AsSpan()) : null;
        var stated = value is null ? element.Length : (Span?)null;
        if (element.IsRest)
        {
            return new RestEvent(value, stated) { IsWholeMeasure = isWholeMeasure, TupletsApart = value is null ? element.Tuplets : [] };
        }

        var head = WrittenNote.Of(element.Pitch!.Value) with
        {
            TiedFrom = isTied ? new TieEnd() : null,
            TiedTo = element.Tie ? new TieEnd() : null,
        };
        return new NotesEvent([head], value, stated) { Late = element.Late, TupletsApart = value is null ? element.Tuplets : [] };
    }

    private bool GoesOn(Element tied, Element element, TuneBar bar)
    {
        if (tied.Pitch is null || (element.Pitch is null && !element.IsRest))
        {
            // One of the two could not be read, which was reported.
            bar.NotesSure = false;
            return false;
        }

        if (element.Pitch == tied.Pitch && element.Graces.Count == 0)
        {
            return true;
        }

        var here = element.IsRest ? "a rest" : element.Pitch == tied.Pitch ? $"{element.Pitch} with a grace note before it" : element.Pitch.ToString();
        TellAt(element.Place, $"a tie leads here from {tied.Pitch}, but this is {here}", "tie a note to the same pitch only");
        return false;
    }

    private sealed record Element(int Place, Pitch? Pitch, bool IsRest, Span Length, bool Tie, IReadOnlyList<Pitch> Graces)
    {
        /// <summary>The length as written, before shortening by tuplets.</summary>
        public Span Written { get; init; }

        public ValueList<Tuplet> Tuplets { get; init; } = [];

        public ValueList<Mark> Marks { get; init; } = [];

        public Span Late { get; init; }

        /// <summary>The place of its mark that lays it back.</summary>
        public int LatePlace { get; init; }

        /// <summary>The meter's unit at its place; null if unknown.</summary>
        public Span? Unit { get; init; }
    }

    private sealed class TuneBar
    {
        public int Place { get; set; }

        public List<Element> Elements { get; } = [];

        public List<Tuplet> Tuplets { get; } = [];

        public int TupletAt { get; set; }

        public List<Pitch> Graces { get; } = [];

        public int GracesAt { get; set; }

        /// <summary>Marks waiting for their note.</summary>
        public List<(Mark Mark, int At)> Marks { get; } = [];

        public int MarksAt { get; set; }

        public Span Late { get; set; }

        public int LateAt { get; set; }

        /// <summary>True when its first note continues from the bar before.</summary>
        public bool BeginsTied { get; set; }

        public int? Repeat { get; set; }

        /// <summary>Notes that start in it, ties counted once.</summary>
        public int Notes { get; set; }

        /// <summary>False when the number of notes in it is uncertain.</summary>
        public bool NotesSure { get; set; } = true;

        /// <summary>Its length in its meter's bars; 1 if it cannot be measured.</summary>
        public Rational Fill { get; set; } = Rational.One;

        /// <summary>True when its length is unknown because something in it could not be read.</summary>
        public bool Uncertain { get; set; }

        /// <summary>True while its first and only element is a rest without a length.</summary>
        public bool LoneRest { get; set; }

        public bool IsLoneRest => LoneRest && Elements.Count == 1;

        public bool IsEmpty => Elements.Count == 0 && Repeat is null && Tuplets.Count == 0 && Graces.Count == 0 && Marks.Count == 0 && Late == Span.Zero;
    }
}
