using System.Globalization;
using System.Xml.Linq;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Writes the model as MusicXML 4.0 (partwise), for the tests: all its content, in no particular layout.</summary>
internal sealed class MusicXmlWriter
{
    private readonly WrittenMusic _music;

    private MusicXmlWriter(WrittenMusic music) => _music = music;

    public static XDocument Write(WrittenMusic music) => new MusicXmlWriter(music).Write();

    private static string Text(int number) => number.ToString(CultureInfo.InvariantCulture);

    // A decimal number if possible; all numbers of a score file are decimal.
    private static string Text(Rational number) => number.IsInteger
        ? number.ToString()
        : ((decimal)number.Numerator / number.Denominator).ToString("0.################", CultureInfo.InvariantCulture);

    private static string YesNo(bool value) => value ? "yes" : "no";

    private static XAttribute? Attribute(string name, string? value) => value is null ? null : new XAttribute(name, value);

    private static XAttribute? Attribute(string name, bool? value) => value is null ? null : new XAttribute(name, YesNo(value.Value));

    private static XElement? Element(string name, string? value) => value is null ? null : new XElement(name, value);

    private static XElement? Element(string name, int? value) => value is null ? null : new XElement(name, Text(value.Value));

    private static IEnumerable<XElement> Dots(string name, int dots) => Enumerable.Range(0, dots).Select(_ => new XElement(name));

    private static IEnumerable<object> Details(IEnumerable<Detail> details)
    {
        foreach (var detail in details)
        {
            yield return detail.Name[0] == '@'
                ? new XAttribute(detail.Name[1..], detail.Value)
                : new XElement(detail.Name, detail.Inside.Any(inside => inside.Name[0] != '@') ? null : detail.Value, Details(detail.Inside));
        }
    }

    private static XAttribute? Passes(ValueList<int> passes) => passes.Count == 0 ? null : new XAttribute("time-only", string.Join(",", passes));

    private static XElement MarkElement(Mark mark, string? name = null)
    {
        var element = new XElement(name ?? MusicXmlWords.Name(mark.Kind), mark.Text, Details(mark.Details));
        if (mark.Edge != MarkEdge.Single)
        {
            element.Add(new XAttribute("type", mark.Edge.ToString().ToLowerInvariant()));
        }
        else if (mark.Kind == MarkKind.OtherNotation)
        {
            element.Add(new XAttribute("type", "single"));
        }

        element.Add(mark.Number is { } number ? new XAttribute("number", Text(number)) : null);
        return element;
    }

    private XDocument Write() => new(
        new XElement(
            "score-partwise",
            new XAttribute("version", "4.0"),
            Headed("work", "work-number", "work-title"),
            Of("movement-number"),
            Of("movement-title"),
            Headed("identification", "creator", "rights", "source", "relation"),
            new XElement("part-list", _music.Parts.Select(Listed)),
            _music.Parts.Select(part => new PartWriter(_music, part).Write())));

    private XElement? Headed(string name, params string[] kinds) =>
        kinds.SelectMany(Of).ToList() is { Count: > 0 } lines ? new XElement(name, lines) : null;

    private IEnumerable<XElement> Of(string kind) => _music.Headings
        .Where(heading => heading.Kind == kind)
        .Select(heading => new XElement(kind, Attribute("type", heading.Type), heading.Text));

    private static XElement Listed(WrittenPart part) => new(
        "score-part",
        new XAttribute("id", part.Id),
        new XElement("part-name", part.Name),
        Element("part-abbreviation", part.Abbreviation),
        part.Instruments.Select(instrument => new XElement(
            "score-instrument",
            new XAttribute("id", instrument.Id),
            new XElement("instrument-name", instrument.Name),
            Element("instrument-sound", instrument.Sound))),
        part.Instruments.Where(instrument => instrument.Program is not null || instrument.PercussionKey is not null).Select(instrument => new XElement(
            "midi-instrument",
            new XAttribute("id", instrument.Id),
            Element("midi-program", instrument.Program + 1),
            Element("midi-unpitched", instrument.PercussionKey + 1))));

