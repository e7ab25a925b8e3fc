using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Tests.Charts;
using Xunit;

namespace GrooveLab.Music.Tests.Performance;

public sealed class PerformanceStateTests
{
    // Once a bug: the tempo of the hold itself, because a bar of one unit has no other.
    [Fact]
    public void TempoIn_HeldBarOfOneUnit_IsTheTempoThatItWouldHaveWithoutTheHold()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("1/4", "Am", "Am")) with { HoldSeconds = 10 });
        var state = PerformanceState.Opening(chart, new InstrumentCatalogue([]));
        Assert.Equal(BandStop.Hold, state.Plan.BarAt(1).Stop);
        Assert.Equal(state.TempoIn(state.Plan.BarAt(0), 0), state.TempoIn(state.Plan.BarAt(1), 1));
    }
}
