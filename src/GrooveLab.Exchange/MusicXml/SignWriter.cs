using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using MeterMark = GrooveLab.Music.Notation.MeterMark;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>A sign of a measure that waits for its place.</summary>
internal sealed class PlacedSign(Span at, object what, PrintPlace place)
{
    /// <summary>Where it belongs.</summary>
    public Span At { get; } = at;

    /// <summary>The mark, or the measure for a bar line inside it.</summary>
    public object What { get; } = what;

    public PrintPlace Place { get; } = place;

    /// <summary>Where it can stand: inside its measure.</summary>
    public Span Stands { get; init; } = at;

    /// <summary>Its order among the attributes of one place; zero for other signs.</summary>
    public int AttributeOrder { get; init; }

    /// <summary>True when it has no offset and must stand exactly at its place.</summary>
    public bool IsExact { get; init; }

    public bool IsWritten { get; set; }
}

/// <summary>Writes what is neither a note nor a rest: attributes, directions, chord symbols, bar lines.</summary>
internal sealed class SignWriter(int index, WrittenPart part, ScoreIds ids, ScoreXml xml, ScoreDivisions divisions)
{
    // The order of the schema.
    private const int OrderOfKey = 1, OrderOfTime = 2, OrderOfStaves = 3, OrderOfClef = 4, OrderOfDetails = 5, OrderOfTransposition = 6, OrderOfForPart = 7;
    private const int OrderOfDirective = 8, OrderOfStyle = 9;

    private readonly PartTransposition _transposition = new(part);
    private long? _divisions;
    private int _measure;

    public string PartId => ids.Part(index);

    /// <summary>Makes the next attributes say a unit of time.</summary>
    public void SetDivisions(long perQuarter) => _divisions = perQuarter;

    /// <summary>Lists the signs of a measure in their order.</summary>
    public void Collect(int measureIndex, Measure measure, PartMeasure ours, Span length, List<PlacedSign> signs)
    {
        _measure = measureIndex;
        signs.Clear();
        foreach (var mark in measure.Marks)
        {
            var (order, isExact) = mark switch
            {
                KeyMark => (OrderOfKey, true),
                MeterMark => (OrderOfTime, true),
                _ => (0, false),
            };
            if (SideOf(mark) is { } side)
            {
                if (side == BarlineSide.Middle && Places(mark).Any() && !signs.Exists(sign => sign.What is Measure && sign.At == mark.At))
                {
                    Add(new PlacedSign(mark.At, measure, new PrintPlace(part.Id)) { Stands = Inside(mark.At), IsExact = true });
                }

                continue;
            }

            foreach (var place in Places(mark))
            {
                Add(new PlacedSign(mark.At, mark, place) { Stands = Inside(mark.At), AttributeOrder = order, IsExact = isExact });
            }
        }

        foreach (var one in ours.Transpositions)
        {
            Add(new PlacedSign(one.At, one, new PrintPlace(part.Id, one.Staff)) { Stands = Inside(one.At), AttributeOrder = OrderOfTransposition, IsExact = true });
        }

        foreach (var one in ours.Clefs)
        {
            Add(new PlacedSign(one.At, one, new PrintPlace(part.Id, one.Staff)) { Stands = Inside(one.At), AttributeOrder = OrderOfClef, IsExact = true });
        }

        foreach (var one in ours.Marks)
        {
            var order = one.Mark.Kind switch
            {
                MarkKind.Staves => OrderOfStaves,
                MarkKind.StaffDetails => OrderOfDetails,
                MarkKind.ForPart => OrderOfForPart,
                MarkKind.Directive => OrderOfDirective,
                MarkKind.MultipleRest or MarkKind.MeasureRepeat or MarkKind.BeatRepeat or MarkKind.Slash => OrderOfStyle,
                _ => 0,
            };
            var place = new PrintPlace(part.Id, one.Staff) { Voice = one.Voice };
            Add(new PlacedSign(one.At, one, place)
            {
                Stands = Inside(one.At),
                AttributeOrder = order,
                IsExact = order > 0 || one.Mark.Kind == MarkKind.FiguredBass,
            });
        }

        Span Inside(Span at) => Span.Max(Span.Zero, Span.Min(at, length));

        // Few signs, nearly in order: attributes before other signs of their place, otherwise as they come.
        void Add(PlacedSign sign)
        {
            var to = signs.Count;
            while (to > 0 && IsAfter(signs[to - 1], sign))
            {
                to--;
            }

            signs.Insert(to, sign);
        }
    }

