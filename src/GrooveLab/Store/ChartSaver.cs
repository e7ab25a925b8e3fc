using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;

namespace GrooveLab.Store;

/// <summary>
/// Writes the changes made while playing into the chart's own text. Levels and pans are saved; mutes, the place in the form and the
/// overall level are not.
/// </summary>
internal static class ChartSaver
{
    /// <summary>The text with the changes.</summary>
    /// <param name="document">The text that was opened.</param>
    /// <param name="opened">The state when it was opened.</param>
    /// <param name="now">The state to write.</param>
    /// <exception cref="ChartProblemException">The chart cannot be written as text.</exception>
    public static WrittenChart Written(ChartDocument document, PerformanceState opened, PerformanceState now) =>
        ChartDifference.Write(document, opened.Chart, AtTempo(now));

    /// <summary>The chart with the current tempo; five decimals play as what was heard.</summary>
    public static Chart AtTempo(PerformanceState state) =>
        state.Chart.AtPace(state.Pace, largestDenominator: 100_000);
}
