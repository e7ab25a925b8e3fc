using GrooveLab.Music.Analysis;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>The rhythm that a player tapped to a section, one tap for each note of its tune.</summary>
/// <param name="Change">The change that writes it.</param>
/// <param name="MeanError">Mean distance of the taps from their places without the mean lateness, in seconds.</param>
/// <param name="LargestError">The largest distance, in seconds.</param>
/// <param name="Lateness">How late the taps are on average, in seconds; early is negative.</param>
/// <param name="Unsure">The notes that might as well begin elsewhere, ascending from 0.</param>
public sealed record TappedRhythm(SetRhythm Change, double MeanError, double LargestError, double Lateness, IReadOnlyList<int> Unsure)
{
    /// <summary>The rhythm of taps. A note lasts until the next, or until a tap that ends it; if the next begins more than a bar later, and at the
    /// section's end, until the end of its bar.</summary>
    /// <param name="section">The section; has a tune.</param>
    /// <param name="taps">Taps that begin or end notes, ascending, from the section's first bar line; in a pickup negative.</param>
    /// <returns>Null if the taps are too close together to have different places.</returns>
    public static TappedRhythm? Of(Section section, IReadOnlyList<GridTap> taps)
    {
        if (TappedGrid.Find(taps, Units(section)) is not { } grid)
        {
            return null;
        }

        var lines = new List<Span> { Span.Zero };
        lines.AddRange(section.Bars.Select(bar => lines[^1] + bar.Meter.Length));
        var notes = new List<(Span Onset, Span Length)>();
        var (unsure, errors) = (new List<int>(), new List<double>());
        for (var i = 0; i < taps.Count; i++)
        {
            if (taps[i].EndsNote)
            {
                continue;
            }

            if (grid.Unsure.Contains(i))
            {
                unsure.Add(notes.Count);
            }

            errors.Add(Math.Abs(grid.Errors[i]));
            var onset = grid.Places[i];
            var bar = Math.Max(1, lines.FindIndex(line => line > onset));
            var ends = i + 1 < taps.Count ? grid.Places[i + 1] : lines[bar];
            var isFar = i + 1 < taps.Count && !taps[i + 1].EndsNote && ends - onset > section.Bars[bar - 1].Meter.Length;
            notes.Add((onset, (isFar ? lines[bar] : ends) - onset));
        }

        return new TappedRhythm(SetRhythm.Of(section.Name, notes), errors.Average(), errors.Max(), grid.Lateness, unsure);
    }

    // The bars, and before them the second half of a bar for a pickup.
    private static List<GridUnit> Units(Section section)
    {
        var units = new List<GridUnit>();
        var at = -section.Bars[0].Meter.Length;
        foreach (var bar in section.Bars.Prepend(section.Bars[0]))
        {
            var pairs = Pairs(bar.Meter);
            for (var unit = 0; unit < bar.Meter.Units; unit++)
            {
                if (at >= -section.Bars[0].Meter.Length / 2)
                {
                    units.Add(new GridUnit(at, bar.Meter.Unit, pairs.Contains(unit)));
                }

                at += bar.Meter.Unit;
            }
        }

        return units;
    }

    // The units with which the pairs of a group of two or four begin.
    private static HashSet<int> Pairs(BarMeter meter)
    {
        var pairs = new HashSet<int>();
        var at = 0;
        foreach (var group in meter.GroupSizes)
        {
            if (group is 2 or 4)
            {
                pairs.UnionWith(Enumerable.Range(0, group / 2).Select(pair => at + (2 * pair)));
            }

            at += group;
        }

        return pairs;
    }
}
