using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>A key in which a tune fits a singer's range.</summary>
/// <param name="Up">Half steps up from the written key; negative for down.</param>
/// <param name="Key">The key.</param>
public readonly record struct SuggestedKey(int Up, Key Key);

/// <summary>The singer's view of a tune: its range, and keys for a given range.</summary>
public static class SingersKeys
{
    // Two octaves each way: a tune for a low voice may be brought to a high one.
    private const int Furthest = 24;

    /// <summary>The range of a chart's tune over its whole form, and where it mostly lies: the notes of the middle half of its sounding
    /// time.</summary>
    /// <returns>Null if the chart has no tune.</returns>
    public static SingersView? Of(Chart chart)
    {
        var plays = new int[chart.Sections.Count];
        foreach (var step in chart.Form)
        {
            plays[step.Section] += step.Times;
        }

        var times = new SortedDictionary<int, (Pitch Pitch, Span Time)>();
        var (lowest, highest) = ((Pitch?)null, (Pitch?)null);
        for (var i = 0; i < plays.Length; i++)
        {
            var tunes = chart.Sections[i].Endings.Select(ending => ending.Tune).Prepend(chart.Sections[i].Tune);
            foreach (var note in tunes.OfType<Tune>().SelectMany(tune => tune.Notes))
            {
                var (pitch, time) = times.GetValueOrDefault(note.Pitch.Midi, (note.Pitch, Span.Zero));
                times[note.Pitch.Midi] = (pitch, time + (note.Length * Math.Max(1, plays[i])));
                lowest = lowest is null || note.Pitch.Midi < lowest.Value.Midi ? note.Pitch : lowest;
                highest = highest is null || note.Pitch.Midi > highest.Value.Midi ? note.Pitch : highest;
            }
        }

        if (lowest is null || highest is null)
        {
            return null;
        }

        var all = times.Values.Aggregate(Span.Zero, (sum, one) => sum + one.Time);
        return new SingersView(lowest.Value, highest.Value, At(all / 4, after: true), At(all * 3 / 4, after: false));

        // The note that sounds at a place when all notes are laid end to end, from low to high.
        Pitch At(Span place, bool after)
        {
            var at = Span.Zero;
            foreach (var (pitch, time) in times.Values)
            {
                at += time;
                if (after ? at > place : at >= place)
                {
                    return pitch;
                }
            }

            return highest.Value;
        }
    }

    /// <summary>The keys in which a tune lies inside a range, the nearest first; of two equally near ones the higher.</summary>
    /// <param name="view">The tune.</param>
    /// <param name="key">Its key.</param>
    /// <param name="low">The singer's lowest note.</param>
    /// <param name="high">The singer's highest note.</param>
    /// <returns>Empty if the tune has a wider range than the singer.</returns>
    public static IReadOnlyList<SuggestedKey> Suggested(SingersView view, Key key, Pitch low, Pitch high) =>
    [
        .. Enumerable.Range(-Furthest, (2 * Furthest) + 1)
            .Where(up => view.Lowest.Midi + up >= low.Midi && view.Highest.Midi + up <= high.Midi)
            .OrderBy(up => Math.Abs(up)).ThenByDescending(up => up)
            .Select(up => new SuggestedKey(up, key.Up(up))),
    ];
}
