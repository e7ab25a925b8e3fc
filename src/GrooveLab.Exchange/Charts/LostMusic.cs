using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>Written music that a changed chart no longer contains. Sections are paired as <see cref="ChartDifference"/> pairs them.</summary>
/// <param name="Sections">The names of the removed sections.</param>
/// <param name="Tunes">The names of the sections whose tune was removed although the lengths of their bars are the same.</param>
/// <param name="UnfitTunes">The names of the sections whose tune was removed and whose bars have other lengths, which it does not fit.</param>
public sealed record LostMusic(IReadOnlyList<string> Sections, IReadOnlyList<string> Tunes, IReadOnlyList<string> UnfitTunes)
{
    /// <summary>True if anything was removed.</summary>
    public bool IsAny => Sections.Count + Tunes.Count + UnfitTunes.Count > 0;

    /// <summary>Compares two charts.</summary>
    public static LostMusic Of(Chart before, Chart now)
    {
        var was = ChartTarget.SectionsBefore(before.Sections, now.Sections);
        var left = before.Sections.Where((_, index) => !was.Contains(index)).Select(section => section.Name).ToList();
        var dropped = now.Sections
            .Select((section, i) => (Before: was[i] is { } index ? before.Sections[index] : null, Now: section))
            .Where(pair => pair.Before?.Tune is not null && pair.Now.Tune is null)
            .ToLookup(pair => Lengths(pair.Before!).SequenceEqual(Lengths(pair.Now)), pair => pair.Now.Name);
        return new LostMusic(left, [.. dropped[true]], [.. dropped[false]]);
    }

    private static IEnumerable<Music.Time.Span> Lengths(Section section) => section.Bars.Select(bar => bar.Meter.Length);
}
