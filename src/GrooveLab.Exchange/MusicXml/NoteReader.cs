using System.Globalization;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads notes and rests into the lanes of a measure.</summary>
internal sealed class NoteReader(MeasureReader measure)
{
    // Source: MusicXML 4.0, type beam-level.
    private const int MostBeams = 8;

    private static readonly ValueList<Beam>[] OneBeam = [.. Enum.GetValues<Beam>().Select(beam => (ValueList<Beam>)[beam])];
    private static readonly ValueList<Beam>[] TwoBeams = [.. Enum.GetValues<Beam>().Select(beam => (ValueList<Beam>)[beam, beam])];

    private EventDraft? _last;
    private Span _lastOnset;

    public void Read(XmlItem note)
    {
        measure.Part.Grid.Keep(note.Line);
        var isChord = note.Has("chord");
        ListLosses(note);
        if (isChord && _last is { Heads: { } heads })
        {
            ReadHead(note, _last, heads);
            return;
        }

        var rest = note.Element("rest");
        var head = rest is null ? Head(note) : null;
        var grace = note.Element("grace") is { } sign ? GraceOf(sign) : null;
        if (grace is not null && rest is not null)
        {
            measure.Remarks.Warn(note.Line, "a rest is marked as a grace note", "left it out");
            return;
        }

        var unit = UnitOf(note);
        var ratio = RatioOf(note);
        var length = grace is not null ? Span.Zero : LengthOf(note, unit, ratio);
        if (length == Span.Zero && grace is null)
        {
            measure.Remarks.Warn(note.Line, "a note or rest has the duration 0", rest is null ? "read as a grace note" : "left it out");
            if (rest is not null)
            {
                return;
            }

            grace = new Grace();
        }

        // A note of a chord without its first note is where that one was.
        var onset = isChord && _last is not null ? _lastOnset : measure.Cursor;
        var end = measure.Cursor;
        measure.Cursor = onset;
        var lane = measure.LaneFor(note.Text("voice") ?? "", note.Line);
        var draft = new EventDraft
        {
            Line = note.Line,
            Voice = lane.Voice,
            Length = length,
            Origin = head?.Origin ?? measure.Remarks.At(note.Line),
            Unit = unit,
            CountedIn = CountedIn(note, unit),
            Ratio = ratio,
            IsCue = note.Has("cue"),
            Beams = rest is null ? BeamsOf(note) : [],
            Grace = grace,
            Heads = head is null ? null : [head],
            Rest = rest is null
                ? null
                : new RestDraft(
                    rest.Attribute("measure") == "yes",
                    MusicXmlValues.Position(rest),
                    MusicXmlValues.IsHidden(note),
                    MusicXmlValues.Int(note.Text("staff")),
                    MusicXmlValues.Passes(note.Attribute("time-only"), note.Line)),
        };
        AddNotations(note, draft, null);
        lane.Events.Add(draft);
        measure.InOrder.Add(draft);
        lane.End = onset + length;
        _last = draft;
        _lastOnset = onset;
        measure.Cursor = Span.Max(end, lane.End);
    }

    private void ReadHead(XmlItem note, EventDraft chord, List<WrittenNote> heads)
    {
        if (heads.Count == MusicXmlLimits.MostHeads)
        {
            throw new MusicXmlFault(note.Line, string.Create(CultureInfo.InvariantCulture, $"a chord has more than {MusicXmlLimits.MostHeads} notes"));
        }

        heads.Add(Head(note));
        if (chord.Grace is null && note.Has("duration") && measure.Duration(note) != chord.Length)
        {
            measure.Remarks.Loss(note.Line, "notes of a chord with a length of their own");
        }

        AddNotations(note, chord, heads.Count - 1);
    }

    private void AddNotations(XmlItem note, EventDraft draft, int? head)
    {
        foreach (var child in note.Children)
        {
            if (child.Name == "lyric")
            {
                (draft.Lyrics ??= []).Add(measure.Part.Marks.LyricOf(child));
            }
            else if (child.Name == "notations")
            {
                foreach (var sign in child.Elements("tuplet"))
                {
                    (draft.TupletSigns ??= []).Add(sign);
                }
            }
        }

        draft.Marks ??= [];
        measure.Part.Marks.OfNote(note, head, draft.Marks);
    }

