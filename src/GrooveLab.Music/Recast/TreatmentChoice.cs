using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>What a musician asks for: a meter, and as much of the treatment as matters.</summary>
/// <param name="To">The time signature.</param>
public sealed record TreatmentWish(TimeSignature To)
{
    /// <summary>The grouping; null to find one.</summary>
    public Grouping? Grouping { get; init; }

    /// <summary>What becomes a bar; null to find it.</summary>
    public SourceSpan? Span { get; init; }

    /// <summary>The beat after which a beat is added; null to fit the notes into the new bar.</summary>
    public int? BeatAfter { get; init; }
}

/// <summary>A treatment with its recasting and what it costs.</summary>
/// <param name="Treatment">The treatment.</param>
/// <param name="Recasting">The song in it.</param>
/// <param name="CostPerNote">The cost of the places, per note.</param>
/// <param name="UnitChange">The cost of note values that last longer or shorter than before: as for intervals.</param>
public sealed record TreatedSong(Treatment Treatment, SongRecasting Recasting, double CostPerNote, double UnitChange)
{
    /// <summary>The cost of all places; where a beat was added, of the figures that turned and the syllables that gained.</summary>
    public double PlacesCost => Recasting.Phrases.Count > 0 ? Recasting.Places.Cost
        : CostPerNote * Recasting.Stretches.Sum(stretch => stretch.Lines.Sum(line => line.Count));

    /// <summary>What it costs to compare it with others.</summary>
    public double Cost => CostPerNote + UnitChange;
}

/// <summary>Finds the treatments that a wish leaves open.</summary>
public static class TreatmentChoice
{
    private const int MostUnitsInGroups = 13;
    private const int Minute = 60;
    private static readonly SourceSpan[] InOrder = [SourceSpan.HalfBar, SourceSpan.Bar, SourceSpan.Beat];
    private static readonly int[] ThreeAndTwo = [3, 2];

    // A unit shorter or longer than this is no place to sing a syllable on, or no longer felt as a unit.
    private const double ShortestUnit = 0.1;
    private const double LongestUnit = 1.0;

    /// <summary>The treatments that a wish allows and that fit the song, in a musician's order: half bars, bars, beats; and the longer group first.</summary>
    /// <param name="source">The song.</param>
    /// <param name="wish">The wish.</param>
    /// <param name="section">The section that it is for; null for the whole song.</param>
    /// <exception cref="ChartProblemException">None fits; the message says what would.</exception>
    public static IReadOnlyList<Treatment> Treatments(Chart source, TreatmentWish wish, string? section = null)
    {
        var sections = section is null ? source.Sections : [.. source.Sections.Where(one => one.Name == section)];
        var bars = sections.SelectMany(one => one.Bars).ToList();
        var usual = bars.GroupBy(bar => bar.Meter).MaxBy(group => group.Count())?.Key
            ?? throw new ChartProblemException(Wording.Words.Unknown("section", section ?? string.Empty, source.Sections.Select(one => one.Name)));
        var all = Spelled(wish, usual).Where(treatment => treatment.To != usual || treatment.Span != SourceSpan.Bar).ToList();
        if (all.Count == 0)
        {
            throw new ChartProblemException($"it is in {usual.Signature} {usual.Grouping} already; name another meter, or what becomes a bar of it");
        }

        var fitting = all.Where(treatment => Problem(treatment, bars, usual) is null).ToList();
        if (fitting.Count == 0)
        {
            throw Problem(all[0], bars, usual)!;
        }

        // An open span is one whose units can be sung and felt.
        var whole = Minute / new FormPlan(source).BarAt(0).SteadyTempo.WholesPerMinute.ToDouble();
        var felt = wish.Span is not null ? [] : fitting.FindAll(treatment =>
        {
            var seconds = treatment.LengthIn(usual).Wholes.ToDouble() * whole / treatment.To.Units;
            return treatment.BeatAfter is not null || seconds is >= ShortestUnit and <= LongestUnit;
        });
        return felt.Count > 0 ? felt : fitting;
    }

    /// <summary>The song in the cheapest of several treatments; of equal ones the first.</summary>
    /// <param name="source">The song.</param>
    /// <param name="treatments">At least one.</param>
    /// <param name="options">What else is asked for; its treatment is replaced.</param>
    /// <exception cref="ChartProblemException">The song fits none of them.</exception>
    public static TreatedSong Cheapest(Chart source, IReadOnlyList<Treatment> treatments, RecastOptions options)
    {
        TreatedSong? best = null;
        ChartProblemException? problem = null;
        foreach (var treatment in treatments)
        {
            try
            {
                var made = Treated(source, options with { Treatment = treatment });
                best = best is null || made.Cost < best.Cost - 1e-9 ? made : best;
            }
            catch (ChartProblemException refused)
            {
                problem ??= refused;
            }
        }

        return best ?? throw problem!;
    }

