using System.Text.Encodings.Web;
using System.Text.Json;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Commands;

/// <summary>The bars as one JSON document. docs/show-json.md says what each member means.</summary>
internal static class BarsJson
{
    public static void Write(IBarSource band, Stream to)
    {
        using var json = new Utf8JsonWriter(
            to, new JsonWriterOptions { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping });
        json.WriteStartObject();
        var heading = band.Heading;
        json.WriteString("title", heading.Title);
        json.WriteString("key", heading.Key.ToString());
        WriteParts(json, band);
        if (band.First < 0)
        {
            var leadIn = band.BarAt(-1);
            json.WriteStartObject("leadIn");
            json.WriteNumber("start", -BarSeconds.LengthOf(leadIn));
            json.WriteNumber("length", BarSeconds.LengthOf(leadIn));
            json.WriteString("wholes", leadIn.Length.ToString());
            WriteEvents(json, leadIn, band);
            json.WriteEndObject();
        }

        json.WriteStartArray("bars");
        var clock = new BarSeconds();
        for (var index = 0; index < band.End; index++)
        {
            WriteBar(json, band.BarAt(index), band, clock);
            json.Flush();
        }

        json.WriteEndArray();
        json.WriteEndObject();
        json.Flush();
        to.WriteByte((byte)'\n');
    }

