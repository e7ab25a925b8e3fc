using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>
/// The items of a run by the bar in which they start, in their own order: a bar is written without looking at all the others.
/// </summary>
internal sealed class ByBar<T>
{
    private readonly IReadOnlyList<T> _items;
    private readonly List<int>?[] _bars;

    /// <summary>Sorts items; those before the run's first bar line or after its end are in no bar.</summary>
    public ByBar(RunOutline outline, IReadOnlyList<T> items, Func<T, Span> onset)
    {
        _items = items;
        _bars = new List<int>?[outline.Places.Length];
        for (var i = 0; i < items.Count; i++)
        {
            var at = onset(items[i]);
            if (at >= Span.Zero && at < outline.Length)
            {
                (_bars[outline.BarAt(at)] ??= []).Add(i);
            }
        }
    }

    /// <summary>The items that start in a bar of the run, each with its index among all.</summary>
    public IEnumerable<(int Index, T Item)> In(int barInRun) => (_bars[barInRun] ?? []).Select(index => (index, _items[index]));
}