    private sealed class PartWriter(WrittenMusic music, WrittenPart part)
    {
        private readonly long _divisions = DivisionsOf(music, part);
        private readonly Dictionary<int, (VoiceEvent First, VoiceEvent Last)> _tuplets = EndsOfTuplets(part);

        public XElement Write() => new(
            "part", new XAttribute("id", part.Id), Enumerable.Range(0, part.Measures.Count).Select(Measure));

        private static long DivisionsOf(WrittenMusic music, WrittenPart part)
        {
            var divisions = 1L;
            var lengths = part.Measures.SelectMany(measure => measure.Voices.SelectMany(voice => voice.Events).Select(one => one.Length)
                    .Concat(measure.Voices.SelectMany(voice => voice.Events).OfType<NotesEvent>().Select(one => one.Grace?.AddsTime ?? Span.Zero))
                    .Concat(measure.Marks.SelectMany(mark => new[] { mark.At, mark.Length ?? Span.Zero }))
                    .Concat(measure.Transpositions.Select(one => one.At)))
                .Concat(music.Measures.SelectMany(measure => measure.Marks).Select(mark => mark.At));
            foreach (var length in lengths)
            {
                var below = (length.Wholes * 4).Denominator;
                var (a, b) = (divisions, below);
                while (b != 0)
                {
                    (a, b) = (b, a % b);
                }

                divisions *= below / a;
            }

            return divisions;
        }

        private static Dictionary<int, (VoiceEvent First, VoiceEvent Last)> EndsOfTuplets(WrittenPart part)
        {
            var ends = new Dictionary<int, (VoiceEvent First, VoiceEvent Last)>();
            foreach (var one in part.Measures.SelectMany(measure => measure.Voices).SelectMany(voice => voice.Events))
            {
                foreach (var tuplet in one.Value?.Tuplets ?? [])
                {
                    ends[tuplet.Id] = ends.TryGetValue(tuplet.Id, out var known) ? (known.First, one) : (one, one);
                }
            }

            return ends;
        }

        private string Time(Span length) => Text(length.Wholes * 4 * _divisions);

        private XElement? Move(Span from, Span to) => from == to ? null
            : from < to ? new XElement("forward", new XElement("duration", Time(to - from)))
            : new XElement("backup", new XElement("duration", Time(from - to)));

        private XElement Measure(int index)
        {
            var measure = music.Measures[index];
            var ours = part.Measures[index];
            var element = new XElement(
                "measure",
                new XAttribute("number", measure.Number),
                measure.IsUncounted ? new XAttribute("implicit", "yes") : null,
                measure.IsOneParts ? new XAttribute("non-controlling", "yes") : null,
                Attribute("text", measure.Annotations.FirstOrDefault(annotation => annotation.Kind == "measure-text")?.Text));
            if (index == 0)
            {
                element.Add(new XElement("attributes", new XElement("divisions", Text(new Rational(_divisions, 1)))));
            }

            var placed = measure.Marks
                .SelectMany(mark => mark.Where.Where(place => place.Part == part.Id).Select(place => (mark.At, Signs: Signs(mark, place).ToList())))
                .Concat(ours.Transpositions.Select(one => (one.At, Signs: new List<XElement> { TranspositionOf(one) })))
                .Concat(ours.Marks.Select(mark => (mark.At, Signs: new List<XElement> { Sign(mark) })))
                .OrderBy(one => one.At)
                .ToList();
            element.Add(Barline(measure, BarlineSide.Left, null));
            var cursor = Span.Zero;
            var length = music.LengthOf(index) ?? Span.Zero;
            foreach (var (at, signs) in placed.Where(one => one.Signs.Count > 0))
            {
                // A sign outside its measure needs an offset.
                var stands = Span.Max(Span.Zero, Span.Min(at, length));
                element.Add(Move(cursor, stands));
                cursor = stands;
                foreach (var sign in signs)
                {
                    if (stands != at)
                    {
                        Shift(sign, at - stands);
                    }

                    element.Add(sign);
                }
            }

            foreach (var middle in measure.Marks.Where(mark => SideOf(mark) == BarlineSide.Middle).Select(mark => mark.At).Distinct())
            {
                element.Add(Move(cursor, middle));
                cursor = middle;
                element.Add(Barline(measure, BarlineSide.Middle, middle));
            }

            foreach (var voice in ours.Voices)
            {
                element.Add(Move(cursor, Span.Zero));
                cursor = Span.Zero;
                foreach (var one in voice.Events)
                {
                    element.Add(Events(voice.Name, one));
                    cursor += one.Length;
                }
            }

            element.Add(Move(cursor, Span.Max(cursor, length)));
            element.Add(Barline(measure, BarlineSide.Right, null));
            return element;
        }

