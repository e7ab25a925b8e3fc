using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>How a pulse part strikes the units of a bar: direction, open or damped, length. The same in every meter: strokes restart with
/// each group, so that directions do not alternate from bar to bar.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class PulseStrokes
{
    public const int BaseVelocity = 62;

    /// <summary>Unit duration in seconds from which all strokes go down.</summary>
    private static readonly Rational SlowUnit = new(3, 10);

    /// <summary>Minimum interval between two strokes of one hand, in seconds.</summary>
    private static readonly Rational HandLimit = new(9, 100);

    /// <summary>Duration of a damped stroke, in seconds; at most half a unit.</summary>
    private static readonly Rational DampedSeconds = new(9, 100);

    /// <summary>The direction of the hand on a unit.</summary>
    public static Stroke DirectionOf(BarMeter meter, StrokeOrder order, Tempo tempo, int unit)
    {
        if (order == StrokeOrder.Down || (order == StrokeOrder.Alternate && tempo.Seconds(meter.Unit) > SlowUnit))
        {
            return Stroke.Down;
        }

        var group = meter.GroupOf(unit);
        var inGroup = unit - meter.GroupStartUnits[group];
        if (order == StrokeOrder.Heavy && meter.GroupSizes[group] == 3)
        {
            return inGroup == 2 ? Stroke.Up : Stroke.Down;
        }

        return inGroup % 2 == 0 ? Stroke.Down : Stroke.Up;
    }

    /// <summary>True when the part plays that unit; if units are too fast for the hand, it plays every other unit of a group.</summary>
    public static bool Plays(BarMeter meter, PulseShare share, Tempo tempo, int unit)
    {
        var starts = meter.GroupStartUnits.Contains(unit);
        var seconds = tempo.Seconds(meter.Unit);
        if (seconds < HandLimit)
        {
            var every = (int)(HandLimit / seconds).Ceiling();
            var group = meter.GroupOf(unit);
            if ((unit - meter.GroupStartUnits[group]) % every != 0)
            {
                return false;
            }
        }

        return share switch
        {
            PulseShare.All => true,
            PulseShare.Starts => starts,
            _ => !starts,
        };
    }

    /// <summary>True when a hand has time for a stroke between two units.</summary>
    public static bool HasTimeForHalves(BarMeter meter, Tempo tempo) => tempo.Seconds(meter.Unit) / 2 >= HandLimit;

    /// <summary>True when the unit is one of the felt beats of its bar; a bar line always is.</summary>
    public static bool IsFelt(BarPlace place, int unit) => place.Felt switch
    {
        FeltLevel.Unit => true,
        FeltLevel.Group => place.Meter.GroupStartUnits.Contains(unit),
        _ => unit == 0,
    };

    /// <summary>The length of a damped stroke: about 90 ms, at most half a unit.</summary>
    public static Span DampedLength(BarMeter meter, Tempo tempo)
    {
        // Rounded to sixteenths of a unit, so that lengths stay readable fractions.
        var sixteenths = (DampedSeconds / tempo.Seconds(meter.Unit) * 16).Round();
        return meter.Unit * new Rational(Math.Clamp(sixteenths, 1, 8), 16);
    }
}
