namespace GrooveLab.Music.Charts;

/// <summary>Bars that are played round and round: the last of them leads back into the first. Bars are named by their number in the form.</summary>
public readonly record struct BarLoop
{
    /// <summary>A loop.</summary>
    /// <param name="from">The first bar.</param>
    /// <param name="end">The bar after the last.</param>
    /// <exception cref="ArgumentOutOfRangeException">It has no bars, or begins before the first.</exception>
    public BarLoop(int from, int end)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(from);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(end, from);
        From = from;
        End = end;
    }

    /// <summary>The first bar.</summary>
    public int From { get; }

    /// <summary>The bar after the last.</summary>
    public int End { get; }

    /// <summary>True for a bar that is played round.</summary>
    public bool Contains(int bar) => bar >= From && bar < End;

    /// <summary>The bar that is played after another: the next one of the loop, or its first after its last and from outside.</summary>
    public int After(int bar) => Contains(bar + 1) ? bar + 1 : From;
}
