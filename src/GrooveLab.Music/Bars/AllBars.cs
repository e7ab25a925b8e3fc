namespace GrooveLab.Music.Bars;

/// <summary>Composes many bars on several threads and gives them in order.</summary>
public static class AllBars
{
    /// <summary>Bars composed at a time: enough for several threads, few enough to be kept in memory.</summary>
    private const int Batch = 128;

    /// <summary>All bars of a source that ends, from its first bar or its lead-in on.</summary>
    /// <param name="source">The source; it is asked on several threads at once.</param>
    /// <param name="token">Stops the composing.</param>
    /// <returns>The bars in order, composed a batch at a time while they are taken.</returns>
    /// <exception cref="ArgumentException">The source has no end.</exception>
    /// <exception cref="OperationCanceledException">It was stopped.</exception>
    public static IEnumerable<Bar> Of(IBarSource source, CancellationToken token = default)
    {
        ArgumentNullException.ThrowIfNull(source);
        return Of(source, source.First, source.End ?? throw new ArgumentException("The bars have no end; give a source that ends.", nameof(source)), token);
    }

    /// <summary>The bars from a number up to another, in order.</summary>
    /// <param name="source">The source; it is asked on several threads at once.</param>
    /// <param name="from">The first bar.</param>
    /// <param name="end">The bar before which it ends.</param>
    /// <param name="token">Stops the composing.</param>
    /// <exception cref="OperationCanceledException">It was stopped.</exception>
    public static IEnumerable<Bar> Of(IBarSource source, int from, int end, CancellationToken token = default)
    {
        foreach (var batch in InBatches(source, from, end, token))
        {
            foreach (var bar in batch)
            {
                yield return bar;
            }
        }
    }

    internal static IEnumerable<Bar[]> InBatches(IBarSource source, int from, int end, CancellationToken token)
    {
        var options = new ParallelOptions { CancellationToken = token };
        for (var start = from; start < end; start += Batch)
        {
            var first = start;
            var bars = new Bar[Math.Min(Batch, end - first)];
            Parallel.For(0, bars.Length, options, i => bars[i] = source.BarAt(first + i));
            yield return bars;
        }
    }
}
