using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Charts;

/// <summary>The meters of a section that repeat bar by bar.</summary>
public static class MeterRound
{
    /// <summary>The shortest list of meters that repeats bar by bar, without inserted bars; if all are inserted, the meter of the
    /// first.</summary>
    public static IReadOnlyList<BarMeter> Of(IReadOnlyList<ChartBar> bars)
    {
        var meters = bars.Where(bar => !bar.Inserted).Select(bar => bar.Meter).ToList();
        for (var size = 1; size < meters.Count; size++)
        {
            if (Enumerable.Range(size, meters.Count - size).All(i => meters[i] == meters[i - size]))
            {
                return meters[..size];
            }
        }

        return meters.Count > 0 ? meters : [bars[0].Meter];
    }
}
