using System.Collections.Concurrent;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note of a held chord: its string (1 is the instrument's first; 0 without strings) and its key.</summary>
internal readonly record struct ShapeNote(int String, int Key);

/// <summary>The keys that a strum leaves out on a unit, and whether the unit is the first one of its bar or chord.</summary>
internal readonly record struct BlockedKeys(KeySet Keys, bool IsDownbeat);

/// <summary>A chord shape as a player holds it, from the lowest note up.</summary>
internal sealed class ChordShape(IReadOnlyList<ShapeNote> notes)
{
    /// <summary>The notes from the lowest up.</summary>
    public IReadOnlyList<ShapeNote> Notes { get; } = [.. notes.OrderBy(note => note.Key)];

    /// <summary>The notes in the order of their strings.</summary>
    public IReadOnlyList<ShapeNote> ByString { get; } = [.. notes.OrderBy(note => note.String)];

    public IReadOnlyList<int> Keys { get; } = [.. notes.Select(note => note.Key).Order()];

    /// <summary>The same keys as a set.</summary>
    public KeySet KeySet { get; } = KeySet.Of(notes.Select(note => note.Key));

    public double Centre { get; } = notes.Average(note => note.Key);
}

/// <summary>The chord shapes that a part can hold, and the sequence of them: on strings the shapes that a hand knows (low on the neck, open
/// strings, no inner string left out) with little movement among them, otherwise the least movement.</summary>
/// <remarks>The weights: common practice, no source; tuned on the presets until guitars play open chords in open keys.</remarks>
internal sealed class ChordShapes(Part part, int voices)
{
    private const int Limit = 512;
    private const int FewestLeft = 2;

    /// <summary>Shapes of a chord on strings that are considered, the handiest first.</summary>
    private const int Handiest = 160;

    /// <summary>Shapes of those that are considered under each chord of a run, the cheapest by themselves first.</summary>
    private const int Considered = 24;

    /// <summary>Frets searched on instruments of more than four strings, where there are many shapes.</summary>
    private const int FretsOfMany = 9;

    /// <summary>The most notes at once of a strum without strings.</summary>
    private const int MostFree = 4;

    /// <summary>Instruments with at least as many strings sound full chords, which may double a note of the sustain.</summary>
    public const int StringsOfAGuitar = 5;

    private const int LowFret = 4;
    private const double SkippedString = 3;
    private const double FretAbove = 1.0;
    private const double OpenString = 0.9;
    private const double MissingNote = 2.2;
    private const double MissingAnywhere = 0.6;
    private const double MissingOnDownbeats = 3.5;
    private const double Disordered = 1.5;
    private const double HalfStepMoved = 0.3;
    private const double Leap = 20;
    private const double FretUp = 0.06;

    /// <summary>Minimum distance of two notes below the low-interval limit, in half steps.</summary>
    public const int Fourth = 5;

    private readonly ConcurrentDictionary<string, IReadOnlyList<ChordShape>> _known = new(StringComparer.Ordinal);

    /// <summary>A shape for each chord of a run, in order: on strings the sequence that costs the hand the least from the first chord to the
    /// last; otherwise each with the least movement among the shapes that use the fewest keys in <paramref name="taken"/> for that chord and
    /// need no leap.</summary>
    /// <param name="outline">The chords.</param>
    /// <param name="taken">The keys of other parts under each chord.</param>
    /// <param name="known">The shapes that are known already; null for those to find.</param>
    /// <param name="blocked">Under a chord, for each of its units the keys that a strum leaves out then; null without.</param>
    public IReadOnlyList<ChordShape> Along(
        RunOutline outline, IReadOnlyList<IReadOnlySet<int>> taken, IReadOnlyList<ChordShape?> known, Func<ChordSpan, IReadOnlyList<BlockedKeys>>? blocked = null)
    {
        if (part.Instrument.Strings.Count > 0)
        {
            return CheapestWay(outline, taken, known, blocked);
        }

        var shapes = new List<ChordShape>(outline.Chords.Count);
        IReadOnlyList<int>? before = null;
        for (var i = 0; i < outline.Chords.Count; i++)
        {
            var left = blocked?.Invoke(outline.Chords[i]);
            var shape = known[i] ?? Next(before, outline.Chords[i].Symbol, outline.Run.Key, taken[i]);
            shapes.Add(shape);
            before = Struck(shape, left);
        }

        return shapes;
    }

    // The usual dynamic programming: under each chord the shapes that are handiest by themselves, each with the cheapest way to it. A choice
    // that is best after the chord before can leave no way on without a leap; the sum over all chords sees that.
    private List<ChordShape> CheapestWay(
        RunOutline outline, IReadOnlyList<IReadOnlySet<int>> taken, IReadOnlyList<ChordShape?> known, Func<ChordSpan, IReadOnlyList<BlockedKeys>>? blocked)
    {
        var steps = new List<Step[]>(outline.Chords.Count);
        for (var i = 0; i < outline.Chords.Count; i++)
        {
            var left = blocked?.Invoke(outline.Chords[i]);
            IEnumerable<ChordShape> shapes = known[i] is { } kept ? [kept] : For(outline.Chords[i].Symbol, outline.Run.Key);
            var here = shapes.Select(shape => (Shape: shape, Cost: OwnCost(shape, taken[i], left))).OrderBy(choice => choice.Cost).Take(Considered)
                .Select(choice => new Step(choice.Shape, Struck(choice.Shape, left), choice.Cost)).ToArray();
            foreach (var step in here)
            {
                step.Follow(i == 0 ? null : steps[^1], this);
            }

            steps.Add(here);
        }

        var way = new List<ChordShape>(steps.Count);
        for (var step = steps.Count == 0 ? null : steps[^1].MinBy(last => last.Cost); step is not null; step = step.Before)
        {
            way.Add(step.Shape);
        }

        way.Reverse();
        return way;
    }

    private double OwnCost(ChordShape shape, IReadOnlySet<int> taken, IReadOnlyList<BlockedKeys>? blocked) =>
        HandCost(shape) + (blocked is { Count: > 0 } ? LeftOver(shape, blocked) : LeftCost(shape, taken));

    // A shape under a chord, with what is heard of it and the cheapest way there.
    private sealed class Step(ChordShape shape, IReadOnlyList<int> struck, double ownCost)
    {
        public ChordShape Shape { get; } = shape;

        public double Cost { get; private set; } = ownCost;

        public Step? Before { get; private set; }

        public void Follow(IReadOnlyList<Step>? steps, ChordShapes shapes)
        {
            var least = steps is null ? shapes.MovementCost(null, Shape, struck) : double.MaxValue;
            foreach (var step in steps ?? [])
            {
                var cost = step.Cost + shapes.MovementCost(step.Heard, Shape, struck);
                if (cost < least)
                {
                    (least, Before) = (cost, step);
                }
            }

            Cost += least;
        }

        private IReadOnlyList<int> Heard => struck;
    }

    /// <summary>The shape for a chord after another shape, or near the middle of the register if there is none.</summary>
    /// <param name="before">The keys of the chord before, as struck; null for none.</param>
    /// <param name="chord">The chord.</param>
    /// <param name="key">The key, for a bar without a chord.</param>
    /// <param name="taken">The keys of other parts under the chord.</param>
    public ChordShape Next(IReadOnlyList<int>? before, ChordSymbol chord, Key key, IReadOnlySet<int> taken)
    {
        if (part.Instrument.Strings.Count > 0)
        {
            return For(chord, key).MinBy(shape => OwnCost(shape, taken, null) + MovementCost(before, shape, shape.Keys))!;
        }

        var levels = For(chord, key).GroupBy(shape => shape.Keys.Count(held => Rubs(held, taken))).OrderBy(level => level.Key).ToArray();
        if (before is null)
        {
            var middle = (part.Lowest + part.Highest) / 2.0;
            return levels[0].MinBy(shape => Math.Abs(shape.Centre - middle))!;
        }

        // A strum can omit a key of another part unnoticed; a leap is audible. Two notes must remain, however.
        var least = VoiceLeading.NearestOrClosest(before, levels[0], shape => shape.Keys)!;
        foreach (var level in levels.Where(level => level.Key == levels[0].Key || level.First().Keys.Count - level.Key >= FewestLeft))
        {
            var nearest = VoiceLeading.NearestOrClosest(before, level, shape => shape.Keys)!;
            if (VoiceLeading.Between(before, nearest.Keys).Largest <= VoiceLeading.DefaultLargestLeap)
            {
                return nearest;
            }
        }

        return least;
    }

    /// <summary>The shape that best shows a chord alone: most different tones, then fewest keys of other parts, then nearest to the
    /// middle.</summary>
    public ChordShape Fullest(ChordSymbol chord, Key key, IReadOnlySet<int> taken)
    {
        var middle = (part.Lowest + part.Highest) / 2.0;
        return For(chord, key)
            .OrderByDescending(shape => shape.Keys.Where(held => !taken.Contains(held)).Select(held => held % 12).Distinct().Count())
            .ThenBy(shape => shape.Keys.Count(held => Rubs(held, taken)))
            .ThenBy(shape => Math.Abs(shape.Centre - middle))
            .First();
    }

    /// <summary>The notes on neighbouring strings that one stroke catches: the longest run without a gap, the upper one of equals. All of
    /// them without strings, or where no two are neighbours.</summary>
    public static IReadOnlyList<ShapeNote> InOneStroke(IReadOnlyList<ShapeNote> notes)
    {
        if (notes.Count < 2 || notes.Any(note => note.String == 0))
        {
            return notes;
        }

        var ordered = notes.OrderBy(note => note.String).ToArray();
        var (best, bestLength) = (0, 0);
        var start = 0;
        for (var i = 1; i <= ordered.Length; i++)
        {
            if (i == ordered.Length || ordered[i].String != ordered[i - 1].String + 1)
            {
                (best, bestLength) = i - start >= bestLength ? (start, i - start) : (best, bestLength);
                start = i;
            }
        }

        return bestLength == notes.Count || bestLength < FewestLeft ? notes : [.. ordered.Skip(best).Take(bestLength).OrderBy(note => note.Key)];
    }

    /// <summary>The shape without the keys that others hold or low notes too close to them; one note always remains.</summary>
    public static ChordShape Without(ChordShape shape, IReadOnlySet<int> taken)
    {
        var left = InOneStroke([.. shape.Notes.Where(note => !Rubs(note.Key, taken))]);
        return left.Count == shape.Notes.Count ? shape
            : left.Count > 0 ? new ChordShape(left)
            : new ChordShape([shape.Notes[^1]]);
    }

    private static bool Rubs(int key, IReadOnlySet<int> taken) => taken.Contains(key)
        || taken.Any(other => Math.Min(other, key) < Voicings.LowIntervalLimit && Math.Abs(other - key) < Fourth);

    private IReadOnlyList<ChordShape> For(ChordSymbol chord, Key key)
    {
        // Without a chord, the bare fifth of the key keeps the strings moving without a harmony.
        var symbol = chord.IsNoChord ? ChordSymbol.Parse(key.Tonic + "5") : chord;
        return _known.GetOrAdd(symbol.ToString(), _ => Find(symbol));
    }

    private IReadOnlyList<ChordShape> Find(ChordSymbol chord)
    {
        var onStrings = part.Instrument.Strings.Count > 0;
        var most = onStrings ? voices : Math.Min(voices, Math.Min(MostFree, Math.Max(part.Instrument.Voices, 1)));
        for (var count = most; count >= 1; count--)
        {
            var found = onStrings ? OnStrings(chord, count, FretsOfMany) : Free(chord, count);
            if (found.Count > 0)
            {
                return found;
            }
        }

        // A register high on the neck.
        for (var count = most; onStrings && count >= 1; count--)
        {
            var found = OnStrings(chord, count, part.Instrument.Frets);
            if (found.Count > 0)
            {
                return found;
            }
        }

        // A register too narrow for any tone of the chord: the nearest tone outside it.
        var middle = (part.Lowest + part.Highest) / 2;
        return [new ChordShape([new ShapeNote(0, chord.Tones.Nearest(middle))])];
    }

    // Strums may leave strings out, down to a chord of four notes (or as many as wanted); rolls on few strings may leave out one.
    private List<ChordShape> OnStrings(ChordSymbol chord, int count, int fretsOfMany)
    {
        var instrument = part.Instrument;
        var first = instrument.ShortDrone ? 1 : 0;
        var strings = instrument.Strings.Skip(first).ToArray();
        var most = Math.Min(count, strings.Length);
        var fewest = part.Role == Role.Pulse ? Math.Min(MostFree, most) : most == strings.Length && most > 3 ? most - 1 : most;
        var frets = strings.Length > 4 ? Math.Min(instrument.Frets, fretsOfMany) : instrument.Frets;
        return
        [
            .. StringVoicings.Enumerate(strings, frets, chord.Tones, instrument.Stretch, fewest, most, dropRoot: true, instrument.LowIntervalLimit)
                .Where(fingering => fingering.Pitches.All(InRegister))
                .Select(fingering => new ChordShape([.. fingering.Notes.Select(note => new ShapeNote(note.String + first + 1, note.Pitch))]))
                .OrderBy(HandCost)
                .Take(Handiest),
        ];
    }

    // How far a shape is from what hands know: strings left out inside, frets beyond the fourth, no open strings, few notes.
    private double HandCost(ChordShape shape)
    {
        if (shape.Notes.Any(note => note.String == 0))
        {
            // The nearest tone outside the register, where no string has one inside.
            return 0;
        }

        var frets = shape.Notes.Select(note => note.Key - part.Instrument.Strings[note.String - 1]).ToArray();
        var strings = shape.Notes.Select(note => note.String).ToArray();
        var skipped = strings.Max() - strings.Min() + 1 - strings.Length;
        var disordered = strings.Zip(strings.Skip(1), (below, above) => below > above).Count(wrong => wrong);
        return (skipped * SkippedString)
            + (disordered * Disordered)
            + (Math.Max(0, frets.Max() - LowFret) * FretAbove)
            - (frets.Count(fret => fret == 0) * OpenString)
            + (frets.Sum() * FretUp)
            + ((voices - strings.Length) * 0.3);
    }

    // What the keys of other parts leave of it.
    private double LeftCost(ChordShape shape, IReadOnlySet<int> taken)
    {
        if (part.Role != Role.Pulse)
        {
            return 0.3 * shape.Keys.Count(key => Rubs(key, taken));
        }

        var left = InOneStroke([.. shape.Notes.Where(note => !Rubs(note.Key, taken))]).Count;
        return (Math.Max(0, Math.Min(voices, MostFree) - left) * MissingNote) + ((shape.Notes.Count - left) * 0.2);
    }

    // The same unit by unit: the mean of all, and that of the downbeats, which always ring.
    private double LeftOver(ChordShape shape, IReadOnlyList<BlockedKeys> blocked)
    {
        var (sum, onDownbeats, downbeats) = (0.0, 0.0, 0);
        foreach (var unit in blocked)
        {
            int run = 0, longest = 0, before = 0;
            foreach (var note in shape.ByString)
            {
                if (unit.Keys.Contains(note.Key))
                {
                    continue;
                }

                run = note.String == before + 1 ? run + 1 : 1;
                before = note.String;
                longest = Math.Max(longest, run);
            }

            var missing = Math.Max(0, Math.Min(voices, MostFree) - longest);
            sum += missing;
            onDownbeats += unit.IsDownbeat ? missing : 0;
            downbeats += unit.IsDownbeat ? 1 : 0;
        }

        return MissingNote * ((MissingAnywhere * sum / blocked.Count) + (MissingOnDownbeats * onDownbeats / Math.Max(1, downbeats)));
    }

    private double MovementCost(IReadOnlyList<int>? before, ChordShape shape, IReadOnlyList<int> struck)
    {
        if (before is null)
        {
            return Math.Abs(shape.Centre - ((part.Lowest + part.Highest) / 2.0)) / 12;
        }

        var movement = VoiceLeading.Between(before, struck);
        return (HalfStepMoved * movement.Total / Math.Max(before.Count, struck.Count))
            + (movement.Largest > VoiceLeading.DefaultLargestLeap ? Leap : 0);
    }

    // The keys of its fullest strum, which are what is heard of it.
    private static IReadOnlyList<int> Struck(ChordShape shape, IReadOnlyList<BlockedKeys>? blocked)
    {
        IReadOnlyList<int> fullest = [];
        foreach (var unit in blocked ?? [])
        {
            int run = 0, before = 0, longest = 0, highest = 0;
            foreach (var note in shape.ByString)
            {
                if (unit.Keys.Contains(note.Key))
                {
                    continue;
                }

                run = note.String == before + 1 ? run + 1 : 1;
                before = note.String;
                (longest, highest) = run >= longest ? (run, note.String) : (longest, highest);
            }

            if (longest > fullest.Count)
            {
                fullest = [.. shape.ByString.Where(note => note.String > highest - longest && note.String <= highest && !unit.Keys.Contains(note.Key)).Select(note => note.Key)];
            }

            if (fullest.Count == shape.Keys.Count)
            {
                break;
            }
        }

        return fullest.Count == 0 ? shape.Keys : fullest;
    }

    private List<ChordShape> Free(ChordSymbol chord, int count) =>
    [
        .. Voicings.Enumerate(chord.Tones, count, part.Lowest, part.Highest, rootOptional: true, lowIntervalLimit: part.Instrument.LowIntervalLimit, limit: Limit)
            .Select(keys => new ChordShape([.. keys.Select(key => new ShapeNote(0, key))])),
    ];

    private bool InRegister(int key) => key >= part.Lowest && key <= part.Highest;
}
