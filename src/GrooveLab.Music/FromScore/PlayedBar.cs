using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>A note or rest of a line in a bar, or in what leads into the first bar.</summary>
/// <param name="Onset">From the bar line.</param>
/// <param name="Length">Its length.</param>
/// <param name="Pitch">Its sounding pitch; null for a rest.</param>
internal sealed record Step(Span Onset, Span Length, Pitch? Pitch)
{
    public Span End => Onset + Length;

    /// <summary>True when it continues the note before.</summary>
    public bool TiedFrom { get; init; }

    /// <summary>True when the next note continues it.</summary>
    public bool TiedTo { get; init; }

    public ValueList<Pitch> Graces { get; init; } = [];

    public ValueList<Mark> Marks { get; init; } = [];

    public Span Late { get; init; }

    public ValueList<Tuplet> Tuplets { get; init; } = [];

    /// <summary>Its words, one for each time through the form; null for none. Empty if it has never any.</summary>
    public IReadOnlyList<Lyric?> Lyrics { get; init; } = [];

    /// <summary>The measure from which it comes.</summary>
    public int Measure { get; init; }
}

/// <summary>A bar in playing order.</summary>
internal sealed class PlayedBar
{
    public required BarMeter Meter { get; init; }

    /// <summary>The measures from which it comes; two if a repeat divides it.</summary>
    public required IReadOnlyList<int> Measures { get; init; }

    /// <summary>The place of the first of them in the score.</summary>
    public Origin? Origin { get; init; }

    /// <summary>For each line its notes and rests, filling the bar.</summary>
    public required List<Step>[] Lines { get; init; }

    public required IReadOnlyList<ChordSpan> Chords { get; init; }

    /// <summary>For each chord its written mark if it was inferred, otherwise null.</summary>
    public required IReadOnlyList<ChordMark?> ChordMarks { get; init; }

    public required TempoMark Tempo { get; init; }

    /// <summary>The gradual change of tempo in which it is; null for none.</summary>
    public PlayedRamp? Ramp { get; init; }

    public required Key Key { get; init; }

    public Span Length => Meter.Length;

    /// <summary>True when any line has a note.</summary>
    public bool HasNotes => Lines.Any(line => line.Exists(step => step.Pitch is not null));

    /// <summary>True when a note leads over the bar line at its start.</summary>
    public bool IsTiedInto => Lines.Any(line => line.Count > 0 && line[0].TiedFrom);
}

/// <summary>A ritardando or an accelerando.</summary>
/// <param name="First">Its first measure.</param>
/// <param name="Last">Its last measure.</param>
/// <param name="To">The tempo that it reaches.</param>
/// <param name="IsBack">True when the tempo before it returns after it.</param>
internal sealed record PlayedRamp(int First, int Last, TempoMark To, bool IsBack);

/// <summary>Why a section may begin at a bar.</summary>
internal enum BorderKind
{
    /// <summary>The music repeats.</summary>
    Repetition,

    /// <summary>A place of a jump, or a double bar.</summary>
    Sign,

    /// <summary>A rehearsal mark, a repeat sign, a new key or tempo.</summary>
    Strong,
}

/// <summary>A place where a section may begin.</summary>
internal sealed record Border(int Bar, BorderKind Kind)
{
    /// <summary>The length of the pickup into it, in the bar before; null if not known.</summary>
    public Span? Pickup { get; init; }

    /// <summary>The name given there; null for none.</summary>
    public string? Name { get; init; }
}

/// <summary>A score in playing order, bar by bar.</summary>
/// <param name="Bars">The bars.</param>
/// <param name="Lead">What leads into the first bar, line by line, from its own start; empty without a pickup.</param>
/// <param name="LeadLength">Its length.</param>
/// <param name="Borders">Where sections begin according to signs, in order.</param>
/// <param name="Times">How often the whole form is played to sing all verses.</param>
internal sealed record PlayedScore(
    IReadOnlyList<PlayedBar> Bars, List<Step>[] Lead, Span LeadLength, IReadOnlyList<Border> Borders, int Times);
