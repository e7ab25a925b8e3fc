using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>What becomes one bar: half a bar of 4/4, or a whole one.</summary>
/// <param name="BeatThree">Where beat three is in the new bar; null if each half bar becomes a bar of its own, which then begins with beat one or three.</param>
internal sealed record RecastRule(Span? BeatThree)
{
    public static RecastRule HalfBar { get; } = new((Span?)null);

    public Span Length => BeatThree is null ? Span.Of(1, 2) : Span.Of(1, 1);
}

/// <summary>Which bar of a result each part of its source has become, from the bars of both charts alone. The source is in 4/4 throughout.</summary>
internal sealed class RecastLayout
{
    private readonly IReadOnlyList<BarMeter> _bars;
    private readonly List<Span> _starts = [Span.Zero];

    /// <summary>Pairs the bars of a section.</summary>
    /// <exception cref="ArgumentException">A bar of the source is not in 4/4, or the result has another number of bars than the rule says.</exception>
    public RecastLayout(Section source, Section result, RecastRule rule)
    {
        if (source.Bars.Any(bar => bar.Meter.Signature != new TimeSignature(4, 4)))
        {
            throw new ArgumentException($"'{source.Name}' has bars that are not in 4/4.", nameof(source));
        }

        var spans = rule.BeatThree is null ? source.Bars.Count * 2 : source.Bars.Count;
        if (result.Bars.Count != spans)
        {
            throw new ArgumentException($"'{result.Name}' has {result.Bars.Count} bars, not {spans}.", nameof(result));
        }

        Rule = rule;
        _bars = [.. result.Bars.Select(bar => bar.Meter)];
        foreach (var bar in _bars)
        {
            _starts.Add(_starts[^1] + bar.Length);
        }
    }

    public RecastRule Rule { get; }

    /// <summary>The part in which a place of the source lies, -1 in the pickup, and how much of the part is before it, from 0 to 1.</summary>
    public (int Part, Rational Share) PartOf(Span place)
    {
        var parts = place / Rule.Length;
        return ((int)parts.Floor(), parts - parts.Floor());
    }

    public Span StartOf(int part) => part < 0 ? _bars[0].Length * part : _starts[part];

    public Span LengthOf(int part) => _bars[Math.Clamp(part, 0, _bars.Count - 1)].Length;

    /// <summary>Where beat one or three of the source is in the result; null for any other place.</summary>
    public Span? StrongBeat(Span place)
    {
        var (part, share) = PartOf(place);
        return share == Rational.Zero ? StartOf(part) : Rule.BeatThree is { } three && share == new Rational(1, 2) ? StartOf(part) + three : null;
    }

    /// <summary>The metrical weight of a place of the result.</summary>
    public int WeightAt(Span place)
    {
        var bar = place < Span.Zero ? -1 : Math.Max(0, _starts.FindLastIndex(start => start <= place));
        return _bars[Math.Clamp(bar, 0, _bars.Count - 1)].WeightAt(place - StartOf(Math.Min(bar, _bars.Count - 1)));
    }
}