    /// <summary>Writes the attributes with which a measure begins.</summary>
    public void StartOfMeasure(List<PlacedSign> signs)
    {
        if (_divisions is not null || (signs.Count > 0 && signs[0].AttributeOrder > 0 && signs[0].Stands == Span.Zero))
        {
            Attributes(signs, 0, Span.Zero);
        }
    }

    /// <summary>Writes a sign; of attributes also the others at its place.</summary>
    /// <param name="signs">The signs of the measure.</param>
    /// <param name="at">The sign's index.</param>
    /// <param name="cursor">Where the file stands.</param>
    public void Write(List<PlacedSign> signs, int at, Span cursor)
    {
        var sign = signs[at];
        if (sign.AttributeOrder > 0)
        {
            Attributes(signs, at, sign.Stands);
            return;
        }

        sign.IsWritten = true;
        var offset = sign.At - cursor;
        switch (sign.What)
        {
            case Measure measure:
                Barline(measure, BarlineSide.Middle, sign.At);
                break;
            case RehearsalMark rehearsal:
                OpenDirection("above");
                Typed("rehearsal", rehearsal.Text);
                CloseDirection(sign.Place, offset);
                break;
            case WordsMark words:
                OpenDirection("above", isForAll: true);
                Typed("words", words.Text);
                CloseDirection(sign.Place, offset);
                break;
            case TempoSign tempo:
                TempoOf(tempo, sign.Place, offset);
                break;
            case JumpMark jump:
                JumpOf(jump, sign.Place, offset);
                break;
            case ChordMark chord:
                HarmonyOf(chord, sign, offset);
                break;
            case PlacedMark mark:
                MarkOf(mark, sign.Place, offset);
                break;
        }
    }

    /// <summary>Writes the signs of a bar line.</summary>
    /// <param name="measure">The measure.</param>
    /// <param name="side">Which bar line.</param>
    /// <param name="at">The place of one inside the measure; null for the others.</param>
    public void Barline(Measure measure, BarlineSide side, Span? at)
    {
        var marks = new List<MeasureMark>();
        foreach (var mark in measure.Marks)
        {
            if (SideOf(mark) == side && (at is null || mark.At == at) && Places(mark).Any())
            {
                marks.Add(mark);
            }
        }

        if (marks.Count == 0)
        {
            return;
        }

        xml.Line();
        xml.Open("barline");
        xml.Attribute("location", side switch { BarlineSide.Left => "left", BarlineSide.Middle => "middle", _ => "right" });
        foreach (var mark in marks.OfType<BarlineMark>())
        {
            xml.Element("bar-style", mark.Style);
        }

        foreach (var mark in marks.OfType<BarlineSign>().OrderBy(mark => mark.Mark.Kind == MarkKind.WavyLine ? 0 : 1))
        {
            MarkWriter.Write(xml, mark.Mark);
        }

        foreach (var mark in marks.OfType<EndingMark>())
        {
            xml.Open("ending");
            xml.Attribute("number", string.Join(',', mark.Numbers));
            xml.Attribute("type", mark.Edge switch { EndingEdge.Start => "start", EndingEdge.Stop => "stop", _ => "discontinue" });
            xml.Attribute("print-object", mark.IsHidden ? false : null);
            xml.Text(mark.Text ?? "");
            xml.Close();
        }

        foreach (var mark in marks.OfType<RepeatMark>())
        {
            xml.Open("repeat");
            xml.Attribute("direction", mark.IsForward ? "forward" : "backward");
            xml.Attribute("times", mark.Times);
            xml.Attribute("after-jump", mark.AfterJump);
            xml.Close();
        }

        xml.Close();
    }

    private static bool IsAfter(PlacedSign known, PlacedSign made) => known.Stands != made.Stands
        ? known.Stands > made.Stands
        : made.AttributeOrder > 0
            ? known.AttributeOrder == 0 || known.AttributeOrder > made.AttributeOrder
            : known.AttributeOrder == 0 && known.At > made.At;

    private static BarlineSide? SideOf(MeasureMark mark) => mark switch
    {
        BarlineMark one => one.Side,
        BarlineSign one => one.Side,
        RepeatMark one => one.Side,
        EndingMark one => one.Side,
        _ => null,
    };

