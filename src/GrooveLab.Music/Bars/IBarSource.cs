namespace GrooveLab.Music.Bars;

/// <summary>A source of bars: the band, or anything else that plays in bars. Pure: a number always gives the same bar, in any order and
/// on any thread.</summary>
public interface IBarSource
{
    /// <summary>Number of the first bar to be played: -1 with a lead-in, 0 without.</summary>
    int First { get; }

    /// <summary>The number after the last bar; null when it has no end.</summary>
    int? End { get; }

    /// <summary>The parts of the band with their channels.</summary>
    IReadOnlyList<PartChannels> Band { get; }

    /// <summary>The heading of the piece.</summary>
    PieceHeading Heading { get; }

    /// <summary>The bar of that number, from <see cref="First"/> up to <see cref="End"/>.</summary>
    Bar BarAt(int index);
}
