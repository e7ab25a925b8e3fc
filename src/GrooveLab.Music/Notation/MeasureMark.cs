using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A staff on which a sign of the whole score is printed.</summary>
/// <param name="Part">The part's id.</param>
/// <param name="Staff">The staff in the part, from 1; null for the whole part.</param>
public sealed record PrintPlace(string Part, int? Staff = null)
{
    /// <summary>The voice it is written beside; null where that is not said.</summary>
    public string? Voice { get; init; }
}

/// <summary>Where a sign at a bar line stands.</summary>
public enum BarlineSide
{
    /// <summary>At the bar line that begins the measure.</summary>
    Left,

    /// <summary>Inside the measure.</summary>
    Middle,

    /// <summary>At the bar line that ends the measure.</summary>
    Right,
}

/// <summary>Something that a measure says to all parts.</summary>
/// <param name="At">Distance from the start of the measure; a sign may stand before its measure, so it may be negative.</param>
public abstract record MeasureMark(Span At)
{
    /// <summary>Where it is printed; empty for the score as a whole. It holds for all parts, except a key, a meter or a bar line's sign.</summary>
    public ValueList<PrintPlace> Where { get; init; } = [];

    /// <summary>Whether it is written or was inferred.</summary>
    public Provenance Provenance { get; init; }

    /// <summary>What a person fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>Where it was read; null when it was not read from a file.</summary>
    public Origin? Origin { get; init; }
}

/// <summary>A time signature. Printed in some parts or staves only, it holds for these; see <see cref="MeasureMark.Where"/>.</summary>
public sealed record MeterMark(Span At, WrittenMeter Meter) : MeasureMark(At);

/// <summary>A key signature. Transposing parts have their own; see <see cref="MeasureMark.Where"/>.</summary>
public sealed record KeyMark(Span At, WrittenKey Key) : MeasureMark(At);

/// <summary>A bar line that is not the usual one.</summary>
/// <param name="At">Where it stands.</param>
/// <param name="Side">At which bar line.</param>
/// <param name="Style">How it looks, in MusicXML's words: "light-heavy", "dashed".</param>
public sealed record BarlineMark(Span At, BarlineSide Side, string Style) : MeasureMark(At);

/// <summary>A fermata, wavy line or other sign over a bar line.</summary>
public sealed record BarlineSign(Span At, BarlineSide Side, Mark Mark) : MeasureMark(At);

/// <summary>A repeat sign.</summary>
/// <param name="At">Where it stands.</param>
/// <param name="Side">At which bar line.</param>
/// <param name="IsForward">True where what is repeated begins, false where it ends.</param>
public sealed record RepeatMark(Span At, BarlineSide Side, bool IsForward) : MeasureMark(At)
{
    /// <summary>How often it is played in all, where it ends; null where that is not said, which means twice.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public int? Times
    {
        get;
        init => field = value is null or >= 0 ? value : throw new ArgumentOutOfRangeException(nameof(value), "A repeat is played zero times or more.");
    }

    /// <summary>Whether it is repeated again after a jump back; null where not said, which means no.</summary>
    public bool? AfterJump { get; init; }
}

/// <summary>How a bracket over an ending stops.</summary>
public enum EndingEdge
{
    /// <summary>It begins.</summary>
    Start,

    /// <summary>It ends with a hook.</summary>
    Stop,

    /// <summary>It ends open.</summary>
    Discontinue,
}

/// <summary>An end of the bracket over an ending (first time, second time).</summary>
/// <param name="At">Where it stands.</param>
/// <param name="Side">At which bar line.</param>
/// <param name="Edge">Which end.</param>
/// <param name="Numbers">The passes in which it is played; empty where none are given.</param>
public sealed record EndingMark(Span At, BarlineSide Side, EndingEdge Edge, ValueList<int> Numbers) : MeasureMark(At)
{
    /// <summary>The text printed; null for the numbers.</summary>
    public string? Text { get; init; }

    /// <summary>True when it holds and is not printed.</summary>
    public bool IsHidden { get; init; }
}

/// <summary>What a sign of the way through the piece says.</summary>
public enum JumpKind
{
    /// <summary>Where a dal segno leads to.</summary>
    Segno,

    /// <summary>Where a "to coda" leads to.</summary>
    Coda,

    /// <summary>After a jump back, from here to the coda.</summary>
    ToCoda,

    /// <summary>From here back to the beginning.</summary>
    DaCapo,

