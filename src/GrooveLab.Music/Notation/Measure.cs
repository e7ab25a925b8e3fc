using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>One measure of the grid that all parts share: what it says to all of them. The notes are the parts'.</summary>
public sealed record Measure
{
    /// <summary>Makes a measure.</summary>
    /// <param name="number">Its number as printed, often "1"; may be any text.</param>
    public Measure(string number) => Number = number;

    /// <summary>Its number as printed; may be any text.</summary>
    public string Number { get; init; }

    /// <summary>True for one that is not counted, such as a pickup or the second half of a divided measure.</summary>
    public bool IsUncounted { get; init; }

    /// <summary>True when its bar lines are meant for one part's own meter and not for all.</summary>
    public bool IsOneParts { get; init; }

    /// <summary>How long it really is where that differs from its meter (a pickup, a short or a free measure); null to follow the meter.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public Span? ActualLength
    {
        get;
        init => field = value is null || value >= Span.Zero
            ? value
            : throw new ArgumentOutOfRangeException(nameof(value), "A measure is not shorter than nothing.");
    }

    /// <summary>What it says: meter, key, repeats, tempo, chords and so on, in order of their places.</summary>
    public ValueList<MeasureMark> Marks { get; init; } = [];

    /// <summary>What a person fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>Remarks on it.</summary>
    public ValueList<Annotation> Annotations { get; init; } = [];

    /// <summary>Where it was read; null when it was not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>Its chord symbols.</summary>
    public IEnumerable<ChordMark> Chords => Marks.OfType<ChordMark>();

    /// <summary>The first time signature that it says; null when the one before still holds.</summary>
    public WrittenMeter? Meter => Marks.OfType<MeterMark>().FirstOrDefault()?.Meter;

    /// <summary>The first key signature that it says; null when the one before still holds.</summary>
    public WrittenKey? Key => Marks.OfType<KeyMark>().FirstOrDefault()?.Key;

    /// <summary>The number with the length if it is its own.</summary>
    public override string ToString() => ActualLength is { } length ? $"measure {Number} ({length})" : $"measure {Number}";
}

/// <summary>What one voice has in one measure.</summary>
/// <param name="Name">The voice's name, often "1"; the same in all measures. A part may have two of a name where they overlap.</param>
/// <param name="Events">Its events, without holes.</param>
public sealed record VoiceMeasure(string Name, ValueList<VoiceEvent> Events)
{
    /// <summary>How long its events are together.</summary>
    public Span Length
    {
        get
        {
            var length = Span.Zero;
            foreach (var one in Events)
            {
                length += one.Length;
            }

            return length;
        }
    }
}

/// <summary>What one part has in one measure.</summary>
public sealed record PartMeasure
{
    /// <summary>A measure in which the part has nothing.</summary>
    public static PartMeasure Empty { get; } = new();

    /// <summary>Its voices.</summary>
    public ValueList<VoiceMeasure> Voices { get; init; } = [];

    /// <summary>Dynamics, hairpins, words for the player, pedals and so on.</summary>
    public ValueList<PlacedMark> Marks { get; init; } = [];

    /// <summary>Changes of how it sounds against what is written.</summary>
    public ValueList<Transposition> Transpositions { get; init; } = [];
}

/// <summary>An instrument of a part.</summary>
/// <param name="Id">Names it inside the score.</param>
/// <param name="Name">What it is called.</param>
public sealed record PartInstrument(string Id, string Name)
{
    /// <summary>Its sound, in MusicXML's words ("keyboard.piano"); null where not said.</summary>
    public string? Sound { get; init; }

    /// <summary>Its General MIDI program, 0 to 127; null where not said.</summary>
    public int? Program { get; init; }

    /// <summary>The key that plays it on a percussion channel, 0 to 127; null where not said.</summary>
    public int? PercussionKey { get; init; }
}

/// <summary>A part: one player's music, or several players' on the same staves.</summary>
public sealed record WrittenPart
{
    /// <summary>Makes a part.</summary>
    /// <param name="id">Names it inside the score; not empty.</param>
    /// <param name="measures">What it has in each measure.</param>
    /// <exception cref="ArgumentException">The id is empty.</exception>
    public WrittenPart(string id, ValueList<PartMeasure> measures)
    {
        if (id.Length == 0)
        {
            throw new ArgumentException("A part has an id.", nameof(id));
        }

        Id = id;
        Measures = measures;
    }

    /// <summary>Names it inside the score.</summary>
    public string Id { get; }

    /// <summary>What it is called; empty for nothing.</summary>
    public string Name { get; init; } = "";

    /// <summary>The short name; null for none.</summary>
    public string? Abbreviation { get; init; }

    /// <summary>Its instruments; empty where not said.</summary>
    public ValueList<PartInstrument> Instruments { get; init; } = [];

    /// <summary>The numbers of its verses in order, those without a syllable too; empty where that is not said.</summary>
    public ValueList<string> Verses { get; init; } = [];

    /// <summary>What it has in each measure of the grid.</summary>
    public ValueList<PartMeasure> Measures { get; init; }

    /// <summary>The names of its voices, in order of their first appearance.</summary>
    public IEnumerable<string> VoiceNames => Measures.SelectMany(measure => measure.Voices).Select(voice => voice.Name).Distinct();
}
