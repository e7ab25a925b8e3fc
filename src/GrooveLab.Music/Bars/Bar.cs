using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Bars;

/// <summary>
/// Everything that is played in one bar: composed whole, never changed afterwards. The lead-in (start note, count, pickup) is bar -1.
/// </summary>
public sealed record Bar
{
    /// <summary>The bar's number, from 0; -1 is the lead-in.</summary>
    public required int Index { get; init; }

    /// <summary>Its bar line.</summary>
    public required Position Start { get; init; }

    /// <summary>Its length. A bar's is its meter's; a lead-in's is as long as its count, an ending's as many bars as ring for a second and a half.</summary>
    public required Span Length { get; init; }

    /// <summary>Its meter.</summary>
    public required BarMeter Meter { get; init; }

    /// <summary>The level felt as the beat.</summary>
    public required FeltLevel Felt { get; init; }

    /// <summary>Where it stands in its bar group.</summary>
    public required BarGroupPlace GroupPlace { get; init; }

    /// <summary>Name of its section.</summary>
    public required string Section { get; init; }

    /// <summary>Number in its section, from 0; -1 for the lead-in.</summary>
    public required int IndexInSection { get; init; }

    /// <summary>How many times its section was played before.</summary>
    public required int Playing { get; init; }

    /// <summary>The key of its section.</summary>
    public required Key Key { get; init; }

    /// <summary>The tempi that hold in it, rising from the bar line; never empty. A ramp is many.</summary>
    public required IReadOnlyList<(Span Onset, Tempo Tempo)> Tempi { get; init; }

    /// <summary>Its chords, in order, without gaps.</summary>
    public required IReadOnlyList<ChordSpan> Chords { get; init; }

    /// <summary>How written places become played ones; the same for all parts.</summary>
    public required Swing Swing { get; init; }

    /// <summary>How the band stops in it.</summary>
    public BandStop Stop { get; init; }

    /// <summary>True for the last, ringing bar.</summary>
    public bool IsEnding { get; init; }

    /// <summary>The notes, sorted by onset, then part, then key.</summary>
    public required IReadOnlyList<NoteEvent> Notes { get; init; }

    /// <summary>The controllers' steps, sorted by onset, then part.</summary>
    public required IReadOnlyList<ControlPoint> Controls { get; init; }

    /// <summary>Things that had to be done otherwise than asked (a roll thinned for the hand), for the reader; usually empty.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];

    /// <summary>The place where the next bar starts.</summary>
    public Position End => Start + Length;
}