    // Without a place of its own, a mark of the whole score stands over the first part; what each part needs stands in all.
    private IEnumerable<PrintPlace> Places(MeasureMark mark)
    {
        if (mark.Where.Count > 0)
        {
            foreach (var place in mark.Where)
            {
                if (place.Part == part.Id)
                {
                    yield return place;
                }
            }
        }
        else if (index == 0 || mark is KeyMark or MeterMark || SideOf(mark) is not null)
        {
            yield return new PrintPlace(part.Id);
        }
    }

    private void Attributes(List<PlacedSign> signs, int from, Span stands)
    {
        xml.Line();
        xml.Open("attributes");
        if (_divisions is { } perQuarter)
        {
            xml.Element("divisions", ScoreXml.TextOf(perQuarter));
            _divisions = null;
        }

        var last = 0;
        for (var i = from; i < signs.Count && signs[i].Stands == stands; i++)
        {
            var sign = signs[i];
            if (sign.AttributeOrder == 0 || sign.IsWritten)
            {
                continue;
            }

            if (sign.AttributeOrder == OrderOfForPart && last == OrderOfTransposition)
            {
                // Either is allowed, not both.
                xml.Close();
                xml.Open("attributes");
            }

            last = sign.AttributeOrder;
            sign.IsWritten = true;
            Attribute(sign);
        }

        xml.Close();
        for (var i = from; i < signs.Count && signs[i].Stands == stands; i++)
        {
            if (signs[i].What is MeterMark { Meter.Grouping: { } grouping })
            {
                Feature(MusicXmlWords.GroupsOfMeter, grouping.ToString());
            }
        }
    }

    /// <summary>Writes what analysis says of a measure, in the format's element for it. Behind attributes: at the start of a part, verovio 6.3.0 fails on
    /// anything before them.</summary>
    public void Feature(string type, string text)
    {
        xml.Line();
        xml.Open("grouping");
        xml.Attribute("type", "single");
        xml.Open("feature");
        xml.Attribute("type", type);
        xml.Text(text);
        xml.Close();
        xml.Close();
    }

    private void Attribute(PlacedSign sign)
    {
        switch (sign.What)
        {
            case KeyMark key:
                KeyOf(key.Key, sign.Place.Staff);
                break;
            case MeterMark meter:
                xml.Open("time");
                xml.Attribute("number", sign.Place.Staff);
                TimeOf(meter.Meter);
                xml.Close();
                break;
            case PlacedClef clef:
                ClefOf(clef);
                break;
            case Transposition transposition:
                TranspositionOf(transposition);
                break;
            case PlacedMark { Mark.Kind: MarkKind.MultipleRest or MarkKind.MeasureRepeat or MarkKind.BeatRepeat or MarkKind.Slash } style:
                xml.Open("measure-style");
                xml.Attribute("number", style.Staff);
                MarkWriter.Write(xml, style.Mark);
                xml.Close();
                break;
            case PlacedMark other:
                MarkWriter.Write(xml, other.Mark);
                break;
        }
    }

    private void KeyOf(WrittenKey key, int? staff)
    {
        xml.Open("key");
        xml.Attribute("number", staff);
        xml.Attribute("print-object", key.IsHidden ? false : null);
        xml.Element("cancel", key.Cancels);
        xml.Element("fifths", key.Fifths);
        xml.Element("mode", key.Mode);
        foreach (var one in key.Accidentals)
        {
            xml.Element("key-step", NoteWriter.Step(one.Letter));
            xml.Element("key-alter", ScoreXml.TextOf(one.Alter));
            xml.Element("key-accidental", one.Sign);
        }

        foreach (var one in key.Octaves)
        {
            xml.Open("key-octave");
            xml.Attribute("number", one.Accidental);
            xml.Attribute("cancel", one.Cancels);
            xml.Text(one.Octave.ToString(CultureInfo.InvariantCulture));
            xml.Close();
        }

        xml.Close();
    }

    private void TimeOf(WrittenMeter meter, string? relation = null)
    {
        xml.Attribute("symbol", meter.Symbol);
        xml.Attribute("print-object", meter.IsHidden ? false : null);
        xml.Element("time-relation", relation);
        foreach (var pair in meter.Pairs)
        {
            xml.Element("beats", string.Join('+', pair.Beats));
            xml.Element("beat-type", pair.BeatType);
        }

        if (meter.Interchangeable is { } other)
        {
            xml.Open("interchangeable");
            TimeOf(other, meter.Relation);
            xml.Close();
        }

        xml.Element("senza-misura", meter.SenzaMisura);
    }

