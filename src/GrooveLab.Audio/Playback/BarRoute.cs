using GrooveLab.Music.Score;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Which bars of a source are played, in which order: from one bar on, up to an end, or around in a loop. A pure plan, without a clock.
/// </summary>
/// <param name="Source">Where the bars come from.</param>
/// <param name="From">The first bar played.</param>
/// <param name="Until">The bar before which it ends, when sooner than the source's own end.</param>
/// <param name="Loop">Bars played again and again: from the first, up to, not including, the second.</param>
public sealed record BarRoute(IBarSource Source, int From, int? Until = null, (int From, int End)? Loop = null)
{
    /// <summary>All of a source, its lead-in included.</summary>
    public static BarRoute Whole(IBarSource source) => new(source, source.First);

    /// <summary>The bar after one; a bar that the route does not have (<see cref="Has"/>) means that it is over.</summary>
    public int After(int index) => Loop is { } loop && index + 1 == loop.End && loop.From < loop.End ? loop.From : index + 1;

    /// <summary>Whether there is a bar of that number to play.</summary>
    public bool Has(int index) =>
        index >= Source.First && (Source.End is not { } end || index < end) && (Until is not { } until || index < until);
}
