using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Feel;

/// <summary>A tempo in terms of the felt beat: the same speed is "in five, eighth = 300" and "in one, bar = 60".</summary>
/// <param name="Level">The felt level.</param>
/// <param name="Beat">The length that the number counts. Groups of different lengths have no common length: then it is the unit.</param>
/// <param name="In">"in five", "in two", "in one" or "in four-bar groups".</param>
/// <param name="BeatName">"eighth", "dotted quarter", "bar" or "four bars".</param>
/// <param name="PerMinute">Number of <paramref name="Beat"/>s per minute.</param>
public sealed record FeltTempo(FeltLevel Level, Span Beat, string In, string BeatName, Rational PerMinute)
{
    private static readonly string[] Numbers =
        ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

    /// <summary>A tempo in terms of the felt beat.</summary>
    /// <param name="level">The felt level; in a bar without groups, the group level means the bar.</param>
    /// <param name="meter">The meter.</param>
    /// <param name="tempo">The sounding tempo.</param>
    /// <param name="barsInGroup">Bars in the bar group, of equal length.</param>
    public static FeltTempo Of(FeltLevel level, BarMeter meter, Tempo tempo, int barsInGroup) =>
        Of(level, meter, tempo, new BarGroupPlace(0, 0, barsInGroup));

    /// <summary>A tempo in terms of the felt beat. One beat of a bar group is the whole group, also where its bars differ in
    /// length.</summary>
    /// <param name="level">The felt level; in a bar without groups, the group level means the bar.</param>
    /// <param name="meter">The meter of the bar.</param>
    /// <param name="tempo">The sounding tempo.</param>
    /// <param name="group">The bar in its bar group.</param>
    public static FeltTempo Of(FeltLevel level, BarMeter meter, Tempo tempo, BarGroupPlace group)
    {
        if (level == FeltLevel.BarGroup && group.Size > 1)
        {
            var several = group.LengthIn(meter);
            return new FeltTempo(
                level, several, $"in {Number(group.Size)}-bar groups", $"{Number(group.Size)} bars", tempo.PerMinute(several));
        }

        if (level >= FeltLevel.Bar || (level == FeltLevel.Group && meter.Grouping.IsUndivided))
        {
            return new FeltTempo(level, meter.Length, "in one", "bar", tempo.PerMinute(meter.Length));
        }

        if (level == FeltLevel.Group)
        {
            var beat = meter.GroupSizes.All(size => size == meter.GroupSizes[0]) ? meter.Unit * meter.GroupSizes[0] : meter.Unit;
            return new FeltTempo(level, beat, "in " + Number(meter.GroupSizes.Count), NoteValue.NameOf(beat), tempo.PerMinute(beat));
        }

        return new FeltTempo(level, meter.Unit, "in " + Number(meter.Units), NoteValue.NameOf(meter.Unit), tempo.PerMinute(meter.Unit));
    }

    /// <summary>"five" for 5; digits from thirteen on.</summary>
    public static string Number(int value) => value < Numbers.Length ? Numbers[value] : value.ToString(System.Globalization.CultureInfo.InvariantCulture);

    /// <summary>Beats per minute as displayed: whole when it is whole or large, else with one decimal, or two below 5.</summary>
    public string Figure
    {
        get
        {
            var value = PerMinute.ToDouble();
            return PerMinute.IsInteger || value >= 100
                ? Math.Round(value).ToString(System.Globalization.CultureInfo.InvariantCulture)
                : value.ToString(value < 5 ? "0.##" : "0.#", System.Globalization.CultureInfo.InvariantCulture);
        }
    }

    /// <summary>"in five, eighth = 300".</summary>
    public override string ToString() => $"{In}, {BeatName} = {Figure}";
}

/// <summary>The tempo range in which the felt level is the natural beat: below it the next finer level is the more salient beat, above it
/// the next wider one. After Parncutt (1994), equation 6: two periods are equally salient when their geometric mean is 0.6 s. Advice for
/// even beats, not a rule.</summary>
/// <param name="Slower">The level that takes over at slower tempi; null when the meter has no finer level.</param>
/// <param name="SlowerAt">Tempo factor at which it takes over; below 1 while the level suits the tempo.</param>
/// <param name="Wider">The level that takes over at faster tempi; null when the meter has no wider level.</param>
/// <param name="FasterAt">Tempo factor at which it takes over; above 1 while the level suits the tempo.</param>
public readonly record struct LevelTurn(FeltLevel? Slower, double SlowerAt, FeltLevel? Wider, double FasterAt)
{
    private const double BestPeriod = 0.6;

    /// <summary>The tempo range of a felt level.</summary>
    /// <param name="felt">The felt level; if the meter lacks it, the next wider level.</param>
    /// <param name="fits">The levels' fits at the tempo, fastest first, as <see cref="LevelFit"/> gives them.</param>
    public static LevelTurn Of(FeltLevel felt, IReadOnlyList<LevelFit> fits)
    {
        var at = 0;
        while (at < fits.Count - 1 && fits[at].Level < felt)
        {
            at++;
        }

        var slower = at > 0 ? fits[at - 1].Level : (FeltLevel?)null;
        var wider = at < fits.Count - 1 ? fits[at + 1].Level : (FeltLevel?)null;
        return new LevelTurn(
            slower,
            slower is null ? 0 : Math.Sqrt(fits[at].Seconds * fits[at - 1].Seconds) / BestPeriod,
            wider,
            wider is null ? double.PositiveInfinity : Math.Sqrt(fits[at].Seconds * fits[at + 1].Seconds) / BestPeriod);
    }

    /// <summary>The more natural neighbour of the felt level at this tempo; null when the felt level suits it.</summary>
    public FeltLevel? TurnedTo => SlowerAt > 1 ? Slower : FasterAt < 1 ? Wider : null;
}
