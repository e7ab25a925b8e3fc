using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Bars;

/// <summary>Which bars of a source are played and in which order: from a first bar to an end, or in a loop. A pure plan, without a
/// clock.</summary>
/// <remarks>A derived record may plan more (a jump after a certain bar of the performance, a held bar): it answers for a bar's number
/// together with its ordinal, the count of bars played so far. It must be pure too.</remarks>
/// <param name="Source">The source of the bars.</param>
/// <param name="From">The first bar played.</param>
/// <param name="Until">The bar before which it ends, if earlier than the end of the source.</param>
/// <param name="Loop">Bars to repeat; from a bar outside the loop it continues at the loop's first bar. Null for no loop.</param>
public record BarRoute(IBarSource Source, int From, int? Until = null, BarLoop? Loop = null)
{
    /// <summary>The whole source, including its lead-in.</summary>
    public static BarRoute Whole(IBarSource source) => new(source, source.First);

    /// <summary>The number of the next bar; a number outside the route (<see cref="Has"/>) ends it.</summary>
    /// <param name="index">The bar's number in the source.</param>
    /// <param name="ordinal">Which bar of the performance it is, from 0.</param>
    public virtual int After(int index, int ordinal) => Loop?.After(index) ?? index + 1;

    /// <summary>The bar at which this route continues after the last bar of another route.</summary>
    /// <param name="before">The route so far.</param>
    /// <param name="index">The last bar's number in the source of the route so far.</param>
    /// <param name="ordinal">Which bar of the performance it is.</param>
    public virtual int TakeOver(BarRoute before, int index, int ordinal) => After(index, ordinal);

    /// <summary>The bar as played at that place of the performance.</summary>
    public virtual Bar BarAt(int index, int ordinal) => Source.BarAt(index);

    /// <summary>True when the route has a bar of that number.</summary>
    public bool Has(int index) =>
        index >= Source.First && (Source.End is not { } end || index < end) && (Until is not { } until || index < until);
}
