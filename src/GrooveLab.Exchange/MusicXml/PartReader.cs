using GrooveLab.Music.Band;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads one part, measure by measure. Measures wait only while a tuplet is open.</summary>
internal sealed class PartReader
{
    private readonly List<PartMeasure> _measures = [];
    private readonly Queue<MeasureDraft> _waiting = new();
    private readonly Dictionary<NoteUnit, WrittenValue> _plain = [];
    private readonly List<string> _verses = [];
    private readonly HashSet<string> _knownVerses = new(StringComparer.Ordinal);

    public PartReader(string id, MusicXmlRemarks remarks, ScoreGrid grid)
    {
        Id = id;
        Remarks = remarks;
        Grid = grid;
        Tuplets = new TupletFinder(remarks);
        Marks = new NotationMarks(remarks, grid);
    }

    public string Id { get; }

    public MusicXmlRemarks Remarks { get; }

    public ScoreGrid Grid { get; }

    public TupletFinder Tuplets { get; }

    public NotationMarks Marks { get; }

    /// <summary>Divisions of a quarter note, at the place being read.</summary>
    public Rational Divisions { get; set; } = Rational.One;

    /// <summary>The last transposition of the part; null for none.</summary>
    public Transposition? Transposition { get; set; }

    /// <summary>How many measures have begun.</summary>
    public int Count { get; private set; }

    /// <summary>Reads the measure or the part of a measure at which a reader is.</summary>
    /// <param name="xml">The reader; afterwards after the element.</param>
    /// <param name="header">The measure's number and so on, as read from its element.</param>
    public void Read(XmlItemReader xml, MeasureHeader header)
    {
        var line = xml.Line;
        Remarks.Path = $"part {MusicXmlValues.Short(Id)}, measure {MusicXmlValues.Short(header.Number ?? $"{Count + 1}")}";
        var measure = Grid.Measure(Count, line, header.Number, header.IsImplicit, header.IsOneParts, header.Text);
        var reader = new MeasureReader(this, measure, Count++);
        var depth = xml.Depth;
        if (xml.Enter())
        {
            while (xml.NextInside(depth))
            {
                if (XmlItemReader.IsDrawing(xml.Name))
                {
                    xml.Skip();
                    continue;
                }

                reader.Read(xml.ReadItem());
            }

            xml.Leave();
        }

        var draft = reader.Finish();
        foreach (var one in draft.InOrder)
        {
            Tuplets.Take(one);
        }

        _waiting.Enqueue(draft);
        if (_waiting.Count > MusicXmlLimits.MostWaiting)
        {
            Tuplets.CloseAll(line);
        }

        if (Tuplets.OpenCount == 0)
        {
            Flush();
        }
    }

    /// <summary>Adds empty measures up to an index: those that a timewise score leaves out.</summary>
    public void FillTo(int index)
    {
        while (Count < index)
        {
            _waiting.Enqueue(new MeasureDraft(Count++, [], [], [], [], []));
        }
    }

    /// <summary>The part.</summary>
    /// <param name="listed">Its entry in the list of parts; null for none.</param>
    /// <param name="line">The line of its end.</param>
    public WrittenPart Build(XmlItem? listed, int line)
    {
        Tuplets.CloseAll(line);
        Flush();
        return new WrittenPart(Id, [.. _measures])
        {
            Name = listed?.Text("part-name") ?? "",
            Abbreviation = listed?.Text("part-abbreviation"),
            Role = RoleOf(listed),
            Verses = [.. _verses.OrderBy(verse => MusicXmlValues.Int(verse) ?? int.MaxValue)],
            Instruments = listed is null ? [] : InstrumentsOf(listed),
        };
    }

    private static Role? RoleOf(XmlItem? listed)
    {
        var field = listed?.Element("identification")?.Element("miscellaneous")?.Elements("miscellaneous-field")
            .FirstOrDefault(field => field.Attribute("name") == MusicXmlWords.RoleOfPart);
        return Roles.TryParse(field?.Value, out var role) ? role : null;
    }

    private ValueList<PartInstrument> InstrumentsOf(XmlItem listed)
    {
        var midi = new Dictionary<string, XmlItem>(StringComparer.Ordinal);
        foreach (var one in listed.Elements("midi-instrument"))
        {
            midi.TryAdd(one.Attribute("id") ?? "", one);
        }

        var instruments = new List<PartInstrument>();
        foreach (var instrument in listed.Elements("score-instrument"))
        {
            var id = instrument.Attribute("id") ?? "";
            Grid.Keep(instrument.Line);
            var device = midi.GetValueOrDefault(id);
            instruments.Add(new PartInstrument(id, instrument.Text("instrument-name") ?? "")
            {
                Sound = instrument.Text("instrument-sound"),
                Program = MidiNumber(device?.Element("midi-program")),
                PercussionKey = MidiNumber(device?.Element("midi-unpitched")),
            });
        }

        return [.. instruments];
    }