    private void ListLosses(XmlItem note)
    {
        foreach (var child in note.Children)
        {
            switch (child.Name)
            {
                case "play":
                    measure.Remarks.Loss(child.Line, "playback settings (volume, pan, MIDI channel, device)");
                    break;
                case "listen":
                    measure.Remarks.Loss(child.Line, "instructions for listening programs");
                    break;
                case "footnote" or "level":
                    measure.Remarks.Loss(child.Line, "remarks of an editor");
                    break;
                case "grace" or "cue" or "chord" or "pitch" or "unpitched" or "rest" or "duration" or "tie" or "instrument" or "voice" or "type" or "dot"
                    or "accidental" or "time-modification" or "notehead" or "notehead-text" or "staff" or "beam" or "notations" or "lyric":
                    break;
                default:
                    measure.Remarks.Loss(child.Line, $"{MusicXmlValues.Short(child.Name)} elements, which are not part of a note");
                    break;
            }
        }

        foreach (var (name, _) in note.Attributes)
        {
            if (name is "attack" or "release" or "dynamics" or "end-dynamics" or "pizzicato")
            {
                measure.Remarks.Loss(note.Line, "how a performance played a note (attack, release, loudness)");
            }
        }
    }

    private NoteUnit? UnitOf(XmlItem note)
    {
        if (note.Text("type") is not { } type)
        {
            return null;
        }

        var dots = 0;
        foreach (var child in note.Children)
        {
            dots += child.Name == "dot" ? 1 : 0;
        }

        var unit = MusicXmlValues.Unit(type, dots);
        if (unit is null)
        {
            measure.Remarks.Warn(note.Line, $"'{MusicXmlValues.Short(type)}' with {dots} dots is no note value", "read by its duration");
        }

        return unit;
    }

    private static (int Actual, int Normal)? RatioOf(XmlItem note) => note.Element("time-modification") is { } modification
        ? (MusicXmlValues.Int(modification, "actual-notes", 1, MusicXmlLimits.LargestCount),
            MusicXmlValues.Int(modification, "normal-notes", 1, MusicXmlLimits.LargestCount))
        : null;

    // Beams of the eighths, the sixteenths and so on; what follows a missing one is left out.
    private static ValueList<Beam> BeamsOf(XmlItem note)
    {
        Span<Beam?> beams = stackalloc Beam?[MostBeams];
        foreach (var child in note.Children)
        {
            if (child.Name == "beam" && (MusicXmlValues.Int(child.Attribute("number")) ?? 1) is >= 1 and <= MostBeams and var number)
            {
                beams[number - 1] ??= child.Value.Trim() switch
                {
                    "begin" => Beam.Begin,
                    "continue" => Beam.Continue,
                    "end" => Beam.End,
                    "forward hook" => Beam.ForwardHook,
                    "backward hook" => Beam.BackwardHook,
                    _ => null,
                };
            }
        }

        var count = 0;
        while (count < MostBeams && beams[count] is not null)
        {
            count++;
        }

        // Most notes have one of these.
        switch (count)
        {
            case 0:
                return [];
            case 1:
                return OneBeam[(int)beams[0]!.Value];
            case 2 when beams[0] == beams[1]:
                return TwoBeams[(int)beams[0]!.Value];
        }

        var made = new Beam[count];
        for (var i = 0; i < count; i++)
        {
            made[i] = beams[i]!.Value;
        }

        return [.. made];
    }

    private static NoteUnit? CountedIn(XmlItem note, NoteUnit? unit)
    {
        if (note.Element("time-modification") is not { } modification || modification.Text("normal-type") is not { } normal)
        {
            return null;
        }

        var counted = MusicXmlValues.Unit(normal, modification.Elements("normal-dot").Count());
        return counted == unit ? null : counted;
    }