    private void ClefOf(PlacedClef placed)
    {
        var clef = placed.Clef;
        xml.Open("clef");
        xml.Attribute("number", placed.Staff);
        xml.Element("sign", MusicXmlWords.Sign(clef.Sign));
        xml.Element("line", clef.Sign == ClefSign.Percussion && clef.Line == 0 ? null : clef.Line);
        xml.Element("clef-octave-change", clef.Octaves == 0 ? null : clef.Octaves);
        xml.Close();
    }

    private void TranspositionOf(Transposition one)
    {
        xml.Open("transpose");
        xml.Attribute("number", one.Staff);
        xml.Element("diatonic", one.Diatonic);
        xml.Element("chromatic", ScoreXml.TextOf(one.Chromatic));
        xml.Element("octave-change", one.Octaves);
        if (one.DoubledBelow is { } below)
        {
            xml.Open("double");
            xml.Attribute("above", below ? null : true);
            xml.Close();
        }

        xml.Close();
    }

    private void OpenDirection(string? placement, bool isForAll = false)
    {
        xml.Line();
        xml.Open("direction");
        xml.Attribute("placement", placement);
        xml.Attribute("system", isForAll ? "only-top" : null);
    }

    private void Typed(string name, string text)
    {
        xml.Open("direction-type");
        xml.Open(name);
        xml.Text(text);
        xml.Close();
        xml.Close();
    }

    // What follows the kinds of a direction, in the order of the schema.
    private void CloseDirection(PrintPlace place, Span offset, Action? sound = null)
    {
        Offset(offset, isOfSound: true);
        xml.Element("voice", place.Voice);
        xml.Element("staff", place.Staff);
        sound?.Invoke();
        xml.Close();
    }

    // A sound has no staff and no voice of its own; a direction without words has.
    private void SoundAlone(PrintPlace place, Span offset, Action<Span> sound)
    {
        if (place.Staff is null && place.Voice is null)
        {
            xml.Line();
            sound(offset);
            return;
        }

        OpenDirection(null);
        Typed("words", "");
        CloseDirection(place, offset, () => sound(Span.Zero));
    }

    private void Offset(Span offset, bool isOfSound = false)
    {
        if (offset != Span.Zero)
        {
            xml.Open("offset");
            xml.Attribute("sound", isOfSound ? true : null);
            xml.Text(divisions.Text(offset));
            xml.Close();
        }
    }

    private void TempoOf(TempoSign tempo, PrintPlace place, Span offset)
    {
        var hasSound = tempo.SoundQuarters is not null || tempo.Swing is not null;
        if (tempo.Words.Count == 0 && tempo.Metronomes.Count == 0)
        {
            if (hasSound)
            {
                SoundAlone(place, offset, Sound);
            }

            return;
        }

        OpenDirection("above");
        foreach (var words in tempo.Words)
        {
            Typed("words", words);
        }

        foreach (var metronome in tempo.Metronomes)
        {
            xml.Open("direction-type");
            MetronomeOf(metronome);
            xml.Close();
        }

        CloseDirection(place, offset, hasSound ? () => Sound(Span.Zero) : null);

        void Sound(Span away)
        {
            xml.Open("sound");
            xml.Attribute("tempo", tempo.SoundQuarters is { } quarters ? ScoreXml.TextOf(quarters) : null);
            if (tempo.Swing is { } swing)
            {
                xml.DetailElement(swing);
            }

            Offset(away);
            xml.Close();
        }
    }

    private void MetronomeOf(Metronome metronome)
    {
        xml.Open("metronome");
        xml.Attribute("parentheses", metronome.InParentheses);
        xml.Attribute("print-object", metronome.IsHidden ? false : null);
        BeatOf(metronome.Beat);
        xml.Element("per-minute", metronome.PerMinute);
        BeatOf(metronome.SameAs);
        xml.Details(metronome.Figure);
        xml.Close();
    }

    private void BeatOf(BeatUnit? beat)
    {
        if (beat is null)
        {
            return;
        }

        UnitOf(beat.Unit);
        foreach (var tied in beat.Tied)
        {
            xml.Open("beat-unit-tied");
            UnitOf(tied);
            xml.Close();
        }
    }

    private void UnitOf(NoteUnit unit)
    {
        xml.Element("beat-unit", MusicXmlWords.Type(unit.Base));
        xml.Empty("beat-unit-dot", unit.Dots);
    }

