namespace GrooveLab.Music.Notation;

/// <summary>The start or the end of a tie.</summary>
/// <param name="Sounds">True when the tie joins the notes in sound; false for a curve that is only drawn.</param>
/// <param name="IsDrawn">True when a curve is drawn.</param>
public sealed record TieEnd(bool Sounds = true, bool IsDrawn = true)
{
    /// <summary>Distinguishes ties on one pitch if needed; usually null.</summary>
    public int? Number { get; init; }

    /// <summary>The passes through a repeat to which it applies; empty for all.</summary>
    public ValueList<int> Passes { get; init; } = [];
}

/// <summary>A printed accidental; the sounding pitch is in the note.</summary>
/// <param name="Sign">The sign as in MusicXML: "sharp", "quarter-flat".</param>
public sealed record PrintedAccidental(string Sign)
{
    /// <summary>A reminder; null if not given.</summary>
    public bool? IsCautionary { get; init; }

    /// <summary>Added by an editor; null if not given.</summary>
    public bool? IsEditorial { get; init; }

    /// <summary>In parentheses; null if not given.</summary>
    public bool? InParentheses { get; init; }

    /// <summary>In brackets; null if not given.</summary>
    public bool? InBrackets { get; init; }
}

/// <summary>One note head: a spelled pitch, or a staff position for an unpitched note. Onset and length are in the event that contains
/// it.</summary>
public sealed record WrittenNote
{
    private WrittenNote(SpelledPitch? pitch, StaffPosition? position)
    {
        Pitch = pitch;
        Position = position;
    }

    /// <summary>The pitch; null for an unpitched note.</summary>
    public SpelledPitch? Pitch { get; }

    /// <summary>The staff position of an unpitched note; null if not given, and for pitched notes.</summary>
    public StaffPosition? Position { get; }

    /// <summary>The tie that ends here, from an earlier note of the same pitch; null for none.</summary>
    public TieEnd? TiedFrom { get; init; }

    /// <summary>The tie that begins here, to the next note of the same pitch; null for none.</summary>
    public TieEnd? TiedTo { get; init; }

    /// <summary>True when the note rings on beyond its value.</summary>
    public bool LetRing { get; init; }

    /// <summary>The staff in the part, from 1; null if not given. The heads of a chord may be on two staves.</summary>
    public int? Staff { get; init; }

    /// <summary>The instruments of the part that play it, by id; empty if not given.</summary>
    public ValueList<string> Instruments { get; init; } = [];

    /// <summary>The accidental printed before it; null for none.</summary>
    public PrintedAccidental? Accidental { get; init; }

    /// <summary>True when it is written but not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>The passes through a repeat in which it is played; empty for all.</summary>
    public ValueList<int> Passes { get; init; } = [];

    /// <summary>Where it was read; null if not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>Creates a note with a pitch.</summary>
    public static WrittenNote Of(SpelledPitch pitch) => new(pitch, null);

    /// <summary>Creates a note with a pitch.</summary>
    public static WrittenNote Of(Harmony.Pitch pitch) => new(SpelledPitch.Of(pitch), null);

    /// <summary>Creates an unpitched note.</summary>
    /// <param name="position">Its staff position; null if not given.</param>
    public static WrittenNote Unpitched(StaffPosition? position = null) => new(null, position);

    /// <summary>The same note with another pitch.</summary>
    public WrittenNote WithPitch(SpelledPitch pitch) =>
        new(pitch, null)
        {
            TiedFrom = TiedFrom,
            TiedTo = TiedTo,
            LetRing = LetRing,
            Staff = Staff,
            Instruments = Instruments,
            Accidental = Accidental,
            IsHidden = IsHidden,
            Passes = Passes,
            Origin = Origin,
        };

    /// <summary>True when a tie can join the two: the same spelled pitch, or the same staff position and instrument.</summary>
    public bool IsSameAs(WrittenNote other) =>
        Pitch == other.Pitch && Position == other.Position && (Pitch is not null || Instruments.Equals(other.Instruments));
}