    private Span LengthOf(XmlItem note, NoteUnit? unit, (int Actual, int Normal)? ratio)
    {
        if (note.Has("duration") || unit is null)
        {
            return measure.Duration(note);
        }

        measure.Remarks.Warn(note.Line, "a note or rest has no duration", "read by its note value");
        return unit.Value.Length * (ratio is { } told ? new Rational(told.Normal, told.Actual) : Rational.One);
    }

    private Grace GraceOf(XmlItem grace) => new()
    {
        HasSlash = MusicXmlValues.YesNo(grace.Attribute("slash")),
        TakesFromPrevious = Percent(grace, "steal-time-previous"),
        TakesFromFollowing = Percent(grace, "steal-time-following"),
        AddsTime = grace.Attribute("make-time") is { } time ? measure.Time(grace, time) : null,
    };

    private static Rational? Percent(XmlItem grace, string name)
    {
        if (grace.Attribute(name) is not { } text)
        {
            return null;
        }

        return MusicXmlValues.TryNumber(text, out var number) && number >= 0 && number <= 100
            ? number
            : throw new MusicXmlFault(grace.Line, $"{name} must be 0 to 100, not '{MusicXmlValues.Short(text)}'");
    }

    private WrittenNote Head(XmlItem note)
    {
        WrittenNote made;
        if (note.Element("pitch") is { } pitch)
        {
            made = WrittenNote.Of(MusicXmlValues.Pitch(pitch));
        }
        else if (note.Element("unpitched") is { } unpitched)
        {
            made = WrittenNote.Unpitched(MusicXmlValues.Position(unpitched));
        }
        else
        {
            throw new MusicXmlFault(note.Line, "the note has no pitch and is no rest");
        }

        var (tiedFrom, tiedTo, letsRing) = TiesOf(note);
        return made with
        {
            TiedFrom = tiedFrom,
            TiedTo = tiedTo,
            LetRing = letsRing,
            Staff = MusicXmlValues.Int(note.Text("staff")),
            Instruments = note.Has("instrument") ? [.. note.Elements("instrument").Select(one => one.Attribute("id") ?? "")] : [],
            Accidental = note.Element("accidental") is { } accidental
                ? new PrintedAccidental(accidental.Value)
                {
                    IsCautionary = MusicXmlValues.YesNo(accidental.Attribute("cautionary")),
                    IsEditorial = MusicXmlValues.YesNo(accidental.Attribute("editorial")),
                    InParentheses = MusicXmlValues.YesNo(accidental.Attribute("parentheses")),
                    InBrackets = MusicXmlValues.YesNo(accidental.Attribute("bracket")),
                }
                : null,
            IsHidden = MusicXmlValues.IsHidden(note),
            Passes = MusicXmlValues.Passes(note.Attribute("time-only"), note.Line),
            Origin = measure.Remarks.At(note.Line),
        };
    }

    private static (TieEnd? From, TieEnd? To, bool LetsRing) TiesOf(XmlItem note)
    {
        XmlItem? soundsFrom = null, soundsTo = null, drawnFrom = null, drawnTo = null;
        var letsRing = false;
        foreach (var child in note.Children)
        {
            if (child.Name == "tie")
            {
                soundsFrom ??= child.Attribute("type") == "stop" ? child : null;
                soundsTo ??= child.Attribute("type") == "start" ? child : null;
            }
            else if (child.Name == "notations")
            {
                foreach (var tied in child.Elements("tied"))
                {
                    drawnFrom ??= tied.Attribute("type") == "stop" ? tied : null;
                    drawnTo ??= tied.Attribute("type") == "start" ? tied : null;
                    letsRing |= tied.Attribute("type") == "let-ring";
                }
            }
        }

        return (End(soundsFrom, drawnFrom), End(soundsTo, drawnTo), letsRing);
    }

    private static TieEnd? End(XmlItem? sounds, XmlItem? drawn) => sounds is null && drawn is null
        ? null
        : new TieEnd(sounds is not null, drawn is not null)
        {
            Number = MusicXmlValues.Int(drawn?.Attribute("number")),
            Passes = sounds is null ? [] : MusicXmlValues.Passes(sounds.Attribute("time-only"), sounds.Line),
        };
}
