using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Writes one part, measure by measure. A sign stands before the note at whose place it is; a sign inside a note has an offset.</summary>
internal sealed class PartWriter
{
    private readonly WrittenMusic _music;
    private readonly WrittenPart _part;
    private readonly int _index;
    private readonly ScoreXml _xml;
    private readonly ScoreDivisions _divisions;
    private readonly SignWriter _signs;
    private readonly NoteWriter _notes;
    private readonly TupletEnds _tuplets;
    private readonly List<PlacedSign> _placed = [];
    private Span _cursor;
    private Span _reach;
    private long? _saysDivisions;

    public PartWriter(WrittenMusic music, int index, ScoreIds ids, ScoreXml xml)
    {
        _music = music;
        _index = index;
        _part = music.Parts[index];
        _xml = xml;
        _divisions = new ScoreDivisions(music, _part);
        _signs = new SignWriter(index, _part, ids, xml, _divisions);
        _tuplets = new TupletEnds(_part);
        _notes = new NoteWriter(index, ids, xml, _divisions, _tuplets);
    }

    public void Write()
    {
        _xml.Line();
        _xml.Open("part");
        _xml.Attribute("id", _signs.PartId);
        for (var i = 0; i < _part.Measures.Count; i++)
        {
            Measure(i);
        }

        _xml.Line();
        _xml.Close();
    }

    private void Measure(int index)
    {
        var measure = _music.Measures[index];
        var ours = _part.Measures[index];
        _divisions.Enter(index);
        _tuplets.Enter(index);
        _xml.Line();
        _xml.Open("measure");
        _xml.Attribute("number", measure.Number);
        _xml.Attribute("text", measure.Annotations.FirstOrDefault(annotation => annotation.Kind == "measure-text")?.Text);
        _xml.Attribute("implicit", measure.IsUncounted ? true : null);
        _xml.Attribute("non-controlling", measure.IsOneParts ? true : null);
        if (_saysDivisions != _divisions.PerQuarter)
        {
            _signs.SetDivisions(_divisions.PerQuarter);
            _saysDivisions = _divisions.PerQuarter;
        }

        var length = _music.LengthOf(index) ?? Span.Zero;
        (_cursor, _reach) = (Span.Zero, Span.Zero);
        _signs.Collect(index, measure, ours, length, _placed);
        _signs.Barline(measure, BarlineSide.Left, null);
        _signs.StartOfMeasure(_placed);
        for (var i = 0; i < ours.Voices.Count; i++)
        {
            Voice(ours.Voices[i], i);
        }

        Rest();
        MoveTo(Span.Max(_reach, length));
        if (measure.IsRinging && _index == 0)
        {
            _signs.Feature(MusicXmlWords.RingingMeasure, "yes");
        }

        _signs.Barline(measure, BarlineSide.Right, null);
        _xml.Line();
        _xml.Close();
    }

    private void Voice(VoiceMeasure voice, int index)
    {
        MoveTo(Span.Zero);
        for (var i = 0; i < voice.Events.Count; i++)
        {
            var one = voice.Events[i];
            Before(_cursor + one.Length, index == 0);
            if (one is GapEvent)
            {
                Forward(one.Length, voice.Name);
            }
            else
            {
                _notes.Write(voice.Name, one, index, i);
            }

            _cursor += one.Length;
        }

        Before(_cursor, index == 0);
        _reach = Span.Max(_reach, _cursor);
    }

    // The signs at the cursor, and in the first voice those inside the note that follows.
    private void Before(Span next, bool isFirst)
    {
        for (var i = 0; i < _placed.Count; i++)
        {
            var sign = _placed[i];
            if (sign.Stands > _cursor && sign.Stands >= next)
            {
                return;
            }

            if (!sign.IsWritten && (sign.Stands == _cursor || (isFirst && !sign.IsExact && sign.Stands < next)))
            {
                _signs.Write(_placed, i, _cursor);
            }
        }
    }

    // What no voice has a place for.
    private void Rest()
    {
        for (var i = 0; i < _placed.Count; i++)
        {
            if (!_placed[i].IsWritten)
            {
                MoveTo(_placed[i].Stands);
                _signs.Write(_placed, i, _cursor);
            }
        }
    }

    private void MoveTo(Span place)
    {
        if (place > _cursor)
        {
            Forward(place - _cursor, "");
        }
        else if (place < _cursor)
        {
            _xml.Line();
            _xml.Open("backup");
            _xml.Element("duration", _divisions.Text(_cursor - place));
            _xml.Close();
        }

        _cursor = place;
        _reach = Span.Max(_reach, place);
    }

    private void Forward(Span length, string voice)
    {
        _xml.Line();
        _xml.Open("forward");
        _xml.Element("duration", _divisions.Text(length));
        _xml.Element("voice", voice.Length == 0 ? null : voice);
        _xml.Close();
    }
}

/// <summary>The unit in which a part's file counts time: one for the whole part if it is not too fine, otherwise one for each measure.</summary>
internal sealed class ScoreDivisions
{
    // Source: MusicXML 4.0, element divisions: above this, a score cannot become a MIDI file of the same resolution.
    private const long FinestOfPart = 16_383;

    private readonly WrittenMusic _music;
    private readonly WrittenPart _part;
    private readonly bool _isOfPart;

