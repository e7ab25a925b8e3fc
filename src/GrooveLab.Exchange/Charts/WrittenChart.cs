namespace GrooveLab.Exchange.Charts;

/// <summary>A chart's text with a change in it.</summary>
/// <param name="Document">The text; read, it gives exactly the chart that was meant.</param>
/// <param name="IsReformatted">True when the whole text had to be laid out again; its remarks are in it.</param>
/// <param name="Reasons">What could not be said in place, and why: sentences for whoever wrote the text. Empty when only what changed was touched.</param>
public sealed record WrittenChart(ChartDocument Document, bool IsReformatted, IReadOnlyList<string> Reasons);
