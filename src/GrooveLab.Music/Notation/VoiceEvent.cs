using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>One step of a voice: notes, a rest or a gap. Events follow each other without gaps in time; the onset of an event is the sum
/// of the lengths before it in its measure.</summary>
public abstract record VoiceEvent
{
    private protected VoiceEvent(WrittenValue? value, Span? statedLength)
    {
        if (value is null && statedLength is null)
        {
            throw new ArgumentException("An event needs a written value, a length, or both.");
        }

        if (statedLength is { } stated && stated < Span.Zero)
        {
            throw new ArgumentOutOfRangeException(nameof(statedLength), "A length must not be negative.");
        }

        Value = value;
        Length = statedLength ?? value!.Length;
    }

    /// <summary>The written value; null for none (a whole measure's rest, a gap, a length without a value).</summary>
    public WrittenValue? Value { get; }

    /// <summary>The exact length in the measure: that of the value, unless another length is stated (a whole-note sign for a rest of
    /// three quarters). Zero for grace notes.</summary>
    public Span Length { get; }

    /// <summary>The tuplets around it, outermost first: those of its value, or those given separately for a length without a value.</summary>
    public ValueList<Tuplet> Tuplets => Value?.Tuplets ?? TupletsApart;

    /// <summary>The tuplets of a length without a value; empty if it has a value.</summary>
    public ValueList<Tuplet> TupletsApart { get; init; } = [];

    /// <summary>Marks on it.</summary>
    public ValueList<Mark> Marks { get; init; } = [];

    /// <summary>The lyrics on it, by verse.</summary>
    public ValueList<Lyric> Lyrics { get; init; } = [];

    /// <summary>What a person has fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>Remarks on it.</summary>
    public ValueList<Annotation> Annotations { get; init; } = [];

    /// <summary>Where it was read; null if not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>True when it has a mark of that kind.</summary>
    public bool Has(MarkKind kind) => Marks.Has(kind);
}

/// <summary>How a grace note is written and timed.</summary>
public sealed record Grace
{
    /// <summary>True for a stroke through it; null if not given.</summary>
    public bool? HasSlash { get; init; }

    /// <summary>True when it ends the note before it, as after a trill; false when it leads to the note after it.</summary>
    public bool IsAfter { get; init; }

    /// <summary>Percentage of the note before that it takes; null if not given.</summary>
    public Rational? TakesFromPrevious { get; init; }

    /// <summary>Percentage of the note after that it takes; null if not given.</summary>
    public Rational? TakesFromFollowing { get; init; }

    /// <summary>Time added for it; null if not given.</summary>
    public Span? AddsTime { get; init; }
}

/// <summary>How one beam joins a note to its neighbours.</summary>
public enum Beam
{
    /// <summary>It begins here.</summary>
    Begin,

    /// <summary>It goes through.</summary>
    Continue,

    /// <summary>It ends here.</summary>
    End,

    /// <summary>A short beam to the right, on this note only.</summary>
    ForwardHook,

    /// <summary>A short beam to the left, on this note only.</summary>
    BackwardHook,
}

/// <summary>A note, or the notes of a chord.</summary>
public sealed record NotesEvent : VoiceEvent
{
    /// <summary>Creates notes.</summary>
    /// <param name="notes">The heads, at least one, in their written order.</param>
    /// <param name="value">The written value; null for none.</param>
    /// <param name="statedLength">A length other than the value's; null to follow the value.</param>
    /// <exception cref="ArgumentException">No note, neither value nor length, or a length of zero or less.</exception>
    public NotesEvent(ValueList<WrittenNote> notes, WrittenValue? value, Span? statedLength = null)
        : base(value, statedLength)
    {
        if (notes.Count == 0)
        {
            throw new ArgumentException("A chord needs at least one note.", nameof(notes));
        }

        if (Length <= Span.Zero)
        {
            throw new ArgumentException("The length of a note must be above zero; only grace notes have none.", nameof(statedLength));
        }

        Notes = notes;
    }

    private NotesEvent(ValueList<WrittenNote> notes, Grace grace, WrittenValue? value)
        : base(value, Span.Zero)
    {
        if (notes.Count == 0)
        {
            throw new ArgumentException("A chord needs at least one note.", nameof(notes));
        }

        Notes = notes;
        Grace = grace;
    }

