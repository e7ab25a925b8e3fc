using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Feel;

/// <summary>How much louder than a plain unit each unit of the meter is played, in MIDI velocity steps, for each felt level. The felt
/// level moves the accents; it never removes an onset.</summary>
/// <remarks>Common practice, no source: the numbers were tuned by ear and by measurement.</remarks>
public static class AccentPlan
{
    /// <summary>Extra velocity steps for a group of three among groups of two.</summary>
    public const int LongGroup = 2;

    // The base velocity of the pulse, between those of roll and bass.
    private const int TypicalVelocity = 62;

    private const int MostEvenness = 12;

    /// <summary>Velocity steps above a part's base velocity on a unit of a bar.</summary>
    /// <param name="meter">The bar's meter.</param>
    /// <param name="felt">The felt level.</param>
    /// <param name="place">The position of the bar in its bar group.</param>
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

        // In alternating bars only the accents on the bar lines alternate; inside, all bars are the same.
        var top = felt == FeltLevel.BarGroup ? group : bar;
        var steps = StepsOf(depth);
        return IsLongAmongShort(meter, unit) ? Math.Min(steps + LongGroup, StepsOf(depth - 1)) : steps;

        // Nested groups interpolate between the bar's step and that of the smallest group; the extra weight never lifts a group above its
        // parent.
        int StepsOf(int level) => group + ((top - group) * (deepest - level) / deepest);
    }

    /// <summary>Velocity steps added to pulse, roll and bass as a whole, so that the band is equally loud at each felt level: accents
    /// show which beat is felt, not how loud the music is.</summary>
    /// <remarks>Keeps the sum of the fourth powers of the velocities in the bar, since amplitude follows the square of velocity. The
    /// further loss from damped strokes and a thinner bass was measured on rendered bands.</remarks>
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
