using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>A piece of a source bar and the units of a target bar that it becomes.</summary>
/// <param name="From">Where it starts in the source, from the start of the stretch.</param>
/// <param name="Length">Its length in the source.</param>
/// <param name="To">Where it starts in the target, from the start of the stretch.</param>
/// <param name="Meter">The meter of its target bar.</param>
/// <param name="FirstUnit">The unit of the target bar on which it starts.</param>
/// <param name="Units">Its number of units.</param>
/// <param name="IsStrong">True if it starts on a strong place of the source.</param>
internal sealed record Piece(Span From, Span Length, Span To, BarMeter Meter, int FirstUnit, int Units, bool IsStrong)
{
    /// <summary>The meter of its source bar.</summary>
    public required BarMeter SourceMeter { get; init; }

    /// <summary>Where it starts in its source bar.</summary>
    public required Span SourceOffset { get; init; }

    /// <summary>Its length in the target.</summary>
    public Span Becomes => Meter.Unit * Units;

    /// <summary>True if every note keeps its distance from the start.</summary>
    public bool IsKept { get; init; }
}

/// <summary>A bar of the target.</summary>
/// <param name="Meter">Its meter.</param>
/// <param name="IsInserted">True for a bar that is shorter than the others: it belongs to the bar group before it.</param>
internal readonly record struct TargetBar(BarMeter Meter, bool IsInserted);

/// <summary>What a source bar becomes.</summary>
/// <param name="Bars">The target bars.</param>
/// <param name="Pieces">The pieces, placed from the start of the bar.</param>
internal sealed record ConvertedBar(IReadOnlyList<TargetBar> Bars, IReadOnlyList<Piece> Pieces)
{
    // A strong place may be this far, in bars, from where it is in the source: beat three of 4/4 fits 3+2+2 of 7/8 and 3+3+2 of 8/8, not 2+3+2.
    private static readonly Rational Farthest = new(1, 5);
    private const int MostExamples = 6;
    private static readonly int[] TwoAndThree = [2, 3];

    /// <summary>Converts a bar.</summary>
    /// <param name="bar">Its meter.</param>
    /// <param name="usual">The meter of most bars of the source: it says how long a half bar, or a bar, is.</param>
    /// <param name="treatment">How.</param>
    /// <exception cref="ChartProblemException">The treatment does not fit the meters.</exception>
    public static ConvertedBar Of(BarMeter bar, BarMeter usual, Treatment treatment) =>
        treatment.BeatAfter is { } beat ? WithBeatAdded(bar, usual, treatment, beat) : ReCut(bar, usual, treatment);

    private static ConvertedBar WithBeatAdded(BarMeter bar, BarMeter usual, Treatment treatment, int after)
    {
        var beat = Treatment.BeatOf(usual);
        var beats = usual.Length / beat;
        if (!beats.IsInteger || after < 1 || after > beats.Numerator)
        {
            throw new ChartProblemException($"a bar of {usual.Signature} has {Beats(usual)} beats; add the beat after one of them");
        }

        if (treatment.To.Length != usual.Length + beat)
        {
            throw new ChartProblemException(
                $"a bar of {usual.Signature} with a beat added is {Lengthened(usual, beat)}, not {treatment.To.Signature}; write {Lengthened(usual, beat)}, or let the notes be fitted into the bar");
        }

        if (bar.Length != usual.Length)
        {
            // A bar of another length is too short, or has its own extra beat: it stays.
            return new ConvertedBar([new TargetBar(bar, true)], [Kept(bar, Span.Zero, bar.Length, Span.Zero, bar, true)]);
        }

        var gap = beat * after;
        var strong = Treatment.StrongPlaces(bar).Select(place => place < gap ? place : place + beat).ToList();
        if (!treatment.To.Grouping.IsUndivided && strong.Exists(place => !IsGroupStart(treatment.To, place)))
        {
            var fitting = FittingWords(treatment.To, meter => strong.TrueForAll(place => IsGroupStart(meter, place)));
            throw new ChartProblemException(
                $"with a beat after beat {after.ToString(CultureInfo.InvariantCulture)}, the strong beats of {bar.Signature} do not start groups of {treatment.To.Grouping}; {fitting}");
        }

        var pieces = new List<Piece> { Kept(bar, Span.Zero, gap, Span.Zero, treatment.To, true) };
        if (gap < bar.Length)
        {
            pieces.Add(Kept(bar, gap, bar.Length - gap, gap + beat, treatment.To, Treatment.StrongPlaces(bar).Contains(gap)));
        }

        return new ConvertedBar([new TargetBar(treatment.To, false)], pieces);
    }