    private static void WriteParts(Utf8JsonWriter json, IBarSource band)
    {
        json.WriteStartArray("parts");
        foreach (var part in band.Band)
        {
            json.WriteStartObject();
            json.WriteString("name", part.Name);
            json.WriteString("role", part.Role.Name());
            json.WriteString("instrument", part.Instrument.Name);
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }

    private static void WriteBar(Utf8JsonWriter json, Bar bar, IBarSource band, BarSeconds clock)
    {
        json.WriteStartObject();
        json.WriteNumber("index", bar.Index);
        json.WriteString("section", bar.Section);
        json.WriteNumber("barInSection", bar.IndexInSection);
        json.WriteNumber("playing", bar.Playing);
        json.WriteNumber("energy", bar.Tasks.Energy);
        json.WriteStartObject("tasks");
        for (var part = 0; part < band.Band.Count; part++)
        {
            if (band.Band[part].Role != Role.Count)
            {
                json.WriteString(band.Band[part].Name, bar.Tasks.Tasks[part].Name());
            }
        }

        json.WriteEndObject();
        if (bar.Ending > 0)
        {
            json.WriteNumber("endingNumber", bar.Ending);
        }

        json.WriteString("key", bar.Key.ToString());
        json.WriteString("meter", bar.Meter.Signature.ToString());
        json.WriteStartArray("grouping");
        foreach (var group in bar.Meter.Grouping.Groups)
        {
            json.WriteNumberValue(group);
        }

        json.WriteEndArray();
        if (bar.Meter.Grouping.IsNested)
        {
            json.WritePropertyName("groupingTree");
            WriteTree(json, bar.Meter.Grouping.Root);
        }

        json.WriteString("feel", bar.Felt.Name());
        if (!bar.Swing.IsStraight)
        {
            json.WriteString("swing", bar.Swing.Ratio.ToString());
        }

        var (start, length) = clock.Next(bar);
        json.WriteNumber("start", start);
        json.WriteNumber("length", length);
        json.WriteStartArray("chords");
        foreach (var chord in bar.Chords)
        {
            json.WriteStringValue(chord.Symbol.Text);
        }

        json.WriteEndArray();
        json.WriteStartArray("chordOnsets");
        foreach (var chord in bar.Chords)
        {
            json.WriteStringValue(chord.Onset.ToString());
        }

        json.WriteEndArray();
        json.WriteStartObject("barGroup");
        json.WriteNumber("number", bar.GroupPlace.Group);
        json.WriteNumber("bar", bar.GroupPlace.Index);
        json.WriteNumber("bars", bar.GroupPlace.Size);
        json.WriteEndObject();
        if (bar.Stop != BandStop.None)
        {
            json.WriteString("stop", bar.Stop switch
            {
                BandStop.Strike => "strike",
                BandStop.Rest => "rest",
                _ => "hold",
            });
        }

        json.WriteBoolean("ending", bar.IsEnding);
        WriteEvents(json, bar, band);
        if (bar.Remarks.Count > 0)
        {
            json.WriteStartArray("remarks");
            foreach (var remark in bar.Remarks)
            {
                json.WriteStringValue(remark);
            }

            json.WriteEndArray();
        }

        json.WriteEndObject();
    }

    // A group of units is a number, a group of groups a list.
    private static void WriteTree(Utf8JsonWriter json, GroupNode node)
    {
        if (node.Children.Count == 0)
        {
            json.WriteNumberValue(node.Units);
            return;
        }

        json.WriteStartArray();
        foreach (var child in node.Children)
        {
            WriteTree(json, child);
        }

        json.WriteEndArray();
    }

    private static void WriteEvents(Utf8JsonWriter json, Bar bar, IBarSource band)
    {
        json.WriteStartArray("events");
        foreach (var note in bar.Notes)
        {
            WriteEvent(json, note, band);
        }

        json.WriteEndArray();
    }

    private static void WriteEvent(Utf8JsonWriter json, NoteEvent note, IBarSource band)
    {
        json.WriteStartObject();
        json.WriteString("part", band.Band[note.Part].Name);
        json.WriteString("role", note.Role.Name());
        json.WriteString("onset", note.Onset.ToString());
        json.WriteString("length", note.Length.ToString());
        json.WriteNumber("offset", note.OffsetMicroseconds / 1000.0);
        if (note.LeanMicroseconds != 0)
        {
            json.WriteNumber("lean", note.LeanMicroseconds / 1000.0);
        }

        if (note.Unpitched)
        {
            json.WriteNull("pitch");
            json.WriteNumber("sound", note.Key);
        }
        else
        {
            json.WriteNumber("pitch", note.Key);
        }

        json.WriteNumber("velocity", note.Velocity);
        if (note.SpreadMicroseconds != 0)
        {
            json.WriteNumber("spread", note.SpreadMicroseconds / 1000.0);
        }

        if (note.String > 0)
        {
            json.WriteNumber("string", note.String);
        }

        if (note.Finger is not null)
        {
            json.WriteString("finger", note.Finger);
        }

        if (note.Stroke != Stroke.None)
        {
            json.WriteString("stroke", note.Stroke.ToString().ToLowerInvariant());
        }

        if (note.Touch == Touch.Damped)
        {
            json.WriteBoolean("damped", true);
        }

        if (note.Sung is { } syllable)
        {
            json.WriteString("syllable", syllable);
        }

        WriteWritten(json, note.Written);
        json.WriteEndObject();
    }

    private static void WriteWritten(Utf8JsonWriter json, WrittenOrigin written)
    {
        json.WriteStartObject("written");
        json.WriteString("place", written.Onset.ToString());
        json.WriteString("length", written.Length.ToString());
        if (written.Pitch is { } pitch)
        {
            json.WriteString("pitch", pitch.ToString());
        }

        if (written.Late != Span.Zero)
        {
            json.WriteString("late", written.Late.ToString());
        }

        if (written.Ornament is { } ornament)
        {
            json.WriteStartObject("ornament");
            json.WriteString("kind", ornament.Kind switch
            {
                OrnamentKind.Grace => "grace",
                OrnamentKind.Consonant => "consonant",
                _ => "held-consonant",
            });
            json.WriteNumber("number", ornament.Number);
            json.WriteNumber("of", ornament.Count);
            json.WriteEndObject();
        }

        if (written.Chord is { } chord)
        {
            json.WriteStartObject("chord");
            json.WriteNumber("number", chord.Number);
            json.WriteNumber("of", chord.Count);
            json.WriteEndObject();
        }

        if (written.Voice > 0)
        {
            json.WriteNumber("voice", written.Voice);
        }

        if (written.Join != NoteJoin.None)
        {
            json.WriteString("join", written.Join == NoteJoin.Slurred ? "slurred" : "held-on");
        }

        if (written.Syllable is { } sung)
        {
            json.WriteStartObject("syllable");
            json.WriteString("text", sung.Syllable.Text);
            json.WriteString("place", sung.Syllable.Place.ToString().ToLowerInvariant());
            json.WriteNumber("note", sung.Note);
            json.WriteNumber("of", sung.Syllable.Notes);
            json.WriteNumber("verse", sung.Verse);
            json.WriteEndObject();
        }

        if (written.Tune is { } tune)
        {
            json.WriteStartObject("tune");
            json.WriteString("section", tune.Section);
            json.WriteNumber("playing", tune.Playing);
            json.WriteNumber("note", tune.Note);
            json.WriteNumber("octaves", tune.Octaves);
            if (tune.Line > 0)
            {
                json.WriteNumber("line", tune.Line);
            }

            json.WriteEndObject();
        }

        json.WriteEndObject();
    }
}
