namespace GrooveLab.Exchange.Midi;

/// <summary>Exact time through tempo changes: the length of a tick from each change on. Time is counted in whole numbers, in the unit of
/// the tick length, which the caller chooses.</summary>
/// <remarks>
/// A decimal holds whole numbers up to 2^96 exactly. A 128-bit integer would hold more, but no method that uses one can be precompiled, so that
/// reading a MIDI file would begin with compiling.
/// </remarks>
internal sealed class TempoStretches
{
    private readonly List<(long Tick, decimal Time, int PerTick)> _stretches = [];

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
    public decimal TimeAt(long tick)
    {
        var (from, time, perTick) = _stretches[Last(stretch => stretch.Tick <= tick)];
        return time + ((decimal)(tick - from) * perTick);
    }

    /// <summary>The tick nearest to a time; halves round up to the later one.</summary>
    public long TickAt(decimal time)
    {
        var (from, start, perTick) = _stretches[Last(stretch => stretch.Time <= time)];
        var twice = (2 * (time - start)) + perTick;
        var rest = twice % (2 * perTick);
        var ticks = (twice - rest) / (2 * perTick);
        return from + (long)(rest < 0 ? ticks - 1 : ticks);
    }

    // The last stretch that has started; the first if none has.
    private int Last(Func<(long Tick, decimal Time, int PerTick), bool> hasBegun)
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
