using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Charts;

/// <summary>The meters of a section that go round bar by bar.</summary>
public static class MeterRound
{
    /// <summary>The shortest list of meters that goes round bar by bar, inserted bars left out; where all are inserted, the first one's.</summary>
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