    /// <summary>From here back to the sign.</summary>
    DalSegno,

    /// <summary>After a jump back, the end.</summary>
    Fine,

    /// <summary>Where a repeat begins without a repeat sign.</summary>
    ForwardRepeat,
}

/// <summary>
/// A sign of the way through the piece. Segno and coda hold from the start of their measure, or from the next one when they stand at its end; the
/// others at the end of theirs.
/// </summary>
public sealed record JumpMark(Span At, JumpKind Kind) : MeasureMark(At)
{
    /// <summary>Joins a jump to its target, and whatever else is said with it; null where nothing is.</summary>
    public string? Name { get; init; }

    /// <summary>True when it is meant to be followed; false for a sign that is only drawn beside a jump which is given apart.</summary>
    public bool Sounds { get; init; } = true;

    /// <summary>True when the sign itself (segno, coda) is drawn.</summary>
    public bool IsDrawn { get; init; }

    /// <summary>The passes in which it is followed; empty where that is not said.</summary>
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

/// <summary>
/// A metronome mark: a beat and how many a minute, or two beats that are equal where the tempo goes over into another.
/// </summary>
/// <param name="Beat">The beat; null only where the details hold a figure of notes.</param>
public sealed record Metronome(BeatUnit? Beat)
{
    /// <summary>How many a minute, as written: "120", "ca. 96"; null for an equation of two beats.</summary>
    public string? PerMinute { get; init; }

    /// <summary>The second beat of an equation; null for a number.</summary>
    public BeatUnit? SameAs { get; init; }

    /// <summary>A figure of notes in place of beats, as for swing; empty as a rule.</summary>
    public ValueList<Detail> Figure { get; init; } = [];

    /// <summary>In parentheses; null where not said.</summary>
    public bool? InParentheses { get; init; }

    /// <summary>True when it holds and is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>The tempo, exactly; null where no plain number is written.</summary>
    public Tempo? Tempo =>
        Beat is not null && Rational.TryParse(PerMinute, out var number) && number.Sign > 0 ? Time.Tempo.Of(Beat.Length, number) : null;
}

/// <summary>A tempo: in words, by the metronome, or only for whoever plays it.</summary>
public sealed record TempoSign(Span At) : MeasureMark(At)
{
    /// <summary>The words: "Allegro", "swing"; empty for none.</summary>
    public ValueList<string> Words { get; init; } = [];

    /// <summary>Metronome marks; empty for none.</summary>
    public ValueList<Metronome> Metronomes { get; init; } = [];

    /// <summary>The tempo at which it is to be played, in quarter notes a minute, where the source gives it apart; null where it does not.</summary>
    public Rational? SoundQuarters { get; init; }

    /// <summary>How eighths or sixteenths are swung: details in MusicXML's words; null where not said.</summary>
    public Detail? Swing { get; init; }

    /// <summary>The tempo, exactly: the one given for playing, else the metronome's; null where only words say it.</summary>
    public Tempo? Tempo => SoundQuarters is { Sign: > 0 } quarters
        ? new Tempo(quarters / 4)
        : Metronomes.Select(metronome => metronome.Tempo).FirstOrDefault(tempo => tempo is not null);
}

/// <summary>A chord symbol, or several stacked, at any place of the measure.</summary>
/// <param name="At">Distance from the start of the measure.</param>
/// <param name="Chords">The chord; more than one where a score stacks them.</param>
public sealed record ChordMark(Span At, ValueList<WrittenChord> Chords) : MeasureMark(At)
{
    /// <summary>The chord; at least one.</summary>
    /// <exception cref="ArgumentException">There is none.</exception>
    public ValueList<WrittenChord> Chords { get; init => field = AtLeastOne(value); } = AtLeastOne(Chords);

    /// <summary>What else it might be, the likeliest first; empty for a written chord as a rule.</summary>
    public ValueList<ChordAlternative> Alternatives { get; init; } = [];

    /// <summary>Whether the source calls it "explicit", "implied" or "alternate"; null where it does not say.</summary>
    public string? Type { get; init; }

    /// <summary>A fingering diagram and other rare details.</summary>
    public ValueList<Detail> Details { get; init; } = [];

    /// <summary>True when it holds and is not printed.</summary>
    public bool IsHidden { get; init; }

    private static ValueList<WrittenChord> AtLeastOne(ValueList<WrittenChord> chords) =>
        chords.Count > 0 ? chords : throw new ArgumentException("A chord mark has at least one chord.", nameof(chords));
}
