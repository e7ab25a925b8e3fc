using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Arrangement;

/// <summary>The plan of an arrangement over the form: what each part does in each playing of each section. Pure: made from the chart's
/// form, its band and the end alone.</summary>
public sealed class ArrangementPlan
{
    private readonly BarTasks _none;

    /// <summary>Makes the plan.</summary>
    /// <param name="form">The form.</param>
    /// <param name="parts">The band.</param>
    /// <param name="bars">The number of bars after which the piece ends; null while no end is known.</param>
    public ArrangementPlan(FormPlan form, IReadOnlyList<Part> parts, int? bars)
    {
        Form = form;
        Bars = bars;
        _none = BarTasks.None(parts.Count);
    }

    /// <summary>The form.</summary>
    public FormPlan Form { get; }

    /// <summary>The number of bars after which the piece ends; null while no end is known.</summary>
    public int? Bars { get; }

    /// <summary>What it asks in a bar.</summary>
    /// <param name="place">The bar.</param>
    /// <param name="playing">Number of earlier playings of its section, rounds of a loop or vamp included.</param>
    public BarTasks TasksIn(BarPlace place, int playing) => _none;
}
