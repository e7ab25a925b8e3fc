using GrooveLab.Music.Band;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Ensemble;

/// <summary>Fills a strum to which other parts leave too few strings, or strings that are not next to each other: each string left out takes
/// another tone of the chord, within the reach of the hand and in order of pitch.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class FilledStrings
{
    /// <summary>Fewest strings of a stroke that says the chord.</summary>
    private const int FewestInOneStroke = 3;

    /// <summary>The notes of a stroke, from the lowest up.</summary>
    /// <param name="player">The part that plays it.</param>
    /// <param name="shape">The shape that its hand holds.</param>
    /// <param name="clear">The notes of the shape that are free.</param>
    /// <param name="chord">The chord.</param>
    /// <param name="blocked">The keys that the stroke leaves out.</param>
    public static IReadOnlyList<ShapeNote> Of(Part player, ChordShape shape, ShapeNote[] clear, ChordSymbol chord, KeySet blocked)
    {
        if (clear.Length == 0 || clear.Length == shape.Notes.Count || Array.Exists(clear, note => note.String == 0))
        {
            return clear;
        }

        var (first, last) = (clear.Min(note => note.String), clear.Max(note => note.String));
        if (clear.Length >= FewestInOneStroke && last - first == clear.Length - 1)
        {
            return clear;
        }

        // Other low keys may be too close to the roll, which keeps its distance from the shape.
        blocked |= KeySet.Range(0, Voicings.LowIntervalLimit + ChordShapes.Fourth - 2) - shape.KeySet;
        var filled = new List<ShapeNote>(clear);
        foreach (var left in shape.Notes)
        {
            if (!Array.Exists(clear, note => note == left) && Nearest(player, shape, filled, left, chord, blocked) is { } other)
            {
                filled.Add(other);
            }
        }

        filled.Sort((one, two) => one.Key.CompareTo(two.Key));
        return filled;
    }

    // The tone nearest to the one left out, on its string; the lower of two.
    private static ShapeNote? Nearest(Part player, ChordShape shape, List<ShapeNote> filled, ShapeNote left, ChordSymbol chord, KeySet blocked)
    {
        var (low, high) = Clearance.RangeOf(player, left.String);
        foreach (var note in filled)
        {
            (low, high) = note.String < left.String ? (Math.Max(low, note.Key + 1), high) : (low, Math.Min(high, note.Key - 1));
        }

        ShapeNote? nearest = null;
        for (var key = low; key <= high; key++)
        {
            var note = left with { Key = key };
            if (!blocked.Contains(key) && IsTone(key) && IsInHand(player.Instrument, filled, note)
                && (nearest is not { } found || Math.Abs(key - left.Key) < Math.Abs(found.Key - left.Key)))
            {
                nearest = note;
            }
        }

        return nearest;

        bool IsTone(int key) => chord.IsNoChord ? shape.Keys.Any(held => (held - key) % 12 == 0) : chord.Tones.Contains(key);
    }

    private static bool IsInHand(Instrument instrument, List<ShapeNote> held, ShapeNote other)
    {
        var fret = other.Key - instrument.Strings[other.String - 1];
        var (lowest, highest) = fret > 0 ? (fret, fret) : (int.MaxValue, int.MinValue);
        foreach (var note in held)
        {
            fret = note.Key - instrument.Strings[note.String - 1];
            (lowest, highest) = fret > 0 ? (Math.Min(lowest, fret), Math.Max(highest, fret)) : (lowest, highest);
        }

        return lowest > highest || highest - lowest < instrument.Stretch;
    }
}