        private void Shift(XElement sign, Span by)
        {
            var offset = new XElement("offset", Time(by));
            if (sign.Name.LocalName == "direction")
            {
                offset.Add(new XAttribute("sound", "yes"));
                sign.Elements("direction-type").Last().AddAfterSelf(offset);
            }
            else if (sign.Name.LocalName == "harmony")
            {
                sign.Elements().Last(child => child.Name.LocalName != "staff").AddAfterSelf(offset);
            }
            else
            {
                sign.Add(offset);
            }
        }

        private static BarlineSide? SideOf(MeasureMark mark) => mark switch
        {
            BarlineMark one => one.Side,
            BarlineSign one => one.Side,
            RepeatMark one => one.Side,
            EndingMark one => one.Side,
            _ => null,
        };

        private XElement? Barline(Measure measure, BarlineSide side, Span? at)
        {
            var marks = measure.Marks
                .Where(mark => SideOf(mark) == side && (at is null || mark.At == at) && mark.Where.Any(place => place.Part == part.Id))
                .ToList();
            return marks.Count == 0
                ? null
                : new XElement(
                    "barline",
                    new XAttribute("location", side.ToString().ToLowerInvariant()),
                    marks.OfType<BarlineMark>().Select(mark => new XElement("bar-style", mark.Style)),
                    marks.OfType<BarlineSign>().OrderBy(mark => mark.Mark.Kind).Select(mark => MarkElement(mark.Mark)),
                    marks.OfType<EndingMark>().Select(mark => new XElement(
                        "ending",
                        new XAttribute("number", string.Join(",", mark.Numbers)),
                        new XAttribute("type", mark.Edge.ToString().ToLowerInvariant()),
                        mark.IsHidden ? new XAttribute("print-object", "no") : null,
                        mark.Text)),
                    marks.OfType<RepeatMark>().Select(mark => new XElement(
                        "repeat",
                        new XAttribute("direction", mark.IsForward ? "forward" : "backward"),
                        Attribute("times", mark.Times is { } times ? Text(times) : null),
                        Attribute("after-jump", mark.AfterJump))));
        }

        private static XElement Directed(PrintPlace place, XElement? sound, params IEnumerable<XElement> types) => new(
            "direction",
            types.Select(type => new XElement("direction-type", type)),
            Element("voice", place.Voice),
            Element("staff", place.Staff),
            sound);

        private IEnumerable<XElement> Signs(MeasureMark mark, PrintPlace place)
        {
            switch (mark)
            {
                case MeterMark meter:
                    var time = TimeOf(meter.Meter, "time");
                    time.Add(place.Staff is { } staff ? new XAttribute("number", Text(staff)) : null);
                    yield return new XElement("attributes", time);
                    break;
                case KeyMark key:
                    yield return new XElement("attributes", KeyOf(key.Key, place.Staff));
                    break;
                case RehearsalMark rehearsal:
                    yield return Directed(place, null, new XElement("rehearsal", rehearsal.Text));
                    break;
                case WordsMark words:
                    var only = Directed(place, null, new XElement("words", words.Text));
                    only.Add(new XAttribute("system", "only-top"));
                    yield return only;
                    break;
                case TempoSign tempo:
                    yield return TempoOf(tempo, place);
                    break;
                case JumpMark jump:
                    yield return JumpOf(jump, place);
                    break;
                case ChordMark chord:
                    yield return HarmonyOf(chord, place);
                    break;
            }
        }

