using System.Diagnostics.CodeAnalysis;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>The result of reading a chart: either the chart or all its problems.</summary>
public sealed class ChartReadResult
{
    internal ChartReadResult(Chart chart, IReadOnlyList<FileProblem> remarks)
    {
        Chart = chart;
        Title = chart.Title;
        Problems = [];
        Remarks = remarks;
    }

    internal ChartReadResult(IReadOnlyList<FileProblem> problems, IReadOnlyList<FileProblem> remarks, string? title = null)
    {
        Title = title;
        Problems = problems;
        Remarks = remarks;
    }

    /// <summary>The chart; null when there are problems.</summary>
    public Chart? Chart { get; }

    /// <summary>The chart's title, also when the chart has problems; null if the title cannot be read.</summary>
    public string? Title { get; }

    /// <summary>The problems, sorted by their place in the file; empty when the chart was read.</summary>
    public IReadOnlyList<FileProblem> Problems { get; }

    /// <summary>Warnings about what is allowed but unusual, such as a banjo that holds long notes, sorted by place; the chart is read
    /// nevertheless.</summary>
    public IReadOnlyList<FileProblem> Remarks { get; }

    /// <summary>True when the chart was read.</summary>
    [MemberNotNullWhen(true, nameof(Chart))]
    public bool IsChart => Chart is not null;
}
