using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Feel;

/// <summary>
/// How much louder a place of the meter is played than a plain unit, in MIDI velocity steps, for each felt level. The felt level
/// moves the accents; it never takes an onset away.
/// </summary>
/// <remarks>Common practice, no source: the numbers were tuned by ear and by measure.</remarks>
public static class AccentPlan
{
    /// <summary>Extra steps for a group of three among groups of two.</summary>
    public const int LongGroup = 2;

    /// <summary>Steps above a part's base velocity on a unit of a bar.</summary>
    /// <param name="meter">The bar's meter.</param>
    /// <param name="felt">The felt level.</param>
    /// <param name="place">Where the bar stands in its bar group.</param>
    /// <param name="unit">The unit in the bar, from 0.</param>
    public static int StepsAt(BarMeter meter, FeltLevel felt, BarGroupPlace place, int unit)
    {
        var (barGroup, bar, group) = felt switch
        {
            FeltLevel.Unit => (16, 14, 6),
            FeltLevel.Group => (26, 22, 16),
            FeltLevel.Bar => (30, 24, 4),
            _ => (34, place.Index % 2 == 0 ? 8 : 2, 2),
        };

        var depth = meter.UnitDepths[unit];
        if (depth == 0)
        {
            return place.IsFirst && place.Size > 1 ? barGroup : bar;
        }

        var deepest = meter.Grouping.Depth;
        if (depth > deepest)
        {
            return 0;
        }

        // Where bars alternate, only their bar lines do: inside, every bar is the same.
        var top = felt == FeltLevel.BarGroup ? group : bar;
        var steps = StepsOf(depth);
        return IsLongAmongShort(meter, unit) ? Math.Min(steps + LongGroup, StepsOf(depth - 1)) : steps;

        // Nested groups share the way between the bar's step and the smallest group's; the extra weight never lifts one above its parent.
        int StepsOf(int level) => group + ((top - group) * (deepest - level) / deepest);
    }

    private static bool IsLongAmongShort(BarMeter meter, int unit)
    {
        var sizes = meter.GroupSizes;
        return sizes[meter.GroupOf(unit)] == 3 && sizes.Contains(2);
    }
}
