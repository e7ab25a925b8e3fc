using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Writes notes and rests.</summary>
internal sealed class NoteWriter(int part, ScoreIds ids, ScoreXml xml, ScoreDivisions divisions, TupletEnds tuplets)
{
    private static readonly string[] Beams = ["begin", "continue", "end", "forward hook", "backward hook"];
    private static readonly string[] Steps = ["C", "D", "E", "F", "G", "A", "B"];

    /// <summary>Writes an event: each head is a note of its own.</summary>
    /// <param name="voice">The voice's name.</param>
    /// <param name="one">The event; no gap.</param>
    /// <param name="voiceIndex">Index of the voice in the measure.</param>
    /// <param name="index">Index of the event in the voice.</param>
    public void Write(string voice, VoiceEvent one, int voiceIndex, int index)
    {
        var heads = (one as NotesEvent)?.Notes;
        for (var i = 0; i < (heads?.Count ?? 1); i++)
        {
            Head(voice, one, heads?[i], i, voiceIndex, index);
        }
    }

    public static string Step(Music.Harmony.NoteLetter letter) => Steps[(int)letter];

    private void Head(string voice, VoiceEvent one, WrittenNote? head, int number, int voiceIndex, int index)
    {
        var rest = one as RestEvent;
        var notes = one as NotesEvent;
        var value = one.Value;
        xml.Line();
        xml.Open("note");
        if (rest?.IsHidden == true || head?.IsHidden == true)
        {
            xml.Attribute("print-object", false);
        }

        xml.Passes(head?.Passes ?? rest?.Passes ?? []);
        if (notes?.Grace is { } grace)
        {
            GraceOf(grace);
        }

        if (notes?.IsCue == true || rest?.IsCue == true)
        {
            xml.Empty("cue");
        }

        if (number > 0)
        {
            xml.Empty("chord");
        }

        Sound(rest, head);
        if (notes?.Grace is null)
        {
            xml.Element("duration", divisions.Text(one.Length));
        }

        Tie(head?.TiedFrom, "stop");
        Tie(head?.TiedTo, "start");
        foreach (var instrument in head?.Instruments ?? [])
        {
            if (ids.Known(part, instrument) is { } known)
            {
                xml.Open("instrument");
                xml.Attribute("id", known);
                xml.Close();
            }
        }

        xml.Element("voice", voice.Length == 0 ? null : voice);
        if (value is not null)
        {
            xml.Element("type", MusicXmlWords.Type(value.Unit.Base));
            xml.Empty("dot", value.Unit.Dots);
        }

        AccidentalOf(head?.Accidental);
        Modification(value);
        foreach (var mark in one.Marks)
        {
            if ((mark.Head ?? 0) == number && mark.Kind is MarkKind.Notehead or MarkKind.NoteheadText)
            {
                MarkWriter.Write(xml, mark);
            }
        }

        xml.Element("staff", head?.Staff ?? rest?.Staff);
        if (number == 0 && notes is not null)
        {
            BeamsOf(notes.Beams);
        }

        Notations(one, head, number, voiceIndex, index);
        if (number == 0)
        {
            foreach (var lyric in one.Lyrics)
            {
                LyricOf(lyric);
            }
        }

        xml.Close();
    }

    private void Sound(RestEvent? rest, WrittenNote? head)
    {
        if (head?.Pitch is { } pitch)
        {
            xml.Open("pitch");
            xml.Element("step", Step(pitch.Letter));
            if (pitch.Alter.Sign != 0)
            {
                xml.Element("alter", ScoreXml.TextOf(pitch.Alter));
            }

            xml.Element("octave", pitch.Octave);
            xml.Close();
            return;
        }

        xml.Open(rest is null ? "unpitched" : "rest");
        xml.Attribute("measure", rest?.IsWholeMeasure == true ? true : null);
        if ((rest is null ? head?.Position : rest.Position) is { } position)
        {
            xml.Element("display-step", Step(position.Letter));
            xml.Element("display-octave", position.Octave);
        }

        xml.Close();
    }