        private static XElement TempoOf(TempoSign tempo, PrintPlace place)
        {
            var sound = tempo.SoundQuarters is null && tempo.Swing is null
                ? null
                : new XElement(
                    "sound",
                    tempo.SoundQuarters is { } quarters ? new XAttribute("tempo", Text(quarters)) : null,
                    tempo.Swing is { } swing ? Details([swing]) : null);
            var types = tempo.Words.Select(words => new XElement("words", words)).Concat(tempo.Metronomes.Select(MetronomeOf)).ToList();
            return types.Count == 0 ? sound! : Directed(place, sound, types);
        }

        private static IEnumerable<XElement> BeatOf(BeatUnit beat) =>
            UnitOf(beat.Unit).Concat(beat.Tied.Select(tied => new XElement("beat-unit-tied", UnitOf(tied))));

        private static IEnumerable<XElement> UnitOf(NoteUnit unit) =>
            Dots("beat-unit-dot", unit.Dots).Prepend(new XElement("beat-unit", MusicXmlWords.Type(unit.Base)));

        private static XElement MetronomeOf(Metronome metronome) => new(
            "metronome",
            Attribute("parentheses", metronome.InParentheses),
            metronome.IsHidden ? new XAttribute("print-object", "no") : null,
            metronome.Beat is { } beat ? BeatOf(beat) : null,
            Element("per-minute", metronome.PerMinute),
            metronome.SameAs is { } same ? BeatOf(same) : null,
            Details(metronome.Figure));

        private static XElement JumpOf(JumpMark jump, PrintPlace place)
        {
            var name = jump.Kind switch
            {
                JumpKind.ToCoda => "tocoda",
                JumpKind.DaCapo => "dacapo",
                JumpKind.DalSegno => "dalsegno",
                JumpKind.ForwardRepeat => "forward-repeat",
                var kind => kind.ToString().ToLowerInvariant(),
            };
            var sound = jump.Sounds && jump.Provenance == Provenance.Written ? new XElement("sound", new XAttribute(name, jump.Name ?? "yes"), Passes(jump.Passes)) : null;
            var sign = jump.Kind is JumpKind.Segno or JumpKind.DalSegno ? "segno" : "coda";
            return jump.IsDrawn ? Directed(place, sound, new XElement(sign)) : sound!;
        }

        private static XElement TimeOf(WrittenMeter meter, string name) => new(
            name,
            Attribute("symbol", meter.Symbol),
            meter.IsHidden ? new XAttribute("print-object", "no") : null,
            meter.Pairs.SelectMany(pair => new[] { new XElement("beats", string.Join("+", pair.Beats)), new XElement("beat-type", Text(pair.BeatType)) }),
            meter.Interchangeable is { } other ? InterchangeableOf(meter, other) : null,
            Element("senza-misura", meter.SenzaMisura));

        private static XElement InterchangeableOf(WrittenMeter meter, WrittenMeter other)
        {
            var element = TimeOf(other, "interchangeable");
            if (meter.Relation is { } relation)
            {
                element.AddFirst(new XElement("time-relation", relation));
            }

            return element;
        }

        private static XElement KeyOf(WrittenKey key, int? staff) => new(
            "key",
            Attribute("number", staff is { } number ? Text(number) : null),
            key.IsHidden ? new XAttribute("print-object", "no") : null,
            Element("cancel", key.Cancels),
            Element("fifths", key.Fifths),
            Element("mode", key.Mode),
            key.Accidentals.SelectMany(one => new[]
            {
                new XElement("key-step", one.Letter.ToString()), new XElement("key-alter", Text(one.Alter)), Element("key-accidental", one.Sign),
            }),
            key.Octaves.Select(one => new XElement(
                "key-octave", new XAttribute("number", Text(one.Accidental)), Attribute("cancel", one.Cancels), Text(one.Octave))));

