using System.Globalization;

namespace GrooveLab.Music.Recast;

/// <summary>The places of all phrases of a tune.</summary>
/// <param name="Phrases">The places of each phrase's onsets.</param>
/// <param name="UnlikeFigures">The number of spans whose figure is recast otherwise than most of its like.</param>
/// <param name="Cost">The total: the phrases and the figures recast unlike.</param>
/// <param name="Ties">The phrases for which other places cost the same, with these places.</param>
/// <param name="IsProven">False if the search for the best treatment of like figures ended at its limit of work; then the cost may not be the lowest.</param>
public sealed record TunePlaces(
    IReadOnlyList<IReadOnlyList<int>> Phrases, int UnlikeFigures, double Cost, IReadOnlyList<(int Phrase, IReadOnlyList<int> Places)> Ties, bool IsProven);

/// <summary>
/// Finds the places of lowest total cost for the phrases of a tune, where like figures want the same places. Figures are alike if their spans have the same onsets with the
/// same strong ones, and become spans of the same places and weights.
/// </summary>
/// <remarks>
/// Each phrase by itself is solved exactly. If like figures then differ, the search decides for one figure after another what places it should have: a span that has others
/// costs <see cref="PlacementCosts.UnlikeFigure"/> more. Undecided figures cost nothing more, so that the cost of a partial decision is never above that of its completions;
/// the first decision without unlike undecided figures is therefore the best.
/// </remarks>
public sealed class TunePlacer
{
    // Each decision solves the phrases that have its figure. Songs need a few dozen.
    private const int MostDecisions = 4000;

    private readonly IReadOnlyList<PlacementPhrase> _phrases;
    private readonly PhrasePlacer[] _placers;
    private readonly long _unlike;
    private readonly List<Figure> _figures;
    private readonly Dictionary<(int Phrase, string Wanted), PhrasePlaces> _solved = [];

    /// <summary>Prepares the search.</summary>
    /// <param name="phrases">The phrases of the tune.</param>
    /// <param name="costs">What changes cost.</param>
    /// <exception cref="ArgumentException">A cost is negative or not finite.</exception>
    public TunePlacer(IReadOnlyList<PlacementPhrase> phrases, PlacementCosts costs)
    {
        if (costs.Impossible().Select(cost => (string?)cost.Name).FirstOrDefault() is { } impossible)
        {
            throw new ArgumentException($"The cost {impossible} must be 0 or more.", nameof(costs));
        }

        _phrases = phrases;
        _placers = [.. phrases.Select(phrase => new PhrasePlacer(phrase, costs))];
        _unlike = PhraseTerms.Rounded(costs.UnlikeFigure);
        _figures = [.. Figures(phrases).Where(figure => figure.Spans.Count > 1)];
    }

    /// <summary>The spans with more onsets than places, as phrase and span: for these the tune needs a finer grid.</summary>
    public IEnumerable<(int Phrase, int Span)> CrowdedSpans =>
        _placers.Select((placer, i) => (i, placer.CrowdedSpan)).Where(one => one.CrowdedSpan is not null).Select(one => (one.i, one.CrowdedSpan!.Value));

    /// <summary>The places of lowest cost.</summary>
    /// <exception cref="InvalidOperationException">There are crowded spans.</exception>
    public TunePlaces Best()
    {
        if (CrowdedSpans.Any())
        {
            throw new InvalidOperationException("A span has more onsets than places.");
        }

        var open = new PriorityQueue<Decision, (long Cost, int Order)>();
        var order = 0;
        var start = Decide(new Dictionary<int, IReadOnlyList<int>>());
        open.Enqueue(start, (start.Cost, order));
        var bound = Completed(start);
        for (var work = 0; open.TryDequeue(out var decision, out _);)
        {
            if (decision.Cost >= bound.Cost)
            {
                return Made(bound, isProven: true);
            }

            if (decision.Unlike is not { } figure)
            {
                return Made(decision, isProven: true);
            }

            foreach (var places in Candidates(_figures[figure]))
            {
                if (++work > MostDecisions)
                {
                    return Made(bound, isProven: false);
                }

                var next = Decide(new Dictionary<int, IReadOnlyList<int>>(decision.Wanted) { [figure] = places });
                var completed = Completed(next);
                bound = completed.Cost < bound.Cost ? completed : bound;
                if (next.Cost < bound.Cost || (next.Cost == bound.Cost && next.Unlike is null))
                {
                    open.Enqueue(next, (next.Cost, ++order));
                }
            }
        }

        return Made(bound, isProven: true);
    }

