using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>What a mark on a note or in a part says. The names are MusicXML's.</summary>
public enum MarkKind
{
#pragma warning disable CS1591 // The names say it; MusicXML 4.0 describes each.

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

    // How the player's hand, bow, stick or breath does it.
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

    // Sound without a sign: "dynamics", "pizzicato", "damper-pedal" and so on, named by the text.
    SoundSetting,
#pragma warning restore CS1591
}

/// <summary>Which end of a line a mark is.</summary>
public enum MarkEdge
{
    /// <summary>A mark that stands alone.</summary>
    Single,

    /// <summary>A line begins.</summary>
    Start,

    /// <summary>A line goes on.</summary>
    Continue,

    /// <summary>A line ends.</summary>
    Stop,
}

/// <summary>
/// An articulation, ornament, technique, phrase end, dynamic or other mark. Lines (slurs, hairpins, glides) are two marks, their start and
/// their stop, joined by their number.
/// </summary>
/// <param name="Kind">What it is.</param>
public sealed record Mark(MarkKind Kind)
{
    /// <summary>Which end of a line it is.</summary>
    public MarkEdge Edge { get; init; }

    /// <summary>Joins the ends of a line where several run at once; null where none is given.</summary>
    public int? Number { get; init; }

    /// <summary>What is written: "pp", "crescendo", "comma", a fingering; null for nothing.</summary>
    public string? Text { get; init; }

    /// <summary>What is said beyond that, rarely.</summary>
    public ValueList<Detail> Details { get; init; } = [];

    /// <summary>The head of a chord that it belongs to, from 0; null for the whole event.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public int? Head
    {
        get;
        init => field = value is null or >= 0 ? value : throw new ArgumentOutOfRangeException(nameof(value), "Heads are counted from 0.");
    }

    /// <summary>The detail of a name; null when there is none.</summary>
    public string? Detail(string name) => Details.FirstOrDefault(detail => detail.Name == name)?.Value;
}

/// <summary>A mark at a place in a part's measure: a dynamic, a hairpin's end, words for the player, a pedal.</summary>
/// <param name="At">Distance from the start of the measure; a sign may stand before its measure, so it may be negative.</param>
/// <param name="Mark">The mark.</param>
public sealed record PlacedMark(Span At, Mark Mark)
{
    /// <summary>The staff in the part, from 1; null where it is not said.</summary>
    public int? Staff { get; init; }

    /// <summary>The voice it is meant for; null where it is not said.</summary>
    public string? Voice { get; init; }

    /// <summary>How long it holds, for figured bass; null where that is not said.</summary>
    public Span? Length { get; init; }
}

/// <summary>How a part sounds against what is written, from a place on.</summary>
/// <param name="At">Distance from the start of the measure.</param>
/// <param name="Chromatic">Semitones from written to sounding.</param>
public sealed record Transposition(Span At, Rational Chromatic)
{
    /// <summary>Steps of the staff from written to sounding; null where not said.</summary>
    public int? Diatonic { get; init; }

    /// <summary>Octaves more, 0 where none is said apart; null where not said.</summary>
    public int? Octaves { get; init; }

    /// <summary>True when an octave below is doubled, false when one above is; null for no doubling.</summary>
    public bool? DoubledBelow { get; init; }

    /// <summary>The staff it holds for; null for all.</summary>
    public int? Staff { get; init; }
}