    private static Piece Kept(BarMeter source, Span from, Span length, Span to, BarMeter meter, bool isStrong) =>
        new(from, length, to, meter, 0, 1, isStrong) { SourceMeter = source, SourceOffset = from, IsKept = true };

    private static string Lengthened(BarMeter usual, Span beat)
    {
        var units = (usual.Length + beat) / usual.Unit;
        return units.IsInteger ? string.Create(CultureInfo.InvariantCulture, $"{units.Numerator}/{usual.Signature.Denominator}") : (usual.Length + beat).ToString();
    }

    private static string Beats(BarMeter meter) => (meter.Length / Treatment.BeatOf(meter)).ToString();

    private static ConvertedBar ReCut(BarMeter bar, BarMeter usual, Treatment treatment)
    {
        var span = treatment.LengthIn(usual);
        if (!(span / usual.Unit).IsInteger)
        {
            throw new ChartProblemException($"half a bar of {usual.Signature} is no whole number of its units; let a beat or a bar become a bar of {treatment.To.Signature}");
        }

        var bars = new List<TargetBar>();
        var pieces = new List<Piece>();
        var to = Span.Zero;
        for (var at = Span.Zero; at < bar.Length;)
        {
            var length = Span.Min(span, bar.Length - at);
            var meter = length == span ? treatment.To : Shorter(treatment.To, length / span);
            var isShort = length < span;
            // Only the meter of most bars must fit; of others only the start of the span is strong then.
            pieces.AddRange(PiecesOf(bar, at, length, to, meter, treatment, isShort || bar.Signature != usual.Signature));
            bars.Add(new TargetBar(meter, isShort));
            at += length;
            to += meter.Length;
        }

        return new ConvertedBar(bars, pieces);
    }

    // What is left of a bar becomes a bar of its own with its share of the units, at least one; it has groups of the whole bar where they add up.
    private static BarMeter Shorter(BarMeter meter, Rational share)
    {
        var units = (int)Math.Clamp((share * meter.Units).Round(), 1, meter.Units);
        var groups = meter.GroupSizes;
        var sum = 0;
        var first = groups.TakeWhile(size => (sum += size) <= units).ToList();
        var signature = new TimeSignature(units, meter.Signature.Denominator);
        return !meter.Grouping.IsUndivided && first.Count > 1 && first.Sum() == units
            ? new BarMeter(signature, Grouping.Of(first))
            : new BarMeter(signature, Grouping.Usual(signature));
    }

    private static IEnumerable<Piece> PiecesOf(BarMeter bar, Span from, Span length, Span to, BarMeter meter, Treatment treatment, bool isLoose)
    {
        var strong = Treatment.StrongPlaces(bar).Where(place => place >= from && place < from + length).ToList();
        var starts = strong.Prepend(from).Distinct().ToList();
        var beats = BeatsOf(bar, from, length);
        if (treatment.Span == SourceSpan.Bar && beats.Count == meter.GroupSizes.Count && beats.Count > starts.Count && starts.TrueForAll(beats.Contains))
        {
            starts = beats;
        }

        IReadOnlyList<int> units = [0];
        if (meter.Grouping.IsUndivided)
        {
            starts = [from];
        }
        else if (UnitsOf([.. starts.Select(place => (place - from) / length)], meter) is { } found)
        {
            units = found;
        }
        else if (isLoose)
        {
            starts = [from];
        }
        else
        {
            var shares = starts.Select(place => (place - from) / length).ToList();
            throw new ChartProblemException(
                $"the strong beats of {bar.Signature} do not fall on groups of {meter}; {FittingWords(meter, other => UnitsOf(shares, other) is not null)}");
        }

        for (var i = 0; i < starts.Count; i++)
        {
            var end = i + 1 < starts.Count ? starts[i + 1] : from + length;
            var endUnit = i + 1 < units.Count ? units[i + 1] : meter.Units;
            yield return new Piece(starts[i], end - starts[i], to + (meter.Unit * units[i]), meter, units[i], endUnit - units[i], strong.Contains(starts[i]))
            {
                SourceMeter = bar,
                SourceOffset = starts[i],
            };
        }
    }

