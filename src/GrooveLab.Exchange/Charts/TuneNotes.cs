using System.Globalization;
using GrooveLab.Exchange.Charts.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads the notes of a tune: pickup and bars.</summary>
internal sealed class TuneNotes
{
    private const string AcceptedNote =
        "write pitch:length, such as G4:1/8 (an eighth), F#4:3 (three of the meter's units) or G4 (as long as the note before); r for a rest";

    private const int DeepestTuplet = 3;
    private const int Finest = 1_000_000;
    private readonly Problems _problems;
    private readonly IReadOnlyList<BarMeter>? _meters;
    private readonly List<Element> _elements = [];
    private TomlString _text = new(string.Empty, [0], 0, 0);
    private Span? _carried;
    private bool _lengthSaid;
    private bool _wrong;

    private TuneNotes(IReadOnlyList<BarMeter>? meters, Problems problems)
    {
        _meters = meters;
        _problems = problems;
    }

    /// <summary>Reads notes; null when something is wrong, which is then told.</summary>
    /// <param name="pickup">The pickup, if any.</param>
    /// <param name="notes">The bars.</param>
    /// <param name="meters">The meters of the section's bars; null when they are not known, so that no bar can be measured.</param>
    /// <param name="problems">Takes what is wrong.</param>
    /// <param name="places">Where each note stands in the file.</param>
    public static IReadOnlyList<TuneNote>? Read(
        TomlString? pickup,
        TomlString notes,
        IReadOnlyList<BarMeter>? meters,
        Problems problems,
        out IReadOnlyList<int> places)
    {
        var reader = new TuneNotes(meters, problems);
        var lead = Span.Zero;
        if (pickup is not null)
        {
            reader._text = pickup;
            lead = reader.ReadPickup();
        }

        reader._text = notes;
        reader.ReadBars();
        var made = new List<TuneNote>();
        var madePlaces = new List<int>();
        places = madePlaces;
        if (meters is not null && !reader._wrong)
        {
            reader.Join(-lead, made, madePlaces);
        }

        return reader._wrong || meters is null ? null : made;
    }

    private void Tell(int index, string what, string accepted) => TellAt(_text.PlaceOf(index), what, accepted);

    private void TellAt(int place, string what, string accepted)
    {
        _problems.Add(place, what, accepted);
        _wrong = true;
    }

    private Span ReadPickup()
    {
        var scan = new NoteScanner(_text.Value);
        var bar = new TuneBar();
        while (scan.Next() is { } item)
        {
            if (item.Kind == NoteItem.BarLine)
            {
                Tell(
                    item.Start,
                    "a pickup has no bar line inside",
                    "write only what comes before the first bar line: pickup = \"E4:1/8 F#4\"");
                return Span.Zero;
            }

            if (item.Kind != NoteItem.LineBreak)
            {
                Take(item, scan, bar, _meters?[0].Unit);
            }
        }

        Close(bar);
        var length = Length(bar);
        if (_meters is not null && !bar.Uncertain && length >= _meters[0].Length)
        {
            Tell(
                bar.Place,
                $"the pickup is {length} of a whole note long, but a bar is {_meters[0].Length}",
                "make the pickup shorter than a bar");
        }

        _elements.AddRange(bar.Elements);
        return length;
    }