        private static XElement TranspositionOf(Transposition one) => new(
            "attributes",
            new XElement(
                "transpose",
                Attribute("number", one.Staff is { } staff ? Text(staff) : null),
                Element("diatonic", one.Diatonic),
                new XElement("chromatic", Text(one.Chromatic)),
                Element("octave-change", one.Octaves),
                one.DoubledBelow is { } below ? new XElement("double", below ? null : new XAttribute("above", "yes")) : null));

        private static XElement HarmonyOf(ChordMark chord, PrintPlace place) => new(
            "harmony",
            Attribute("type", chord.Type),
            chord.IsHidden ? new XAttribute("print-object", "no") : null,
            chord.Chords.SelectMany(ChordOf),
            Details(chord.Details),
            Element("staff", place.Staff));

        private static IEnumerable<object?> ChordOf(WrittenChord chord)
        {
            yield return LetterOf(chord.Root, "root");
            yield return chord.Numeral is { } numeral ? Details([numeral]) : null;
            yield return Element("function", chord.Function);
            yield return new XElement("kind", Attribute("text", chord.KindText), chord.Kind);
            yield return Element("inversion", chord.Inversion);
            yield return LetterOf(chord.Bass, "bass");
            yield return chord.Degrees.Select(degree => new XElement(
                "degree",
                new XElement("degree-value", Text(degree.Value)),
                new XElement("degree-alter", Text(degree.Alter)),
                new XElement("degree-type", degree.Type)));
        }

        private static XElement? LetterOf(ChordLetter? letter, string name) => letter is null
            ? null
            : new XElement(
                name,
                new XElement(name + "-step", Attribute("text", letter.Text), letter.Letter.ToString()),
                Element(name + "-alter", letter.Alter is { } alter ? Text(alter) : null));

        private XElement Sign(PlacedMark placed)
        {
            var mark = placed.Mark;
            var place = new PrintPlace(part.Id, placed.Staff) { Voice = placed.Voice };
            switch (mark.Kind)
            {
                case MarkKind.SoundSetting:
                    return new XElement("sound", new XAttribute(mark.Text!, mark.Detail("value")!));
                case MarkKind.Staves or MarkKind.StaffDetails or MarkKind.Directive or MarkKind.ForPart:
                    return new XElement("attributes", MarkElement(mark));
                case MarkKind.MultipleRest or MarkKind.MeasureRepeat or MarkKind.BeatRepeat or MarkKind.Slash:
                    return new XElement(
                        "attributes",
                        new XElement("measure-style", Attribute("number", placed.Staff is { } staff ? Text(staff) : null), MarkElement(mark)));
                case MarkKind.FiguredBass:
                    return new XElement(
                        "figured-bass", Details(mark.Details), placed.Length is { } length ? new XElement("duration", Time(length)) : null);
                case MarkKind.Dynamics or MarkKind.OtherDynamics:
                    return Directed(place, null, new XElement("dynamics", DynamicOf(mark)));
                default:
                    return Directed(place, null, MarkElement(mark));
            }
        }

        private static XElement DynamicOf(Mark mark) =>
            mark.Kind == MarkKind.OtherDynamics ? MarkElement(mark) : new XElement(mark.Text!);

        private IEnumerable<XElement> Events(string voice, VoiceEvent one)
        {
            if (one is GapEvent gap)
            {
                return [new XElement("forward", new XElement("duration", Time(gap.Length)), Element("voice", voice.Length == 0 ? null : voice))];
            }

            return one is NotesEvent notes
                ? Enumerable.Range(0, notes.Notes.Count).Select(head => NoteOf(voice, one, notes.Notes[head], head))
                : [NoteOf(voice, one, null, 0)];
        }

