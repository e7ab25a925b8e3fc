using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Feel;

/// <summary>Makes the long groups of a bar a little shorter, and the short ones longer, than their units say, for the whole band but the
/// count. The bar keeps its length, and units stay even inside their group. The played places stay exact; this is a delay beside them, as
/// human feel is.</summary>
/// <remarks>Goldberg (2015, Empirical Musicology Review 10: 305-328) and Polak (2016, the same volume: 329-340) measured percussion in
/// groups of long, short, short whose ratio is below the 3:2 of the notation.</remarks>
public sealed class GroupTiming
{
    /// <summary>The ratio of a group of three units to one of two when all units are even.</summary>
    public const double Even = 1.5;

    /// <summary>The smallest ratio that a chart may ask for. From memory: lower ratios are heard as equal groups.</summary>
    public const double Least = 1.2;

    private readonly BarMeter _meter;
    private readonly double[]? _starts;

    private GroupTiming(BarMeter meter, double[]? starts)
    {
        _meter = meter;
        _starts = starts;
    }

    /// <summary>The timing of the groups of a meter.</summary>
    /// <param name="ratio">How much longer a group of three is than one of two, <see cref="Least"/> to <see cref="Even"/>; groups of other
    /// sizes follow the same power.</param>
    /// <param name="meter">The meter.</param>
    public static GroupTiming Of(double ratio, BarMeter meter)
    {
        var sizes = meter.GroupSizes;
        if (ratio.Equals(Even) || sizes.Distinct().Count() < 2)
        {
            return new GroupTiming(meter, null);
        }

        var power = Math.Log(ratio) / Math.Log(Even);
        var lengths = sizes.Select(size => Math.Pow(size, power)).ToArray();
        var unit = meter.Units / lengths.Sum();
        var starts = new double[sizes.Count + 1];
        for (var group = 0; group < sizes.Count; group++)
        {
            starts[group + 1] = starts[group] + (lengths[group] * unit);
        }

        return new GroupTiming(meter, starts);
    }

    /// <summary>The delay of a place, in microseconds; negative for early, zero on bar lines and outside the bar.</summary>
    /// <param name="place">From the bar line.</param>
    /// <param name="tempo">The tempo there.</param>
    public int ShiftMicroseconds(Span place, Tempo tempo)
    {
        if (_starts is null || place <= Span.Zero || place >= _meter.Length)
        {
            return 0;
        }

        var units = (place / _meter.Unit).ToDouble();
        var group = _meter.GroupOf((int)Math.Floor(units));
        var inside = (units - _meter.GroupStartUnits[group]) / _meter.GroupSizes[group];
        var moved = _starts[group] + (inside * (_starts[group + 1] - _starts[group]));
        return (int)Math.Round((moved - units) * tempo.Seconds(_meter.Unit).ToDouble() * 1_000_000);
    }
}
