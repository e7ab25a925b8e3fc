using System.Globalization;
using System.Xml;
using System.Xml.Linq;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Tests.Notation;

/// <summary>Fills the model from a MusicXML score (partwise), for the tests: takes the file's content unchanged.</summary>
internal sealed class MusicXmlReader
{
    // Position and style of drawing: not in the model.
    private static readonly HashSet<string> Drawing = new(StringComparer.Ordinal)
    {
        "default-x", "default-y", "relative-x", "relative-y", "font-family", "font-style", "font-size", "font-weight", "color", "placement",
        "orientation", "halign", "valign", "justify", "underline", "overline", "line-through", "rotation", "letter-spacing", "line-height",
        "dir", "lang", "space", "enclosure", "id", "bezier-x", "bezier-y", "bezier-x2", "bezier-y2", "bezier-offset", "bezier-offset2",
        "dash-length", "space-length", "width", "height", "end-length", "spread",
    };

    private readonly XElement _root;
    private readonly string? _file;
    private readonly List<List<(MeasureMark Mark, bool AtEnd)>> _marks = [];
    private readonly List<Span> _extents = [];

    private MusicXmlReader(XDocument document, string? file)
    {
        _root = document.Root!;
        _file = file;
    }

    public static WrittenMusic Read(XDocument document, string? file = null) => new MusicXmlReader(document, file).Read();

    private static Rational Number(string text)
    {
        var number = decimal.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);
        var below = 1L;
        while (number != decimal.Truncate(number))
        {
            number *= 10;
            below *= 10;
        }