    private static List<Span> BeatsOf(BarMeter bar, Span from, Span length)
    {
        var beat = Treatment.BeatOf(bar);
        var beats = new List<Span>();
        for (var at = from; at < from + length; at += beat)
        {
            beats.Add(at);
        }

        return beats;
    }

    // The group starts nearest to the shares of the bar; null if two choices are as near, if one is too far, or if there are too few.
    private static int[]? UnitsOf(IReadOnlyList<Rational> shares, BarMeter meter)
    {
        var groups = meter.GroupStartUnits;
        if (groups.Count < shares.Count)
        {
            return null;
        }

        // For each number of shares and each group on which the last of them stands: the least sum of distances, in how many ways, and the group before.
        var best = new (Rational Sum, int Ways, int Before)?[shares.Count, groups.Count];
        best[0, 0] = (Rational.Zero, 1, -1);
        for (var share = 1; share < shares.Count; share++)
        {
            for (var group = share; group < groups.Count; group++)
            {
                var distance = Distance(shares[share], group);
                for (var before = share - 1; before < group; before++)
                {
                    if (best[share - 1, before] is not { } earlier)
                    {
                        continue;
                    }

                    var sum = earlier.Sum + distance;
                    if (best[share, group] is not { } known || sum < known.Sum)
                    {
                        best[share, group] = (sum, earlier.Ways, before);
                    }
                    else if (sum == known.Sum)
                    {
                        best[share, group] = known with { Ways = known.Ways + earlier.Ways };
                    }
                }
            }
        }

        var last = shares.Count - 1;
        var ends = Enumerable.Range(0, groups.Count).Where(group => best[last, group] is not null).ToList();
        var least = ends.Min(group => best[last, group]!.Value.Sum);
        var chosen = ends.Where(group => best[last, group]!.Value.Sum == least).ToList();
        if (chosen.Count != 1 || best[last, chosen[0]]!.Value.Ways != 1)
        {
            return null;
        }

        var units = new int[shares.Count];
        for (var (share, group) = (last, chosen[0]); share >= 0; group = best[share, group]!.Value.Before, share--)
        {
            units[share] = groups[group];
            if (Distance(shares[share], group) > Farthest)
            {
                return null;
            }
        }

        return units;

        Rational Distance(Rational share, int group) => (new Rational(groups[group], meter.Units) - share).Abs();
    }

    private static bool IsGroupStart(BarMeter meter, Span place) => meter.GroupStartUnits.Any(unit => meter.Unit * unit == place);

    // The groupings of a meter in groups of two and three, and of one at the end, that fit.
    private static string FittingWords(BarMeter meter, Func<BarMeter, bool> fits)
    {
        var found = Groupings(meter.Units).Select(groups => new BarMeter(meter.Signature, Grouping.Of(groups))).Where(other => !other.Grouping.IsUndivided && fits(other))
            .OrderBy(other => other.GroupSizes.Count).Take(MostExamples).Select(other => other.Grouping.ToString()).ToList();
        return found.Count == 0 ? "no grouping fits; write none, so that only bar lines are strong, or let another span become a bar" : $"write {string.Join(" or ", found)}, or none";
    }

    private static IEnumerable<IReadOnlyList<int>> Groupings(int units)
    {
        const int Most = 13;
        if (units > Most)
        {
            yield break;
        }

        foreach (var size in TwoAndThree.Where(size => size <= units))
        {
            if (size == units)
            {
                yield return [size];
            }

            foreach (var rest in Groupings(units - size))
            {
                yield return [size, .. rest];
            }
        }

        if (units == 1)
        {
            yield return [1];
        }
    }
}