        private XElement NoteOf(string voice, VoiceEvent one, WrittenNote? head, int index)
        {
            var rest = one as RestEvent;
            var notes = one as NotesEvent;
            var value = one.Value;
            var passes = head?.Passes ?? rest?.Passes ?? [];
            return new XElement(
                "note",
                rest?.IsHidden == true || head?.IsHidden == true ? new XAttribute("print-object", "no") : null,
                Passes(passes),
                notes?.Grace is { } grace ? GraceOf(grace) : null,
                notes?.IsCue == true || rest?.IsCue == true ? new XElement("cue") : null,
                index > 0 ? new XElement("chord") : null,
                head?.Pitch is { } pitch ? PitchOf(pitch)
                    : rest is not null ? new XElement("rest", rest.IsWholeMeasure ? new XAttribute("measure", "yes") : null, Display(rest.Position))
                    : new XElement("unpitched", Display(head?.Position)),
                notes?.Grace is null ? new XElement("duration", Time(one.Length)) : null,
                TieOf(head?.TiedFrom, "stop"),
                TieOf(head?.TiedTo, "start"),
                head?.Instruments.Select(id => new XElement("instrument", new XAttribute("id", id))),
                Element("voice", voice.Length == 0 ? null : voice),
                value is null ? null : new XElement("type", MusicXmlWords.Type(value.Unit.Base)),
                value is null ? null : Dots("dot", value.Unit.Dots),
                head?.Accidental is { } accidental
                    ? new XElement(
                        "accidental",
                        Attribute("cautionary", accidental.IsCautionary),
                        Attribute("editorial", accidental.IsEditorial),
                        Attribute("parentheses", accidental.InParentheses),
                        Attribute("bracket", accidental.InBrackets),
                        accidental.Sign)
                    : null,
                value?.Tuplets.Any(tuplet => tuplet.Actual > 1 || tuplet.Normal > 1) == true ? ModificationOf(value) : null,
                one.Marks.Where(mark => (mark.Head ?? 0) == index && mark.Kind is MarkKind.Notehead or MarkKind.NoteheadText).Select(mark => MarkElement(mark)),
                Element("staff", head?.Staff ?? rest?.Staff),
                Notations(one, head, index),
                index == 0 ? one.Lyrics.Select(LyricOf) : null);
        }

        private static XElement ModificationOf(WrittenValue value) => new(
            "time-modification",
            new XElement("actual-notes", Text(value.Tuplets.Aggregate(1, (product, tuplet) => product * tuplet.Actual))),
            new XElement("normal-notes", Text(value.Tuplets.Aggregate(1, (product, tuplet) => product * tuplet.Normal))),
            value.CountedIn is { } unit ? new XElement("normal-type", MusicXmlWords.Type(unit.Base)) : null,
            value.CountedIn is { } dotted ? Dots("normal-dot", dotted.Dots) : null);

        private XElement GraceOf(Grace grace) => new(
            "grace",
            Attribute("slash", grace.HasSlash),
            Attribute("steal-time-previous", grace.TakesFromPrevious is { } previous ? Text(previous) : null),
            Attribute("steal-time-following", grace.TakesFromFollowing is { } following ? Text(following) : null),
            Attribute("make-time", grace.AddsTime is { } time ? Time(time) : null));

        private static XElement PitchOf(SpelledPitch pitch) => new(
            "pitch",
            new XElement("step", pitch.Letter.ToString()),
            pitch.Alter == Rational.Zero ? null : new XElement("alter", Text(pitch.Alter)),
            new XElement("octave", Text(pitch.Octave)));

        private static IEnumerable<XElement>? Display(StaffPosition? position) => position is { } place
            ? [new XElement("display-step", place.Letter.ToString()), new XElement("display-octave", Text(place.Octave))]
            : null;

        private static XElement? TieOf(TieEnd? end, string type) =>
            end?.Sounds == true ? new XElement("tie", new XAttribute("type", type), Passes(end.Passes)) : null;

