namespace GrooveLab.Music.Charts;

/// <summary>What the arrangement asks of the band in one bar. Immutable.</summary>
/// <param name="Energy">The energy of the bar, 1 (least) to 5 (most); 3 without an arrangement.</param>
/// <param name="Tasks">A task for each part of the band, in its order.</param>
/// <param name="Decibels">How much louder than by itself the band plays; negative for softer. 0 without an arrangement.</param>
public sealed record BarTasks(int Energy, IReadOnlyList<PartTask> Tasks, double Decibels)
{
    /// <summary>The energy without an arrangement.</summary>
    public const int Usual = 3;

    /// <summary>A bar in which every part of a band plays as it does by itself.</summary>
    public static BarTasks None(int parts) => new(Usual, [.. Enumerable.Repeat(PartTask.Plays, parts)], 0);
}
