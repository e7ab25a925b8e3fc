using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Feel;

/// <summary>How fast a beat is, compared with what listeners can feel as a beat.</summary>
public enum BeatSpeed
{
    /// <summary>Too fast to be felt as a beat.</summary>
    TooFast,

    /// <summary>Possible, but faster than usual.</summary>
    Fast,

    /// <summary>The usual speed of a beat.</summary>
    Comfortable,

    /// <summary>Possible, but slower than usual.</summary>
    Slow,

    /// <summary>Too slow to hold steady without dividing the beat.</summary>
    TooSlow,
}

/// <summary>How well a tempo suits each level as the beat, after Parncutt (1994) and London (2002). Advice for even beats, not a
/// rule.</summary>
/// <param name="Level">The level.</param>
/// <param name="Seconds">Its period; the mean period where groups differ.</param>
/// <param name="Salience">Salience of that period after Parncutt, 0-1.</param>
/// <param name="Speed">How fast such a beat is.</param>
public readonly record struct LevelFit(FeltLevel Level, double Seconds, double Salience, BeatSpeed Speed)
{
    /// <summary>The fit of each level of the meter, fastest first.</summary>
    /// <param name="meter">The meter; an undivided meter has no group level.</param>
    /// <param name="tempo">The tempo.</param>
    /// <param name="barsInGroup">Bars in a bar group, of equal length; 1 without bar groups.</param>
    public static IReadOnlyList<LevelFit> Of(BarMeter meter, Tempo tempo, int barsInGroup) => Of(meter, tempo, new BarGroupPlace(0, 0, barsInGroup));

    /// <summary>The fit of each level of the meter, fastest first.</summary>
    /// <param name="meter">The meter of the bar; an undivided meter has no group level.</param>
    /// <param name="tempo">The tempo.</param>
    /// <param name="group">The bar in its bar group.</param>
    public static IReadOnlyList<LevelFit> Of(BarMeter meter, Tempo tempo, BarGroupPlace group)
    {
        var fits = new List<LevelFit> { For(FeltLevel.Unit, meter.Unit, tempo) };
        if (!meter.Grouping.IsUndivided)
        {
            fits.Add(For(FeltLevel.Group, meter.Length / meter.GroupSizes.Count, tempo));
        }

        fits.Add(For(FeltLevel.Bar, meter.Length, tempo));
        if (group.Size > 1)
        {
            fits.Add(For(FeltLevel.BarGroup, group.LengthIn(meter), tempo));
        }

        return fits;
    }

    private static LevelFit For(FeltLevel level, Span period, Tempo tempo)
    {
        var seconds = tempo.Seconds(period).ToDouble();
        var speed = seconds switch
        {
            < PulseSalience.FastestBeat => BeatSpeed.TooFast,
            < 0.4 => BeatSpeed.Fast,
            <= 1.0 => BeatSpeed.Comfortable,
            <= PulseSalience.SlowestBeat => BeatSpeed.Slow,
            _ => BeatSpeed.TooSlow,
        };
        return new LevelFit(level, seconds, PulseSalience.Parncutt(seconds), speed);
    }
}