    private static List<Figure> Figures(IReadOnlyList<PlacementPhrase> phrases)
    {
        var figures = new Dictionary<string, Figure>(StringComparer.Ordinal);
        for (var phrase = 0; phrase < phrases.Count; phrase++)
        {
            foreach (var (span, first, count) in PhrasePlacer.OnsetsOfSpans(phrases[phrase]))
            {
                var key = Key(phrases[phrase], span, first, count);
                if (!figures.TryGetValue(key, out var figure))
                {
                    var onsets = phrases[phrase].Onsets.Skip(first).Take(count).ToList();
                    figures.Add(key, figure = new Figure(phrases[phrase].Spans[span].Places, onsets.ConvertAll(onset => onset.Place), onsets.ConvertAll(onset => onset.Earliest), []));
                }

                figure.Spans.Add((phrase, span, first));
            }
        }

        return [.. figures.Values];
    }

    private static string Key(PlacementPhrase phrase, int span, int first, int count)
    {
        var target = phrase.Spans[span];
        var onsets = phrase.Onsets.Skip(first).Take(count).Select(onset => string.Create(CultureInfo.InvariantCulture, $"{onset.Offset}:{onset.Weight}:{onset.Place}:{onset.Earliest}"));
        return $"{target.Source}>{target.Step}*{string.Join(',', target.Weights)}|{string.Join(' ', onsets)}";
    }

    // Every way to place the figure, in order.
    private static IEnumerable<IReadOnlyList<int>> Candidates(Figure figure)
    {
        var places = new int[figure.Fixed.Count];
        return From(0, 0);

        IEnumerable<IReadOnlyList<int>> From(int onset, int lowest)
        {
            if (onset == places.Length)
            {
                yield return [.. places];
                yield break;
            }

            for (var place = figure.Fixed[onset] ?? Math.Max(lowest, figure.Earliest[onset]); place < figure.Places && place >= lowest; place++)
            {
                places[onset] = place;
                foreach (var one in From(onset + 1, place + 1))
                {
                    yield return one;
                }

                if (figure.Fixed[onset] is not null)
                {
                    break;
                }
            }
        }
    }

    private Decision Decide(Dictionary<int, IReadOnlyList<int>> wanted)
    {
        var phrases = new PhrasePlaces[_phrases.Count];
        var bySpan = new Dictionary<int, IReadOnlyList<int>>[_phrases.Count];
        foreach (var (figure, places) in wanted)
        {
            foreach (var (phrase, span, _) in _figures[figure].Spans)
            {
                (bySpan[phrase] ??= [])[span] = places;
            }
        }

        var cost = 0L;
        for (var i = 0; i < phrases.Length; i++)
        {
            var spans = bySpan[i] ?? [];
            var key = (i, string.Join(';', spans.OrderBy(one => one.Key).Select(one => $"{one.Key}={string.Join(',', one.Value)}")));
            if (!_solved.TryGetValue(key, out var solved))
            {
                _solved.Add(key, solved = _placers[i].Best(spans, _unlike));
            }

            phrases[i] = solved;
            cost += solved.Rounded;
        }

        var unlike = Enumerable.Range(0, _figures.Count).Where(figure => !wanted.ContainsKey(figure) && Ways(_figures[figure], phrases).Count > 1)
            .Select(figure => (int?)figure).FirstOrDefault();
        return new Decision(wanted, phrases, cost, unlike);
    }

    // The figures left undecided want the places that most of them have.
    private Decision Completed(Decision decision)
    {
        if (decision.Unlike is null)
        {
            return decision;
        }

        var extra = 0L;
        for (var i = 0; i < _figures.Count; i++)
        {
            extra += decision.Wanted.ContainsKey(i) ? 0 : _unlike * (_figures[i].Spans.Count - Ways(_figures[i], decision.Phrases).Values.Max());
        }

        return decision with { Cost = decision.Cost + extra };
    }

    private static Dictionary<string, int> Ways(Figure figure, PhrasePlaces[] phrases)
    {
        var ways = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (var (phrase, _, first) in figure.Spans)
        {
            var way = string.Join(',', phrases[phrase].Places.Skip(first).Take(figure.Fixed.Count));
            ways[way] = ways.GetValueOrDefault(way) + 1;
        }

        return ways;
    }

    private TunePlaces Made(Decision decision, bool isProven) => new(
        [.. decision.Phrases.Select(phrase => phrase.Places)],
        _figures.Sum(figure => figure.Spans.Count - Ways(figure, decision.Phrases).Values.Max()),
        PhraseTerms.Cost(decision.Cost),
        [.. decision.Phrases.Select((phrase, i) => (i, phrase.Other)).Where(one => one.Other is not null).Select(one => (one.i, one.Other!))],
        isProven);

    private sealed record Figure(int Places, IReadOnlyList<int?> Fixed, IReadOnlyList<int> Earliest, List<(int Phrase, int Span, int First)> Spans);

    private sealed record Decision(IReadOnlyDictionary<int, IReadOnlyList<int>> Wanted, PhrasePlaces[] Phrases, long Cost, int? Unlike);
}
