using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Bars;

/// <summary>Everything played in one bar; composed as a whole and immutable. The lead-in (start note, count, pickup) is bar -1.</summary>
public sealed record Bar
{
    /// <summary>The bar's number, from 0; -1 is the lead-in.</summary>
    public required int Index { get; init; }

    /// <summary>Its bar line.</summary>
    public required Position Start { get; init; }

    /// <summary>Its length: the length of its meter; for the lead-in the length of the count; for the ending the bars that ring for 1.5
    /// s.</summary>
    public required Span Length { get; init; }

    /// <summary>Its meter.</summary>
    public required BarMeter Meter { get; init; }

    /// <summary>The level felt as the beat.</summary>
    public required FeltLevel Felt { get; init; }

    /// <summary>Its position in its bar group.</summary>
    public required BarGroupPlace GroupPlace { get; init; }

    /// <summary>The name of its section.</summary>
    public required string Section { get; init; }

    /// <summary>Its number in the section, from 0; -1 for the lead-in.</summary>
    public required int IndexInSection { get; init; }

    /// <summary>The number of the ending to which it belongs, from 1; 0 outside an ending.</summary>
    public int Ending { get; init; }

    /// <summary>Number of earlier playings of its section.</summary>
    public required int Playing { get; init; }

    /// <summary>What the arrangement asks of the band.</summary>
    public required BarTasks Tasks { get; init; }

    /// <summary>The key of its section.</summary>
    public required Key Key { get; init; }

    /// <summary>Its tempi, ascending from the bar line; never empty. A ramp is many tempi.</summary>
    public required IReadOnlyList<(Span Onset, Tempo Tempo)> Tempi { get; init; }

    /// <summary>Its chords, in order, without gaps.</summary>
    public required IReadOnlyList<ChordSpan> Chords { get; init; }

    /// <summary>The swing that moves written places to played places; the same for all parts.</summary>
    public required Swing Swing { get; init; }

    /// <summary>How the band stops in it.</summary>
    public BandStop Stop { get; init; }

    /// <summary>True for the last bar, which rings.</summary>
    public bool IsEnding { get; init; }

    /// <summary>The notes, sorted by onset, then part, then key.</summary>
    public required IReadOnlyList<NoteEvent> Notes { get; init; }

    /// <summary>The controller steps, sorted by onset, then part.</summary>
    public required IReadOnlyList<ControlPoint> Controls { get; init; }

    /// <summary>Notes to the user about departures from the chart (a roll thinned for the hand); usually empty.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];

    /// <summary>The place where the next bar starts.</summary>
    public Position End => Start + Length;
}
