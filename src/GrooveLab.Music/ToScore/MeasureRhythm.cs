using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>A stretch of a voice before it is written: a note, a chord or a rest.</summary>
/// <param name="From">Its start, in ticks of the measure.</param>
/// <param name="To">Its end.</param>
/// <param name="Item">The number of its note; <see cref="Rest"/> for a rest.</param>
internal readonly record struct Stretch(long From, long To, int Item)
{
    public const int Rest = -1;

    public bool IsRest => Item == Rest;
}

/// <summary>A written piece of a stretch: one note value.</summary>
/// <param name="From">Its start, in ticks of the measure.</param>
/// <param name="To">Its end.</param>
/// <param name="Item">The number of its note; <see cref="Stretch.Rest"/> for a rest.</param>
/// <param name="Unit">Its value; null if no value has the length.</param>
/// <param name="Region">The innermost tuplet around it, as an index; -1 for none.</param>
/// <param name="Group">The group of the meter in which it begins.</param>
internal readonly record struct Piece(long From, long To, int Item, NoteUnit? Unit, int Region, int Group)
{
    public bool IsRest => Item == Stretch.Rest;
}

/// <summary>A stretch of a measure in which <paramref name="Actual"/> notes take the time of <paramref name="Normal"/>.</summary>
/// <param name="From">Its start, in ticks of the measure.</param>
/// <param name="To">Its end.</param>
/// <param name="Actual">Notes played.</param>
/// <param name="Normal">Notes in whose time they are played.</param>
/// <param name="Around">The index of the tuplet around it; -1 for none.</param>
internal readonly record struct TupletRegion(long From, long To, int Actual, int Normal, int Around);

