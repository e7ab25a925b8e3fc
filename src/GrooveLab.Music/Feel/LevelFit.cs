using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Feel;

/// <summary>How a level of the meter would sit as the felt beat.</summary>
public enum Seat
{
    /// <summary>Quicker than a beat can be felt.</summary>
    TooFast,

    /// <summary>Possible, and quicker than comes of itself.</summary>
    Fast,

    /// <summary>Where beats like to be.</summary>
    Comfortable,

    /// <summary>Possible, and slower than comes of itself.</summary>
    Slow,

    /// <summary>Longer than a beat can be kept without dividing it.</summary>
    TooSlow,
}

/// <summary>
/// How well each level sits as a beat at a tempo, after Parncutt (1994) and London (2002). Advice for even beats, not a rule.
/// </summary>
/// <param name="Level">The level.</param>
/// <param name="Seconds">Its period; the mean one where groups differ.</param>
/// <param name="Salience">Parncutt's salience of that period, 0-1.</param>
/// <param name="Seat">The same in a word.</param>
public readonly record struct LevelFit(FeltLevel Level, double Seconds, double Salience, Seat Seat)
{
    /// <summary>The fit of every level that the meter has, fastest first.</summary>
    /// <param name="meter">The meter; an undivided one has no level of groups.</param>
    /// <param name="tempo">The tempo.</param>
    /// <param name="barsInGroup">Bars in a bar group; 1 when there is none.</param>
    public static IReadOnlyList<LevelFit> Of(BarMeter meter, Tempo tempo, int barsInGroup)
    {
        var fits = new List<LevelFit> { For(FeltLevel.Unit, meter.Unit, tempo) };
        if (!meter.Grouping.IsUndivided)
        {
            fits.Add(For(FeltLevel.Group, meter.Length / meter.GroupSizes.Count, tempo));
        }

        fits.Add(For(FeltLevel.Bar, meter.Length, tempo));
        if (barsInGroup > 1)
        {
            fits.Add(For(FeltLevel.BarGroup, meter.Length * barsInGroup, tempo));
        }

        return fits;
    }

    private static LevelFit For(FeltLevel level, Span period, Tempo tempo)
    {
        var seconds = tempo.Seconds(period).ToDouble();
        var seat = seconds switch
        {
            < PulseSalience.FastestBeat => Seat.TooFast,
            < 0.4 => Seat.Fast,
            <= 1.0 => Seat.Comfortable,
            <= PulseSalience.SlowestBeat => Seat.Slow,
            _ => Seat.TooSlow,
        };
        return new LevelFit(level, seconds, PulseSalience.Parncutt(seconds), seat);
    }
}
