using GrooveLab.Music.Band;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Ensemble;

/// <summary>Keeps notes more than two semitones away from the sung notes.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class Clearance
{
    private const int Rub = 2;

    /// <summary>True when a key is more than two semitones from all sung notes.</summary>
    public static bool Keeps(int key, KeySet sung) => !Around(key).Meets(sung);

    /// <summary>The keys within two semitones of a key.</summary>
    public static KeySet Around(int key) => KeySet.Range(key - Rub, key + Rub);

    /// <summary>The keys within two semitones of any of some keys.</summary>
    public static KeySet Around(KeySet keys)
    {
        var around = KeySet.None;
        foreach (var key in keys)
        {
            around |= Around(key);
        }

        return around;
    }

    /// <summary>The nearest chord tone that is clear and not held, on the note's own string or, without strings, in the register; null if
    /// none.</summary>
    /// <param name="player">The part that plays it.</param>
    /// <param name="note">The note to move.</param>
    /// <param name="shape">The chord shape of the part.</param>
    /// <param name="chord">The chord.</param>
    /// <param name="sung">The sounding notes of the tune.</param>
    /// <param name="held">Keys that are not available.</param>
    /// <param name="beneath">Keys of other parts, to which low notes must keep a distance.</param>
    public static ShapeNote? Move(
        Part player, ShapeNote note, ChordShape shape, ChordSymbol chord, KeySet sung, KeySet held, KeySet beneath)
    {
        var (low, high) = RangeOf(player, note.String);
        ShapeNote? best = null;
        var bestCost = double.MaxValue;
        for (var key = low; key <= high; key++)
        {
            var fits = chord.IsNoChord ? shape.Keys.Any(held => (held - key) % 12 == 0) : chord.Tones.Contains(key);
            if (!fits || !Keeps(key, sung) || held.Contains(key) || Growls(key, beneath))
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

    /// <summary>As <see cref="Move"/>, on any string except one and the short drone; in the part's register, or if that has no room as
    /// near to it as the instrument allows. Null without strings.</summary>
    public static ShapeNote? Elsewhere(
        Part player, ShapeNote note, int but, ChordShape shape, ChordSymbol chord, KeySet sung, KeySet held, KeySet beneath) =>
        StringsBut(player, but)
            .Select(other => Move(player, note with { String = other }, shape, chord, sung, held, beneath))
            .Where(found => found is not null)
            .OrderBy(found => Outside(player, found!.Value.Key))
            .ThenBy(found => Math.Abs(found!.Value.Key - note.Key))
            .FirstOrDefault();

    /// <summary>A free key for a damped stroke without harmony: the nearest key that is neither sung nor held, on any string or, without
    /// strings, in the instrument's range; null if none.</summary>
    public static ShapeNote? Unpitched(Part player, ShapeNote note, KeySet sung, KeySet held)
    {
        var all = player.Instrument.Strings.Count == 0
            ? KeysOf(0, player.Instrument.Lowest, player.Instrument.Highest)
            : StringsBut(player, 0).SelectMany(other => KeysOf(other, RangeOf(player, other).Low, RangeOf(player, other).High));
        return all.Where(free => !sung.Contains(free.Key) && !held.Contains(free.Key) && !Growls(free.Key, held))
            .OrderBy(free => Outside(player, free.Key))
            .ThenBy(free => Math.Abs(free.Key - note.Key))
            .Cast<ShapeNote?>()
            .FirstOrDefault();
    }

    /// <summary>True when a key is closer than a fourth to another one and the lower of the two is below the low-interval limit.</summary>
    public static bool Growls(int key, KeySet others) => others.Meets(GrowlingWith(key));

    /// <summary>The keys closer than a fourth to a key, where the lower of the two is below the low-interval limit.</summary>
    public static KeySet GrowlingWith(int key)
    {
        var above = key < Voicings.LowIntervalLimit ? KeySet.Range(key + 1, key + ChordShapes.Fourth - 1) : KeySet.None;
        return above | KeySet.Range(key - ChordShapes.Fourth + 1, Math.Min(key, Voicings.LowIntervalLimit) - 1);
    }

    /// <summary>The keys that are so close to any of some keys.</summary>
    public static KeySet GrowlingWith(KeySet keys)
    {
        var growling = KeySet.None;
        foreach (var key in keys)
        {
            growling |= GrowlingWith(key);
        }

        return growling;
    }

    /// <summary>The keys of a string, or the register for 0.</summary>
    public static (int Low, int High) RangeOf(Part player, int onString)
    {
        if (onString == 0)
        {
            return (player.Lowest, player.Highest);
        }

        var open = player.Instrument.Strings[onString - 1];
        return (open, Math.Min(open + player.Instrument.Frets, player.Instrument.Highest));
    }

    private static IEnumerable<int> StringsBut(Part player, int but) => Enumerable.Range(1, player.Instrument.Strings.Count)
        .Where(other => other != but && !(other == 1 && player.Instrument.ShortDrone));

    private static IEnumerable<ShapeNote> KeysOf(int onString, int low, int high) =>
        Enumerable.Range(low, Math.Max(0, high - low + 1)).Select(key => new ShapeNote(onString, key));

    // How far a key is outside the part's register.
    private static int Outside(Part player, int key) => Math.Max(0, Math.Max(player.Lowest - key, key - player.Highest));
}
