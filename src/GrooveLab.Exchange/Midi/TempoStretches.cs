namespace GrooveLab.Exchange.Midi;

/// <summary>Exact time through tempo changes: the length of a tick from each change on. Time is counted in whole numbers, in the unit of
/// the tick length, which the caller chooses.</summary>
internal sealed class TempoStretches
{
    private readonly List<(long Tick, Int128 Time, int PerTick)> _stretches = [];

    /// <summary>The changes: the start tick, the length of a tick from there.</summary>
    public IEnumerable<(long Tick, int PerTick)> All => _stretches.Select(stretch => (stretch.Tick, stretch.PerTick));

    /// <summary>Adds a change: from a tick on, not before the last change, a tick has this length; of two changes on one tick the later
    /// one wins. Time starts at the first change.</summary>
    public void Change(long tick, int perTick)
    {
        if (_stretches.Count == 0)
        {
            _stretches.Add((tick, 0, perTick));
        }
        else if (_stretches[^1].PerTick != perTick)
        {
            var change = (tick, TimeAt(tick), perTick);
            if (_stretches[^1].Tick == tick)
            {
                _stretches[^1] = change;
            }
            else
            {
                _stretches.Add(change);
            }
        }
    }

    /// <summary>The time of a tick; negative before the first change.</summary>
    public Int128 TimeAt(long tick)
    {
        var (from, time, perTick) = _stretches[Last(stretch => stretch.Tick <= tick)];
        return time + ((Int128)(tick - from) * perTick);
    }

    /// <summary>The tick nearest to a time; halves round up to the later one.</summary>
    public long TickAt(Int128 time)
    {
        var (from, start, perTick) = _stretches[Last(stretch => stretch.Time <= time)];
        var twice = (2 * (time - start)) + perTick;
        var ticks = twice / (2 * perTick);
        return from + (long)(twice < 0 && twice % (2 * perTick) != 0 ? ticks - 1 : ticks);
    }

    // The last stretch that has started; the first if none has.
    private int Last(Func<(long Tick, Int128 Time, int PerTick), bool> hasBegun)
    {
        var low = 0;
        var high = _stretches.Count - 1;
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            if (hasBegun(_stretches[middle]))
            {
                low = middle;
            }
            else
            {
                high = middle - 1;
            }
        }

        return low;
    }
}
