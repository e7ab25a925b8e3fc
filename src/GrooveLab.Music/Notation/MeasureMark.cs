using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A staff on which a sign of the whole score is printed.</summary>
/// <param name="Part">The part's id.</param>
/// <param name="Staff">The staff in the part, from 1; null for the whole part.</param>
public sealed record PrintPlace(string Part, int? Staff = null)
{
    /// <summary>The voice next to which it is written; null if not given.</summary>
    public string? Voice { get; init; }
}

/// <summary>The position of a bar-line sign.</summary>
public enum BarlineSide
{
    /// <summary>At the bar line at which the measure starts.</summary>
    Left,

    /// <summary>Inside the measure.</summary>
    Middle,

    /// <summary>At the bar line at which the measure ends.</summary>
    Right,
}

/// <summary>A mark of a measure that applies to all parts.</summary>
/// <param name="At">Distance from the start of the measure; negative for a sign before its measure.</param>
public abstract record MeasureMark(Span At)
{
    /// <summary>Where it is printed; empty for the score as a whole. It applies to all parts, except a key, a meter or a bar line's
    /// sign.</summary>
    public ValueList<PrintPlace> Where { get; init; } = [];

    /// <summary>Whether it is written or inferred.</summary>
    public Provenance Provenance { get; init; }

    /// <summary>What a person has fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>Where it was read; null if not read from a file.</summary>
    public Origin? Origin { get; init; }
}

/// <summary>A time signature. If printed only in some parts or staves, it applies only to them; see
/// <see cref="MeasureMark.Where"/>.</summary>
public sealed record MeterMark(Span At, WrittenMeter Meter) : MeasureMark(At);

/// <summary>A key signature. Transposing parts have their own; see <see cref="MeasureMark.Where"/>.</summary>
public sealed record KeyMark(Span At, WrittenKey Key) : MeasureMark(At);

/// <summary>A bar line other than the usual one.</summary>
/// <param name="At">Its place.</param>
/// <param name="Side">Its bar line.</param>
/// <param name="Style">Its style, in MusicXML's terms: "light-heavy", "dashed".</param>
public sealed record BarlineMark(Span At, BarlineSide Side, string Style) : MeasureMark(At);

/// <summary>A fermata, wavy line or other sign over a bar line.</summary>
public sealed record BarlineSign(Span At, BarlineSide Side, Mark Mark) : MeasureMark(At);

/// <summary>A repeat sign.</summary>
/// <param name="At">Its place.</param>
/// <param name="Side">Its bar line.</param>
/// <param name="IsForward">True at the start of the repeat, false at its end.</param>
public sealed record RepeatMark(Span At, BarlineSide Side, bool IsForward) : MeasureMark(At)
{
    /// <summary>Total number of times it is played, on the end of a repeat; null if not given, which means twice.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public int? Times
    {
        get;
        init => field = value is null or >= 0 ? value : throw new ArgumentOutOfRangeException(nameof(value), "Repeats must be zero or more.");
    }

    /// <summary>True when it is repeated again after a jump back; null if not given, which means no.</summary>
    public bool? AfterJump { get; init; }
}

/// <summary>How a bracket over an ending stops.</summary>
public enum EndingEdge
{
    /// <summary>Its start.</summary>
    Start,

    /// <summary>Its end with a hook.</summary>
    Stop,

    /// <summary>Its open end.</summary>
    Discontinue,
}

/// <summary>The start or end of the bracket over an ending (first time, second time).</summary>
/// <param name="At">Its place.</param>
/// <param name="Side">Its bar line.</param>
/// <param name="Edge">Start or end.</param>
/// <param name="Numbers">The passes in which it is played; empty if not given.</param>
public sealed record EndingMark(Span At, BarlineSide Side, EndingEdge Edge, ValueList<int> Numbers) : MeasureMark(At)
{
    /// <summary>The text printed; null for the numbers.</summary>
    public string? Text { get; init; }

    /// <summary>True when it applies but is not printed.</summary>
    public bool IsHidden { get; init; }
}

/// <summary>The kind of a navigation sign.</summary>
public enum JumpKind
{
    /// <summary>Segno: the target of a dal segno.</summary>
    Segno,

    /// <summary>Coda: the target of a "to coda".</summary>
    Coda,

    /// <summary>To coda: after a jump back, go from here to the coda.</summary>
    ToCoda,

    /// <summary>Da capo: go back to the beginning.</summary>
    DaCapo,

    /// <summary>Dal segno: go back to the segno.</summary>
    DalSegno,

    /// <summary>Fine: the end, after a jump back.</summary>
    Fine,

    /// <summary>The start of a repeat without a repeat sign.</summary>
    ForwardRepeat,
}

