using GrooveLab.Music.Band;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>The kind of a mark on a note or in a part. The names are those of MusicXML.</summary>
public enum MarkKind
{
#pragma warning disable CS1591 // The names are self-explanatory; MusicXML 4.0 describes each.

    // Articulations.
    Accent,
    StrongAccent,
    Staccato,
    Tenuto,
    DetachedLegato,
    Staccatissimo,
    Spiccato,
    Scoop,
    Plop,
    Doit,
    Falloff,
    BreathMark,
    Caesura,
    Stress,
    Unstress,
    SoftAccent,
    OtherArticulation,

    // Ornaments.
    TrillMark,
    Turn,
    DelayedTurn,
    InvertedTurn,
    DelayedInvertedTurn,
    VerticalTurn,
    InvertedVerticalTurn,
    Shake,
    WavyLine,
    Mordent,
    InvertedMordent,
    Schleifer,
    Tremolo,
    Haydn,
    OtherOrnament,
    OrnamentAccidental,

    // Techniques of hand, bow, stick or breath.
    UpBow,
    DownBow,
    Harmonic,
    OpenString,
    ThumbPosition,
    Fingering,
    Pluck,
    DoubleTongue,
    TripleTongue,
    Stopped,
    SnapPizzicato,
    Fret,
    String,
    HammerOn,
    PullOff,
    Bend,
    Tap,
    Heel,
    Toe,
    Fingernails,
    Hole,
    Arrow,
    Handbell,
    BrassBend,
    Flip,
    Smear,
    Open,
    HalfMuted,
    HarmonMute,
    Golpe,
    OtherTechnical,

    // Other marks on notes.
    Slur,
    Glissando,
    Slide,
    Fermata,
    Arpeggiate,
    NonArpeggiate,
    AccidentalMark,
    OtherNotation,
    Notehead,
    NoteheadText,

    // Marks on notes and in parts.
    Dynamics,
    OtherDynamics,

    // Marks in parts.
    Words,
    Symbol,
    Wedge,
    Dashes,
    Bracket,
    Pedal,
    OctaveShift,
    HarpPedals,
    Damp,
    DampAll,
    Eyeglasses,
    StringMute,
    Scordatura,
    Image,
    PrincipalVoice,
    Percussion,
    AccordionRegistration,
    StaffDivide,
    OtherDirection,
    FiguredBass,
    StaffDetails,
    Staves,
    Directive,
    ForPart,
    MultipleRest,
    MeasureRepeat,
    BeatRepeat,
    Slash,

    // Sound without a printed sign: "dynamics", "pizzicato", "damper-pedal" and so on, named by the text.
    SoundSetting,
#pragma warning restore CS1591
}

/// <summary>The position of a mark on a line.</summary>
public enum MarkEdge
{
    /// <summary>A mark without a line.</summary>
    Single,

    /// <summary>The start of a line.</summary>
    Start,

    /// <summary>The continuation of a line.</summary>
    Continue,

    /// <summary>The end of a line.</summary>
    Stop,
}

/// <summary>An articulation, ornament, technique, phrase end, dynamic or other mark. Lines (slurs, hairpins, glides) are two marks, start
/// and stop, joined by their number.</summary>
/// <param name="Kind">The kind of mark.</param>
public sealed record Mark(MarkKind Kind)
{
    /// <summary>The position on a line.</summary>
    public MarkEdge Edge { get; init; }

    /// <summary>Joins the ends of a line when several overlap; null if not given.</summary>
    public int? Number { get; init; }

    /// <summary>The written text: "pp", "crescendo", "comma", a fingering; null for nothing.</summary>
    public string? Text { get; init; }

    /// <summary>Further details, rare.</summary>
    public ValueList<Detail> Details { get; init; } = [];

    /// <summary>The index of the chord's note head to which it belongs, from 0; null for the whole event.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public int? Head
    {
        get;
        init => field = value is null or >= 0 ? value : throw new ArgumentOutOfRangeException(nameof(value), "A head index is at least 0.");
    }

    /// <summary>The detail of a name; null for none.</summary>
    public string? Detail(string name) => Details.FirstOrDefault(detail => detail.Name == name)?.Value;
}

/// <summary>Questions to the marks of a note.</summary>
public static class MarkLists
{
    /// <summary>True when a mark of that kind is among them.</summary>
    public static bool Has(this ValueList<Mark> marks, MarkKind kind)
    {
        ArgumentNullException.ThrowIfNull(marks);

        // Asked for every note that is composed: no iterator, no closure.
        foreach (ref readonly var mark in marks.AsSpan())
        {
            if (mark.Kind == kind)
            {
                return true;
            }
        }

        return false;
    }
}

/// <summary>A mark at a place in a part's measure: a dynamic, an end of a hairpin, words for the player, a pedal.</summary>
/// <param name="At">Distance from the start of the measure; negative for a sign before its measure.</param>
/// <param name="Mark">The mark.</param>
public sealed record PlacedMark(Span At, Mark Mark)
{
    /// <summary>The staff in the part, from 1; null if not given.</summary>
    public int? Staff { get; init; }

    /// <summary>The voice it applies to; null if not given.</summary>
    public string? Voice { get; init; }

    /// <summary>Its length, for figured bass; null if not given.</summary>
    public Span? Length { get; init; }
}

/// <summary>The transposition of a part, from written to sounding pitch, from a place on.</summary>
/// <param name="At">Distance from the start of the measure.</param>
/// <param name="Chromatic">Semitones from written to sounding.</param>
public sealed record Transposition(Span At, Rational Chromatic)
{
    /// <summary>Steps of the staff from written to sounding; null if not given.</summary>
    public int? Diatonic { get; init; }

    /// <summary>Additional octaves, 0 if not given separately; null if not given.</summary>
    public int? Octaves { get; init; }

    /// <summary>True to double an octave below, false an octave above; null for no doubling.</summary>
    public bool? DoubledBelow { get; init; }

    /// <summary>The staff it applies to; null for all.</summary>
    public int? Staff { get; init; }
}

/// <summary>The clef of a staff from a place on.</summary>
/// <param name="At">Distance from the start of the measure.</param>
/// <param name="Clef">The clef.</param>
public sealed record PlacedClef(Span At, StaffClef Clef)
{
    /// <summary>The staff in the part, from 1; null for a part with one staff.</summary>
    public int? Staff { get; init; }
}
