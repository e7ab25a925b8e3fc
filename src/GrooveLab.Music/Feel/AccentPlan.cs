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

    // The pulse's base, between the roll's and the bass's.
    private const int TypicalVelocity = 62;

    private const int MostEvenness = 12;

    /// <summary>Steps above a part's base velocity on a unit of a bar.</summary>
    /// <param name="meter">The bar's meter.</param>
    /// <param name="felt">The felt level.</param>
    /// <param name="place">Where the bar stands in its bar group.</param>
    /// <param name="unit">The unit in the bar, from 0.</param>
    public static int StepsAt(BarMeter meter, FeltLevel felt, BarGroupPlace place, int unit)
    {
        var (barGroup, bar, group) = felt switch
        {
            FeltLevel.Unit => (16, 14, 8),
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

    /// <summary>
    /// Steps by which pulse, roll and bass are moved as a whole, so that the band is as loud at this felt level as where units are felt: accents
    /// say which beat is felt, not how loud the music is.
    /// </summary>
    /// <remarks>
    /// The sum of the bar's fourth powers of velocity stays, since amplitude goes with the square; what damped strokes and a thinner bass take
    /// away besides was measured on rendered bands.
    /// </remarks>
    /// <param name="meter">The bar's meter.</param>
    /// <param name="felt">The felt level.</param>
    /// <param name="barsInGroup">Bars in its bar group, at least 1.</param>
    public static int EvennessOf(BarMeter meter, FeltLevel felt, int barsInGroup)
    {
        if (felt == FeltLevel.Unit)
        {
            return 0;
        }

        var wanted = Power(FeltLevel.Unit, 0);
        var least = long.MaxValue;
        var evenness = 0;
        for (var shift = -MostEvenness; shift <= MostEvenness; shift++)
        {
            var away = Math.Abs(Power(felt, shift) - wanted);
            if (away < least)
            {
                (least, evenness) = (away, shift);
            }
        }

        return evenness + felt switch
        {
            FeltLevel.Group => 0,
            FeltLevel.Bar => 5,
            _ => 7,
        };

        long Power(FeltLevel level, int shift)
        {
            var sum = 0L;
            for (var bar = 0; bar < barsInGroup; bar++)
            {
                for (var unit = 0; unit < meter.Units; unit++)
                {
                    var velocity = (long)TypicalVelocity + shift + StepsAt(meter, level, new BarGroupPlace(0, bar, barsInGroup), unit);
                    sum += velocity * velocity * velocity * velocity;
                }
            }

            return sum;
        }
    }

    private static bool IsLongAmongShort(BarMeter meter, int unit)
    {
        var sizes = meter.GroupSizes;
        return sizes[meter.GroupOf(unit)] == 3 && sizes.Contains(2);
    }
}
