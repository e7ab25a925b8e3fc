namespace GrooveLab.Music.Bars;

/// <summary>
/// Where bars come from: the band, or anything that plays in bars. A pure source: the same number always gives the same bar, in any
/// order and on any thread.
/// </summary>
public interface IBarSource
{
    /// <summary>Number of the first bar to be played: -1 when there is a lead-in, 0 without.</summary>
    int First { get; }

    /// <summary>Number after the last bar; null when it goes on until told.</summary>
    int? End { get; }

    /// <summary>Who plays.</summary>
    IReadOnlyList<PartChannels> Band { get; }

    /// <summary>What stands at the head of the piece.</summary>
    PieceHeading Heading { get; }

    /// <summary>The bar of that number, from <see cref="First"/> up to <see cref="End"/>.</summary>
    Bar BarAt(int index);
}
