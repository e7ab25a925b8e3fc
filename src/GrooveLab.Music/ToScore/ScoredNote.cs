using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>A note of a part on its way into the score. Places are from the first bar line.</summary>
internal sealed class ScoredNote(NoteEvent played, int line, Span onset, Span end)
{
    public NoteEvent Played { get; } = played;

    /// <summary>Its line in the part: a voice of a sustain, a line of a tune; four more on the lower staff.</summary>
    public int Line { get; } = line;

    public Span Onset { get; } = onset;

    /// <summary>Its end; later when the next note only holds it on.</summary>
    public Span End { get; set; } = end;

    /// <summary>Its pitch as read; null for an unpitched note.</summary>
    public SpelledPitch? Pitch { get; init; }

    /// <summary>Its grace notes, in order.</summary>
    public IReadOnlyList<NoteEvent> Graces { get; init; } = [];

    /// <summary>The note of the tune that it plays; null for none.</summary>
    public TuneNote? Tune { get; init; }

    public TuneSource? Source { get; init; }

    /// <summary>The first bar line of its section, from which the tune's tuplets count.</summary>
    public Span SectionStart { get; init; }

    public Lyric? Lyric { get; init; }

    public bool StartsSlur { get; set; }

    public bool EndsSlur { get; set; }

    /// <summary>True when a new bow or breath holds it on.</summary>
    public bool IsHeldOn { get; set; }

    public bool IsHeldAtAStop { get; init; }
}

/// <summary>Notes of one line struck together.</summary>
internal sealed class ScoredChord(List<ScoredNote> notes)
{
    /// <summary>The notes, lowest first.</summary>
    public List<ScoredNote> Notes { get; } = notes;

    public ScoredNote First => Notes[0];

    public Span Onset => Notes[0].Onset;

    public Span End => Notes[0].End;
}
