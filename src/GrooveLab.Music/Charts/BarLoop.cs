namespace GrooveLab.Music.Charts;

/// <summary>Looping bars: the last leads back into the first. Bars are identified by their number in the form.</summary>
public readonly record struct BarLoop
{
    /// <summary>Creates a loop.</summary>
    /// <param name="from">The first bar.</param>
    /// <param name="end">The bar after the last.</param>
    /// <exception cref="ArgumentOutOfRangeException">It has no bars, or starts before the first bar.</exception>
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

    /// <summary>True for a bar of the loop.</summary>
    public bool Contains(int bar) => bar >= From && bar < End;

    /// <summary>The bar played after another: the next bar of the loop; the first after its last and after a bar outside the
    /// loop.</summary>
    public int After(int bar) => Contains(bar + 1) ? bar + 1 : From;
}
