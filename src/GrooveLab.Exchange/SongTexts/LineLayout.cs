using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.SongTexts;

/// <summary>A chord in time.</summary>
/// <param name="Unit">Units from the start of the line.</param>
/// <param name="Chord">The chord.</param>
internal readonly record struct PlacedChord(int Unit, ChordSymbol Chord);

/// <summary>A note of a line, for one syllable or more verses' syllables.</summary>
/// <param name="Step">Steps from the start of the line; negative before its first bar line.</param>
/// <param name="Syllables">The syllable of each verse; null where the verse has none here.</param>
internal sealed record PlacedNote(int Step, TextSyllable?[] Syllables);

/// <summary>A line of words in time: its bars, chords and notes.</summary>
/// <param name="Bars">Number of bars.</param>
/// <param name="StepsInUnit">Steps in a unit: 1, 2 or 4.</param>
/// <param name="Chords">The chords.</param>
/// <param name="Notes">The notes, in order.</param>
/// <param name="EndStep">Where the last note ends.</param>
internal sealed record PlacedLine(int Bars, int StepsInUnit, IReadOnlyList<PlacedChord> Chords, IReadOnlyList<PlacedNote> Notes, int EndStep);

/// <summary>Puts a line of words into bars: a syllable under a chord falls on the chord, those between are spread evenly, those before the first chord
/// lead into the line.</summary>
internal static class LineLayout
{
    /// <summary>The finest step, in parts of a unit.</summary>
    private const int FinestStep = 4;

    // A place in time that a syllable is tied to.
    private readonly record struct Anchor(int Column, int Unit);

    /// <summary>How many bars a line takes that has no bar lines.</summary>
    /// <param name="lines">The lines without bar lines.</param>
    /// <param name="meter">The meter.</param>
    public static int UsualBars(IReadOnlyList<SongLine> lines, BarMeter meter)
    {
        var counts = lines.Select(line => line.Chords.Count).Where(count => count > 0).Order().ToList();
        var chords = counts.Count == 0 ? 1 : counts[counts.Count / 2];
        var syllables = lines.Select(line => line.Syllables.Count).Order().ToList();
        var most = syllables.Count == 0 ? 0 : syllables[(syllables.Count - 1) * 9 / 10];
        var bars = 1;
        while (bars < 16 && (bars < chords || bars * meter.Signature.Numerator < most))
        {
            bars *= 2;
        }

        return bars;
    }

    /// <summary>True when a bar has more chords than units.</summary>
    public static bool IsCrowded(SongLine line, BarMeter meter) =>
        line.Chords.Any(chord => chord.IsBarLine) && Barred(line, meter).Chords.GroupBy(chord => chord.Unit).Any(unit => unit.Count() > 1);

    /// <summary>The number of pickup syllables: those before the first chord.</summary>
    public static int Pickups(SongLine line)
    {
        var first = line.Chords.Count == 0 ? 0 : FirstUnder(line, line.Chords[0].Column);
        return first < line.Syllables.Count ? first : 0;
    }

    /// <summary>Puts a line into time.</summary>
    /// <param name="verses">The line in each verse, with the chords that apply to it.</param>
    /// <param name="meter">The meter.</param>
    /// <param name="bars">Bars of the line if it has no bar lines.</param>
    /// <param name="roomUnits">Units at the end of the line to leave free for what leads into the next.</param>
    /// <returns>The line; null when its syllables do not fit.</returns>
    public static PlacedLine? Of(IReadOnlyList<SongLine> verses, BarMeter meter, int bars, int roomUnits)
    {
        var inBar = meter.Signature.Numerator;
        var (count, anchors, chords) = Anchors(verses[0], meter, bars);
        var total = count * inBar;
        var own = verses.Select(line => line == verses[0] ? anchors : Anchors(line, meter, bars).Anchors).ToList();
        for (var steps = 1; steps <= FinestStep; steps *= 2)
        {
            if (Notes(verses, own, meter, total, steps, roomUnits) is { } notes)
            {
                var room = Math.Min(Math.Max(roomUnits * steps, 0), total * steps / 2);
                var end = notes.Count == 0 ? 0 : Math.Max(notes[^1].Step + 1, (total * steps) - room);
                return new PlacedLine(count, steps, chords, notes, end);
            }
        }

        return null;
    }