    private void ReadBars()
    {
        var scan = new NoteScanner(_text.Value);
        var bar = new TuneBar();
        TuneBar? before = null;
        var number = 0;
        var open = false;
        while (true)
        {
            var item = scan.Next();
            var meter = _meters is not null && number < _meters.Count ? _meters[number] : null;
            var ends = item is null || item.Value.Kind == NoteItem.BarLine || (item.Value.Kind == NoteItem.LineBreak && IsFull(bar, meter));
            if (item?.Kind == NoteItem.LineBreak && bar.IsEmpty)
            {
                open = false;
            }
            else if (ends && !bar.IsEmpty)
            {
                Finish(bar, before, meter, number + 1);
                _elements.AddRange(bar.Elements);
                before = bar;
                bar = new TuneBar();
                number++;
                open = item?.Kind == NoteItem.BarLine;
            }
            else if (item?.Kind == NoteItem.BarLine)
            {
                if (open)
                {
                    Tell(item.Value.Start, "there is nothing in this bar", "write r for a bar's rest, or % for the bar before once more");
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

        if (_meters is not null && number != _meters.Count && !_wrong)
        {
            Tell(
                0,
                $"the tune has {Bars(number)}, but the section {Bars(_meters.Count)}",
                number < _meters.Count ? "write r for every bar in which the tune rests" : "leave out what is too much, or give the section more chords");
        }
    }

    private static string Bars(int count) => string.Create(CultureInfo.InvariantCulture, $"{count} {(count == 1 ? "bar" : "bars")}");

    private static bool IsFull(TuneBar bar, BarMeter? meter) =>
        bar.Uncertain || bar.Repeat is not null || bar.IsLoneRest || (meter is not null && Length(bar) == meter.Length);

    private static Span Length(TuneBar bar) => bar.Elements.Aggregate(Span.Zero, (sum, element) => sum + element.Length);

    private void Take(NoteScanner.Item item, NoteScanner scan, TuneBar bar, Span? unit)
    {
        if (item.Kind == NoteItem.Bracket)
        {
            Tell(item.Start, "a meter stands here among the notes", "leave it out: the chords say each bar's meter");
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
                    Tell(item.Start, "% repeats a whole bar", "let it stand alone in its bar: | G4:5 | % |");
                    bar.Uncertain = true;
                }

                bar.Repeat = item.Start;
                break;
            case NoteItem.OpenTuplet:
                OpenTuplet(item, bar);
                break;
            case NoteItem.CloseTuplet:
                if (bar.Tuplets.Count == 0)
                {
                    Tell(item.Start, "a tuplet is closed here that was not opened", "write {3:2 G4:1/8 A4 B4}");
                }
                else
                {
                    bar.Tuplets.Pop();
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
            bar.Tuplets.Push(new Rational(of, many));
            return;
        }

        Tell(
            item.Start,
            "this tuplet does not say how many stand for how many",
            "write {3:2 G4:1/8 A4 B4} for three in the time of two; numbers are 1 to 64");
        bar.Tuplets.Push(Rational.One);
        bar.Uncertain = true;
    }

    private List<Pitch> Graces(NoteScanner.Item item)
    {
        var inside = _text.Value[(item.Start + 1)..(item.End - 1)];
        var graces = new List<Pitch>();
        foreach (var word in inside.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries))
        {
            if (ReadPitch(word) is { } pitch)
            {
                graces.Add(pitch);
            }
            else
            {
                Tell(
                    item.Start,
                    $"the grace note {Words.Quote(word)} is not a pitch",
                    "write pitches without lengths: (F#4)G4:1/4 or (E4 F#4)G4:1/4");
            }
        }

        if (graces.Count == 0 && !_wrong)
        {
            Tell(item.Start, "there is no grace note in these brackets", "write (F#4)G4:1/4");
        }

        return graces;
    }

    private void TakeNote(NoteScanner.Item item, NoteScanner scan, TuneBar bar, Span? unit)
    {
        var word = _text.Value[item.Start..item.End];
        var tie = word.EndsWith('~');
        var body = tie ? word[..^1] : word;
        var colon = body.IndexOf(':');
        var name = colon < 0 ? body : body[..colon];
        var isRest = name is "r" or "R";
        Pitch? pitch = null;
        if (!isRest)
        {
            pitch = ReadPitch(name);
            if (pitch is null)
            {
                Tell(item.Start, NotAPitch(name), AcceptedNote);
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
            Tell(item.Start, tie ? "a rest cannot be tied" : "grace notes stand before a rest", "tie notes and grace notes only");
        }

        if (scan.Glued)
        {
            Tell(item.End, "two notes stand together without a blank", "put a blank between notes");
        }

        bar.Uncertain |= written is null;
        var factor = bar.Tuplets.Aggregate(Rational.One, (product, ratio) => product * ratio);
        bar.LoneRest = isRest && colon < 0 && bar.Elements.Count == 0 && bar.Tuplets.Count == 0;
        bar.Elements.Add(new Element(_text.PlaceOf(item.Start), pitch, isRest, (written ?? Span.Zero) * factor, tie, [.. bar.Graces]));
        bar.Graces.Clear();
    }

    private static string NotAPitch(string name) =>
        name.Length > 0 && char.ToUpperInvariant(name[0]) is >= 'A' and <= 'G' && !name.Any(char.IsAsciiDigit)
            ? $"{Words.Quote(name)} does not say its octave (middle C is C4)"
            : $"{Words.Quote(name)} is not a pitch";

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
        var body = text.Trim();
        var dots = 0;
        while (body.EndsWith('.') && dots < 3)
        {
            dots++;
            body = body[..^1];
        }

        if (!Rational.TryParse(body, out var number) || number.Sign <= 0 || number.Numerator > Finest || number.Denominator > Finest)
        {
            Tell(
                index,
                $"{Words.Quote(text)} is not a length",
                "write a fraction of a whole note (1/8 is an eighth) or a number of the meter's units (3)");
            return null;
        }

        var dotted = new Rational((1L << (dots + 1)) - 1, 1L << dots);
        return body.Contains('/') ? new Span(number * dotted) : unit * (number * dotted);
    }

    /// <summary>A pitch in the range of MIDI; small letters are read too.</summary>
    private static Pitch? ReadPitch(string word) =>
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
            Tell(bar.GracesAt, "grace notes stand here without a note behind them", "write them before their note: (F#4)G4:1/4");
        }
    }

