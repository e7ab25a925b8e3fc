namespace GrooveLab.Music.Notation;

/// <summary>One end of a tie, at the note where it begins or ends.</summary>
/// <param name="Sounds">True when the tie joins the sound; false for a curve that is only drawn.</param>
/// <param name="IsDrawn">True when a curve is drawn.</param>
public sealed record TieEnd(bool Sounds = true, bool IsDrawn = true)
{
    /// <summary>Tells ties of one pitch apart where that is needed; null as a rule.</summary>
    public int? Number { get; init; }

    /// <summary>The passes through a repeat in which it holds; empty for all.</summary>
    public ValueList<int> Passes { get; init; } = [];
}

/// <summary>An accidental as printed, where one is; the pitch itself says what sounds.</summary>
/// <param name="Sign">The sign in the words of MusicXML: "sharp", "quarter-flat".</param>
public sealed record PrintedAccidental(string Sign)
{
    /// <summary>A reminder; null when nothing is said.</summary>
    public bool? IsCautionary { get; init; }

    /// <summary>Added by an editor; null when nothing is said.</summary>
    public bool? IsEditorial { get; init; }

    /// <summary>In parentheses; null when nothing is said.</summary>
    public bool? InParentheses { get; init; }

    /// <summary>In brackets; null when nothing is said.</summary>
    public bool? InBrackets { get; init; }
}

/// <summary>
/// One note head: a pitch as spelled, or a place on the staff for a note without pitch. When and how long it sounds is said by the event that
/// holds it.
/// </summary>
public sealed record WrittenNote
{
    private WrittenNote(SpelledPitch? pitch, StaffPosition? position)
    {
        Pitch = pitch;
        Position = position;
    }

    /// <summary>The pitch; null for a note without pitch.</summary>
    public SpelledPitch? Pitch { get; }

    /// <summary>Where a note without pitch stands on the staff; null where that is not said, and for every note with a pitch.</summary>
    public StaffPosition? Position { get; }

    /// <summary>The tie that ends here, from a note before of the same pitch; null without one.</summary>
    public TieEnd? TiedFrom { get; init; }

    /// <summary>The tie that begins here, to the next note of the same pitch; null without one.</summary>
    public TieEnd? TiedTo { get; init; }

    /// <summary>True where the note is left to ring beyond its value.</summary>
    public bool LetRing { get; init; }

    /// <summary>The staff in the part, from 1; null where it is not said. The heads of a chord may stand on two.</summary>
    public int? Staff { get; init; }

    /// <summary>The instruments of the part that play it, by id; empty where that is not said.</summary>
    public ValueList<string> Instruments { get; init; } = [];

    /// <summary>The accidental printed before it; null without one.</summary>
    public PrintedAccidental? Accidental { get; init; }

    /// <summary>True when it is written but not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>The passes through a repeat in which it is played; empty for all.</summary>
    public ValueList<int> Passes { get; init; } = [];

    /// <summary>Where it was read; null when it was not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>A note of a pitch.</summary>
    public static WrittenNote Of(SpelledPitch pitch) => new(pitch, null);

    /// <summary>A note of a pitch.</summary>
    public static WrittenNote Of(Harmony.Pitch pitch) => new(SpelledPitch.Of(pitch), null);

    /// <summary>A note without pitch.</summary>
    /// <param name="position">Where it stands on the staff; null where that is not said.</param>
    public static WrittenNote Unpitched(StaffPosition? position = null) => new(null, position);

    /// <summary>The same note on another pitch.</summary>
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

    /// <summary>True when a tie could join the two: the same spelled pitch, or the same place on the staff and instrument.</summary>
    public bool IsSameAs(WrittenNote other) =>
        Pitch == other.Pitch && Position == other.Position && (Pitch is not null || Instruments.Equals(other.Instruments));
}
