using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Abc;

/// <summary>A note head while its voice is being read.</summary>
internal sealed class AbcHead(SpelledPitch pitch)
{
    public SpelledPitch Pitch { get; } = pitch;

    public bool TiedFrom { get; set; }

    public bool TiedTo { get; set; }
}

/// <summary>An event of a voice while it is being read: notes, a rest, a grace note or a gap.</summary>
internal sealed class AbcEvent(Origin origin, Span written)
{
    public Origin Origin { get; } = origin;

    /// <summary>The length before tuplets.</summary>
    public Span Written { get; set; } = written;

    public Tuplet? Tuplet { get; set; }

    public List<AbcHead> Heads { get; } = [];

    public bool IsGrace { get; init; }

    public bool HasSlash { get; init; }

    public bool IsHidden { get; init; }

    public bool IsWholeMeasure { get; init; }

    public bool IsGap { get; init; }

    public List<Mark> Marks { get; } = [];

    public SortedDictionary<int, Lyric> Lyrics { get; } = [];

    public bool TakesASyllable => Heads.Count > 0 && !IsGrace;

    /// <summary>Its length in time.</summary>
    public Span Length => IsGrace ? Span.Zero : Tuplet is null ? Written : Written * Tuplet.Ratio;

    public VoiceEvent Made()
    {
        var value = !NoteUnit.TryFrom(Written, out var unit) ? null : Tuplet is null ? new WrittenValue(unit) : new WrittenValue(unit, Tuplet);
        ValueList<WrittenNote> notes = [.. Heads.Select(head => WrittenNote.Of(head.Pitch) with
        {
            TiedFrom = head.TiedFrom ? new TieEnd() : null,
            TiedTo = head.TiedTo ? new TieEnd() : null,
            Origin = Origin,
        })];
        ValueList<Lyric> lyrics = [.. Lyrics.Values];
        if (IsGrace)
        {
            return NotesEvent.OfGrace(notes, new Grace { HasSlash = HasSlash }, value) with { Marks = [.. Marks], Origin = Origin };
        }

        ValueList<Tuplet> apart = value is null && Tuplet is not null ? [Tuplet] : [];
        return IsGap ? new GapEvent(Length) { Origin = Origin }
            : Heads.Count == 0 ? new RestEvent(value, Length) { IsHidden = IsHidden, IsWholeMeasure = IsWholeMeasure, Marks = [.. Marks], TupletsApart = apart, Origin = Origin }
            : new NotesEvent(notes, value, Length) { Marks = [.. Marks], Lyrics = lyrics, TupletsApart = apart, Origin = Origin };
    }
}

/// <summary>A measure of a voice while it is being read.</summary>
internal sealed class AbcMeasure(int line)
{
    public int Line { get; } = line;

    /// <summary>The layers: the voice itself, then those after &amp;.</summary>
    public List<List<AbcEvent>> Layers { get; } = [[]];

    /// <summary>Marks for all parts.</summary>
    public List<MeasureMark> Marks { get; } = [];

    public List<PlacedMark> PartMarks { get; } = [];

    public List<Transposition> Transpositions { get; } = [];

    public Span Length => Layers.Select(layer => layer.Aggregate(Span.Zero, (sum, one) => sum + one.Length)).Max();
}

/// <summary>A voice of a tune while it is being read: its measures and what applies to the next note.</summary>
internal sealed class AbcVoice(string id, int order)
{
    private readonly Dictionary<(int Letter, int Octave), int> _accidentals = [];
    private readonly List<AbcHead> _tied = [];

    public string Id { get; } = id;

    public int Order { get; } = order;

    public string Name { get; set; } = "";

    public string? Abbreviation { get; set; }

    public List<AbcMeasure> Measures { get; } = [];

    public AbcKey Key { get; set; } = new(new WrittenKey(0, null), new int[7]);

    public WrittenMeter? Meter { get; set; }

    public Span Unit { get; set; } = Span.Of(1, 8);

    public int Octave { get; set; }

    /// <summary>The notes of the last line of music that take syllables, each with its measure.</summary>
    public List<(AbcEvent Note, int Measure)> LineNotes { get; } = [];

    /// <summary>Verses of the last line of music so far.</summary>
    public int LineVerses { get; set; }

    /// <summary>The layer in the current measure.</summary>
    public int Layer { get; set; }

    /// <summary>Marks for the next note.</summary>
    public List<Mark> Pending { get; } = [];

    /// <summary>The measure that is being filled.</summary>
    public AbcMeasure Current => Measures[^1];

    /// <summary>The place in the current layer.</summary>
    public Span At => Current.Layers[Layer].Aggregate(Span.Zero, (sum, one) => sum + one.Length);

    /// <summary>The pitch of a letter, with the accidental written or, for null, the one that applies.</summary>
    public SpelledPitch Pitch(char letter, int octave, string? sign)
    {
        var index = AbcFields.LetterIndex(letter);
        if (sign is not null)
        {
            // "pitch", the default of I:propagate-accidentals, applies in all octaves.
            _accidentals[(index, 0)] = AbcFields.Alter(sign);
        }

        var alter = _accidentals.TryGetValue((index, 0), out var given) ? given : Key.Alterations[index];
        return new SpelledPitch((NoteLetter)index, alter, Math.Clamp(octave + Octave, 0, 9));
    }

    /// <summary>Begins a measure: accidentals are forgotten.</summary>
    public void NewMeasure(int line)
    {
        Measures.Add(new AbcMeasure(line));
        _accidentals.Clear();
        Layer = 0;
    }

    /// <summary>Joins the heads of an event with ties that were open before it.</summary>
    public void Tie(AbcEvent one)
    {
        foreach (var head in one.Heads)
        {
            var from = _tied.Find(tied => tied.Pitch == head.Pitch);
            if (from is not null)
            {
                from.TiedTo = true;
                head.TiedFrom = true;
            }
        }

        _tied.Clear();
    }

    /// <summary>Opens ties from these heads to the next event.</summary>
    public void OpenTies(IEnumerable<AbcHead> heads) => _tied.AddRange(heads);

    /// <summary>The id of a part for the score: not empty, the same text for the same voice.</summary>
    public string PartId => Id;
}
