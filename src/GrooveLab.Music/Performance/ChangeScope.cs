using GrooveLab.Music.Charts;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Performance;

/// <summary>The section that a change is for, when it is not for the whole chart: "here" or "in verse".</summary>
/// <param name="Section">The section's name; null for the section that plays when the change is made.</param>
public sealed record ChangeScope(string? Section)
{
    private const string Now = "here";
    private const string In = " in ";

    /// <summary>The words after a change; empty for the whole chart.</summary>
    internal static string WordsOf(ChangeScope? scope) => scope is null ? string.Empty : scope.Section is null ? " " + Now : In + scope.Section;

    /// <summary>Takes the scope off the end of a change.</summary>
    /// <exception cref="ChangeRefusedException">It names no section.</exception>
    internal static (string Left, ChangeScope? Scope) Read(string text, PerformanceState state)
    {
        var body = text.Trim();
        if (body.Equals(Now, StringComparison.OrdinalIgnoreCase) || body.StartsWith(In.TrimStart(), StringComparison.OrdinalIgnoreCase))
        {
            throw new ChangeRefusedException($"{Words.Quote(body)} limits a change to a section; write the change before it");
        }

        if (body.EndsWith(In.TrimEnd(), StringComparison.OrdinalIgnoreCase))
        {
            throw new ChangeRefusedException($"give a section after 'in'; sections: {string.Join(", ", state.Chart.Sections.Select(section => section.Name))}");
        }

        if (body.EndsWith(" " + Now, StringComparison.OrdinalIgnoreCase))
        {
            return (body[..^(Now.Length + 1)].TrimEnd(), new ChangeScope((string?)null));
        }

        var at = body.IndexOf(In, StringComparison.OrdinalIgnoreCase);
        if (at < 0)
        {
            return (body, null);
        }

        var name = body[(at + In.Length)..].Trim();
        return (body[..at].TrimEnd(), new ChangeScope(Named(name, state.Chart).Name));
    }

    /// <summary>The bar for which the change is made: the one at a place, or the first of another section.</summary>
    /// <exception cref="ChangeRefusedException">The form does not play the section.</exception>
    internal static BarPlace BarOf(ChangeScope? scope, PerformanceState state, PerformancePlace place)
    {
        var now = state.BarAt(place);
        if (scope?.Section is null || string.Equals(now.Run.Section.Name, scope.Section, StringComparison.OrdinalIgnoreCase))
        {
            return now;
        }

        var name = Named(scope.Section, state.Chart).Name;
        var plan = state.PlanAt(place);
        foreach (var run in plan.Runs)
        {
            if (run.Section.Name == name)
            {
                return plan.BarAt(run.FirstBar);
            }
        }

        throw new ChangeRefusedException($"{Words.Quote(name)} is not in the form");
    }

    /// <summary>The chart with one section changed.</summary>
    internal static Chart With(Chart chart, int index, Func<Section, Section> change) =>
        chart with { Sections = [.. chart.Sections.Select((section, i) => i == index ? change(section) : section)] };

    private static Section Named(string name, Chart chart) =>
        chart.Sections.FirstOrDefault(section => string.Equals(section.Name, name, StringComparison.OrdinalIgnoreCase))
        ?? throw new ChangeRefusedException(Words.Unknown("section", name, chart.Sections.Select(section => section.Name)));
}