/// <summary>A navigation sign. Segno and coda apply from the start of their measure, or from the next measure if they are at its end; the
/// others apply at the end of their measure.</summary>
public sealed record JumpMark(Span At, JumpKind Kind) : MeasureMark(At)
{
    /// <summary>The name that joins a jump to its target, and any other text; null for none.</summary>
    public string? Name { get; init; }

    /// <summary>True when it must be followed; false for a sign that is only drawn, next to a separate jump.</summary>
    public bool Sounds { get; init; } = true;

    /// <summary>True when the sign itself (segno, coda) is drawn.</summary>
    public bool IsDrawn { get; init; }

    /// <summary>The passes in which it is followed; empty if not given.</summary>
    public ValueList<int> Passes { get; init; } = [];
}

/// <summary>A rehearsal mark.</summary>
public sealed record RehearsalMark(Span At, string Text) : MeasureMark(At);

/// <summary>Words over the score: a section's name, "D.C. al Fine", a remark.</summary>
public sealed record WordsMark(Span At, string Text) : MeasureMark(At);

/// <summary>A beat of a metronome mark: a note value, perhaps tied to more.</summary>
/// <param name="Unit">The value.</param>
/// <param name="Tied">Values tied to it; usually none.</param>
public sealed record BeatUnit(NoteUnit Unit, ValueList<NoteUnit> Tied)
{
    /// <summary>The exact length.</summary>
    public Span Length => Tied.Aggregate(Unit.Length, (sum, unit) => sum + unit.Length);
}

/// <summary>A metronome mark: a beat and its number per minute, or two beats that are equal at a change of tempo.</summary>
/// <param name="Beat">The beat; null only if the details contain a figure of notes.</param>
public sealed record Metronome(BeatUnit? Beat)
{
    /// <summary>The number per minute, as written: "120", "ca. 96"; null for an equation of two beats.</summary>
    public string? PerMinute { get; init; }

    /// <summary>The second beat of an equation; null for a number.</summary>
    public BeatUnit? SameAs { get; init; }

    /// <summary>A figure of notes instead of beats, as for swing; usually empty.</summary>
    public ValueList<Detail> Figure { get; init; } = [];

    /// <summary>In parentheses; null if not given.</summary>
    public bool? InParentheses { get; init; }

    /// <summary>True when it applies but is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>The exact tempo; null unless a plain number is written.</summary>
    public Tempo? Tempo =>
        Beat is not null && Rational.TryParse(PerMinute, out var number) && number.Sign > 0 ? Time.Tempo.Of(Beat.Length, number) : null;
}

/// <summary>A tempo: in words, as a metronome mark, or only for playback.</summary>
public sealed record TempoSign(Span At) : MeasureMark(At)
{
    /// <summary>The words: "Allegro", "swing"; empty for none.</summary>
    public ValueList<string> Words { get; init; } = [];

    /// <summary>Metronome marks; empty for none.</summary>
    public ValueList<Metronome> Metronomes { get; init; } = [];

    /// <summary>The playback tempo, in quarter notes per minute, if the source gives it separately; otherwise null.</summary>
    public Rational? SoundQuarters { get; init; }

    /// <summary>How eighths or sixteenths are swung: details in MusicXML's terms; null if not given.</summary>
    public Detail? Swing { get; init; }

    /// <summary>The exact tempo: the playback tempo, otherwise that of the metronome mark; null if only in words.</summary>
    public Tempo? Tempo => SoundQuarters is { Sign: > 0 } quarters
        ? new Tempo(quarters / 4)
        : Metronomes.Select(metronome => metronome.Tempo).FirstOrDefault(tempo => tempo is not null);
}

/// <summary>A chord symbol, or several stacked, at any place in the measure.</summary>
/// <param name="At">Distance from the start of the measure.</param>
/// <param name="Chords">The chord; more than one if the score stacks them.</param>
public sealed record ChordMark(Span At, ValueList<WrittenChord> Chords) : MeasureMark(At)
{
    /// <summary>The chords; at least one.</summary>
    /// <exception cref="ArgumentException">The list is empty.</exception>
    public ValueList<WrittenChord> Chords { get; init => field = AtLeastOne(value); } = AtLeastOne(Chords);

    /// <summary>Alternative readings, most likely first; usually empty for a written chord.</summary>
    public ValueList<ChordAlternative> Alternatives { get; init; } = [];

    /// <summary>"explicit", "implied" or "alternate", as in the source; null if not given.</summary>
    public string? Type { get; init; }

    /// <summary>A fingering diagram and other rare details.</summary>
    public ValueList<Detail> Details { get; init; } = [];

    /// <summary>True when it applies but is not printed.</summary>
    public bool IsHidden { get; init; }

    private static ValueList<WrittenChord> AtLeastOne(ValueList<WrittenChord> chords) =>
        chords.Count > 0 ? chords : throw new ArgumentException("A chord mark needs at least one chord.", nameof(chords));
}
