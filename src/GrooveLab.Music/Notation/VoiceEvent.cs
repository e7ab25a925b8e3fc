using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>
/// One step of a voice: notes, a rest or a gap. Events follow each other without holes; where an event begins is the sum of the lengths
/// before it in its measure.
/// </summary>
public abstract record VoiceEvent
{
    private protected VoiceEvent(WrittenValue? value, Span? statedLength)
    {
        if (value is null && statedLength is null)
        {
            throw new ArgumentException("An event has a written value, a length, or both.");
        }

        if (statedLength is { } stated && stated < Span.Zero)
        {
            throw new ArgumentOutOfRangeException(nameof(statedLength), "A length is not below zero.");
        }

        Value = value;
        Length = statedLength ?? value!.Length;
    }

    /// <summary>The value as written; null where none is (a whole measure's rest, a gap, a length that no value has).</summary>
    public WrittenValue? Value { get; }

    /// <summary>
    /// The exact length in the measure: what the value says, unless another length is stated (a whole note's sign for a rest of three quarters).
    /// Zero for grace notes.
    /// </summary>
    public Span Length { get; }

    /// <summary>The tuplets it stands in, outermost first: those of its value, or those given apart for a length that no value has.</summary>
    public ValueList<Tuplet> Tuplets => Value?.Tuplets ?? TupletsApart;

    /// <summary>The tuplets of a length that no value has; empty where there is a value.</summary>
    public ValueList<Tuplet> TupletsApart { get; init; } = [];

    /// <summary>Marks on it.</summary>
    public ValueList<Mark> Marks { get; init; } = [];

    /// <summary>What is sung on it, by verse.</summary>
    public ValueList<Lyric> Lyrics { get; init; } = [];

    /// <summary>What a person fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>Remarks on it.</summary>
    public ValueList<Annotation> Annotations { get; init; } = [];

    /// <summary>Where it was read; null when it was not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>True when a mark of the kind stands on it.</summary>
    public bool Has(MarkKind kind)
    {
        foreach (var mark in Marks)
        {
            if (mark.Kind == kind)
            {
                return true;
            }
        }

        return false;
    }
}

/// <summary>How a grace note is written and takes its time.</summary>
public sealed record Grace
{
    /// <summary>A stroke through it; null where nothing is said.</summary>
    public bool? HasSlash { get; init; }

    /// <summary>True for one that ends the note before it, as after a trill; false for one that leads to the note after it.</summary>
    public bool IsAfter { get; init; }

    /// <summary>Percent of the note before that it takes; null where not said.</summary>
    public Rational? TakesFromPrevious { get; init; }

    /// <summary>Percent of the note after that it takes; null where not said.</summary>
    public Rational? TakesFromFollowing { get; init; }

    /// <summary>Time that is added for it; null where not said.</summary>
    public Span? AddsTime { get; init; }
}

/// <summary>A note, or the notes of a chord, struck together.</summary>
public sealed record NotesEvent : VoiceEvent
{
    /// <summary>Makes notes.</summary>
    /// <param name="notes">The heads, at least one, in their written order.</param>
    /// <param name="value">The value as written; null where none is.</param>
    /// <param name="statedLength">A length other than the value's; null to follow the value.</param>
    /// <exception cref="ArgumentException">No note, neither value nor length, or a length not above zero.</exception>
    public NotesEvent(ValueList<WrittenNote> notes, WrittenValue? value, Span? statedLength = null)
        : base(value, statedLength)
    {
        if (notes.Count == 0)
        {
            throw new ArgumentException("A chord has at least one note.", nameof(notes));
        }

        if (Length <= Span.Zero)
        {
            throw new ArgumentException("A note lasts; only a grace note has no length of its own.", nameof(statedLength));
        }

        Notes = notes;
    }

    private NotesEvent(ValueList<WrittenNote> notes, Grace grace, WrittenValue? value)
        : base(value, Span.Zero)
    {
        if (notes.Count == 0)
        {
            throw new ArgumentException("A chord has at least one note.", nameof(notes));
        }

        Notes = notes;
        Grace = grace;
    }

    /// <summary>The heads, at least one, in their written order.</summary>
    public ValueList<WrittenNote> Notes { get; }

    /// <summary>How it is a grace note; null for every other.</summary>
    public Grace? Grace { get; }

    /// <summary>True for cue notes: another part's music, printed small and not played.</summary>
    public bool IsCue { get; init; }

    /// <summary>How far it is meant to come after its written place; zero for in time.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public Span Late
    {
        get;
        init => field = value >= Span.Zero
            ? value
            : throw new ArgumentOutOfRangeException(nameof(value), "A note does not come before its place; write it earlier.");
    }

    /// <summary>A grace note, or a chord of them. It takes no room in its measure.</summary>
    /// <param name="notes">The heads, at least one.</param>
    /// <param name="grace">How it is written.</param>
    /// <param name="value">The value as written; null where none is.</param>
    public static NotesEvent OfGrace(ValueList<WrittenNote> notes, Grace grace, WrittenValue? value) => new(notes, grace, value);

    /// <summary>The same event with other heads.</summary>
    public NotesEvent WithNotes(ValueList<WrittenNote> notes) => Copy(
        Grace is null ? new NotesEvent(notes, Value, Length) : new NotesEvent(notes, Grace, Value));

    /// <summary>The same event, of another value or length; not for grace notes, whose value may change alone.</summary>
    public NotesEvent WithValue(WrittenValue? value, Span? statedLength = null) => Copy(
        Grace is null ? new NotesEvent(Notes, value, statedLength) : new NotesEvent(Notes, Grace, value));

    private NotesEvent Copy(NotesEvent made) => made with
    {
        IsCue = IsCue,
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
    /// <summary>Makes a rest.</summary>
    /// <param name="value">The value as written; null where none is.</param>
    /// <param name="statedLength">A length other than the value's; null to follow the value.</param>
    /// <exception cref="ArgumentException">Neither value nor length, or a length not above zero.</exception>
    public RestEvent(WrittenValue? value, Span? statedLength = null)
        : base(value, statedLength)
    {
        if (Length <= Span.Zero)
        {
            throw new ArgumentException("A rest lasts.", nameof(statedLength));
        }
    }

    /// <summary>True for the sign that rests for a whole measure, whatever its length.</summary>
    public bool IsWholeMeasure { get; init; }

    /// <summary>True when it is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>True when it is printed small, among cue notes.</summary>
    public bool IsCue { get; init; }

    /// <summary>Where it stands on the staff; null where that is not said.</summary>
    public StaffPosition? Position { get; init; }

    /// <summary>The staff in the part, from 1; null where it is not said.</summary>
    public int? Staff { get; init; }

    /// <summary>The passes through a repeat in which it holds; empty for all.</summary>
    public ValueList<int> Passes { get; init; } = [];
}

/// <summary>Time in which a voice has nothing written, not even a rest.</summary>
public sealed record GapEvent : VoiceEvent
{
    /// <summary>Makes a gap.</summary>
    /// <exception cref="ArgumentException">A length not above zero.</exception>
    public GapEvent(Span length)
        : base(null, length)
    {
        if (length <= Span.Zero)
        {
            throw new ArgumentException("A gap lasts.", nameof(length));
        }
    }

    /// <summary>The staff in the part, from 1; null where it is not said.</summary>
    public int? Staff { get; init; }
}
