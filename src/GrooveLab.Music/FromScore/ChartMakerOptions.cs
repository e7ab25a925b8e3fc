using GrooveLab.Music.Band;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>What the chart maker is told besides the score.</summary>
/// <param name="Catalogue">The instruments of which the band is made.</param>
public sealed record ChartMakerOptions(InstrumentCatalogue Catalogue)
{
    /// <summary>The part with the tune: its id, its name, or its number from 1; null to choose it.</summary>
    public string? Part { get; init; }

    /// <summary>Whether a chart can express a mark on a note; others are reported. By default none.</summary>
    public Func<Mark, bool> KeepsMark { get; init; } = _ => false;

    /// <summary>Adds chords to a score that has none; null leaves it without chords.</summary>
    public Func<WrittenMusic, WrittenMusic>? AddChords { get; init; }

    /// <summary>The title if the score has none.</summary>
    public string Title { get; init; } = "Untitled";

    /// <summary>Quarter notes per minute if the score has no tempo.</summary>
    public Rational Quarters { get; init; } = 100;
}