    private static List<PlacedNote>? Notes(IReadOnlyList<SongLine> verses, List<IReadOnlyList<Anchor>> anchors, BarMeter meter, int total, int steps, int roomUnits)
    {
        // The syllables of each verse in each stretch of time: before the line, then from anchor to anchor.
        var starts = anchors[0].Select(anchor => anchor.Unit).ToList();
        var groups = verses.Select((line, verse) => Stretches(line, anchors[verse])).ToList();
        var notes = new List<PlacedNote>();
        var pickup = groups.Max(group => group[0].Count);
        for (var i = 0; i < pickup; i++)
        {
            notes.Add(new PlacedNote(i - pickup, [.. groups.Select(group => i - pickup + group[0].Count is >= 0 and var at ? group[0][at] : null)]));
        }

        // Longer upbeats than half of what the line before can spare must be faster.
        if (pickup > Math.Max(1, roomUnits) * steps)
        {
            return null;
        }

        for (var stretch = 0; stretch < starts.Count; stretch++)
        {
            var from = starts[stretch] * steps;
            var isLast = stretch + 1 == starts.Count;
            var to = (isLast ? total : starts[stretch + 1]) * steps;
            var most = groups.Max(group => group[stretch + 1].Count);
            if (most == 0)
            {
                continue;
            }

            var space = to - from;
            if (isLast)
            {
                // Room to breathe and for the next line's upbeat.
                var quiet = Math.Max(roomUnits * steps, space / 4);
                space = space - quiet >= most ? space - quiet : space - (roomUnits * steps);
            }

            if (space < most)
            {
                return null;
            }

            var places = Spread(most, from, space, steps, meter);
            for (var i = 0; i < most; i++)
            {
                var note = i;
                notes.Add(new PlacedNote(places[i], [.. groups.Select(group => At(group[stretch + 1], note, most))]));
            }
        }

        return notes;
    }

    // Even places, each drawn to a bar line, a group start or a unit near it; the first stays. The best by dynamic programming over
    // (syllable, place).
    private static int[] Spread(int count, int from, int space, int steps, BarMeter meter)
    {
        double Weakness(int step)
        {
            var inBar = step % (meter.Signature.Numerator * steps);
            return inBar == 0 ? 0
                : inBar % steps != 0 ? 1
                : !meter.Grouping.IsUndivided && meter.Grouping.GroupStarts().Contains(inBar / steps) ? 0.15
                : 0.4;
        }

        var weakness = Enumerable.Range(0, space).Select(at => Weakness(from + at)).ToArray();
        var cost = new double[count, space];
        var before = new int[count, space];
        for (var i = 0; i < count; i++)
        {
            var (bestCost, bestAt) = (double.PositiveInfinity, -1);
            for (var at = 0; at < space; at++)
            {
                if (i > 0 && at > 0 && cost[i - 1, at - 1] < bestCost)
                {
                    (bestCost, bestAt) = (cost[i - 1, at - 1], at - 1);
                }

                var own = weakness[at] + (Math.Abs(at - (i * (double)space / count)) * count / space);
                (cost[i, at], before[i, at]) = i == 0 ? (at == 0 ? 0 : double.PositiveInfinity, -1) : (bestCost + own, bestAt);
            }
        }

        var result = new int[count];
        var place = Enumerable.Range(0, space).MinBy(at => cost[count - 1, at]);
        for (var i = count - 1; i >= 0; i--)
        {
            result[i] = from + place;
            place = before[i, place];
        }

        return result;
    }

    // The syllable of a verse with fewer syllables than notes: spread over them, the first on the first.
    private static TextSyllable? At(List<TextSyllable> syllables, int note, int notes)
    {
        for (var i = 0; i < syllables.Count; i++)
        {
            if (i * notes / syllables.Count == note)
            {
                return syllables[i];
            }
        }

        return null;
    }

    private static List<List<TextSyllable>> Stretches(SongLine line, IReadOnlyList<Anchor> anchors)
    {
        var result = new List<List<TextSyllable>> { new() };
        var owner = new int[line.Syllables.Count];
        Array.Fill(owner, -1);
        var last = -1;
        for (var i = 0; i < anchors.Count; i++)
        {
            var first = FirstUnder(line, anchors[i].Column);

            // Of two chords over one syllable the first has it; the other sounds while it is held.
            if (first > last && first < owner.Length)
            {
                Array.Fill(owner, i, first, owner.Length - first);
                last = first;
            }

            result.Add([]);
        }

        for (var i = 0; i < owner.Length; i++)
        {
            result[owner[i] + 1].Add(line.Syllables[i]);
        }

        // A line whose first anchor has no syllable at all begins on it.
        if (anchors.Count > 0 && result[0].Count == line.Syllables.Count)
        {
            (result[0], result[1]) = (result[1], result[0]);
        }

        return result;
    }

