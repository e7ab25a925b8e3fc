using System.Diagnostics.CodeAnalysis;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>What came of reading a chart: the chart, or every problem that it has. Never both, never neither.</summary>
public sealed class ChartReadResult
{
    internal ChartReadResult(Chart chart, IReadOnlyList<FileProblem> remarks)
    {
        Chart = chart;
        Problems = [];
        Remarks = remarks;
    }

    internal ChartReadResult(IReadOnlyList<FileProblem> problems, IReadOnlyList<FileProblem> remarks)
    {
        Problems = problems;
        Remarks = remarks;
    }

    /// <summary>The chart; null when there are problems.</summary>
    public Chart? Chart { get; }

    /// <summary>The problems, sorted by their place in the file; empty when the chart was read.</summary>
    public IReadOnlyList<FileProblem> Problems { get; }

    /// <summary>
    /// What is allowed but unusual, such as a banjo that holds long notes, sorted by its place; not problems: a chart is read in spite of them.
    /// </summary>
    public IReadOnlyList<FileProblem> Remarks { get; }

    /// <summary>True when there is a chart.</summary>
    [MemberNotNullWhen(true, nameof(Chart))]
    public bool IsChart => Chart is not null;
}
