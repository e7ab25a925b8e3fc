using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Sheets;

/// <summary>How to beat a meter.</summary>
/// <remarks>The first beat goes down, the last up, those between first in and then out: common practice, no source.</remarks>
internal static class Beating
{
    // More outer groups than this are beaten by their own groups anyway; an undivided bar of more units is beaten in one.
    private const int MostUnitsBeaten = 4;

    /// <summary>The pattern of a meter.</summary>
    /// <param name="meter">The meter.</param>
    /// <param name="felt">The level that is felt as the beat.</param>
    public static BeatingPattern Of(BarMeter meter, FeltLevel felt)
    {
        var lengths = Lengths(meter, felt);
        return new BeatingPattern(meter, [.. lengths.Select((units, beat) => new HandBeat(units, Way(beat, lengths.Count)))], Words(lengths));
    }

    /// <summary>"in two: long-short", "in three", "in one".</summary>
    public static string Words(IReadOnlyList<int> lengths)
    {
        var sizes = lengths.Distinct().Order().ToList();
        var unequal = sizes.Count > 1 && lengths.Count <= 6;
        string Size(int units) => units == sizes[^1] ? "long" : units == sizes[0] ? "short" : "middle";
        return $"in {SheetWords.Number(lengths.Count)}" + (unequal ? $": {string.Join('-', lengths.Select(Size))}" : sizes.Count > 1 ? ", unequal" : string.Empty);
    }

    private static IReadOnlyList<int> Lengths(BarMeter meter, FeltLevel felt)
    {
        if (felt is FeltLevel.Bar or FeltLevel.BarGroup)
        {
            return [meter.Units];
        }

        if (meter.Grouping.IsUndivided)
        {
            return felt == FeltLevel.Unit && meter.Units <= MostUnitsBeaten ? Ones(meter.Units) : [meter.Units];
        }

        // Four quarters, and other short bars whose units are beats, are beaten unit by unit.
        return felt == FeltLevel.Unit && meter.Units <= MostUnitsBeaten && meter.Signature.Denominator <= 4 ? Ones(meter.Units) : meter.GroupSizes;
    }

    private static int[] Ones(int count) => [.. Enumerable.Repeat(1, count)];

    private static HandWay Way(int beat, int beats) => beat switch
    {
        0 => HandWay.Down,
        _ when beat == beats - 1 => HandWay.Up,
        // In four: down, in, out, up; in three: down, out, up; in five: down, in, in, out, up.
        _ => beat <= (beats - 2) / 2 + ((beats - 2) % 2 == 1 && beats > 3 ? 1 : 0) ? HandWay.In : HandWay.Out,
    };

    /// <summary>Where the hand goes, in words: "down, in, out, up".</summary>
    public static string Ways(BeatingPattern pattern) => Wording.Words.And([.. pattern.Beats.Select(beat => beat.Way switch
    {
        HandWay.Down => "down",
        HandWay.In => "in",
        HandWay.Out => "out",
        _ => "up",
    })]);
}