        return new Rational((long)number, below);
    }

    private static int? Int(string? text) => text is null ? null : int.Parse(text, NumberStyles.Integer, CultureInfo.InvariantCulture);

    private static string? Text(XElement parent, string name) => parent.Element(name)?.Value;

    private static string? Attribute(XElement element, string name) => element.Attribute(name)?.Value;

    private static bool? YesNo(string? text) => text switch { "yes" => true, "no" => false, _ => null };

    private static bool IsHidden(XElement element) => Attribute(element, "print-object") == "no";

    private static ValueList<int> Passes(string? text) =>
        text is null ? [] : [.. text.Split(',').Select(one => int.Parse(one.Trim(), CultureInfo.InvariantCulture))];

    private static NoteUnit Unit(string type, int dots) => new(MusicXmlWords.Base(type), dots);

    private static IEnumerable<Detail> DetailsOf(XElement element, params string[] apart)
    {
        foreach (var attribute in element.Attributes())
        {
            if (!attribute.IsNamespaceDeclaration && !Drawing.Contains(attribute.Name.LocalName) && !apart.Contains(attribute.Name.LocalName))
            {
                yield return new Detail("@" + attribute.Name.LocalName, attribute.Value);
            }
        }

        foreach (var child in element.Elements())
        {
            yield return new Detail(child.Name.LocalName, child.HasElements ? "" : child.Value) { Inside = [.. DetailsOf(child)] };
        }
    }

    /// <summary>Any mark: its name is its kind, its start or stop its edge, and the rest its details.</summary>
    private static Mark MarkOf(XElement element, MarkKind? kind = null)
    {
        var type = Attribute(element, "type");
        MarkEdge? edge = type switch
        {
            "start" => MarkEdge.Start,
            "stop" => MarkEdge.Stop,
            "continue" => MarkEdge.Continue,
            "single" => MarkEdge.Single,
            _ => null,
        };
        var text = element.HasElements || element.Value.Length == 0 ? null : element.Value;
        return new Mark(kind ?? MusicXmlWords.Kind(element.Name.LocalName))
        {
            Edge = edge ?? MarkEdge.Single,
            Number = Int(Attribute(element, "number")),
            Text = text,
            Details = [.. DetailsOf(element, edge is null ? ["number"] : ["number", "type"])],
        };
    }

    private static IEnumerable<Mark> Dynamics(XElement dynamics) => dynamics.Elements().Select(sign => sign.Name.LocalName == "other-dynamics"
        ? new Mark(MarkKind.OtherDynamics) { Text = sign.Value, Details = [.. DetailsOf(sign)] }
        : new Mark(MarkKind.Dynamics) { Text = sign.Name.LocalName });

    private Origin OriginOf(XElement element, string path) =>
        new(_file, element is IXmlLineInfo info && info.HasLineInfo() ? info.LineNumber : null, path);

    private WrittenMusic Read()
    {
        if (_root.Name.LocalName != "score-partwise")
        {
            throw new FormatException("Only partwise scores are read here.");
        }

        var list = _root.Element("part-list")!.Elements("score-part").ToDictionary(part => Attribute(part, "id") ?? "", StringComparer.Ordinal);
        var parts = _root.Elements("part")
            .Select((part, index) => ReadPart(part, Attribute(part, "id") ?? $"part {index + 1}", list.GetValueOrDefault(Attribute(part, "id") ?? "")))
            .ToList();
        parts = parts.ConvertAll(part => part.Measures.Count == _marks.Count
            ? part
            : part with { Measures = [.. part.Measures, .. Enumerable.Repeat(PartMeasure.Empty, _marks.Count - part.Measures.Count)] });
        var first = _root.Elements("part").MaxBy(part => part.Elements("measure").Count())!.Elements("measure").ToList();
        var measures = new List<Measure>();
        WrittenMeter? meter = null;
        for (var i = 0; i < _marks.Count; i++)
        {
            var extent = _extents[i];
            var marks = _marks[i].Select(mark => mark.AtEnd ? mark.Mark with { At = extent } : mark.Mark).OrderBy(mark => mark.At).ToList();
            meter = marks.OfType<MeterMark>().FirstOrDefault()?.Meter ?? meter;
            var element = first[i];
            measures.Add(new Measure(Attribute(element, "number") ?? "")
            {
                IsUncounted = Attribute(element, "implicit") == "yes",
                IsOneParts = Attribute(element, "non-controlling") == "yes",
                ActualLength = extent == Span.Zero || extent == meter?.Length ? null : extent,
                Marks = [.. marks],
                Annotations = Attribute(element, "text") is { } text ? [new Annotation("measure-text", text)] : [],
                Origin = OriginOf(element, $"measure {i + 1}"),
            });
        }

        return new WrittenMusic([.. measures], [.. parts]) { Headings = [.. Headings()], Origin = new Origin(_file, null, null) };
    }

    private IEnumerable<Heading> Headings()
    {
        string[] plain = ["work-number", "work-title", "movement-number", "movement-title", "source"];
        string[] typed = ["creator", "rights", "relation"];
        foreach (var element in _root.Elements("work").Elements()
            .Concat(_root.Elements())
            .Concat(_root.Elements("identification").Elements()))
        {
            if (plain.Contains(element.Name.LocalName) || typed.Contains(element.Name.LocalName))
            {
                yield return new Heading(element.Name.LocalName, Attribute(element, "type"), element.Value);
            }
        }
    }

    private WrittenPart ReadPart(XElement part, string id, XElement? listed)
    {
        var tuplets = new TupletFinder(part).Find();
        var divisions = Rational.One;
        var measures = new List<PartMeasure>();
        foreach (var element in part.Elements("measure"))
        {
            var reader = new MeasureReader(this, id, measures.Count, divisions, tuplets);
            measures.Add(reader.Read(element));
            divisions = reader.Divisions;
        }

        return new WrittenPart(id, [.. measures])
        {
            Name = listed?.Element("part-name")?.Value ?? "",
            Abbreviation = listed?.Element("part-abbreviation")?.Value,
            Instruments =
            [
                .. (listed?.Elements("score-instrument") ?? []).Select(instrument =>
                {
                    var midi = listed!.Elements("midi-instrument").FirstOrDefault(one => Attribute(one, "id") == Attribute(instrument, "id"));
                    return new PartInstrument(Attribute(instrument, "id")!, Text(instrument, "instrument-name")!)
                    {
                        Sound = Text(instrument, "instrument-sound"),
                        Program = midi is null ? null : Int(Text(midi, "midi-program")) - 1,
                        PercussionKey = midi is null ? null : Int(Text(midi, "midi-unpitched")) - 1,
                    };
                }),
            ],
        };
    }

    // A mark printed equally in several parts is one mark of the grid.
    private void Add(int measure, MeasureMark mark, string part, int? staff, string? voice, bool atEnd = false)
    {
        while (_marks.Count <= measure)
        {
            _marks.Add([]);
            _extents.Add(Span.Zero);
        }

        var place = new PrintPlace(part, staff) { Voice = voice };
        var marks = _marks[measure];
        for (var i = 0; i < marks.Count; i++)
        {
            var (other, otherAtEnd) = marks[i];
            if (otherAtEnd == atEnd && !other.Where.Contains(place) && (other with { Where = [], Origin = null }).Equals(mark with { Origin = null }))
            {
                marks[i] = (other with { Where = [.. other.Where, place] }, atEnd);
                return;
            }
        }

        marks.Add((mark with { Where = [place] }, atEnd));
    }

    private sealed class Lane(string voice)
    {
        public string Voice { get; } = voice;

        public List<VoiceEvent> Events { get; } = [];

        public Span End { get; set; }
    }

    private sealed class MeasureReader(
        MusicXmlReader owner, string part, int index, Rational divisions, IReadOnlyDictionary<XElement, Tuplet[]> tuplets)
    {
        private readonly List<Lane> _lanes = [];
        private readonly List<PlacedMark> _marks = [];
        private readonly List<Transposition> _transpositions = [];
        private readonly Dictionary<string, Span> _forwarded = new(StringComparer.Ordinal);
        private Span _cursor;
        private Span _extent;
        private Lane? _last;
        private Span _lastOnset;

        public Rational Divisions { get; private set; } = divisions;

        public PartMeasure Read(XElement measure)
        {
            foreach (var element in measure.Elements())
            {
                switch (element.Name.LocalName)
                {
                    case "note":
                        ReadNote(element);
                        break;
                    case "backup":
                        _cursor -= Time(element.Element("duration")!.Value);
                        break;
                    case "forward":
                        _cursor += Time(element.Element("duration")!.Value);
                        if (Text(element, "voice") is { } voice)
                        {
                            _forwarded[voice] = _cursor;
                        }

                        break;
                    case "attributes":
                        ReadAttributes(element);
                        break;
                    case "direction":
                        ReadDirection(element);
                        break;
                    case "sound":
                        ReadSound(element, _cursor + Offset(element), null, null, []);
                        break;
                    case "harmony":
                        ReadHarmony(element);
                        break;
                    case "figured-bass":
                        Place(_cursor, element, new Mark(MarkKind.FiguredBass) { Details = [.. DetailsOf(element).Where(detail => detail.Name != "duration")] },
                            element.Element("duration") is { } lasts ? Time(lasts.Value) : null);
                        break;
                    case "barline":
                        ReadBarline(element);
                        break;
                }

                _extent = Span.Max(_extent, _cursor);
            }

            foreach (var (voice, end) in _forwarded)
            {
                if (_lanes.Find(lane => lane.Voice == voice) is { } lane && lane.End < end)
                {
                    lane.Events.Add(new GapEvent(end - lane.End));
                }
            }

            owner.Touch(index);
            owner._extents[index] = Span.Max(owner._extents[index], _extent);
            return new PartMeasure
            {
                Voices = [.. _lanes.Select(lane => new VoiceMeasure(lane.Voice, [.. lane.Events.Select((one, i) => AfterGrace(lane.Events, one, i))]))],
                Marks = [.. _marks],
                Transpositions = [.. _transpositions],
            };
        }

        // A grace note at the end of its measure ends the note before it.
        private static VoiceEvent AfterGrace(List<VoiceEvent> events, VoiceEvent one, int i)
        {
            if (one is NotesEvent { Grace: { } grace } notes
                && (grace.TakesFromPrevious is not null || events.Skip(i).All(next => next is NotesEvent { Grace: not null })))
            {
                return NotesEvent.OfGrace(notes.Notes, grace with { IsAfter = true }, notes.Value) with
                {
                    IsCue = notes.IsCue,
                    Marks = notes.Marks,
                    Lyrics = notes.Lyrics,
                    Origin = notes.Origin,
                };
            }

            return one;
        }

        private Span Time(string text) => new(Number(text) / Divisions / 4);

        private Span Offset(XElement element) => element.Element("offset") is { } offset ? Time(offset.Value) : Span.Zero;

        private void ReadNote(XElement note)
        {
            var isChord = note.Element("chord") is not null;
            var grace = note.Element("grace");
            var length = note.Element("duration") is { } duration ? Time(duration.Value) : Span.Zero;
            if (isChord && _last is not null && _last.Events[^1] is NotesEvent chord)
            {
                var head = Head(note);
                _last.Events[^1] = chord.WithNotes([.. chord.Notes, head]) with
                {
                    Marks = [.. chord.Marks, .. MarksOf(note).Select(mark => mark with { Head = chord.Notes.Count })],
                    Lyrics = [.. chord.Lyrics, .. note.Elements("lyric").Select(LyricOf)],
                };
                return;
            }

            var lane = LaneFor(Text(note, "voice") ?? "");
            var value = Value(note);
            var stated = value is null || value.Length != length ? length : (Span?)null;
            VoiceEvent made;
            if (note.Element("rest") is { } rest)
            {
                made = new RestEvent(value, stated)
                {
                    IsWholeMeasure = Attribute(rest, "measure") == "yes",
                    Position = PositionOf(rest),
                    IsHidden = IsHidden(note),
                    IsCue = note.Element("cue") is not null,
                    Staff = Int(Text(note, "staff")),
                    Passes = Passes(Attribute(note, "time-only")),
                };
            }
            else if (grace is not null)
            {
                made = NotesEvent.OfGrace([Head(note)], GraceOf(grace), value) with { IsCue = note.Element("cue") is not null };
            }
            else
            {
                made = new NotesEvent([Head(note)], value, stated) { IsCue = note.Element("cue") is not null };
            }

            lane.Events.Add(made with
            {
                Marks = [.. MarksOf(note)],
                Lyrics = [.. note.Elements("lyric").Select(LyricOf)],
                Origin = owner.OriginOf(note, $"part {part}, measure {index + 1}"),
            });
            lane.End = _cursor + made.Length;
            _last = lane;
            _lastOnset = _cursor;
            _cursor = _lastOnset + made.Length;
        }

        // If notes of a voice overlap, the later ones go into a second voice of the same name.
        private Lane LaneFor(string voice)
        {
            var lane = _lanes.Find(lane => lane.Voice == voice && lane.End <= _cursor);
            if (lane is null)
            {
                lane = new Lane(voice);
                _lanes.Add(lane);
            }

            if (lane.End < _cursor)
            {
                lane.Events.Add(new GapEvent(_cursor - lane.End));
                lane.End = _cursor;
            }

            return lane;
        }

        private WrittenValue? Value(XElement note)
        {
            if (Text(note, "type") is not { } type)
            {
                return null;
            }

            var unit = Unit(type, note.Elements("dot").Count());
            var value = new WrittenValue(unit, tuplets.GetValueOrDefault(note) ?? []);
            if (note.Element("time-modification") is { } modification && Text(modification, "normal-type") is { } normal)
            {
                var counted = Unit(normal, modification.Elements("normal-dot").Count());
                value = counted == unit ? value : value with { CountedIn = counted };
            }

            return value;
        }

        private Grace GraceOf(XElement grace) => new()
        {
            HasSlash = YesNo(Attribute(grace, "slash")),
            TakesFromPrevious = Attribute(grace, "steal-time-previous") is { } previous ? Number(previous) : null,
            TakesFromFollowing = Attribute(grace, "steal-time-following") is { } following ? Number(following) : null,
            AddsTime = Attribute(grace, "make-time") is { } time ? Time(time) : null,
        };

        private static StaffPosition? PositionOf(XElement element) => Text(element, "display-step") is { } step
            ? new StaffPosition(Enum.Parse<NoteLetter>(step), Int(Text(element, "display-octave"))!.Value)
            : null;

        private WrittenNote Head(XElement note)
        {
            var pitch = note.Element("pitch");
            var made = pitch is null
                ? WrittenNote.Unpitched(PositionOf(note.Element("unpitched")!))
                : WrittenNote.Of(new SpelledPitch(
                    Enum.Parse<NoteLetter>(Text(pitch, "step")!),
                    Text(pitch, "alter") is { } alter ? Number(alter) : Rational.Zero,
                    Int(Text(pitch, "octave"))!.Value));
            var tied = note.Elements("notations").Elements("tied").ToList();
            return made with
            {
                TiedFrom = End(note, tied, "stop"),
                TiedTo = End(note, tied, "start"),
                LetRing = tied.Exists(one => Attribute(one, "type") == "let-ring"),
                Staff = Int(Text(note, "staff")),
                Instruments = [.. note.Elements("instrument").Select(one => Attribute(one, "id")!)],
                Accidental = note.Element("accidental") is { } accidental
                    ? new PrintedAccidental(accidental.Value)
                    {
                        IsCautionary = YesNo(Attribute(accidental, "cautionary")),
                        IsEditorial = YesNo(Attribute(accidental, "editorial")),
                        InParentheses = YesNo(Attribute(accidental, "parentheses")),
                        InBrackets = YesNo(Attribute(accidental, "bracket")),
                    }
                    : null,
                IsHidden = IsHidden(note),
                Passes = Passes(Attribute(note, "time-only")),
                Origin = owner.OriginOf(note, $"part {part}, measure {index + 1}"),
            };
        }

        private static TieEnd? End(XElement note, List<XElement> tied, string type)
        {
            var tie = note.Elements("tie").FirstOrDefault(one => Attribute(one, "type") == type);
            var drawn = tied.Find(one => Attribute(one, "type") == type);
            return tie is null && drawn is null
                ? null
                : new TieEnd(tie is not null, drawn is not null)
                {
                    Number = drawn is null ? null : Int(Attribute(drawn, "number")),
                    Passes = tie is null ? [] : Passes(Attribute(tie, "time-only")),
                };
        }

        private static IEnumerable<Mark> MarksOf(XElement note)
        {
            foreach (var name in new[] { "notehead", "notehead-text" })
            {
                if (note.Element(name) is { } head)
                {
                    yield return MarkOf(head);
                }
            }

            foreach (var notation in note.Elements("notations").Elements())
            {
                switch (notation.Name.LocalName)
                {
                    case "tied":
                    case "tuplet":
                    case "footnote":
                    case "level":
                        break;
                    case "articulations":
                    case "technical":
                        foreach (var mark in notation.Elements())
                        {
                            yield return MarkOf(mark);
                        }

                        break;
                    case "ornaments":
                        foreach (var mark in notation.Elements())
                        {
                            yield return MarkOf(mark, mark.Name.LocalName == "accidental-mark" ? MarkKind.OrnamentAccidental : null);
                        }

                        break;
                    case "dynamics":
                        foreach (var mark in Dynamics(notation))
                        {
                            yield return mark;
                        }

                        break;
                    default:
                        yield return MarkOf(notation);
                        break;
                }
            }
        }

        private static Lyric LyricOf(XElement lyric)
        {
            var parts = new List<LyricPart>();
            WordPlace? place = null;
            XElement? elision = null;
            foreach (var child in lyric.Elements())
            {
                switch (child.Name.LocalName)
                {
                    case "syllabic":
                        place = Enum.Parse<WordPlace>(child.Value, ignoreCase: true);
                        break;
                    case "elision":
                        elision = child;
                        break;
                    case "text":
                        parts.Add(new LyricPart(child.Value, place)
                        {
                            Join = elision is null ? LyricJoin.None : LyricJoin.Elision,
                            JoinSign = elision?.Value,
                        });
                        (place, elision) = (null, null);
                        break;
                }
            }

            return new Lyric
            {
                Number = Attribute(lyric, "number"),
                Name = Attribute(lyric, "name"),
                Parts = [.. parts],
                Extender = lyric.Element("extend") is not { } extend ? Extender.None
                    : Attribute(extend, "type") is { } type ? Enum.Parse<Extender>(type, ignoreCase: true) : Extender.Plain,
                Sound = lyric.Element("laughing") is not null ? WordlessSound.Laughing
                    : lyric.Element("humming") is not null ? WordlessSound.Humming : WordlessSound.None,
                EndsLine = lyric.Element("end-line") is not null,
                EndsParagraph = lyric.Element("end-paragraph") is not null,
                Passes = Passes(Attribute(lyric, "time-only")),
                IsHidden = IsHidden(lyric),
            };
        }

        private void Add(MeasureMark mark, XElement at, int? staff, string? voice, bool atEnd = false) =>
            owner.Add(index, mark with { Origin = owner.OriginOf(at, $"part {part}, measure {index + 1}") }, part, staff, voice, atEnd);

        private void Place(Span at, XElement from, Mark mark, Span? length = null) => _marks.Add(new PlacedMark(at, mark)
        {
            Staff = Int(Text(from, "staff")),
            Voice = Text(from, "voice"),
            Length = length,
        });

        private void ReadAttributes(XElement attributes)
        {
            if (Text(attributes, "divisions") is { } text)
            {
                Divisions = Number(text);
            }

            foreach (var element in attributes.Elements())
            {
                var staff = Int(Attribute(element, "number"));
                switch (element.Name.LocalName)
                {
                    case "key":
                        Add(new KeyMark(_cursor, KeyOf(element)), element, staff, null);
                        break;
                    case "time":
                        Add(new MeterMark(_cursor, MeterOf(element)), element, staff, null);
                        break;
                    case "transpose":
                        _transpositions.Add(new Transposition(_cursor, Number(Text(element, "chromatic")!))
                        {
                            Diatonic = Int(Text(element, "diatonic")),
                            Octaves = Int(Text(element, "octave-change")),
                            DoubledBelow = element.Element("double") is { } twice ? Attribute(twice, "above") != "yes" : null,
                            Staff = staff,
                        });
                        break;
                    case "staves":
                    case "staff-details":
                    case "directive":
                    case "for-part":
                        _marks.Add(new PlacedMark(_cursor, MarkOf(element)));
                        break;
                    case "measure-style":
                        foreach (var style in element.Elements())
                        {
                            _marks.Add(new PlacedMark(_cursor, MarkOf(style)) { Staff = staff });
                        }

                        break;
                }
            }
        }

        private static WrittenKey KeyOf(XElement key)
        {
            var made = Int(Text(key, "fifths")) is { } fifths
                ? new WrittenKey(fifths, Text(key, "mode"))
                : new WrittenKey(
                [
                    .. key.Elements("key-step").Select(step =>
                    {
                        var alter = step.ElementsAfterSelf("key-alter").First();
                        var sign = alter.ElementsAfterSelf().FirstOrDefault();
                        return new KeyAccidental(
                            Enum.Parse<NoteLetter>(step.Value), Number(alter.Value), sign?.Name.LocalName == "key-accidental" ? sign.Value : null);
                    }),
                ]);
            return made with
            {
                Cancels = Int(Text(key, "cancel")),
                Octaves =
                [
                    .. key.Elements("key-octave").Select(octave => new KeyOctave(
                        Int(Attribute(octave, "number"))!.Value, Int(octave.Value)!.Value, YesNo(Attribute(octave, "cancel")))),
                ],
                IsHidden = IsHidden(key),
            };
        }

        private static WrittenMeter MeterOf(XElement time)
        {
            var pairs = time.Elements("beats").Select(beats => new MeterPair(
                [.. beats.Value.Split('+').Select(one => int.Parse(one.Trim(), CultureInfo.InvariantCulture))],
                int.Parse(beats.ElementsAfterSelf("beat-type").First().Value.Trim(), CultureInfo.InvariantCulture)));
            var other = time.Element("interchangeable");
            return new WrittenMeter([.. pairs])
            {
                SenzaMisuraSign = Text(time, "senza-misura") ?? "",
                Symbol = Attribute(time, "symbol"),
                Relation = other is null ? null : Text(other, "time-relation"),
                Interchangeable = other is null ? null : MeterOf(other),
                IsHidden = IsHidden(time),
            };
        }

        private void ReadDirection(XElement direction)
        {
            var offset = direction.Element("offset");
            var at = _cursor + Offset(direction);
            var staff = Int(Text(direction, "staff"));
            var voice = Text(direction, "voice");
            var sound = direction.Element("sound");
            var soundAt = _cursor;
            if (sound?.Element("offset") is not null)
            {
                soundAt = _cursor + Offset(sound);
            }
            else if (offset is not null && Attribute(offset, "sound") == "yes")
            {
                soundAt = at;
            }

            var types = direction.Elements("direction-type").Elements().ToList();
            var tempo = types.Exists(type => type.Name.LocalName == "metronome")
                || Attribute(sound ?? direction, "tempo") is not null || sound?.Element("swing") is not null;
            var ours = tempo || Attribute(direction, "system") is not null
                || (sound is not null && JumpsOf(sound).Any());
            var sign = new TempoSign(at);
            var rest = new List<XElement>();
            foreach (var type in types)
            {
                switch (type.Name.LocalName)
                {
                    case "rehearsal":
                        Add(new RehearsalMark(at, type.Value), type, staff, voice);
                        break;
                    case "words" when tempo:
                        sign = sign with { Words = [.. sign.Words, type.Value] };
                        break;
                    case "words" when ours:
                        Add(new WordsMark(at, type.Value), type, staff, voice);
                        break;
                    case "metronome":
                        sign = sign with { Metronomes = [.. sign.Metronomes, MetronomeOf(type)] };
                        break;
                    case "segno":
                    case "coda":
                        rest.Add(type);
                        break;
                    case "dynamics":
                        foreach (var mark in Dynamics(type))
                        {
                            Place(at, direction, mark);
                        }

                        break;
                    case "words":
                        Place(at, direction, new Mark(MarkKind.Words) { Text = type.Value });
                        break;
                    default:
                        Place(at, direction, MarkOf(type));
                        break;
                }
            }

            foreach (var drawn in ReadSound(sound, soundAt, direction, at == soundAt ? sign : null, at == soundAt ? rest : []))
            {
                rest.Remove(drawn);
            }

            if (at != soundAt && (sign.Words.Count > 0 || sign.Metronomes.Count > 0))
            {
                Add(sign, direction, staff, voice);
            }

            foreach (var drawn in rest)
            {
                Add(new JumpMark(at, drawn.Name.LocalName == "segno" ? JumpKind.Segno : JumpKind.Coda) { IsDrawn = true, Sounds = false }, drawn, staff, voice);
            }
        }

        private static IEnumerable<(JumpKind Kind, string Name)> JumpsOf(XElement sound)
        {
            foreach (var attribute in sound.Attributes())
            {
                JumpKind? kind = attribute.Name.LocalName switch
                {
                    "segno" => JumpKind.Segno,
                    "coda" => JumpKind.Coda,
                    "tocoda" => JumpKind.ToCoda,
                    "dacapo" when attribute.Value == "yes" => JumpKind.DaCapo,
                    "dalsegno" => JumpKind.DalSegno,
                    "fine" => JumpKind.Fine,
                    "forward-repeat" when attribute.Value == "yes" => JumpKind.ForwardRepeat,
                    _ => null,
                };
                if (kind is { } known)
                {
                    yield return (known, attribute.Value);
                }
            }
        }

        /// <summary>The content of a sound element; returns the signs that were joined to it.</summary>
        private List<XElement> ReadSound(XElement? sound, Span at, XElement? direction, TempoSign? sign, List<XElement> signs)
        {
            var joined = new List<XElement>();
            var staff = direction is null ? null : Int(Text(direction, "staff"));
            var voice = direction is null ? null : Text(direction, "voice");
            var tempo = sign ?? new TempoSign(at);
            if (sound is not null)
            {
                tempo = tempo with
                {
                    SoundQuarters = Attribute(sound, "tempo") is { } quarters ? Number(quarters) : null,
                    Swing = sound.Element("swing") is { } swing ? new Detail("swing", "") { Inside = [.. DetailsOf(swing)] } : null,
                };
                foreach (var (kind, name) in JumpsOf(sound))
                {
                    var drawn = kind is JumpKind.Segno or JumpKind.Coda
                        ? signs.Find(one => string.Equals(one.Name.LocalName, kind.ToString(), StringComparison.OrdinalIgnoreCase) && !joined.Contains(one))
                        : null;
                    if (drawn is not null)
                    {
                        joined.Add(drawn);
                    }

                    Add(
                        new JumpMark(at, kind) { Name = name, IsDrawn = drawn is not null, Passes = Passes(Attribute(sound, "time-only")) },
                        sound,
                        staff,
                        voice);
                }

                foreach (var name in new[] { "dynamics", "pizzicato", "damper-pedal", "soft-pedal", "sostenuto-pedal" })
                {
                    if (Attribute(sound, name) is { } set)
                    {
                        _marks.Add(new PlacedMark(at, new Mark(MarkKind.SoundSetting) { Text = name, Details = [new Detail("value", set)] })
                        {
                            Staff = staff,
                            Voice = voice,
                        });
                    }
                }
            }

            if (tempo.Words.Count > 0 || tempo.Metronomes.Count > 0 || tempo.SoundQuarters is not null || tempo.Swing is not null)
            {
                Add(tempo, sound ?? direction!, staff, voice);
            }

            return joined;
        }

        private static Metronome MetronomeOf(XElement metronome)
        {
            var beats = new List<BeatUnit>();
            foreach (var element in metronome.Elements())
            {
                var dots = element.ElementsAfterSelf().TakeWhile(next => next.Name.LocalName == "beat-unit-dot").Count();
                if (element.Name.LocalName == "beat-unit")
                {
                    beats.Add(new BeatUnit(Unit(element.Value, dots), []));
                }
                else if (element.Name.LocalName == "beat-unit-tied")
                {
                    var tied = Unit(Text(element, "beat-unit")!, element.Elements("beat-unit-dot").Count());
                    beats[^1] = beats[^1] with { Tied = [.. beats[^1].Tied, tied] };
                }
            }

            return new Metronome(beats.FirstOrDefault())
            {
                PerMinute = Text(metronome, "per-minute"),
                SameAs = beats.Count > 1 ? beats[1] : null,
                Figure = beats.Count > 0 ? [] : [.. DetailsOf(metronome, "parentheses", "print-object")],
                InParentheses = YesNo(Attribute(metronome, "parentheses")),
                IsHidden = IsHidden(metronome),
            };
        }

        private void ReadHarmony(XElement harmony)
        {
            var chords = new List<WrittenChord>();
            foreach (var element in harmony.Elements())
            {
                switch (element.Name.LocalName)
                {
                    case "root":
                        chords.Add(new WrittenChord { Root = LetterOf(element, "root") });
                        break;
                    case "numeral":
                        chords.Add(new WrittenChord { Numeral = new Detail("numeral", "") { Inside = [.. DetailsOf(element)] } });
                        break;
                    case "function":
                        chords.Add(new WrittenChord { Function = element.Value });
                        break;
                    case "kind":
                        chords[^1] = chords[^1] with { Kind = element.Value, KindText = Attribute(element, "text") };
                        break;
                    case "inversion":
                        chords[^1] = chords[^1] with { Inversion = Int(element.Value) };
                        break;
                    case "bass":
                        chords[^1] = chords[^1] with { Bass = LetterOf(element, "bass") };
                        break;
                    case "degree":
                        chords[^1] = chords[^1] with
                        {
                            Degrees =
                            [
                                .. chords[^1].Degrees,
                                new ChordDegreeChange(
                                    Int(Text(element, "degree-value"))!.Value, Number(Text(element, "degree-alter")!), Text(element, "degree-type")!),
                            ],
                        };
                        break;
                }
            }

            Add(
                new ChordMark(_cursor + Offset(harmony), [.. chords])
                {
                    Type = Attribute(harmony, "type"),
                    Details = harmony.Element("frame") is { } frame ? [new Detail("frame", "") { Inside = [.. DetailsOf(frame)] }] : [],
                    IsHidden = IsHidden(harmony),
                },
                harmony,
                Int(Text(harmony, "staff")),
                null);
        }

        private static ChordLetter LetterOf(XElement element, string name)
        {
            var step = element.Element(name + "-step")!;
            return new ChordLetter(Enum.Parse<NoteLetter>(step.Value), Text(element, name + "-alter") is { } alter ? Number(alter) : null)
            {
                Text = Attribute(step, "text"),
            };
        }

        private void ReadBarline(XElement barline)
        {
            var side = Attribute(barline, "location") switch { "left" => BarlineSide.Left, "middle" => BarlineSide.Middle, _ => BarlineSide.Right };
            var at = side == BarlineSide.Middle ? _cursor : Span.Zero;
            var atEnd = side == BarlineSide.Right;
            foreach (var element in barline.Elements())
            {
                MeasureMark? mark = element.Name.LocalName switch
                {
                    "bar-style" => new BarlineMark(at, side, element.Value),
                    "fermata" or "wavy-line" => new BarlineSign(at, side, MarkOf(element)),
                    "segno" => new JumpMark(at, JumpKind.Segno) { IsDrawn = true, Sounds = Attribute(barline, "segno") is not null, Name = Attribute(barline, "segno") },
                    "coda" => new JumpMark(at, JumpKind.Coda) { IsDrawn = true, Sounds = Attribute(barline, "coda") is not null, Name = Attribute(barline, "coda") },
                    "repeat" => new RepeatMark(at, side, Attribute(element, "direction") == "forward")
                    {
                        Times = Int(Attribute(element, "times")),
                        AfterJump = YesNo(Attribute(element, "after-jump")),
                    },
                    "ending" => new EndingMark(at, side, Enum.Parse<EndingEdge>(Attribute(element, "type")!, ignoreCase: true), Passes(Blank(Attribute(element, "number"))))
                    {
                        Text = element.Value.Length == 0 ? null : element.Value,
                        IsHidden = IsHidden(element),
                    },
                    _ => null,
                };
                if (mark is not null)
                {
                    Add(mark, element, null, null, atEnd);
                }
            }
        }

        private static string? Blank(string? text) => string.IsNullOrWhiteSpace(text) ? null : text;
    }

    private void Touch(int measure)
    {
        while (_marks.Count <= measure)
        {
            _marks.Add([]);
            _extents.Add(Span.Zero);
        }
    }

    /// <summary>Finds the tuplets of each note. A nested tuplet has its own share of the ratio stated by the notes.</summary>
    private sealed class TupletFinder(XElement part)
    {
        private readonly Dictionary<XElement, Tuplet[]> _found = [];
        private int _id;

        private sealed class Open(string? number, XElement sign, int depth, bool onGrace)
        {
            // Grace notes inside a tuplet of full notes do not belong to it.
            public bool OnGrace { get; } = onGrace;

            public string? Number { get; } = number;

            public XElement Sign { get; } = sign;

            public int Depth { get; } = depth;

            public List<(Step Step, int Depth)> Inside { get; } = [];

            public Tuplet? Made { get; set; }
        }

        private sealed class Step(XElement note, (int Actual, int Normal)? ratio)
        {
            public XElement Note { get; } = note;

            public (int Actual, int Normal)? Ratio { get; } = ratio;

            public List<Open> In { get; } = [];
        }

        public IReadOnlyDictionary<XElement, Tuplet[]> Find()
        {
            var voices = new Dictionary<string, List<(Step Step, List<XElement> Signs)>>(StringComparer.Ordinal);
            (Step Step, List<XElement> Signs)? last = null;
            foreach (var note in part.Elements("measure").Elements("note"))
            {
                var signs = note.Elements("notations").Elements("tuplet");
                if (note.Element("chord") is not null && last is not null)
                {
                    last.Value.Signs.AddRange(signs);
                    continue;
                }

                var modification = note.Element("time-modification");
                var step = new Step(note, modification is null ? null : (Int(Text(modification, "actual-notes"))!.Value, Int(Text(modification, "normal-notes"))!.Value));
                last = (step, [.. signs]);
                var voice = Text(note, "voice") ?? "";
                voices.TryAdd(voice, []);
                voices[voice].Add(last.Value);
            }

            foreach (var voice in voices.Values)
            {
                FindIn(voice);
            }

            return _found;
        }

        private void FindIn(List<(Step Step, List<XElement> Signs)> steps)
        {
            var open = new List<Open>();
            var all = new List<Open>();
            foreach (var (step, signs) in steps)
            {
                foreach (var sign in signs.Where(sign => Attribute(sign, "type") == "start"))
                {
                    open.Add(new Open(Attribute(sign, "number"), sign, open.Count, step.Note.Element("grace") is not null));
                    all.Add(open[^1]);
                }

                var isFull = step.Ratio is not null || step.Note.Element("grace") is null;
                step.In.AddRange(open.Where(one => isFull || one.OnGrace));
                foreach (var one in step.In)
                {
                    one.Inside.Add((step, step.In.Count));
                }

                foreach (var sign in signs.Where(sign => Attribute(sign, "type") == "stop"))
                {
                    var number = Attribute(sign, "number");
                    var closed = open.FindLastIndex(one => one.Number == number);
                    if (open.Count > 0)
                    {
                        open.RemoveAt(closed < 0 ? open.Count - 1 : closed);
                    }
                }
            }

            foreach (var one in all.OrderBy(one => one.Depth))
            {
                one.Made = Make(one);
            }

            Tuplet? bare = null;
            foreach (var (step, _) in steps)
            {
                var tuplets = step.In.ConvertAll(one => one.Made!);
                var product = tuplets.Aggregate(Rational.One, (ratio, tuplet) => ratio * tuplet.Ratio);
                var stated = step.Ratio is { } ratio ? new Rational(ratio.Normal, ratio.Actual) : Rational.One;
                if (product != stated)
                {
                    // A ratio without a sign, as of a tremolo; adjacent notes with the same ratio share it.
                    var own = stated / product;
                    var (actual, normal) = tuplets.Count == 0 ? step.Ratio!.Value : ((int)own.Denominator, (int)own.Numerator);
                    bare = bare is not null && bare.Actual == actual && bare.Normal == normal ? bare : new Tuplet(++_id, actual, normal) { IsDrawn = false };
                    tuplets.Add(bare);
                }
                else
                {
                    bare = null;
                }

                _found[step.Note] = [.. tuplets];
            }
        }

        private Tuplet Make(Open open)
        {
            var shownActual = Side(open.Sign.Element("tuplet-actual"));
            var shownNormal = Side(open.Sign.Element("tuplet-normal"));
            var (actual, normal) = (1, 1);
            var outer = open.Inside[0].Step.In.Take(open.Depth).Select(one => one.Made!).ToList();
            var alone = open.Inside.Find(one => one.Depth == open.Depth + 1).Step;
            if (alone?.Ratio is { } ratio)
            {
                (actual, normal) = Share(ratio, outer);
            }
            else if (open.Inside.TrueForAll(one => one.Step.Ratio is null))
            {
                // A bracket over notes whose values are not changed.
            }
            else if (shownActual?.Number is { } many && shownNormal?.Number is { } of)
            {
                (actual, normal) = (many, of);
            }
            else if (open.Inside[0].Step.Ratio is { } whole)
            {
                (actual, normal) = Share(whole, outer);
            }

            return new Tuplet(++_id, actual, normal) { ShownActual = shownActual, ShownNormal = shownNormal };
        }

        private static (int Actual, int Normal) Share((int Actual, int Normal) whole, List<Tuplet> outer)
        {
            var actual = outer.Aggregate(1, (product, tuplet) => product * tuplet.Actual);
            var normal = outer.Aggregate(1, (product, tuplet) => product * tuplet.Normal);
            if (whole.Actual % actual == 0 && whole.Normal % normal == 0)
            {
                return (whole.Actual / actual, whole.Normal / normal);
            }

            var share = new Rational(whole.Normal, whole.Actual) / new Rational(normal, actual);
            return ((int)share.Denominator, (int)share.Numerator);
        }

        private static TupletSide? Side(XElement? side) => side is null
            ? null
            : new TupletSide(
                Int(Text(side, "tuplet-number")),
                Text(side, "tuplet-type") is { } type ? Unit(type, side.Elements("tuplet-dot").Count()) : null);
    }
}
