namespace GrooveLab.Exchange.Charts;

/// <summary>A chart's text with a change written into it.</summary>
/// <param name="Document">The text; it reads as exactly the intended chart.</param>
/// <param name="IsReformatted">True when the whole text was laid out again; it keeps its remarks.</param>
/// <param name="Reasons">What could not be written in place, and why: sentences for the author of the text. Empty when only the changes
/// were written.</param>
public sealed record WrittenChart(ChartDocument Document, bool IsReformatted, IReadOnlyList<string> Reasons);
