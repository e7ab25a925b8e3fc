using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Feel;

/// <summary>How much louder than a plain unit each unit of the meter is played, in MIDI velocity steps, for each felt level. The felt
/// level moves the accents; it never removes an onset.</summary>
/// <remarks>Common practice, no source: chosen by the decibels that they make of a typical velocity (40 log10 of the ratio). Felt units:
/// groups within 1 dB of units, bars within 3. Felt groups: at least 5 dB above units. Felt bars or bar groups: their first places at least
/// 6 dB above units, groups hardly at all.</remarks>
public static class AccentPlan
{
    /// <summary>Extra velocity steps for a group of three among groups of two.</summary>
    public const int LongGroup = 2;

    // The base velocity of the pulse, between those of roll and bass.
    private const int TypicalVelocity = 62;

    private const int MostEvenness = 16;

    // A bar from here on has so many units that few of its strokes ring when groups are felt.
    private const int ManyUnits = 9;

    // A bar up to here has so few units that its groups stand out from few others.
    private const int FewUnits = 4;

    /// <summary>Velocity steps above a part's base velocity on a unit of a bar.</summary>
    /// <param name="meter">The bar's meter.</param>
    /// <param name="felt">The felt level.</param>
    /// <param name="place">The position of the bar in its bar group.</param>
    /// <param name="unit">The unit in the bar, from 0.</param>
    public static int StepsAt(BarMeter meter, FeltLevel felt, BarGroupPlace place, int unit)
    {
        var (barGroup, bar, group) = felt switch
        {
            FeltLevel.Unit => (9, 8, 1),
            FeltLevel.Group => (32, 28, 22),
            FeltLevel.Bar => (36, 30, 1),
            _ => (40, place.Index % 2 == 0 ? 6 : 2, 1),
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

        // Felt units stay even.
        return felt != FeltLevel.Unit && IsLongAmongShort(meter, unit) ? Math.Min(steps + LongGroup, StepsOf(depth - 1)) : steps;

        // Nested groups interpolate between the bar's step and that of the smallest group; the extra weight never lifts a group above its
        // parent.
        int StepsOf(int level) => group + Math.Min(MostShared(felt), (top - group) * (deepest - level) / deepest);
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
            return 2;
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

        return evenness + MoreEvenness(meter, felt);

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

    // The steps beyond the energy of the velocities: what damped strokes, which ring the less the slower the units, and a thinner bass take, as
    // measured on rendered bands of all built-in charts.
    private static int MoreEvenness(BarMeter meter, FeltLevel felt)
    {
        var slow = meter.Unit >= Span.Of(1, 4);
        var quick = meter.Unit <= Span.Of(1, 16);
        return felt switch
        {
            FeltLevel.Group => meter.Units <= FewUnits ? -1 : meter.Units < ManyUnits ? -2 : -5,
            FeltLevel.Bar => slow ? -1 : quick ? -4 : -3,
            _ => slow ? 5 : quick ? 0 : 1,
        };
    }

    // Where groups recede, the larger ones recede too.
    private static int MostShared(FeltLevel felt) => felt switch
    {
        FeltLevel.Unit => 1,
        FeltLevel.Bar => 3,
        _ => int.MaxValue,
    };

    private static bool IsLongAmongShort(BarMeter meter, int unit)
    {
        var sizes = meter.GroupSizes;
        return sizes[meter.GroupOf(unit)] == 3 && sizes.Contains(2);
    }
}
