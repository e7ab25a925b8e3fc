using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads a section's chords in a file: <see cref="ChordMarks"/> with places in the file.</summary>
internal static class ChordBars
{
    /// <summary>Reads bars and reports problems.</summary>
    /// <param name="text">The chords.</param>
    /// <param name="meters">The section's meters, which repeat bar by bar; null if unknown.</param>
    /// <param name="bars">The number of bars of the section and its place, if written; the chords repeat to fill them.</param>
    /// <param name="problems">Receives the problems.</param>
    /// <returns>The bars, with places in the file.</returns>
    public static ChordMarks.Result Read(TomlString text, IReadOnlyList<BarMeter>? meters, (int Count, int Place)? bars, Problems problems)
    {
        var read = ChordMarks.Read(
            text.Value, meters, bars?.Count, (index, what, accepted) => problems.Add(index < 0 ? bars!.Value.Place : text.PlaceOf(index), what, accepted));
        return read with { Places = [.. read.Places.Select(text.PlaceOf)] };
    }
}
