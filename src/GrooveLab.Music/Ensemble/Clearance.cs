using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Ensemble;

/// <summary>Keeping two semitones clear of what is sung.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class Clearance
{
    private const int Rub = 2;

    /// <summary>True when a key is more than two semitones from everything sung.</summary>
    public static bool Keeps(int key, int[] sung) => Array.TrueForAll(sung, other => Math.Abs(other - key) > Rub);

    /// <summary>
    /// The nearest chord tone that is clear and that nobody holds, on the note's own string or, without strings, in the register; null when
    /// there is none.
    /// </summary>
    public static ShapeNote? Move(Part player, ShapeNote note, Shape shape, ChordSymbol chord, int[] sung, int[] held)
    {
        var (low, high) = RangeOf(player, note.String);
        ShapeNote? best = null;
        var bestCost = double.MaxValue;
        for (var key = low; key <= high; key++)
        {
            var fits = chord.IsNoChord ? shape.Keys.Any(held => (held - key) % 12 == 0) : chord.Tones.Contains(key);
            if (!fits || !Keeps(key, sung) || held.Contains(key))
            {
                continue;
            }

            var cost = Math.Abs(key - note.Key) + (Math.Abs(key - shape.Centre) / 4);
            if (cost < bestCost)
            {
                (best, bestCost) = (note with { Key = key }, cost);
            }
        }

        return best;
    }

    /// <summary>The keys that a string has, or the register for 0.</summary>
    public static (int Low, int High) RangeOf(Part player, int onString)
    {
        if (onString == 0)
        {
            return (player.Lowest, player.Highest);
        }

        var open = player.Instrument.Strings[onString - 1];
        return (open, Math.Min(open + player.Instrument.Frets, player.Instrument.Highest));
    }
}