    private int? MidiNumber(XmlItem? item)
    {
        if (item is null)
        {
            return null;
        }

        if (MusicXmlValues.TryInt(item.Value, out var number) && number is >= 1 and <= 128)
        {
            return number - 1;
        }

        Remarks.Warn(item.Line, $"{item.Name} must be 1 to 128", "left it out");
        return null;
    }

    private void Flush()
    {
        Tuplets.Finish(_waiting.SelectMany(measure => measure.InOrder));
        while (_waiting.TryDequeue(out var measure))
        {
            _measures.Add(new PartMeasure
            {
                Voices = [.. measure.Lanes.Select(lane => new VoiceMeasure(lane.Voice, Events(lane)))],
                Marks = [.. measure.Marks],
                Transpositions = [.. measure.Transpositions],
                Clefs = [.. measure.Clefs],
            });
        }
    }

    private ValueList<VoiceEvent> Events(Lane lane)
    {
        var events = new VoiceEvent[lane.Events.Count];
        var atEnd = true;
        for (var i = events.Length - 1; i >= 0; i--)
        {
            var draft = lane.Events[i];

            // A grace note at the end of its measure ends the note before it.
            atEnd &= draft.Grace is not null;
            if (draft.Grace is { } grace && (atEnd || grace.TakesFromPrevious is not null))
            {
                draft.Grace = grace with { IsAfter = true };
            }

            events[i] = Build(draft);
            foreach (var lyric in draft.Lyrics ?? [])
            {
                if (lyric.Number is { } number && _knownVerses.Add(number))
                {
                    _verses.Add(number);
                }
            }
        }

        return ValueList.Create<VoiceEvent>(events);
    }

    private VoiceEvent Build(EventDraft draft)
    {
        var value = ValueOf(draft);
        var stated = value is null || value.Length != draft.Length ? draft.Length : (Span?)null;
        if (stated is not null && value is not null && draft.Grace is null && draft.Rest is null)
        {
            Remarks.Path = draft.Origin.Path;
            Remarks.Warn(draft.Line, "a duration differs from its note value", "kept both; the duration counts");
        }

        VoiceEvent made;
        if (draft.Heads is { } heads)
        {
            ValueList<WrittenNote> notes = [.. heads];
            made = draft.Grace is { } grace
                ? NotesEvent.OfGrace(notes, grace, value) with { IsCue = draft.IsCue, Beams = draft.Beams }
                : new NotesEvent(notes, value, stated) { IsCue = draft.IsCue, Beams = draft.Beams };
        }
        else if (draft.Rest is { } rest)
        {
            made = new RestEvent(value, stated)
            {
                IsWholeMeasure = rest.IsWholeMeasure,
                Position = rest.Position,
                IsHidden = rest.IsHidden,
                IsCue = draft.IsCue,
                Staff = rest.Staff,
                Passes = rest.Passes,
            };
        }
        else
        {
            made = new GapEvent(draft.Length);
        }

        return made with
        {
            TupletsApart = value is null && draft.Tuplets.Length > 0 ? [.. draft.Tuplets] : [],
            Marks = draft.Marks is { Count: > 0 } marks ? [.. marks] : [],
            Lyrics = draft.Lyrics is { Count: > 0 } lyrics ? [.. lyrics] : [],
            Origin = draft.Origin,
        };
    }

    private WrittenValue? ValueOf(EventDraft draft)
    {
        if (draft.Unit is not { } unit)
        {
            return null;
        }

        if (draft.Tuplets.Length > 0)
        {
            try
            {
                var value = new WrittenValue(unit, draft.Tuplets) { CountedIn = draft.CountedIn };
                _ = value.Length;
                return value;
            }
            catch (OverflowException)
            {
                Remarks.Warn(draft.Line, "the ratio of a tuplet is too fine", "kept the duration only");
                draft.Tuplets = [];
                return null;
            }
        }

        if (draft.CountedIn is not null)
        {
            return new WrittenValue(unit) { CountedIn = draft.CountedIn };
        }

        if (!_plain.TryGetValue(unit, out var plain))
        {
            plain = new WrittenValue(unit);
            _plain.Add(unit, plain);
        }

        return plain;
    }
}

/// <summary>The attributes of a measure.</summary>
internal readonly record struct MeasureHeader(string? Number, string? IsImplicit, string? IsOneParts, string? Text)
{
    public static MeasureHeader Of(XmlItemReader xml) =>
        new(Kept(xml.Attribute("number")), xml.Attribute("implicit"), xml.Attribute("non-controlling"), xml.Attribute("text"));

    private static string? Kept(string? number) => string.IsNullOrEmpty(number) ? null : number;
}