    private void GraceOf(Grace grace)
    {
        xml.Open("grace");
        xml.Attribute("steal-time-previous", grace.TakesFromPrevious is { } previous ? ScoreXml.TextOf(previous) : null);
        xml.Attribute("steal-time-following", grace.TakesFromFollowing is { } following ? ScoreXml.TextOf(following) : null);
        xml.Attribute("make-time", grace.AddsTime is { } time ? divisions.Text(time) : null);
        xml.Attribute("slash", grace.HasSlash);
        xml.Close();
    }

    private void Tie(TieEnd? end, string type)
    {
        if (end?.Sounds == true)
        {
            xml.Open("tie");
            xml.Attribute("type", type);
            xml.Passes(end.Passes);
            xml.Close();
        }
    }

    private void AccidentalOf(PrintedAccidental? accidental)
    {
        if (accidental is null)
        {
            return;
        }

        xml.Open("accidental");
        xml.Attribute("cautionary", accidental.IsCautionary);
        xml.Attribute("editorial", accidental.IsEditorial);
        xml.Attribute("parentheses", accidental.InParentheses);
        xml.Attribute("bracket", accidental.InBrackets);
        xml.Text(accidental.Sign);
        xml.Close();
    }

    private void Modification(WrittenValue? value)
    {
        if (value is null || value.Tuplets.Count == 0)
        {
            return;
        }

        var (actual, normal) = (1L, 1L);
        foreach (var tuplet in value.Tuplets)
        {
            actual = checked(actual * tuplet.Actual);
            normal = checked(normal * tuplet.Normal);
        }

        if (actual == 1 && normal == 1)
        {
            return;
        }

        xml.Open("time-modification");
        xml.Element("actual-notes", ScoreXml.TextOf(actual));
        xml.Element("normal-notes", ScoreXml.TextOf(normal));
        if (value.CountedIn is { } unit)
        {
            xml.Element("normal-type", MusicXmlWords.Type(unit.Base));
            xml.Empty("normal-dot", unit.Dots);
        }

        xml.Close();
    }

    private void BeamsOf(ValueList<Beam> beams)
    {
        for (var level = 0; level < beams.Count; level++)
        {
            xml.Open("beam");
            xml.Attribute("number", level + 1);
            xml.Text(Beams[(int)beams[level]]);
            xml.Close();
        }
    }

    private void Notations(VoiceEvent one, WrittenNote? head, int number, int voiceIndex, int index)
    {
        var box = new Box(xml);
        TiedOf(head?.TiedFrom, "stop", ref box);
        TiedOf(head?.TiedTo, "start", ref box);
        if (head?.LetRing == true)
        {
            box.Enter(null);
            xml.Open("tied");
            xml.Attribute("type", "let-ring");
            xml.Close();
        }

        if (number == 0 && one.Value is { Tuplets.Count: > 0 } value)
        {
            TupletsOf(value.Tuplets, voiceIndex, index, ref box);
        }

        foreach (var mark in one.Marks)
        {
            if ((mark.Head ?? 0) != number || mark.Kind is MarkKind.Notehead or MarkKind.NoteheadText)
            {
                continue;
            }

            box.Enter(mark.Kind switch
            {
                <= MarkKind.OtherArticulation => "articulations",
                <= MarkKind.OrnamentAccidental => "ornaments",
                <= MarkKind.OtherTechnical => "technical",
                MarkKind.Dynamics or MarkKind.OtherDynamics => "dynamics",
                _ => null,
            });
            if (mark.Kind == MarkKind.Dynamics)
            {
                xml.Empty(mark.Text!);
            }
            else
            {
                MarkWriter.Write(xml, mark, mark.Kind == MarkKind.OrnamentAccidental ? "accidental-mark" : null);
            }
        }

        box.Leave();
    }

    private void TiedOf(TieEnd? end, string type, ref Box box)
    {
        if (end?.IsDrawn == true)
        {
            box.Enter(null);
            xml.Open("tied");
            xml.Attribute("type", type);
            xml.Attribute("number", end.Number);
            xml.Close();
        }
    }