    /// <summary>The heads, at least one, in their written order.</summary>
    public ValueList<WrittenNote> Notes { get; }

    /// <summary>Its notation as a grace note; null for normal notes.</summary>
    public Grace? Grace { get; }

    /// <summary>True for cue notes: music of another part, printed small and not played.</summary>
    public bool IsCue { get; init; }

    /// <summary>Its beams, that of the eighths first; empty for flags, and if not given.</summary>
    public ValueList<Beam> Beams { get; init; } = [];

    /// <summary>How far it lays back after its written place; zero for in time.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public Span Late
    {
        get;
        init => field = value >= Span.Zero
            ? value
            : throw new ArgumentOutOfRangeException(nameof(value), "A note cannot lay back by less than zero; write it earlier.");
    }

    /// <summary>A grace note, or a chord of them. It takes no time in its measure.</summary>
    /// <param name="notes">The heads, at least one.</param>
    /// <param name="grace">How it is written.</param>
    /// <param name="value">The written value; null for none.</param>
    public static NotesEvent OfGrace(ValueList<WrittenNote> notes, Grace grace, WrittenValue? value) => new(notes, grace, value);

    /// <summary>The same event with other heads.</summary>
    public NotesEvent WithNotes(ValueList<WrittenNote> notes) => Copy(
        Grace is null ? new NotesEvent(notes, Value, Length) : new NotesEvent(notes, Grace, Value));

    /// <summary>The same event with another value or length; not for grace notes, of which only the value can change.</summary>
    public NotesEvent WithValue(WrittenValue? value, Span? statedLength = null) => Copy(
        Grace is null ? new NotesEvent(Notes, value, statedLength) : new NotesEvent(Notes, Grace, value));

    private NotesEvent Copy(NotesEvent made) => made with
    {
        IsCue = IsCue,
        Beams = made.Value is { } written && written.Unit.Base < NoteBase.Quarter && written.Unit.Base == Value?.Unit.Base ? Beams : [],
        Late = Late,
        TupletsApart = made.Value is null ? TupletsApart : [],
        Marks = Marks,
        Lyrics = Lyrics,
        Pins = Pins,
        Annotations = Annotations,
        Origin = Origin,
    };
}

/// <summary>A rest.</summary>
public sealed record RestEvent : VoiceEvent
{
    /// <summary>Creates a rest.</summary>
    /// <param name="value">The written value; null for none.</param>
    /// <param name="statedLength">A length other than the value's; null to follow the value.</param>
    /// <exception cref="ArgumentException">Neither value nor length, or a length of zero or less.</exception>
    public RestEvent(WrittenValue? value, Span? statedLength = null)
        : base(value, statedLength)
    {
        if (Length <= Span.Zero)
        {
            throw new ArgumentException("The length of a rest must be above zero.", nameof(statedLength));
        }
    }

    /// <summary>True for the whole-measure rest, which fits a measure of any length.</summary>
    public bool IsWholeMeasure { get; init; }

    /// <summary>True when it is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>True when it is printed small, as with cue notes.</summary>
    public bool IsCue { get; init; }

    /// <summary>Its staff position; null if not given.</summary>
    public StaffPosition? Position { get; init; }

    /// <summary>The staff in the part, from 1; null if not given.</summary>
    public int? Staff { get; init; }

    /// <summary>The passes through a repeat to which it applies; empty for all.</summary>
    public ValueList<int> Passes { get; init; } = [];
}

/// <summary>Time for which nothing is written in a voice, not even a rest.</summary>
public sealed record GapEvent : VoiceEvent
{
    /// <summary>Creates a gap.</summary>
    /// <exception cref="ArgumentException">A length of zero or less.</exception>
    public GapEvent(Span length)
        : base(null, length)
    {
        if (length <= Span.Zero)
        {
            throw new ArgumentException("The length of a gap must be above zero.", nameof(length));
        }
    }

    /// <summary>The staff in the part, from 1; null if not given.</summary>
    public int? Staff { get; init; }
}