        private XElement? Notations(VoiceEvent one, WrittenNote? head, int index)
        {
            var notations = new XElement("notations");
            foreach (var (end, type) in new[] { (head?.TiedFrom, "stop"), (head?.TiedTo, "start") })
            {
                if (end?.IsDrawn == true)
                {
                    notations.Add(new XElement("tied", new XAttribute("type", type), Attribute("number", end.Number is { } number ? Text(number) : null)));
                }
            }

            if (head?.LetRing == true)
            {
                notations.Add(new XElement("tied", new XAttribute("type", "let-ring")));
            }

            if (index == 0)
            {
                notations.Add(TupletsOf(one));
            }

            foreach (var mark in one.Marks.Where(mark => (mark.Head ?? 0) == index && mark.Kind is not (MarkKind.Notehead or MarkKind.NoteheadText)))
            {
                var box = mark.Kind switch
                {
                    <= MarkKind.OtherArticulation => "articulations",
                    <= MarkKind.OrnamentAccidental => "ornaments",
                    <= MarkKind.OtherTechnical => "technical",
                    MarkKind.Dynamics or MarkKind.OtherDynamics => "dynamics",
                    _ => null,
                };
                var element = box == "dynamics" ? DynamicOf(mark) : MarkElement(mark, mark.Kind == MarkKind.OrnamentAccidental ? "accidental-mark" : null);
                if (box is null)
                {
                    notations.Add(element);
                }
                else if (notations.LastNode is XElement last && last.Name.LocalName == box)
                {
                    last.Add(element);
                }
                else
                {
                    notations.Add(new XElement(box, element));
                }
            }

            return notations.HasElements ? notations : null;
        }

        private IEnumerable<XElement> TupletsOf(VoiceEvent one)
        {
            var tuplets = one.Value?.Tuplets ?? [];
            for (var depth = 0; depth < tuplets.Count; depth++)
            {
                var tuplet = tuplets[depth];
                if (tuplet.IsDrawn && ReferenceEquals(_tuplets[tuplet.Id].First, one))
                {
                    yield return new XElement(
                        "tuplet",
                        new XAttribute("type", "start"),
                        new XAttribute("number", Text(depth + 1)),
                        SideOf(tuplet.ShownActual, "tuplet-actual"),
                        SideOf(tuplet.ShownNormal, "tuplet-normal"));
                }
            }

            for (var depth = tuplets.Count - 1; depth >= 0; depth--)
            {
                if (tuplets[depth].IsDrawn && ReferenceEquals(_tuplets[tuplets[depth].Id].Last, one))
                {
                    yield return new XElement("tuplet", new XAttribute("type", "stop"), new XAttribute("number", Text(depth + 1)));
                }
            }
        }

        private static XElement? SideOf(TupletSide? side, string name) => side is null
            ? null
            : new XElement(
                name,
                Element("tuplet-number", side.Number),
                side.Unit is { } unit ? new XElement("tuplet-type", MusicXmlWords.Type(unit.Base)) : null,
                side.Unit is { } dotted ? Dots("tuplet-dot", dotted.Dots) : null);

        private static XElement LyricOf(Lyric lyric)
        {
            var element = new XElement(
                "lyric",
                Attribute("number", lyric.Number),
                Attribute("name", lyric.Name),
                lyric.IsHidden ? new XAttribute("print-object", "no") : null,
                Passes(lyric.Passes));
            foreach (var one in lyric.Parts)
            {
                element.Add(one.Join == LyricJoin.Elision ? new XElement("elision", one.JoinSign) : null);
                element.Add(Element("syllabic", one.Place?.ToString().ToLowerInvariant()));
                element.Add(new XElement("text", one.Text));
            }

            element.Add(lyric.Sound == WordlessSound.None ? null : new XElement(lyric.Sound.ToString().ToLowerInvariant()));
            element.Add(lyric.Extender == Extender.None
                ? null
                : new XElement("extend", lyric.Extender == Extender.Plain ? null : new XAttribute("type", lyric.Extender.ToString().ToLowerInvariant())));
            element.Add(lyric.EndsLine ? new XElement("end-line") : null);
            element.Add(lyric.EndsParagraph ? new XElement("end-paragraph") : null);
            return element;
        }
    }
}