    private void TupletsOf(ValueList<Tuplet> all, int voiceIndex, int index, ref Box box)
    {
        for (var depth = 0; depth < all.Count; depth++)
        {
            if (all[depth].IsDrawn && tuplets.Begins(all[depth], voiceIndex, index))
            {
                box.Enter(null);
                xml.Open("tuplet");
                xml.Attribute("type", "start");
                xml.Attribute("number", depth + 1);
                Side(all[depth].ShownActual, "tuplet-actual");
                Side(all[depth].ShownNormal, "tuplet-normal");
                xml.Close();
            }
        }

        for (var depth = all.Count - 1; depth >= 0; depth--)
        {
            if (all[depth].IsDrawn && tuplets.Ends(all[depth], voiceIndex, index))
            {
                box.Enter(null);
                xml.Open("tuplet");
                xml.Attribute("type", "stop");
                xml.Attribute("number", depth + 1);
                xml.Close();
            }
        }
    }

    private void Side(TupletSide? side, string name)
    {
        if (side is null)
        {
            return;
        }

        xml.Open(name);
        xml.Element("tuplet-number", side.Number);
        if (side.Unit is { } unit)
        {
            xml.Element("tuplet-type", MusicXmlWords.Type(unit.Base));
            xml.Empty("tuplet-dot", unit.Dots);
        }

        xml.Close();
    }

    private void LyricOf(Lyric lyric)
    {
        xml.Open("lyric");
        xml.Attribute("number", lyric.Number);
        xml.Attribute("name", lyric.Name);
        xml.Attribute("print-object", lyric.IsHidden ? false : null);
        xml.Passes(lyric.Passes);
        foreach (var (i, one) in lyric.Parts.Index())
        {
            // The schema knows a further text only behind an elision.
            if (one.Join == LyricJoin.Elision || (i > 0 && one.Place is not null))
            {
                xml.Open("elision");
                xml.Text(one.JoinSign ?? "");
                xml.Close();
            }

            xml.Element("syllabic", one.Place switch
            {
                WordPlace.Single => "single",
                WordPlace.Begin => "begin",
                WordPlace.Middle => "middle",
                WordPlace.End => "end",
                _ => null,
            });
            xml.Open("text");
            xml.Text(one.Text);
            xml.Close();
        }

        if (lyric.Sound != WordlessSound.None)
        {
            xml.Empty(lyric.Sound == WordlessSound.Humming ? "humming" : "laughing");
        }

        if (lyric.Extender != Extender.None)
        {
            xml.Open("extend");
            xml.Attribute("type", lyric.Extender switch
            {
                Extender.Start => "start",
                Extender.Continue => "continue",
                Extender.Stop => "stop",
                _ => null,
            });
            xml.Close();
        }

        if (lyric.EndsLine)
        {
            xml.Empty("end-line");
        }

        if (lyric.EndsParagraph)
        {
            xml.Empty("end-paragraph");
        }

        xml.Close();
    }

    /// <summary>The notations of a note, with the boxes inside them for marks of one kind; opened when something comes in.</summary>
    private ref struct Box(ScoreXml xml)
    {
        private bool _isOpen;
        private string? _inner;

        public void Enter(string? name)
        {
            if (!_isOpen)
            {
                xml.Open("notations");
                _isOpen = true;
            }

            if (_inner == name)
            {
                return;
            }

            if (_inner is not null)
            {
                xml.Close();
            }

            _inner = name;
            if (name is not null)
            {
                xml.Open(name);
            }
        }

        public void Leave()
        {
            if (_inner is not null)
            {
                xml.Close();
            }

            if (_isOpen)
            {
                xml.Close();
            }
        }
    }
}

/// <summary>Writes marks: the kind is the element's name, the edge its type.</summary>
internal static class MarkWriter
{
    public static void Write(ScoreXml xml, Mark mark, string? name = null)
    {
        xml.Open(name ?? MusicXmlWords.Name(mark.Kind));
        foreach (var detail in mark.Details)
        {
            if (detail.Name[0] == '@')
            {
                xml.Attribute(detail.Name[1..], detail.Value);
            }
        }

        xml.Attribute("type", mark.Edge switch
        {
            MarkEdge.Start => mark.Kind == MarkKind.Wedge ? mark.Text : "start",
            MarkEdge.Continue => "continue",
            MarkEdge.Stop => "stop",
            _ => mark.Kind == MarkKind.OtherNotation && mark.Detail("@type") is null ? "single" : null,
        });
        xml.Attribute("number", mark.Number);
        xml.Text(mark.Kind == MarkKind.Wedge ? "" : mark.Text ?? "");
        xml.Children(mark.Details);
        xml.Close();
    }
}
