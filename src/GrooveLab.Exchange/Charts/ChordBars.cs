using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads a section's chords in a file: <see cref="ChordMarks"/> with the places of the file.</summary>
internal static class ChordBars
{
    /// <summary>Reads bars; what is wrong is told.</summary>
    /// <param name="text">The chords.</param>
    /// <param name="meters">The section's meters, which go round bar by bar; null when they are not known.</param>
    /// <param name="bars">How many bars the section has and where it says so; the chords go round until then.</param>
    /// <param name="problems">Takes what is wrong.</param>
    /// <returns>The bars, their places being those in the file.</returns>
    public static ChordMarks.Result Read(TomlString text, IReadOnlyList<BarMeter>? meters, (int Count, int Place)? bars, Problems problems)
    {
        var read = ChordMarks.Read(
            text.Value, meters, bars?.Count, (index, what, accepted) => problems.Add(index < 0 ? bars!.Value.Place : text.PlaceOf(index), what, accepted));
        return read with { Places = [.. read.Places.Select(text.PlaceOf)] };
    }
}
