using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>A bar of the piece in playing order: its place and settings, before any notes.</summary>
public sealed record BarPlace
{
    /// <summary>The number of the bar, from 0, continuing through all passes of the form.</summary>
    public required int Index { get; init; }

    /// <summary>The run it belongs to.</summary>
    public required SectionRun Run { get; init; }

    /// <summary>Its number in the run, from 0.</summary>
    public required int IndexInRun { get; init; }

    /// <summary>Its bar line.</summary>
    public required Position Start { get; init; }

    /// <summary>Its meter.</summary>
    public required BarMeter Meter { get; init; }

    /// <summary>Its position in its bar group.</summary>
    public required BarGroupPlace GroupPlace { get; init; }

    /// <summary>Its chords.</summary>
    public required IReadOnlyList<ChordSpan> Chords { get; init; }

    /// <summary>The level felt as the beat.</summary>
    public required FeltLevel Felt { get; init; }

    /// <summary>What is counted.</summary>
    public required Counted Counted { get; init; }

    /// <summary>Its tempi, ascending from the bar line; never empty.</summary>
    public required IReadOnlyList<(Span Onset, Tempo Tempo)> Tempi { get; init; }

    /// <summary>True for a single bar in another meter.</summary>
    public bool Inserted { get; init; }

    /// <summary>How the band stops in it.</summary>
    public BandStop Stop { get; init; }

    /// <summary>In a held bar: where the hold ends and the count leads on, from the bar line.</summary>
    public Span HeldFor { get; init; }

    /// <summary>Its length.</summary>
    public Span Length => Meter.Length;

    /// <summary>The place where the next bar starts.</summary>
    public Position End => Start + Length;

    /// <summary>In a held bar: its tempo without the hold; null in other bars.</summary>
    public Tempo? TempoUnheld { get; init; }

    /// <summary>The tempo at its bar line; in a held bar, its tempo without the hold.</summary>
    public Tempo Tempo => TempoUnheld ?? Tempi[0].Tempo;

    /// <summary>In a bar of a ritardando or an accelerando: the tempo before it. Null in other bars.</summary>
    public Tempo? TempoBeforeRamp { get; init; }

    /// <summary>The tempo of the passage: in a ritardando or an accelerando the one before it, elsewhere <see cref="Tempo"/>.</summary>
    public Tempo SteadyTempo => TempoBeforeRamp ?? Tempo;

    /// <summary>The actual tempo at a place in the bar.</summary>
    public Tempo TempoAt(Span offset)
    {
        var tempo = Tempi[0].Tempo;
        for (var i = 1; i < Tempi.Count; i++)
        {
            tempo = Tempi[i].Onset <= offset ? Tempi[i].Tempo : tempo;
        }

        return tempo;
    }

    /// <summary>The number of the ending to which it belongs, from 1; 0 outside an ending.</summary>
    public int Ending => IndexInRun >= Run.EndingAt ? Run.Ending : 0;

    /// <summary>True for the last bar of its run.</summary>
    public bool IsLastOfRun => IndexInRun == Run.Bars - 1;
}

/// <summary>One playing of a section: everything in the band restarts with it.</summary>
/// <param name="Number">The number of the run, from 0, continuing through all passes of the form.</param>
/// <param name="Section">The section as played.</param>
/// <param name="Key">Its key as played.</param>
/// <param name="FirstBar">The number of its first bar.</param>
/// <param name="Bars">Its number of bars.</param>
/// <param name="Verse">Number of earlier playings of the section, which selects its verse.</param>
/// <param name="Start">Its first bar line.</param>
public sealed record SectionRun(int Number, Section Section, Key Key, int FirstBar, int Bars, int Verse, Position Start)
{
    /// <summary>The number after its last bar.</summary>
    public int EndBar => FirstBar + Bars;

    /// <summary>The index of the section in the chart. <see cref="Section"/> is the section as played, with its ending and transposition.</summary>
    public int SectionIndex { get; init; }

    /// <summary>The number of the ending that it takes, from 1; 0 when the section has none.</summary>
    public int Ending { get; init; }

    /// <summary>The index in the run at which its ending begins.</summary>
    public int EndingAt { get; init; }

    /// <summary>Half steps by which the form transposes it, negative for down.</summary>
    public int Up { get; init; }
}
