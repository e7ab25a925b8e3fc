using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;

namespace GrooveLab.Store;

/// <summary>
/// Writes what was changed while playing into the chart's own text. Levels and pans are written; what is muted, where the form stands and the level
/// of the whole are of the moment and are not.
/// </summary>
internal static class ChartSaver
{
    /// <summary>The text with the changes.</summary>
    /// <param name="document">The text that was opened.</param>
    /// <param name="opened">The state with which it was opened.</param>
    /// <param name="now">The state to write.</param>
    /// <exception cref="ChartProblemException">No text can say the chart.</exception>
    public static WrittenChart Written(ChartDocument document, PerformanceState opened, PerformanceState now) =>
        ChartDifference.Write(document, opened.Chart, AtTempo(now));

    /// <summary>The chart with the tempo as it sounds written into it; three decimals are more than anybody hears.</summary>
    public static Chart AtTempo(PerformanceState state) =>
        state.Chart.AtPace(state.Pace, largestDenominator: 1000);
}
