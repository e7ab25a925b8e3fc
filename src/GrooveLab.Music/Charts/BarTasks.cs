namespace GrooveLab.Music.Charts;

/// <summary>What the arrangement asks of the band in one bar. Immutable.</summary>
/// <param name="Energy">The energy of the section as played, 1 (least) to 5 (most); 3 without an arrangement.</param>
/// <param name="Tasks">A task for each part of the band, in its order.</param>
/// <param name="Decibels">How much louder than by itself the band plays at the bar line; negative for softer. 0 without an
/// arrangement.</param>
/// <param name="DecibelsAfter">The same at the end of the bar: between the two the level changes evenly.</param>
public sealed record BarTasks(int Energy, IReadOnlyList<PartTask> Tasks, double Decibels, double DecibelsAfter)
{
    /// <summary>The energy without an arrangement.</summary>
    public const int Usual = 3;

    /// <summary>The least and the greatest energy.</summary>
    public const int Least = 1, Most = 5;

    /// <summary>A bar in which every part of a band plays as it does by itself.</summary>
    public static BarTasks None(int parts) => new(Usual, [.. Enumerable.Repeat(PartTask.Plays, parts)], 0, 0);
}
