using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Bars;

/// <summary>
/// Which bars of a source are played, in which order: from one bar on, up to an end, or around in a loop. A pure plan, without a clock.
/// </summary>
/// <remarks>
/// Whoever leads a performance may plan more in a record of its own (a jump after a certain bar of the performance, a bar that is held):
/// it answers for a bar's number together with its ordinal, the bars of the performance counted as they are played. It must be pure too.
/// </remarks>
/// <param name="Source">Where the bars come from.</param>
/// <param name="From">The first bar played.</param>
/// <param name="Until">The bar before which it ends, when sooner than the source's own end.</param>
/// <param name="Loop">Bars played again and again; from a bar outside it goes on at their first. Null for none.</param>
public record BarRoute(IBarSource Source, int From, int? Until = null, BarLoop? Loop = null)
{
    /// <summary>All of a source, its lead-in included.</summary>
    public static BarRoute Whole(IBarSource source) => new(source, source.First);

    /// <summary>The bar after one; a bar that the route does not have (<see cref="Has"/>) means that it is over.</summary>
    /// <param name="index">The bar's number in the source.</param>
    /// <param name="ordinal">Which bar of the performance it is, from 0.</param>
    public virtual int After(int index, int ordinal) => Loop?.After(index) ?? index + 1;

    /// <summary>Where the route takes over from another one, whose bar of that number was the last.</summary>
    /// <param name="before">The route so far.</param>
    /// <param name="index">The last bar's number in the source of the route so far.</param>
    /// <param name="ordinal">Which bar of the performance it is.</param>
    public virtual int TakeOver(BarRoute before, int index, int ordinal) => After(index, ordinal);

    /// <summary>A bar as it is played at that place of the performance.</summary>
    public virtual Bar BarAt(int index, int ordinal) => Source.BarAt(index);

    /// <summary>Whether there is a bar of that number to play.</summary>
    public bool Has(int index) =>
        index >= Source.First && (Source.End is not { } end || index < end) && (Until is not { } until || index < until);
}
