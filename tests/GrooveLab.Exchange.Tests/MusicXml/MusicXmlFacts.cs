using System.Globalization;
using System.Numerics;
using System.Xml.Linq;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Lists the content of a MusicXML score, line by line, without the model, its reader or its writer: it only walks the file. Two
/// files have the same content when their lists are equal. Everything not named in <see cref="Outside"/> is listed, known or not, so that
/// no loss goes unnoticed.</summary>
internal sealed class MusicXmlFacts
{
    /// <summary>Elements that the model excludes on purpose.</summary>
    public static readonly HashSet<string> OutsideElements = new(StringComparer.Ordinal)
    {
        // Page, systems, fonts and texts on the page.
        "defaults", "print", "credit", "part-name-display", "part-abbreviation-display", "measure-numbering",
        // Stems and how staves are drawn together.
        "stem", "part-group", "part-symbol", "instruments", "concert-score",
        // Encoding, links, editorial remarks.
        "encoding", "miscellaneous", "link", "bookmark", "part-link", "opus", "group", "footnote", "level", "grouping",
        // Playback devices, programs and listening.
        "midi-device", "midi-channel", "midi-name", "midi-bank", "volume", "pan", "elevation", "instrument-change", "play", "player", "listen",
        "listening", "instrument-abbreviation", "solo", "ensemble", "virtual-instrument",
        // The sign between a chord and its bass.
        "bass-separator",
    };

    /// <summary>Attributes that the model excludes on purpose.</summary>
    public static readonly HashSet<string> OutsideAttributes = new(StringComparer.Ordinal)
    {
        // Place, size, font and color.
        "default-x", "default-y", "relative-x", "relative-y", "font-family", "font-style", "font-size", "font-weight", "color", "placement",
        "orientation", "halign", "valign", "justify", "underline", "overline", "line-through", "rotation", "letter-spacing", "line-height",
        "dir", "{http://www.w3.org/XML/1998/namespace}lang", "{http://www.w3.org/XML/1998/namespace}space", "enclosure", "bezier-x", "bezier-y",
        "bezier-x2", "bezier-y2", "bezier-offset", "bezier-offset2", "dash-length", "space-length", "width", "height", "size", "end-length",
        "text-x", "text-y", "spread", "print-spacing", "print-dot", "print-lyric", "print-leger", "winged", "separator", "location-of-sign",
        // The system of a page in which a sign is repeated, and the element to which a name belongs.
        "system", "directive", "id-of-element",
        // What a recording did with a note, and positions in a device's own ticks.
        "attack", "release", "dynamics-of-note", "end-dynamics", "divisions",
    };

    private static readonly XName Lang = XNamespace.Xml + "lang";
    private readonly List<string> _facts = [];

    private MusicXmlFacts()
    {
    }

    public static IReadOnlyList<string> Of(XDocument score)
    {
        var walker = new MusicXmlFacts();
        walker.Walk(score.Root!);
        walker._facts.Sort(StringComparer.Ordinal);
        return walker._facts;
    }

    private readonly record struct Fraction(BigInteger Above, BigInteger Below)
    {
        public static Fraction Zero => new(0, 1);

        public static Fraction Of(string text)
        {
            var number = decimal.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);
            BigInteger below = 1;
            while (number != decimal.Truncate(number))
            {
                number *= 10;
                below *= 10;
            }

            return new Fraction(new BigInteger(number), below).Reduced();
        }

        public static Fraction operator +(Fraction a, Fraction b) => new Fraction((a.Above * b.Below) + (b.Above * a.Below), a.Below * b.Below).Reduced();

        public static Fraction operator -(Fraction a, Fraction b) => new Fraction((a.Above * b.Below) - (b.Above * a.Below), a.Below * b.Below).Reduced();

        public static Fraction operator /(Fraction a, Fraction b) => new Fraction(a.Above * b.Below, a.Below * b.Above).Reduced();

        public override string ToString() => $"{Above}/{Below}";

