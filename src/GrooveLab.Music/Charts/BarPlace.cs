using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>A bar of the piece as it is played: where it stands, before anyone has played in it.</summary>
public sealed record BarPlace
{
    /// <summary>Number of the bar, from 0, going on through every pass of the form.</summary>
    public required int Index { get; init; }

    /// <summary>The run it belongs to.</summary>
    public required SectionRun Run { get; init; }

    /// <summary>Number in its run, from 0.</summary>
    public required int IndexInRun { get; init; }

    /// <summary>Its bar line.</summary>
    public required Position Start { get; init; }

    /// <summary>Its meter.</summary>
    public required BarMeter Meter { get; init; }

    /// <summary>Where it stands in its bar group.</summary>
    public required BarGroupPlace GroupPlace { get; init; }

    /// <summary>Its chords.</summary>
    public required IReadOnlyList<ChordSpan> Chords { get; init; }

    /// <summary>The level felt as the beat.</summary>
    public required FeltLevel Felt { get; init; }

    /// <summary>What is counted.</summary>
    public required Counted Counted { get; init; }

    /// <summary>The tempi that hold in it, rising from the bar line; never empty.</summary>
    public required IReadOnlyList<(Span Onset, Tempo Tempo)> Tempi { get; init; }

    /// <summary>True for a single bar in another meter.</summary>
    public bool Inserted { get; init; }

    /// <summary>How the band stops in it.</summary>
    public BandStop Stop { get; init; }

    /// <summary>In a bar that is held: where the hold is over and the count leads on, from the bar line.</summary>
    public Span HeldFor { get; init; }

    /// <summary>Its length.</summary>
    public Span Length => Meter.Length;

    /// <summary>Where the next bar starts.</summary>
    public Position End => Start + Length;

    /// <summary>In a bar that is held: the tempo that it would have had; null in others.</summary>
    public Tempo? TempoUnheld { get; init; }

    /// <summary>The tempo at its bar line; in a bar that is held, the one that it would have had.</summary>
    public Tempo Tempo => TempoUnheld ?? Tempi[0].Tempo;

    /// <summary>The tempo that really goes at a place of the bar.</summary>
    public Tempo TempoAt(Span offset)
    {
        var tempo = Tempi[0].Tempo;
        foreach (var (onset, next) in Tempi)
        {
            tempo = onset <= offset ? next : tempo;
        }

        return tempo;
    }

    /// <summary>True for the last bar of its run.</summary>
    public bool IsLastOfRun => IndexInRun == Run.Bars - 1;
}

/// <summary>One playing of a section: everything in the band starts afresh with it.</summary>
/// <param name="Number">Number of the run, from 0, going on through every pass of the form.</param>
/// <param name="Section">The section.</param>
/// <param name="Key">Its key.</param>
/// <param name="FirstBar">Number of its first bar.</param>
/// <param name="Bars">How many bars it has.</param>
/// <param name="Verse">How many times the section was played before, so which of its verses is sung.</param>
/// <param name="Start">Its first bar line.</param>
public sealed record SectionRun(int Number, Section Section, Key Key, int FirstBar, int Bars, int Verse, Position Start)
{
    /// <summary>Number after its last bar.</summary>
    public int EndBar => FirstBar + Bars;
}