    // The syllable under a column, or the next one.
    private static int FirstUnder(SongLine line, int column)
    {
        for (var i = 0; i < line.Syllables.Count; i++)
        {
            if (line.Syllables[i].End > column)
            {
                return i;
            }
        }

        return line.Syllables.Count;
    }

    private static (int Bars, IReadOnlyList<Anchor> Anchors, IReadOnlyList<PlacedChord> Chords) Anchors(SongLine line, BarMeter meter, int bars)
    {
        if (line.Chords.Any(chord => chord.IsBarLine))
        {
            return Barred(line, meter);
        }

        if (line.Chords.Count == 0)
        {
            return (bars, [new Anchor(0, 0)], []);
        }

        var inBar = meter.Signature.Numerator;
        var places = Places(line.Chords.Count, bars, meter);
        var anchors = line.Chords.Select((chord, i) => new Anchor(chord.Column, places[i])).ToList();
        return ((places[^1] / inBar) + 1 > bars ? (places[^1] / inBar) + 1 : bars, anchors,
            [.. line.Chords.Select((chord, i) => (chord, i)).Where(one => one.chord.Chord is not null).Select(one => new PlacedChord(places[one.i], one.chord.Chord!))]);
    }

    // Chords without bar lines: evenly on bars if they fit, otherwise on groups, otherwise on units; the first on the first.
    private static int[] Places(int chords, int bars, BarMeter meter)
    {
        var inBar = meter.Signature.Numerator;
        var starts = meter.Grouping.IsUndivided ? [0] : meter.Grouping.GroupStarts().ToList();
        var grid = chords <= bars ? Enumerable.Range(0, bars).Select(bar => bar * inBar).ToList()
            : chords <= bars * starts.Count ? [.. Enumerable.Range(0, bars).SelectMany(bar => starts.Select(start => (bar * inBar) + start))]
            : chords <= bars * inBar ? [.. Enumerable.Range(0, bars * inBar)]
            : Enumerable.Range(0, chords).Select(bar => bar * inBar).ToList();
        return [.. Enumerable.Range(0, chords).Select(i => grid[i * grid.Count / chords])];
    }

    private static (int Bars, IReadOnlyList<Anchor> Anchors, IReadOnlyList<PlacedChord> Chords) Barred(SongLine line, BarMeter meter)
    {
        var inBar = meter.Signature.Numerator;
        var bars = new List<(int Column, List<ChordAbove> Marks)>();
        int? open = line.Chords[0].IsBarLine ? null : 0;
        var marks = new List<ChordAbove>();
        void Close(int next)
        {
            if (open is { } column && marks.Count > 0)
            {
                bars.Add((column, marks));
            }

            (open, marks) = (next, []);
        }

        foreach (var chord in line.Chords)
        {
            if (chord.IsBarLine)
            {
                Close(chord.Column);
            }
            else
            {
                marks.Add(chord);
            }
        }

        Close(int.MaxValue);
        var anchors = new List<Anchor>();
        var chords = new List<PlacedChord>();
        for (var bar = 0; bar < bars.Count; bar++)
        {
            var starts = meter.Grouping.IsUndivided ? [0] : meter.Grouping.GroupStarts().ToList();
            var here = bars[bar].Marks;
            var units = UnitsInBar(here.Count, inBar, starts);
            for (var i = 0; i < here.Count; i++)
            {
                var unit = (bar * inBar) + units[i];

                // The first bar line of a line stands where the bar begins, its chord a little behind.
                anchors.Add(new Anchor(bar == 0 && i == 0 && line.Chords[0].IsBarLine ? line.Chords[0].Column : here[i].Column, unit));
                if (here[i].Chord is { } chord)
                {
                    chords.Add(new PlacedChord(unit, chord));
                }
            }
        }

        return (Math.Max(1, bars.Count), anchors, chords);
    }

    // Chords change with the groups as far as there are enough of them: each at the start nearest to its even place.
    private static int[] UnitsInBar(int chords, int inBar, List<int> starts)
    {
        var units = new int[chords];
        var next = 0;
        for (var i = 0; i < chords; i++)
        {
            if (chords > starts.Count)
            {
                units[i] = Math.Min(i * inBar / chords, inBar - 1);
                continue;
            }

            var chord = i;
            var index = Enumerable.Range(next, starts.Count - (chords - i) - next + 1).MinBy(one => Math.Abs((starts[one] * chords) - (chord * inBar)));
            (units[i], next) = (starts[index], index + 1);
        }

        return units;
    }
}