        private Fraction Reduced()
        {
            var divisor = BigInteger.GreatestCommonDivisor(Above, Below);
            return Below.Sign < 0 ? new Fraction(-Above / divisor, -Below / divisor) : new Fraction(Above / divisor, Below / divisor);
        }
    }

    private static string Name(XElement element) => element.Name.LocalName;

    private static string? Attribute(XElement element, string name) => element.Attribute(name)?.Value;

    private static bool IsOutside(XAttribute attribute) =>
        attribute.IsNamespaceDeclaration
        || attribute.Name == Lang
        || OutsideAttributes.Contains(attribute.Name.ToString())
        || (attribute.Name == "id" && attribute.Parent!.Name.LocalName is not ("score-part" or "score-instrument" or "midi-instrument" or "part" or "instrument"))
        || (attribute.Name == "dynamics" && attribute.Parent!.Name.LocalName == "note")
        || (attribute.Name == "pizzicato" && attribute.Parent!.Name.LocalName == "note");

    /// <summary>An element as one line: its name, attributes and content, without excluded items.</summary>
    private static string Line(XElement element)
    {
        var attributes = element.Attributes().Where(one => !IsOutside(one)).Select(one => $" {one.Name.LocalName}={Plain(one.Value)}").Order(StringComparer.Ordinal);
        var children = element.Elements().Where(one => !OutsideElements.Contains(Name(one))).Select(Line).ToList();
        var content = element.HasElements ? string.Join(' ', children) : element.Value;
        return $"<{Name(element)}{string.Concat(attributes)}>{content}";
    }

    // Decimals and lists of numbers have several notations.
    private static string Plain(string text) =>
        text.Contains(',') ? text.Replace(", ", ",") :
        text.Contains('.') && decimal.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out _) ? Fraction.Of(text).ToString() : text;

    private void Walk(XElement root)
    {
        var parts = 0;
        foreach (var element in root.Elements().Where(one => !OutsideElements.Contains(Name(one))))
        {
            switch (Name(element))
            {
                case "part":
                    WalkPart(element, $"P{++parts}");
                    break;
                case "work" or "identification":
                    foreach (var line in element.Elements().Where(one => !OutsideElements.Contains(Name(one))))
                    {
                        _facts.Add("head " + Line(line));
                    }

                    break;
                case "part-list":
                    foreach (var part in element.Elements().Where(one => !OutsideElements.Contains(Name(one))))
                    {
                        WalkListed(part);
                    }

                    break;
                default:
                    _facts.Add("head " + Line(element));
                    break;
            }
        }
    }

    private void WalkListed(XElement part)
    {
        foreach (var element in part.Elements().Where(one => !OutsideElements.Contains(Name(one)) && Name(one) != "identification"))
        {
            var line = Line(element);

            // Only the program and the percussion key are kept; an instrument with neither is skipped.
            if (Name(element) != "midi-instrument" || element.Elements().Any(one => !OutsideElements.Contains(Name(one))))
            {
                _facts.Add($"part {Attribute(part, "id")} {line}");
            }
        }
    }

    private void WalkPart(XElement part, string name)
    {
        _facts.Add($"{name} id={Attribute(part, "id")}");
        var divisions = Fraction.Of("1");
        var index = 0;
        var tuplets = new Dictionary<(string Voice, string Number), Queue<string>>();
        foreach (var measure in part.Elements("measure"))
        {
            var at = $"{name} measure {++index}";
            _facts.Add($"{at} number={Attribute(measure, "number")} implicit={Attribute(measure, "implicit") == "yes"} text={Attribute(measure, "text")} "
                + $"non-controlling={Attribute(measure, "non-controlling") == "yes"}");
            divisions = WalkMeasure(measure, at, divisions, tuplets);
        }
    }

    private Fraction WalkMeasure(
        XElement measure, string at, Fraction divisions, Dictionary<(string Voice, string Number), Queue<string>> tuplets)
    {
        var cursor = Fraction.Zero;
        var onset = Fraction.Zero;
        var graces = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (var element in measure.Elements().Where(one => !OutsideElements.Contains(Name(one))))
        {
            Fraction Time(string text) => Fraction.Of(text) / divisions / Fraction.Of("4");
            Fraction Offset(XElement owner) => owner.Element("offset") is { } offset ? Time(offset.Value) : Fraction.Zero;
            switch (Name(element))
            {
                case "note":
                    if (element.Element("chord") is null)
                    {
                        onset = cursor;
                        cursor += element.Element("duration") is { } lasts ? Time(lasts.Value) : Fraction.Zero;
                    }

                    WalkNote(element, at, onset, Time, graces, tuplets);
                    break;
                case "backup":
                    cursor -= Time(element.Element("duration")!.Value);
                    break;
                case "forward":
                    cursor += Time(element.Element("duration")!.Value);
                    break;
                case "attributes":
                    divisions = element.Element("divisions") is { } said ? Fraction.Of(said.Value) : divisions;
                    foreach (var one in element.Elements().Where(one => Name(one) != "divisions" && !OutsideElements.Contains(Name(one))))
                    {
                        if (Name(one) != "clef")
                        {
                            _facts.Add($"{at} at {cursor} {Line(one)}");
                        }
                        else if (one.Element("sign")!.Value is ("G" or "F" or "C" or "percussion") and var sign)
                        {
                            // The others are for tablatures and ciphers.
                            var usual = sign switch { "G" => "2", "F" => "4", "C" => "3", _ => "0" };
                            var octaves = one.Element("clef-octave-change")?.Value ?? "0";
                            _facts.Add($"{at} at {cursor} clef {sign} {one.Element("line")?.Value ?? usual} {octaves} of staff {Attribute(one, "number")}");
                        }
                    }

                    break;
                case "direction":
                    WalkDirection(element, at, cursor, Offset);
                    break;
                case "sound":
                    WalkSound(element, at, cursor + Offset(element));
                    break;
                case "harmony":
                    var copy = new XElement(element);
                    copy.Elements("offset").Remove();
                    _facts.Add($"{at} at {cursor + Offset(element)} {Line(WithoutDefault(copy))}");
                    break;
                case "figured-bass":
                    var figures = new XElement(element);
                    figures.Elements("duration").Remove();
                    _facts.Add($"{at} at {cursor} lasting {(element.Element("duration") is { } long_ ? Time(long_.Value) : null)} {Line(figures)}");
                    break;
                case "barline":
                    WalkBarline(element, at, cursor);
                    break;
                default:
                    _facts.Add($"{at} at {cursor} {Line(element)}");
                    break;
            }
        }

        return divisions;
    }

    // Print-related attributes of a chord's elements, and a horizontal arrangement, are layout.
    private static XElement WithoutDefault(XElement harmony)
    {
        foreach (var attribute in harmony.DescendantsAndSelf().Attributes().ToList())
        {
            if (attribute.Name.LocalName is "arrangement" or "print-frame" or "use-symbols" or "stack-degrees" or "parentheses-degrees"
                or "bracket-degrees" or "location" or "plus-minus" or "symbol"
                || (attribute.Name.LocalName == "print-object" && attribute.Parent != harmony)
                || (attribute.Name.LocalName == "text" && Name(attribute.Parent!) is not ("kind" or "root-step" or "bass-step" or "numeral-root" or "first-fret")))
            {
                attribute.Remove();
            }
        }

        foreach (var alter in harmony.Descendants().Where(one => Name(one) is "root-alter" or "bass-alter" or "degree-alter" or "numeral-alter"))
        {
            alter.Value = Fraction.Of(alter.Value).ToString();
        }

        return harmony;
    }

    private void WalkDirection(XElement direction, string at, Fraction cursor, Func<XElement, Fraction> offset)
    {
        var place = cursor + offset(direction);
        var where = $"staff={direction.Element("staff")?.Value} voice={direction.Element("voice")?.Value}";
        foreach (var type in direction.Elements("direction-type").Elements())
        {
            var signs = Name(type) == "dynamics" ? type.Elements() : [type];
            foreach (var sign in signs.Where(sign => !OutsideElements.Contains(Name(sign))))
            {
                if (Name(sign) is "segno" or "coda")
                {
                    _facts.Add($"{at} at {place} sign {Name(sign)}");
                }
                else if (Name(sign) != "words" || sign.Value.Length > 0)
                {
                    _facts.Add($"{at} at {place} {where} direction {Line(sign)}");
                }
            }
        }

        if (direction.Element("sound") is { } sound)
        {
            var shifts = Attribute(direction.Element("offset") ?? sound, "sound") == "yes";
            WalkSound(sound, at, sound.Element("offset") is not null ? cursor + offset(sound) : shifts ? place : cursor);
        }

        foreach (var other in direction.Elements().Where(one =>
            Name(one) is not ("direction-type" or "offset" or "voice" or "staff" or "sound") && !OutsideElements.Contains(Name(one))))
        {
            _facts.Add($"{at} at {place} {where} {Line(other)}");
        }
    }

    private void WalkSound(XElement sound, string at, Fraction place)
    {
        var only = Attribute(sound, "time-only") is { } passes ? $" in passes {passes.Replace(" ", "")}" : "";
        foreach (var attribute in sound.Attributes().Where(one => !IsOutside(one) && one.Name.LocalName is not ("time-only" or "pan" or "elevation")))
        {
            var jumps = attribute.Name.LocalName is "segno" or "coda" or "tocoda" or "dacapo" or "dalsegno" or "fine" or "forward-repeat";
            if (!(attribute.Name.LocalName is "dacapo" or "forward-repeat" && attribute.Value == "no"))
            {
                _facts.Add($"{at} at {place} sound {attribute.Name.LocalName}={Plain(attribute.Value)}{(jumps ? only : "")}");
            }
        }

        foreach (var element in sound.Elements().Where(one => Name(one) is not ("offset" or "midi-instrument") && !OutsideElements.Contains(Name(one))))
        {
            _facts.Add($"{at} at {place} sound {Line(element)}");
        }
    }

    private void WalkBarline(XElement barline, string at, Fraction cursor)
    {
        var location = Attribute(barline, "location") ?? "right";
        var place = location switch { "left" => Fraction.Zero, _ => cursor };
        foreach (var element in barline.Elements().Where(one => !OutsideElements.Contains(Name(one))))
        {
            if (Name(element) is "segno" or "coda")
            {
                _facts.Add($"{at} at {place} sign {Name(element)}");
                if (Attribute(barline, Name(element)) is { } name)
                {
                    _facts.Add($"{at} at {place} sound {Name(element)}={name}");
                }
            }
            else
            {
                _facts.Add($"{at} barline {location} {(location == "middle" ? place : null)} {Line(element)}");
            }
        }
    }

    private void WalkNote(
        XElement note,
        string at,
        Fraction onset,
        Func<string, Fraction> time,
        Dictionary<string, int> graces,
        Dictionary<(string Voice, string Number), Queue<string>> tuplets)
    {
        var voice = note.Element("voice")?.Value ?? "";
        var key = $"{at} voice {voice} at {onset}";
        if (note.Element("grace") is { } grace)
        {
            graces.TryAdd(key, 0);
            var number = note.Element("chord") is null ? ++graces[key] : graces[key];
            key = $"{key} grace {number}";
            if (grace.Attribute("make-time") is { } make)
            {
                _facts.Add($"{key} makes {time(make.Value)}");
            }

            foreach (var attribute in grace.Attributes().Where(one => one.Name != "make-time"))
            {
                _facts.Add($"{key} {attribute.Name}={Plain(attribute.Value)}");
            }
        }

        var chord = note.Element("chord") is not null ? " in chord" : "";
        var pitch = note.Element("pitch");
        var what = pitch is not null
            ? $"{pitch.Element("step")!.Value}{(pitch.Element("alter") is { } alter ? Fraction.Of(alter.Value) : Fraction.Zero)} octave {pitch.Element("octave")!.Value}"
            : Line((note.Element("rest") ?? note.Element("unpitched"))!).Replace(" measure=no", "");
        var lasts = note.Element("duration") is { } duration ? time(duration.Value).ToString() : "none";
        var type = note.Element("type")?.Value;
        var dots = note.Elements("dot").Count();
        var hidden = Attribute(note, "print-object") == "no";
        var cue = note.Element("cue") is not null;
        var name = $"{key} {what}";
        _facts.Add($"{name}{chord} lasts {lasts} type={type} dots={dots} hidden={hidden} cue={cue} staff={note.Element("staff")?.Value} "
            + $"passes={Attribute(note, "time-only")?.Replace(" ", "")} instrument={string.Join(',', note.Elements("instrument").Select(one => Attribute(one, "id")))}");
        if (note.Element("time-modification") is { } modification)
        {
            // Without its own value, it counts in the note's value.
            var normal = modification.Element("normal-type")?.Value ?? type;
            var normalDots = modification.Element("normal-type") is null ? dots : modification.Elements("normal-dot").Count();
            _facts.Add($"{name} modified {modification.Element("actual-notes")!.Value.Trim()}:{modification.Element("normal-notes")!.Value.Trim()} of {normal} {normalDots}");
        }

        if (note.Element("accidental") is { } accidental)
        {
            _facts.Add($"{name} {Line(accidental).Replace(" smufl=" + Attribute(accidental, "smufl"), "")}");
        }

        foreach (var tie in note.Elements("tie"))
        {
            _facts.Add($"{name} tie {Attribute(tie, "type")} passes={Attribute(tie, "time-only")?.Replace(" ", "")}");
        }

        // Beams over rests, and again on the other notes of a chord, are not in the model.
        if (note.Element("rest") is null && note.Element("chord") is null)
        {
            foreach (var beam in note.Elements("beam"))
            {
                _facts.Add($"{name} beam {Attribute(beam, "number") ?? "1"} {beam.Value}");
            }
        }

        foreach (var head in note.Elements().Where(one => Name(one) is "notehead" or "notehead-text"))
        {
            _facts.Add($"{name} {Line(head)}");
        }

        foreach (var notation in note.Elements("notations").Elements().Where(one => !OutsideElements.Contains(Name(one))))
        {
            WalkNotation(notation, name, key, voice, tuplets);
        }

        foreach (var lyric in note.Elements("lyric"))
        {
            WalkLyric(lyric, key);
        }

        foreach (var other in note.Elements().Where(one => !KnownInNote.Contains(Name(one)) && !OutsideElements.Contains(Name(one))))
        {
            _facts.Add($"{name} {Line(other)}");
        }
    }

    private static readonly HashSet<string> KnownInNote = new(StringComparer.Ordinal)
    {
        "grace", "cue", "chord", "pitch", "unpitched", "rest", "duration", "tie", "instrument", "voice", "type", "dot", "accidental",
        "time-modification", "notehead", "notehead-text", "staff", "beam", "notations", "lyric",
    };

    private void WalkNotation(
        XElement notation, string name, string key, string voice, Dictionary<(string Voice, string Number), Queue<string>> tuplets)
    {
        switch (Name(notation))
        {
            case "articulations" or "technical":
                foreach (var mark in notation.Elements())
                {
                    _facts.Add($"{name} {Name(notation)} {Line(mark)}");
                }

                break;
            case "ornaments":
                // An accidental belongs to the ornament before it.
                var ornament = "";
                foreach (var mark in notation.Elements())
                {
                    ornament = Name(mark) == "accidental-mark" ? ornament : Line(mark).Replace(" type=single", "");
                    _facts.Add($"{name} ornaments {ornament} {(Name(mark) == "accidental-mark" ? Line(mark) : "")}");
                }

                break;
            case "dynamics":
                foreach (var sign in notation.Elements())
                {
                    _facts.Add($"{name} dynamics {Line(sign)}");
                }

                break;
            case "tied" when Attribute(notation, "type") == "continue":
                break;
            case "tied":
                _facts.Add($"{name} tied {Attribute(notation, "type")} {Attribute(notation, "number")}");
                break;
            case "tuplet" when Attribute(notation, "type") == "start":
                // Its number only joins it to its end.
                tuplets.TryAdd((voice, Attribute(notation, "number") ?? ""), new Queue<string>());
                tuplets[(voice, Attribute(notation, "number") ?? "")].Enqueue(key);
                _facts.Add($"{key} tuplet begins {string.Join(' ', notation.Elements().Select(Line))}");
                break;
            case "tuplet" when Attribute(notation, "type") == "stop":
                var began = tuplets.TryGetValue((voice, Attribute(notation, "number") ?? ""), out var open) && open.TryDequeue(out var from) ? from : "nowhere";
                _facts.Add($"{key} tuplet ends that began at {began}");
                break;
            default:
                _facts.Add($"{name} notation {Line(notation)}");
                break;
        }
    }

    private void WalkLyric(XElement lyric, string key)
    {
        var words = new List<string>();
        foreach (var element in lyric.Elements().Where(one => !OutsideElements.Contains(Name(one))))
        {
            words.Add(Name(element) == "text" ? $"'{element.Value}'" : Line(element));
        }

        var hidden = Attribute(lyric, "print-object") == "no" ? " hidden" : "";
        var passes = Attribute(lyric, "time-only")?.Replace(" ", "");
        _facts.Add($"{key} lyric {Attribute(lyric, "number")} {Attribute(lyric, "name")}{hidden} passes={passes}: {string.Join(' ', words)}");
    }
}
