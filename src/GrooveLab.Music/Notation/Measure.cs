using GrooveLab.Music.Band;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>One measure of the grid that all parts share, with the marks for all of them. The parts contain the notes.</summary>
public sealed record Measure
{
    /// <summary>Creates a measure.</summary>
    /// <param name="number">Its number as printed, often "1"; may be any text.</param>
    public Measure(string number) => Number = number;

    /// <summary>Its number as printed; may be any text.</summary>
    public string Number { get; init; }

    /// <summary>True when it is not counted, such as a pickup or the second half of a divided measure.</summary>
    public bool IsUncounted { get; init; }

    /// <summary>True when its bar lines belong to one part's own meter and not to all parts.</summary>
    public bool IsOneParts { get; init; }

    /// <summary>True when the last notes of a band only ring in it: it comes after the form and is no bar of it.</summary>
    public bool IsRinging { get; init; }

    /// <summary>Its actual length if that differs from its meter (a pickup, a short or a free measure); null to follow the meter.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public Span? ActualLength
    {
        get;
        init => field = value is null || value >= Span.Zero
            ? value
            : throw new ArgumentOutOfRangeException(nameof(value), "The length of a measure must not be negative.");
    }

    /// <summary>Its marks: meter, key, repeats, tempo, chords and so on, in order of their places.</summary>
    public ValueList<MeasureMark> Marks { get; init; } = [];

    /// <summary>What a person has fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>Remarks on it.</summary>
    public ValueList<Annotation> Annotations { get; init; } = [];

    /// <summary>Where it was read; null if not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>Its chord symbols.</summary>
    public IEnumerable<ChordMark> Chords => Marks.OfType<ChordMark>();

    /// <summary>Its first time signature; null if the previous one still applies.</summary>
    public WrittenMeter? Meter => Marks.OfType<MeterMark>().FirstOrDefault()?.Meter;

    /// <summary>Its first key signature; null if the previous one still applies.</summary>
    public WrittenKey? Key => Marks.OfType<KeyMark>().FirstOrDefault()?.Key;

    /// <summary>The number, with the actual length if it has one.</summary>
    public override string ToString() => ActualLength is { } length ? $"measure {Number} ({length})" : $"measure {Number}";
}

/// <summary>The music of one voice in one measure.</summary>
/// <param name="Name">The voice's name, often "1"; the same in all measures. A part may have two voices of the same name if they
/// overlap.</param>
/// <param name="Events">Its events, without gaps between them.</param>
public sealed record VoiceMeasure(string Name, ValueList<VoiceEvent> Events)
{
    /// <summary>The total length of its events.</summary>
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

/// <summary>The music of one part in one measure.</summary>
public sealed record PartMeasure
{
    /// <summary>An empty measure of a part.</summary>
    public static PartMeasure Empty { get; } = new();

    /// <summary>Its voices.</summary>
    public ValueList<VoiceMeasure> Voices { get; init; } = [];

    /// <summary>Dynamics, hairpins, words for the player, pedals and so on.</summary>
    public ValueList<PlacedMark> Marks { get; init; } = [];

    /// <summary>Changes of transposition.</summary>
    public ValueList<Transposition> Transpositions { get; init; } = [];

    /// <summary>Clefs; those of the first measure are the part's, later ones are changes. Empty in music that was read without them.</summary>
    public ValueList<PlacedClef> Clefs { get; init; } = [];
}

/// <summary>An instrument of a part.</summary>
/// <param name="Id">Its id in the score.</param>
/// <param name="Name">Its name.</param>
public sealed record PartInstrument(string Id, string Name)
{
    /// <summary>Its sound, in MusicXML's terms ("keyboard.piano"); null if not given.</summary>
    public string? Sound { get; init; }

    /// <summary>Its General MIDI program, 0 to 127; null if not given.</summary>
    public int? Program { get; init; }

    /// <summary>Its MIDI key on a percussion channel, 0 to 127; null if not given.</summary>
    public int? PercussionKey { get; init; }
}

/// <summary>A part: the music of one player, or of several players on the same staves.</summary>
public sealed record WrittenPart
{
    /// <summary>Creates a part.</summary>
    /// <param name="id">Its id in the score; not empty.</param>
    /// <param name="measures">Its music in each measure.</param>
    /// <exception cref="ArgumentException">The id is empty.</exception>
    public WrittenPart(string id, ValueList<PartMeasure> measures)
    {
        if (id.Length == 0)
        {
            throw new ArgumentException("The id of a part must not be empty.", nameof(id));
        }

        Id = id;
        Measures = measures;
    }

    /// <summary>Its id in the score.</summary>
    public string Id { get; }

    /// <summary>Its name; empty for none.</summary>
    public string Name { get; init; } = "";

    /// <summary>The short name; null for none.</summary>
    public string? Abbreviation { get; init; }

    /// <summary>What it does in the band; null for the score of another band.</summary>
    public Role? Role { get; init; }

    /// <summary>Its instruments; empty if not given.</summary>
    public ValueList<PartInstrument> Instruments { get; init; } = [];

    /// <summary>The numbers of its verses, in order, including those without syllables; empty if not given.</summary>
    public ValueList<string> Verses { get; init; } = [];

    /// <summary>Its music in each measure of the grid.</summary>
    public ValueList<PartMeasure> Measures { get; init; }

    /// <summary>The names of its voices, in order of their first appearance.</summary>
    public IEnumerable<string> VoiceNames => Measures.SelectMany(measure => measure.Voices).Select(voice => voice.Name).Distinct();
}
