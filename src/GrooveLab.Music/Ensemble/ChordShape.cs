using System.Collections.Concurrent;
using GrooveLab.Music.Band;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note of a held chord: its string (1 is the instrument's first; 0 without strings) and its key.</summary>
internal readonly record struct ShapeNote(int String, int Key);

/// <summary>A chord shape as a player holds it, from the lowest note up.</summary>
internal sealed class ChordShape(IReadOnlyList<ShapeNote> notes)
{
    /// <summary>The notes from the lowest up.</summary>
    public IReadOnlyList<ShapeNote> Notes { get; } = [.. notes.OrderBy(note => note.Key)];

    public IReadOnlyList<int> Keys { get; } = [.. notes.Select(note => note.Key).Order()];

    public double Centre => Keys.Average();
}

/// <summary>The chord shapes that a part can hold, and the sequence with the least movement.</summary>
internal sealed class ChordShapes(Part part, int voices)
{
    private const int Limit = 512;
    private const int FewestLeft = 2;

    /// <summary>Minimum distance of two notes below the low-interval limit, in half steps.</summary>
    public const int Fourth = 5;

    private readonly ConcurrentDictionary<string, IReadOnlyList<ChordShape>> _known = new(StringComparer.Ordinal);

    /// <summary>A shape for each chord of a run, in order; each with the least movement among the shapes that use the fewest keys in
    /// <paramref name="taken"/> for that chord and need no leap.</summary>
    public IReadOnlyList<ChordShape> Along(RunOutline outline, IReadOnlyList<IReadOnlySet<int>> taken)
    {
        var shapes = new List<ChordShape>(outline.Chords.Count);
        ChordShape? before = null;
        for (var i = 0; i < outline.Chords.Count; i++)
        {
            before = Next(before, outline.Chords[i].Symbol, outline.Run.Key, taken[i]);
            shapes.Add(before);
        }

        return shapes;
    }

    /// <summary>The shape for a chord after another shape, or near the middle of the register if there is none.</summary>
    public ChordShape Next(ChordShape? before, ChordSymbol chord, Key key, IReadOnlySet<int> taken)
    {
        var levels = For(chord, key).GroupBy(shape => shape.Keys.Count(held => Rubs(held, taken))).OrderBy(level => level.Key).ToArray();
        if (before is null)
        {
            var middle = (part.Lowest + part.Highest) / 2.0;
            return levels[0].MinBy(shape => Math.Abs(shape.Centre - middle))!;
        }

        // A strum can omit a key of another part unnoticed; a leap is audible. Two notes must remain, however.
        var least = VoiceLeading.NearestOrClosest(before.Keys, levels[0], shape => shape.Keys)!;
        foreach (var level in levels.Where(level => level.Key == levels[0].Key || level.First().Keys.Count - level.Key >= FewestLeft))
        {
            var nearest = VoiceLeading.NearestOrClosest(before.Keys, level, shape => shape.Keys)!;
            if (VoiceLeading.Between(before.Keys, nearest.Keys).Largest <= VoiceLeading.DefaultLargestLeap)
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

    /// <summary>The shape without the keys that others hold or low notes too close to them; one note always remains.</summary>
    public static ChordShape Without(ChordShape shape, IReadOnlySet<int> taken)
    {
        var left = shape.Notes.Where(note => !Rubs(note.Key, taken)).ToArray();
        return left.Length == shape.Notes.Count ? shape
            : left.Length > 0 ? new ChordShape(left)
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
        for (var count = voices; count >= 1; count--)
        {
            var found = part.Instrument.Strings.Count > 0 ? OnStrings(chord, count) : Free(chord, count);
            if (found.Count > 0)
            {
                return found;
            }
        }

        // A register too narrow for any tone of the chord: the nearest tone outside it.
        var middle = (part.Lowest + part.Highest) / 2;
        return [new ChordShape([new ShapeNote(0, chord.Tones.Nearest(middle))])];
    }

    private List<ChordShape> OnStrings(ChordSymbol chord, int count)
    {
        var instrument = part.Instrument;
        var first = instrument.ShortDrone ? 1 : 0;
        var strings = instrument.Strings.Skip(first).ToArray();
        return
        [
            .. StringVoicings.Enumerate(strings, instrument.Frets, chord.Tones, instrument.Stretch, count, count, dropRoot: true, instrument.LowIntervalLimit)
                .Where(fingering => fingering.Pitches.All(InRegister))
                .Take(Limit)
                .Select(fingering => new ChordShape([.. fingering.Notes.Select(note => new ShapeNote(note.String + first + 1, note.Pitch))])),
        ];
    }

    private List<ChordShape> Free(ChordSymbol chord, int count) =>
    [
        .. Voicings.Enumerate(chord.Tones, count, part.Lowest, part.Highest, rootOptional: true, lowIntervalLimit: part.Instrument.LowIntervalLimit, limit: Limit)
            .Select(keys => new ChordShape([.. keys.Select(key => new ShapeNote(0, key))])),
    ];

    private bool InRegister(int key) => key >= part.Lowest && key <= part.Highest;
}