    /// <summary>The song as treated, with its costs.</summary>
    /// <param name="source">The song.</param>
    /// <param name="options">What is asked for.</param>
    /// <exception cref="ChartProblemException">The treatment does not fit the song.</exception>
    public static TreatedSong Treated(Chart source, RecastOptions options)
    {
        var recasting = SongRecast.Of(source, options);
        var costs = options.CostsFor(source);
        var notes = recasting.Phrases.Sum(phrase => phrase.Onsets.Count);
        var first = recasting.Seams[source.Form[0].Section];
        var change = Math.Abs(Math.Log2((first.After / first.Before).ToDouble()));
        return notes == 0
            ? new TreatedSong(options.Treatment, recasting, KeptCost(recasting, costs), costs.IntervalChanged * change)
            : new TreatedSong(options.Treatment, recasting, recasting.Places.Cost / notes, costs.IntervalChanged * change);
    }

    // Notes that keep their distance from their beats have no places to be sought; what costs are the figures that the new beat turns.
    private static double KeptCost(SongRecasting recasting, PlacementCosts costs)
    {
        var notes = recasting.Stretches.Sum(stretch => stretch.Lines.Sum(line => line.Count));
        var measures = new RecastMeasures(recasting);
        var figures = measures.Turned.Sum(figure => figure.IsReversed ? costs.FigureReversed : costs.FigureReversed / 2);
        return notes == 0 ? 0 : (figures + (costs.WeakLengthened * measures.WeakLengthened.Count)) / notes;
    }

    private static ChartProblemException? Problem(Treatment treatment, IEnumerable<ChartBar> bars, BarMeter usual)
    {
        try
        {
            foreach (var meter in bars.Select(bar => bar.Meter).Distinct())
            {
                _ = ConvertedBar.Of(meter, usual, treatment);
            }

            return null;
        }
        catch (ChartProblemException problem)
        {
            return problem;
        }
    }

    private static IEnumerable<Treatment> Spelled(TreatmentWish wish, BarMeter usual)
    {
        if (wish.BeatAfter is { } beat)
        {
            return [new Treatment(new BarMeter(wish.To, wish.Grouping ?? Stated(wish.To, usual, beat)), SourceSpan.Bar) { BeatAfter = beat }];
        }

        var spans = wish.Span is { } span ? [span] : InOrder;
        var groupings = wish.Grouping is { } grouping ? [grouping] : Groupings(wish.To);
        return spans.SelectMany(one => groupings.Select(groups => new Treatment(new BarMeter(wish.To, groups), one)));
    }

    // The groups that start on the strong beats after a beat was added.
    private static Grouping Stated(TimeSignature to, BarMeter usual, int after)
    {
        var beat = Treatment.BeatOf(usual);
        var starts = Treatment.StrongPlaces(usual).Select(place => (place < beat * after ? place : place + beat) / to.Unit).ToList();
        if (starts.Exists(start => !start.IsInteger || start.Numerator >= to.Numerator))
        {
            return Grouping.Undivided(to.Numerator);
        }

        return Grouping.Of([.. starts.Select((start, i) => (int)((i + 1 < starts.Count ? starts[i + 1].Numerator : to.Numerator) - start.Numerator))]);
    }

    /// <summary>The groupings in twos and threes, the one with the fewest groups and the longest first; the usual one alone where a time signature has it.</summary>
    /// <param name="signature">The time signature.</param>
    public static IReadOnlyList<Grouping> Groupings(TimeSignature signature)
    {
        var usual = Grouping.Usual(signature);
        if (!usual.IsUndivided || signature.Numerator is < 4 or > MostUnitsInGroups)
        {
            return [usual];
        }

        return [.. InTwosAndThrees(signature.Numerator).OrderBy(groups => groups.Count).Select(groups => Grouping.Of(groups))];
    }

    private static IEnumerable<IReadOnlyList<int>> InTwosAndThrees(int units)
    {
        foreach (var size in ThreeAndTwo.Where(size => size <= units))
        {
            if (size == units)
            {
                yield return [size];
            }

            foreach (var rest in InTwosAndThrees(units - size))
            {
                yield return [size, .. rest];
            }
        }
    }
}