    private void JumpOf(JumpMark jump, PrintPlace place, Span offset)
    {
        // Inferred jumps stand in the score as words.
        var sounds = jump.Sounds && jump.Provenance == Provenance.Written;
        if (!jump.IsDrawn)
        {
            if (sounds)
            {
                SoundAlone(place, offset, Sound);
            }

            return;
        }

        OpenDirection("above");
        xml.Open("direction-type");
        xml.Empty(jump.Kind is JumpKind.Segno or JumpKind.DalSegno ? "segno" : "coda");
        xml.Close();
        CloseDirection(place, offset, sounds ? () => Sound(Span.Zero) : null);

        void Sound(Span away)
        {
            xml.Open("sound");
            xml.Attribute(
                jump.Kind switch
                {
                    JumpKind.ToCoda => "tocoda",
                    JumpKind.DaCapo => "dacapo",
                    JumpKind.DalSegno => "dalsegno",
                    JumpKind.ForwardRepeat => "forward-repeat",
                    JumpKind.Segno => "segno",
                    JumpKind.Coda => "coda",
                    _ => "fine",
                },
                jump.Name ?? "yes");
            xml.Passes(jump.Passes);
            Offset(away);
            xml.Close();
        }
    }

    private void HarmonyOf(ChordMark mark, PlacedSign sign, Span offset)
    {
        xml.Line();
        xml.Open("harmony");
        xml.Attribute("type", mark.Type);
        xml.Attribute("print-object", mark.IsHidden ? false : null);
        foreach (var chord in mark.Chords)
        {
            ChordOf(ChordKinds.Written(chord, _transposition.At(_measure, sign.At, sign.Place.Staff)));
        }

        xml.Children(mark.Details);
        Offset(offset);
        xml.Element("staff", sign.Place.Staff);
        xml.Close();
    }

    private void ChordOf(WrittenChord chord)
    {
        LetterOf(chord.Root, "root");
        if (chord.Numeral is { } numeral)
        {
            xml.DetailElement(numeral);
        }

        xml.Element("function", chord.Function);
        xml.Open("kind");
        xml.Attribute("text", chord.KindText);
        xml.Text(chord.Kind ?? "");
        xml.Close();
        xml.Element("inversion", chord.Inversion);
        LetterOf(chord.Bass, "bass");
        foreach (var degree in chord.Degrees)
        {
            xml.Open("degree");

            // The printed kind names them already.
            xml.Attribute("print-object", chord.KindText is null ? null : false);
            xml.Element("degree-value", degree.Value);
            xml.Element("degree-alter", ScoreXml.TextOf(degree.Alter));
            xml.Element("degree-type", degree.Type);
            xml.Close();
        }
    }

    private void LetterOf(ChordLetter? letter, string name)
    {
        if (letter is null)
        {
            return;
        }

        xml.Open(name);
        xml.Open(name + "-step");
        xml.Attribute("text", letter.Text);
        xml.Text(NoteWriter.Step(letter.Letter));
        xml.Close();
        xml.Element(name + "-alter", letter.Alter is { } alter ? ScoreXml.TextOf(alter) : null);
        xml.Close();
    }

    private void MarkOf(PlacedMark placed, PrintPlace place, Span offset)
    {
        var mark = placed.Mark;
        switch (mark.Kind)
        {
            case MarkKind.SoundSetting:
                SoundAlone(place, offset, away =>
                {
                    xml.Open("sound");
                    xml.Attribute(mark.Text!, mark.Detail("value"));
                    Offset(away);
                    xml.Close();
                });
                break;
            case MarkKind.FiguredBass:
                xml.Line();
                xml.Open("figured-bass");
                xml.Details(mark.Details);
                xml.Element("duration", placed.Length is { } length ? divisions.Text(length) : null);
                xml.Close();
                break;
            case MarkKind.Dynamics or MarkKind.OtherDynamics:
                OpenDirection("below");
                xml.Open("direction-type");
                xml.Open("dynamics");
                if (mark.Kind == MarkKind.Dynamics)
                {
                    xml.Empty(mark.Text!);
                }
                else
                {
                    MarkWriter.Write(xml, mark);
                }

                xml.Close();
                xml.Close();
                CloseDirection(place, offset);
                break;
            default:
                OpenDirection(mark.Kind switch
                {
                    MarkKind.Wedge or MarkKind.Pedal => "below",
                    MarkKind.Words or MarkKind.Symbol => "above",
                    _ => null,
                });
                xml.Open("direction-type");
                MarkWriter.Write(xml, mark);
                xml.Close();
                CloseDirection(place, offset);
                break;
        }
    }
}
