using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>Metrical weights inside a piece of a bar, with its start as the strongest place: 0 there, one less for each level that starts places inside it.</summary>
internal sealed class MetricWeights
{
    private readonly BarMeter _meter;
    private readonly Span _from;
    private readonly List<int> _levels;

    /// <param name="meter">The meter of the bar.</param>
    /// <param name="from">Where the piece starts in the bar.</param>
    /// <param name="length">Its length; it may reach beyond the bar.</param>
    public MetricWeights(BarMeter meter, Span from, Span length)
    {
        _meter = meter;
        _from = from;
        _levels = [.. Enumerable.Range(0, meter.Units).Where(unit => meter.Unit * unit > from && meter.Unit * unit < from + length).Select(unit => meter.UnitDepths[unit]).Distinct().Order()];
    }

    /// <summary>The weight of a place.</summary>
    /// <param name="offset">From the start of the piece.</param>
    public int At(Span offset)
    {
        if (offset == Span.Zero)
        {
            return 0;
        }

        var units = (_from + offset) / _meter.Unit;
        return units.IsInteger ? -1 - _levels.IndexOf(_meter.UnitDepths[(int)units.Numerator]) : -_levels.Count - PrimeFactors.CountOf(units.Denominator);
    }
}
