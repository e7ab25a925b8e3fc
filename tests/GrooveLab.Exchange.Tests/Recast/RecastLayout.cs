using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>What becomes one bar: half a bar of 4/4, or a whole one.</summary>
/// <param name="BeatThree">Where beat three is in the new bar; null if each half bar becomes a bar of its own, which then begins with beat one or three.</param>
internal sealed record RecastRule(Span? BeatThree)
{
    public static RecastRule HalfBar { get; } = new((Span?)null);
}

/// <summary>Where each half bar of a source in 4/4 is in a result, from the bars of both charts alone.</summary>
internal sealed class RecastLayout
{
    private static readonly Span Half = Span.Of(1, 2);
    private readonly IReadOnlyList<BarMeter> _bars;
    private readonly List<Span> _starts = [Span.Zero];

    // Where each half bar starts; the last one is the end.
    private readonly List<Span> _halves = [];

    /// <summary>Pairs the bars of a section.</summary>
    /// <exception cref="ArgumentException">A bar of the source is not in 4/4, or the result has another number of bars than the rule says.</exception>
    public RecastLayout(Section source, Section result, RecastRule rule)
    {
        if (source.Bars.Any(bar => bar.Meter.Signature != new TimeSignature(4, 4)))
        {
            throw new ArgumentException($"'{source.Name}' has bars that are not in 4/4.", nameof(source));
        }

        var count = rule.BeatThree is null ? source.Bars.Count * 2 : source.Bars.Count;
        if (result.Bars.Count != count)
        {
            throw new ArgumentException($"'{result.Name}' has {result.Bars.Count} bars, not {count}.", nameof(result));
        }

        _bars = [.. result.Bars.Select(bar => bar.Meter)];
        foreach (var bar in _bars)
        {
            _halves.Add(_starts[^1]);
            if (rule.BeatThree is { } three)
            {
                _halves.Add(_starts[^1] + three);
            }

            _starts.Add(_starts[^1] + bar.Length);
        }

        _halves.Add(_starts[^1]);
    }

    /// <summary>The half bar in which a place of the source lies, negative in the pickup, and how much of it is before the place, from 0 to 1.</summary>
    public static (int Half, Rational Share) HalfOf(Span place)
    {
        var halves = place / Half;
        return ((int)halves.Floor(), halves - halves.Floor());
    }

    /// <summary>Where a half bar of the source starts in the result. Before the first bar, and after the last, are bars like the first.</summary>
    public Span StartOf(int half)
    {
        var count = _halves.Count - 1;
        return half < 0 ? StartOf(half + (count / _bars.Count)) - _bars[0].Length : half <= count ? _halves[half] : _halves[count] + StartOf(half - count);
    }

    public Span LengthOf(int half) => StartOf(half + 1) - StartOf(half);

    /// <summary>Where beat one or three of the source is in the result; null for any other place.</summary>
    public Span? StrongBeat(Span place)
    {
        var (half, share) = HalfOf(place);
        return share == Rational.Zero ? StartOf(half) : null;
    }

    /// <summary>The metrical weight of a place of the result.</summary>
    public int WeightAt(Span place)
    {
        if (place < Span.Zero)
        {
            return _bars[0].WeightAt(place - (_bars[0].Length * (place / _bars[0].Length).Floor()));
        }

        var bar = Math.Min(_starts.FindLastIndex(start => start <= place), _bars.Count - 1);
        return _bars[bar].WeightAt(place - _starts[bar]);
    }
}
