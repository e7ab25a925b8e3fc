using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>An event while it is read: its tuplets are known only after later notes.</summary>
internal sealed class EventDraft
{
    public required int Line { get; init; }

    public required string Voice { get; init; }

    public required Span Length { get; init; }

    public required Origin Origin { get; init; }

    public NoteUnit? Unit { get; init; }

    public NoteUnit? CountedIn { get; init; }

    /// <summary>The ratio that the note states: so many notes in the time of so many.</summary>
    public (int Actual, int Normal)? Ratio { get; init; }

    public bool IsCue { get; init; }

    public Grace? Grace { get; set; }

    /// <summary>The heads; null for a rest or a gap.</summary>
    public List<WrittenNote>? Heads { get; init; }

    /// <summary>The rest's own properties; null for notes and gaps.</summary>
    public RestDraft? Rest { get; init; }

    public ValueList<Beam> Beams { get; init; } = [];

    public List<Mark>? Marks { get; set; }

    public List<Lyric>? Lyrics { get; set; }

    /// <summary>The starts and ends of tuplets on it.</summary>
    public List<XmlItem>? TupletSigns { get; set; }

    /// <summary>The tuplets that are open at it, outermost first.</summary>
    public List<OpenTuplet>? In { get; set; }

    public Tuplet[] Tuplets { get; set; } = [];

    public bool IsFull => Ratio is not null || Grace is null;
}

/// <summary>A rest's own properties while it is read.</summary>
internal sealed record RestDraft(bool IsWholeMeasure, StaffPosition? Position, bool IsHidden, int? Staff, ValueList<int> Passes);

/// <summary>A voice of one measure while it is read.</summary>
internal sealed class Lane(string voice)
{
    public string Voice { get; } = voice;

    public List<EventDraft> Events { get; } = [];

    public Span End { get; set; }
}

/// <summary>A part's measure while it is read.</summary>
internal sealed record MeasureDraft(int Index, List<Lane> Lanes, List<EventDraft> InOrder, List<PlacedMark> Marks, List<Transposition> Transpositions, List<PlacedClef> Clefs);
