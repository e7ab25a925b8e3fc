using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>A measure of the score and what the band does in it.</summary>
/// <param name="Index">Its index in the score.</param>
/// <param name="Start">Its start, from the first bar line.</param>
/// <param name="Length">Its length.</param>
/// <param name="Meter">The meter.</param>
/// <param name="Key">The key.</param>
/// <param name="Bar">The bar that it shows.</param>
internal sealed record ScoreMeasure(int Index, Span Start, Span Length, BarMeter Meter, Key Key, Bar Bar)
{
    /// <summary>Where in its bar it begins; above zero for a pickup.</summary>
    public Span Offset { get; init; }

    /// <summary>The place of its bar in the plan; null for the pickup and the last, ringing bar.</summary>
    public BarPlace? Place { get; init; }

    /// <summary>True for the first measure of a run, and of the ringing bar.</summary>
    public bool StartsRun { get; init; }

    /// <summary>True for the measures of the last, ringing bar.</summary>
    public bool IsEnding { get; init; }

    /// <summary>True for the first bar with a bar line.</summary>
    public bool IsFirstBar { get; init; }

    /// <summary>True when the arrangement rises through it.</summary>
    public bool Rises => Place is not null && Bar.Tasks.DecibelsAfter > Bar.Tasks.Decibels + Audible;

    // Half a decibel in a bar.
    private const double Audible = 0.25;

    public Span End => Start + Length;
}