    public ScoreDivisions(WrittenMusic music, WrittenPart part)
    {
        _music = music;
        _part = part;
        var common = 1L;
        for (var i = 0; i < part.Measures.Count && common <= FinestOfPart; i++)
        {
            common = OfMeasure(i, common);
        }

        _isOfPart = common <= FinestOfPart;
        PerQuarter = common;
    }

    /// <summary>Divisions of a quarter note.</summary>
    public long PerQuarter { get; private set; }

    public void Enter(int measure)
    {
        if (!_isOfPart)
        {
            PerQuarter = OfMeasure(measure, 1);
        }
    }

    /// <summary>A time, in divisions.</summary>
    public string Text(Span length)
    {
        var divisions = checked((long)((Int128)length.Wholes.Numerator * 4 * PerQuarter / length.Wholes.Denominator));
        return ScoreXml.TextOf(divisions);
    }

    private long OfMeasure(int index, long common)
    {
        var measure = _part.Measures[index];
        Take(_music.LengthOf(index) ?? Span.Zero);
        foreach (var voice in measure.Voices)
        {
            foreach (var one in voice.Events)
            {
                Take(one.Length);
                if (one is NotesEvent { Grace.AddsTime: { } added })
                {
                    Take(added);
                }
            }
        }

        foreach (var mark in measure.Marks)
        {
            Take(mark.At);
            Take(mark.Length ?? Span.Zero);
        }

        foreach (var one in measure.Transpositions)
        {
            Take(one.At);
        }

        foreach (var one in measure.Clefs)
        {
            Take(one.At);
        }

        foreach (var mark in _music.Measures[index].Marks)
        {
            Take(mark.At);
        }

        return common;

        void Take(Span length)
        {
            var below = length.Wholes.Denominator;
            below /= Gcd(below, 4);
            if (common % below != 0)
            {
                common = checked(common / Gcd(common, below) * below);
            }
        }
    }

    private static long Gcd(long a, long b)
    {
        while (b != 0)
        {
            (a, b) = (b, a % b);
        }

        return a;
    }
}

/// <summary>Where tuplets begin and end. Notes of one voice that follow each other in the same tuplet are in one; grace notes without a tuplet of their own
/// do not interrupt it. A measure that appears again begins its tuplets again.</summary>
internal sealed class TupletEnds(WrittenPart part)
{
    private int _measure;

    public void Enter(int measure) => _measure = measure;

    /// <summary>Whether a tuplet begins at an event.</summary>
    /// <param name="tuplet">The tuplet, one of the event's.</param>
    /// <param name="voice">Index of the voice in the measure.</param>
    /// <param name="index">Index of the event in the voice.</param>
    public bool Begins(Tuplet tuplet, int voice, int index) => !IsIn(tuplet, Beside(voice, index, -1), voice, index, isBefore: true);

    /// <summary>Whether a tuplet ends at an event.</summary>
    /// <inheritdoc cref="Begins"/>
    public bool Ends(Tuplet tuplet, int voice, int index) => !IsIn(tuplet, Beside(voice, index, 1), voice, index, isBefore: false);

    private bool IsIn(Tuplet tuplet, (VoiceEvent? Event, bool IsInMeasure) beside, int voice, int index, bool isBefore)
    {
        if (beside.Event is null || !Has(beside.Event, tuplet.Id))
        {
            return false;
        }

        // The same measure twice in succession: each has its own.
        var neighbour = _measure + (isBefore ? -1 : 1);
        return beside.IsInMeasure || !ReferenceEquals(part.Measures[neighbour], part.Measures[_measure]);
    }

    private static bool Has(VoiceEvent one, int id)
    {
        foreach (var tuplet in one.Tuplets)
        {
            if (tuplet.Id == id)
            {
                return true;
            }
        }

        return false;
    }

    // The next event of the voice that counts, perhaps in the measure beside.
    private (VoiceEvent? Event, bool IsInMeasure) Beside(int voice, int index, int step)
    {
        var events = part.Measures[_measure].Voices[voice].Events;
        for (var i = index + step; i >= 0 && i < events.Count; i += step)
        {
            if (Counts(events[i]))
            {
                return (events[i], true);
            }
        }

        var neighbour = _measure + step;
        if (neighbour < 0 || neighbour >= part.Measures.Count || Lane(neighbour, voice) is not { } lane)
        {
            return default;
        }

        for (var i = step > 0 ? 0 : lane.Count - 1; i >= 0 && i < lane.Count; i += step)
        {
            if (Counts(lane[i]))
            {
                return (lane[i], false);
            }
        }

        return default;
    }

    private static bool Counts(VoiceEvent one) => one is not NotesEvent { Grace: not null } || one.Tuplets.Count > 0;

    // A part may have two voices of one name in a measure.
    private ValueList<VoiceEvent>? Lane(int measure, int voice)
    {
        var voices = part.Measures[_measure].Voices;
        var name = voices[voice].Name;
        var before = 0;
        for (var i = 0; i < voice; i++)
        {
            before += voices[i].Name == name ? 1 : 0;
        }

        foreach (var one in part.Measures[measure].Voices)
        {
            if (one.Name == name && before-- == 0)
            {
                return one.Events;
            }
        }

        return null;
    }
}