/// <summary>Writes the lengths of a measure as note values that show its grouping: notes are split and tied at group lines, rests too.
/// Works in whole ticks. In a meter whose unit is no half of a half (7/12) everything is in tuplets, one in each group.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class MeasureRhythm
{
    private const int MostDots = 1;

    private readonly BarMeter _meter;
    private readonly Span _length;
    private readonly Span _offset;
    private readonly bool _hasEqualGroups;

    // The group lines inside the measure, with its start and end.
    private long[] _lines = [];
    private long _resolution;
    private long _unit;
    private long _unitOrigin;
    private List<TupletRegion> _regions = [];

    /// <param name="meter">The meter.</param>
    /// <param name="length">The length of the measure: shorter than the bar for a pickup.</param>
    /// <param name="offset">Where in the bar it begins; above zero for a pickup.</param>
    public MeasureRhythm(BarMeter meter, Span length, Span offset)
    {
        (_meter, _length, _offset) = (meter, length, offset);
        _hasEqualGroups = true;
        foreach (var size in meter.GroupSizes)
        {
            _hasEqualGroups &= size == meter.GroupSizes[0];
        }

        (Actual, Normal) = RatioOf(meter.Signature.Denominator);
    }

    /// <summary>The ratio of the tuplet in every group of a meter whose unit is no half of a half; 1 and 1 in other meters.</summary>
    public int Actual { get; }

    /// <inheritdoc cref="Actual"/>
    public int Normal { get; }

    public bool IsAllTuplets => Actual != Normal;

    /// <summary>The tuplets of the voice written last.</summary>
    public IReadOnlyList<TupletRegion> Regions => _regions;

    public IReadOnlyList<long> Lines => _lines;

    public long Unit => _unit;

    public long Resolution => _resolution;

    public long End => _lines[^1];

    public bool IsUndivided => _meter.Grouping.IsUndivided;

    /// <summary>Chooses ticks in which all places are whole.</summary>
    /// <param name="places">Places of the measure, from its start.</param>
    public void Fit(IReadOnlyCollection<Span> places)
    {
        var scale = new Rational(Actual, Normal);
        _resolution = 4 * (_meter.Unit.Wholes * scale).Denominator;
        foreach (var place in places)
        {
            _resolution = Lcm(_resolution, (place.Wholes * scale).Denominator);
        }

        _resolution = Lcm(_resolution, (_offset.Wholes * scale).Denominator);
        _unit = Ticks(_meter.Unit);
        var offset = Ticks(_offset);
        _unitOrigin = -offset;
        var end = Ticks(_length);
        var lines = new List<long>(_meter.GroupStartUnits.Count + 1) { 0 };
        foreach (var start in _meter.GroupStartUnits)
        {
            var line = (start * _unit) - offset;
            if (line > 0 && line < end)
            {
                lines.Add(line);
            }
        }

        lines.Add(end);
        _lines = [.. lines];
    }

    /// <summary>The ticks of a length. It must be among those that <see cref="Fit"/> was given.</summary>
    public long Ticks(Span span)
    {
        // Denominators divide the resolution, so the division is exact.
        var scaled = span.Wholes;
        return checked((long)((Int128)scaled.Numerator * _resolution * Actual / ((Int128)scaled.Denominator * Normal)));
    }

    /// <summary>The length of ticks.</summary>
    public Span Length(long ticks) => new(new Rational(ticks, _resolution) * new Rational(Normal, Actual));

    /// <summary>Writes a voice.</summary>
    /// <param name="voice">Its stretches, which fill the measure.</param>
    /// <param name="given">The tuplets that it is written in, outer ones before inner ones; those that do not fit are not used.</param>
    public List<Piece> Write(IReadOnlyList<Stretch> voice, IReadOnlyList<TupletRegion> given)
    {
        _regions = given.Count > 0 && Fits(voice, given) ? [.. given] : Guessed(voice);
        var pieces = new List<Piece>(voice.Count + 4);
        foreach (var stretch in voice)
        {
            var at = stretch.From;
            while (at < stretch.To)
            {
                var region = RegionAt(at);
                var end = stretch.To;
                if (region >= 0)
                {
                    end = Math.Min(end, _regions[region].To);
                }

                // A tuplet may begin inside a stretch.
                foreach (var other in _regions)
                {
                    if (other.From > at && other.From < end)
                    {
                        end = other.From;
                    }
                }

                var next = region >= 0 ? InTuplet(at, end, region) : Math.Min(end, Next(at, end, stretch.IsRest));
                pieces.Add(new Piece(at, next, stretch.Item, UnitOf(next - at, region, 3), region, GroupAt(at)));
                at = next;
            }
        }

        return pieces;
    }

    /// <summary>The group of the meter in which a place is, counted in this measure.</summary>
    public int GroupAt(long at)
    {
        var group = _lines.Length - 2;
        while (group > 0 && _lines[group] > at)
        {
            group--;
        }

        return group;
    }

    /// <summary>The unit line at or before a place.</summary>
    public long UnitLine(long at) => at - Modulo(at - _unitOrigin, _unit);

    /// <summary>The factor by which a tuplet and those around it lengthen what is written.</summary>
    public Rational Factor(int region)
    {
        var factor = Rational.One;
        for (var i = region; i >= 0; i = _regions[i].Around)
        {
            factor *= new Rational(_regions[i].Actual, _regions[i].Normal);
        }

        return factor;
    }

    // The tuplet of a unit of that denominator: three in the time of two for twelfths, five in that of four for twentieths.
    private static (int Actual, int Normal) RatioOf(int denominator)
    {
        var odd = denominator >> (int)long.TrailingZeroCount(denominator);
        return odd == 1 ? (1, 1) : (odd, 1 << (int)long.Log2(odd));
    }

    // The end of the first value of a stretch outside tuplets.
    private long Next(long from, long to, bool isRest)
    {
        if (from == 0 && to == End && !isRest && !IsAllTuplets && _offset == Span.Zero && IsSingle(to - from))
        {
            return to;
        }

        var group = GroupAt(from);
        var (start, end) = (_lines[group], _lines[group + 1]);
        if (to > end)
        {
            return from != start || isRest || !_hasEqualGroups || IsAllTuplets || _offset != Span.Zero ? InGroup(from, end, start, end, isRest) : OverGroups(from, to, group);
        }

        return InGroup(from, to, start, end, isRest);
    }

    // Equal groups are read together: a dotted half in 9/8, a dotted half on the bar line of 4/4.
    private long OverGroups(long from, long to, int group)
    {
        if (from == 0 && _lines.Length == 3 && _lines[1] == 2 * _unit && to == 3 * _unit)
        {
            return to;
        }

        for (var last = _lines.Length - 1; last > group + 1; last--)
        {
            if (_lines[last] <= to && IsSingle(_lines[last] - from))
            {
                return _lines[last];
            }
        }

        return InGroup(from, _lines[group + 1], _lines[group], _lines[group + 1], isRest: false);
    }

    private long InGroup(long from, long to, long start, long end, bool isRest)
    {
        if (from == start && to == end && IsSingle(to - from))
        {
            return to;
        }

        var line = UnitLine(from);
        if (line != from)
        {
            return OffTheLine(from, to, line, isRest);
        }

        var units = (to - from) / _unit;
        if (units == 0)
        {
            return InUnit(from, to, from, _unit, isRest);
        }

        if (isRest)
        {
            // Rests show the units: a rest of two or four of them begins where two or four begin.
            var rest = 1L;
            while (rest * 2 <= units && (from - start) / _unit % (rest * 2) == 0 && IsSingle(rest * 2 * _unit))
            {
                rest *= 2;
            }

            return from + (rest * _unit);
        }

        if (IsSingle(to - from) && ((to - from) % _unit == 0 || (to - from) * 2 == 3 * _unit))
        {
            return to;
        }

        while (!IsSingle(units * _unit))
        {
            units--;
        }

        return from + (units * _unit);
    }

    // A note that begins between two units: over the next unit only where the eye knows it, as in eighth, quarter, eighth.
    private long OffTheLine(long from, long to, long line, bool isRest)
    {
        var next = line + _unit;
        if (to <= next)
        {
            return InUnit(from, to, line, _unit, isRest);
        }

        var length = to - from;
        var isKnown = !isRest && (next - from) * 2 == _unit && (length == _unit || (length * 2 == 3 * _unit && UnitLine(to) == to));
        return isKnown && IsSingle(length) ? to : InUnit(from, next, line, _unit, isRest);
    }

    // Inside a unit: whole if one value says it, else halves of halves.
    private long InUnit(long from, long to, long start, long width, bool isRest)
    {
        if (IsSingle(to - from) && (!isRest || from == start || IsPlain(to - from)))
        {
            return to;
        }

        while (width % 2 == 0)
        {
            width /= 2;
            var middle = start + width;
            if (from < middle && to > middle)
            {
                return IsSingle(middle - from) ? middle : InUnit(from, middle, start, width, isRest);
            }

            start = from >= middle ? middle : start;
        }

        return to;
    }

    private long InTuplet(long from, long to, int region)
    {
        if (UnitOf(to - from, region, MostDots) is not null)
        {
            return to;
        }

        // The longest value first that ends on a step of the tuplet.
        var factor = Factor(region);
        for (var power = (int)NoteBase.Breve; power >= (int)NoteBase.N1024; power--)
        {
            var length = new NoteUnit((NoteBase)power).Length.Wholes * _resolution / factor;
            if (length.IsInteger && length < to - from)
            {
                return from + length.Numerator;
            }
        }

        return to;
    }

    private bool IsSingle(long ticks) => UnitOf(ticks, -1, MostDots) is not null;

    private bool IsPlain(long ticks) => UnitOf(ticks, -1, 0) is not null;

    private NoteUnit? UnitOf(long ticks, int region, int mostDots)
    {
        if (ticks <= 0)
        {
            return null;
        }

        if (region < 0)
        {
            return Plain(ticks, mostDots);
        }

        return NoteUnit.TryFrom(new Span(new Rational(ticks, _resolution) * Factor(region)), out var unit) && unit.Dots <= mostDots ? unit : null;
    }

    // Asked several times for every note: without fractions. One, three, seven or fifteen times a power of two.
    private NoteUnit? Plain(long ticks, int mostDots)
    {
        var halves = (int)long.TrailingZeroCount(_resolution);
        var below = _resolution >> halves;
        if (ticks % below != 0)
        {
            return null;
        }

        var above = ticks / below;
        var shift = (int)long.TrailingZeroCount(above);
        var dots = (above >> shift) switch { 1 => 0, 3 => 1, 7 => 2, 15 => 3, _ => int.MaxValue };
        var power = shift - halves + (dots > mostDots ? 0 : dots);
        return dots <= mostDots && power is >= (int)NoteBase.N1024 and <= (int)NoteBase.Maxima ? new NoteUnit((NoteBase)power, dots) : null;
    }

    private int RegionAt(long at)
    {
        for (var i = _regions.Count - 1; i >= 0; i--)
        {
            if (_regions[i].From <= at && at < _regions[i].To)
            {
                return i;
            }
        }

        return -1;
    }

    // Whether every edge has a place among the halves of halves of its tuplet.
    private bool Fits(IReadOnlyList<Stretch> voice, IReadOnlyList<TupletRegion> given)
    {
        _regions = [.. given];
        foreach (var stretch in voice)
        {
            var region = RegionAt(stretch.From);
            var place = region < 0 ? new Rational(stretch.From, _resolution) : new Rational(stretch.From - given[region].From, _resolution) * Factor(region);
            if (!long.IsPow2(place.Denominator))
            {
                return false;
            }
        }

        return true;
    }

    // Tuplets around places that no half of a half reaches: over the shortest stretch that begins and ends at notes, a half of a unit, a unit or
    // several.
    private List<TupletRegion> Guessed(IReadOnlyList<Stretch> voice)
    {
        List<TupletRegion>? regions = null;
        List<long>? edges = null;
        foreach (var stretch in voice)
        {
            if (IsHalves(stretch.From))
            {
                continue;
            }

            regions ??= [];
            edges ??= [.. voice.Select(one => one.From), End];
            if (regions.Count == 0 || stretch.From >= regions[^1].To)
            {
                regions.Add(Around(stretch.From, edges));
            }
        }

        return regions ?? [];
    }

    private TupletRegion Around(long place, List<long> edges)
    {
        var from = Math.Max(0, UnitLine(place));
        var width = _unit;
        var to = Math.Min(End, from + width);
        while (width % 2 == 0 && edges.BinarySearch(from + (width / 2)) >= 0)
        {
            width /= 2;
            from = place >= from + width ? from + width : from;
            to = from + width;
        }

        var end = _lines[GroupAt(place) + 1];
        while (to < end && edges.BinarySearch(to) < 0 && !IsHalves(NextEdge(edges, to)))
        {
            to = Math.Min(end, to + _unit);
        }

        var steps = 1L;
        foreach (var edge in edges)
        {
            if (edge > from && edge < to)
            {
                steps = Lcm(steps, new Rational(edge - from, to - from).Denominator);
            }
        }

        var odd = steps >> (int)long.TrailingZeroCount(steps);
        var wholes = new Rational(to - from, _resolution).Numerator;
        var normal = wholes >> (int)long.TrailingZeroCount(wholes);
        var actual = odd;

        // As three in the time of two, seven in the time of six: no fewer notes than in the usual time, and fewer than twice as many.
        while (actual <= normal)
        {
            actual *= 2;
        }

        while (normal * 2 < actual)
        {
            normal *= 2;
        }

        return new TupletRegion(from, to, (int)actual, (int)normal, -1);
    }

    private static long NextEdge(List<long> edges, long after)
    {
        var at = edges.BinarySearch(after);
        return edges[Math.Min(edges.Count - 1, at < 0 ? ~at : at)];
    }

    private bool IsHalves(long place) => long.IsPow2(_resolution / Gcd(place, _resolution));

    private static long Gcd(long a, long b)
    {
        while (b != 0)
        {
            (a, b) = (b, a % b);
        }

        return Math.Abs(a);
    }

    private static long Lcm(long a, long b) => checked(a / Gcd(a, b) * b);

    private static long Modulo(long a, long b) => ((a % b) + b) % b;
}