    private void Finish(TuneBar bar, TuneBar? before, BarMeter? meter, int number)
    {
        Close(bar);
        if (bar.Repeat is { } repeat)
        {
            if (before is null)
            {
                Tell(repeat, "% has no bar before it to repeat", "write the notes");
                return;
            }

            bar.Elements.AddRange(before.Elements);
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
        if (length == meter.Length)
        {
            return;
        }

        var missing = meter.Length - length;
        var amount = missing.Wholes.Abs();
        var units = missing.Wholes.Abs() / meter.Unit.Wholes;
        var what = $"bar {number} of the tune is {InUnits(length, meter)} long where {meter.Signature} has {meter.Units}: "
            + $"{amount} of a whole note ({Count(units, "unit")}) {(missing.Wholes.Sign > 0 ? "is missing" : "is too much")}";
        Tell(
            bar.Place,
            what,
            missing.Wholes.Sign > 0 ? "fill the bar with notes or rests (r)" : "shorten it, or tie a note over the bar line: G4:2~ | G4:1");
    }

    private static string InUnits(Span length, BarMeter meter) => Count(length / meter.Unit, "unit");

    private static string Count(Rational number, string thing) => number == Rational.One ? $"{number} {thing}" : $"{number} {thing}s";

    // Tied notes become one; rests only take time.
    private void Join(Span start, List<TuneNote> notes, List<int> places)
    {
        var at = start;
        Element? tied = null;
        foreach (var element in _elements)
        {
            if (tied is not null)
            {
                if (element.Pitch is { } next && next == tied.Value.Pitch && element.Graces.Count == 0)
                {
                    notes[^1] = notes[^1] with { Length = notes[^1].Length + element.Length };
                    at += element.Length;
                    tied = element.Tie ? element : null;
                    continue;
                }

                TellAt(
                    element.Place,
                    $"a tie leads here from {tied.Value.Pitch}, but this is {(element.IsRest ? "a rest" : element.Pitch.ToString())}",
                    "tie a note to the same pitch only");
                return;
            }

            if (element.Pitch is { } pitch)
            {
                notes.Add(new TuneNote(at, element.Length, pitch, element.Graces));
                places.Add(element.Place);
                tied = element.Tie ? element : null;
            }

            at += element.Length;
        }

        if (tied is not null)
        {
            TellAt(tied.Value.Place, "the last note is tied to nothing", "leave out its ~; a tune ends with its section");
        }
    }

    private readonly record struct Element(
        int Place, Pitch? Pitch, bool IsRest, Span Length, bool Tie, IReadOnlyList<Pitch> Graces);

    private sealed class TuneBar
    {
        public int Place { get; set; }

        public List<Element> Elements { get; } = [];

        public Stack<Rational> Tuplets { get; } = [];

        public int TupletAt { get; set; }

        public List<Pitch> Graces { get; } = [];

        public int GracesAt { get; set; }

        public int? Repeat { get; set; }

        /// <summary>True when its length cannot be known because something in it could not be read.</summary>
        public bool Uncertain { get; set; }

        /// <summary>True while its first and only element is a rest without a length.</summary>
        public bool LoneRest { get; set; }

        public bool IsLoneRest => LoneRest && Elements.Count == 1;

        public bool IsEmpty => Elements.Count == 0 && Repeat is null && Tuplets.Count == 0 && Graces.Count == 0;
    }
}
