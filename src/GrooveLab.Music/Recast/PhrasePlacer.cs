namespace GrooveLab.Music.Recast;

/// <summary>The places of the onsets of a phrase.</summary>
/// <param name="Places">A place for each onset, from 0 in its span.</param>
/// <param name="Rounded">The cost in billionths, with that of spans unlike those wanted.</param>
/// <param name="Other">Other places of the same cost, if there are any.</param>
internal sealed record PhrasePlaces(IReadOnlyList<int> Places, long Rounded, IReadOnlyList<int>? Other);

/// <summary>
/// Finds the places of a phrase that cost least: a dynamic programme from the end of the phrase to its start, whose state is the places of two neighbouring onsets and
/// whether the span so far has its wanted places. The result is exact.
/// </summary>
internal sealed class PhrasePlacer
{
    private const int States = 2;

    // Costs that differ by a millionth are equal: sums of the same logarithms in other terms are rounded otherwise.
    private const long Equal = 1000;

    private readonly PlacementPhrase _phrase;
    private readonly PhraseTerms _terms;
    private readonly int[] _lowest;
    private readonly int[] _highest;
    private readonly long[][] _alone;
    private readonly long[][,] _between;
    private readonly long[][,,] _around;

    public PhrasePlacer(PlacementPhrase phrase, PlacementCosts costs)
    {
        _phrase = phrase;
        _terms = new PhraseTerms(phrase, costs);
        (_lowest, _highest) = Ranges(phrase);
        var count = phrase.Onsets.Count;
        CrowdedSpan = Enumerable.Range(0, count).Where(i => _lowest[i] > _highest[i]).Select(i => (int?)phrase.Onsets[i].SpanIndex).FirstOrDefault();
        _alone = new long[count][];
        _between = new long[count][,];
        _around = new long[count][,,];
        if (CrowdedSpan is null)
        {
            Prepare(count);
        }
    }

    /// <summary>The first span with more onsets than places for them; null if every span has room.</summary>
    public int? CrowdedSpan { get; }

    /// <summary>The onsets of each span, as the first one and their number.</summary>
    public static IEnumerable<(int Span, int First, int Count)> OnsetsOfSpans(PlacementPhrase phrase)
    {
        for (var first = 0; first < phrase.Onsets.Count;)
        {
            var next = first;
            while (next < phrase.Onsets.Count && phrase.Onsets[next].SpanIndex == phrase.Onsets[first].SpanIndex)
            {
                next++;
            }

            yield return (phrase.Onsets[first].SpanIndex, first, next - first);
            first = next;
        }
    }

    /// <summary>The places of lowest cost; of equal costs (to a millionth) those where the first onset that differs comes later, so that the note before it keeps its length.</summary>
    /// <param name="wanted">The places that a span should have, by span; a span with others costs <paramref name="unlike"/> more.</param>
    /// <param name="unlike">In billionths.</param>
    /// <exception cref="InvalidOperationException">A span is crowded.</exception>
    public PhrasePlaces Best(IReadOnlyDictionary<int, IReadOnlyList<int>> wanted, long unlike)
    {
        if (CrowdedSpan is not null)
        {
            throw new InvalidOperationException("A span has more onsets than places.");
        }

        var count = _phrase.Onsets.Count;
        if (count == 0)
        {
            return new PhrasePlaces([], 0, null);
        }

        var place = new int?[count];
        foreach (var (span, first, onsets) in OnsetsOfSpans(_phrase))
        {
            for (var i = 0; i < onsets && wanted.TryGetValue(span, out var places); i++)
            {
                place[first + i] = places[i];
            }
        }

        return new Run(this, place, unlike).Best();
    }

    private static (int[] Lowest, int[] Highest) Ranges(PlacementPhrase phrase)
    {
        var (lowest, highest) = (new int[phrase.Onsets.Count], new int[phrase.Onsets.Count]);
        foreach (var (span, first, count) in OnsetsOfSpans(phrase))
        {
            for (var i = first; i < first + count; i++)
            {
                lowest[i] = Math.Max(phrase.Onsets[i].Place ?? phrase.Onsets[i].Earliest, i == first ? 0 : lowest[i - 1] + 1);
            }

            for (var i = first + count - 1; i >= first; i--)
            {
                highest[i] = Math.Min(phrase.Onsets[i].Place ?? int.MaxValue, i == first + count - 1 ? phrase.Spans[span].Places - 1 : highest[i + 1] - 1);
            }
        }

        return (lowest, highest);
    }

    private void Prepare(int count)
    {
        for (var i = 0; i < count; i++)
        {
            var own = Choices(i);
            var next = i + 1 < count ? Choices(i + 1) : 1;
            _alone[i] = new long[own];
            _between[i] = new long[own, next];
            for (var x = 0; x < own; x++)
            {
                _alone[i][x] = _terms.Alone(i, _lowest[i] + x);
                for (var y = 0; y < next; y++)
                {
                    _between[i][x, y] = InOrder(i, x, y) ? _terms.Between(i, _lowest[i] + x, i + 1 < count ? _lowest[i + 1] + y : -1) : 0;
                }
            }

            if (i == 0)
            {
                continue;
            }

            var before = Choices(i - 1);
            _around[i] = new long[before, own, next];
            for (var w = 0; w < before; w++)
            {
                for (var x = 0; x < own; x++)
                {
                    for (var y = 0; y < next && InOrder(i - 1, w, x); y++)
                    {
                        _around[i][w, x, y] = InOrder(i, x, y) ? _terms.Around(i, _lowest[i - 1] + w, _lowest[i] + x, i + 1 < count ? _lowest[i + 1] + y : -1) : 0;
                    }
                }
            }
        }
    }

    private int Choices(int i) => _highest[i] - _lowest[i] + 1;

    private bool InOrder(int i, int choice, int next) =>
        i + 1 >= _phrase.Onsets.Count || _phrase.Onsets[i].SpanIndex != _phrase.Onsets[i + 1].SpanIndex || _lowest[i] + choice < _lowest[i + 1] + next;

    private bool BeginsSpan(int i) => i == 0 || _phrase.Onsets[i].SpanIndex != _phrase.Onsets[i - 1].SpanIndex;

    // A state of onset i: its choice, the choice of the onset before it, and whether its span already differs from what is wanted.
    private sealed class Run
    {
        private const long Never = long.MaxValue / 4;

        private readonly PhrasePlacer _placer;
        private readonly int?[] _wanted;
        private readonly long _unlike;
        private readonly long[][,,] _rest;

        public Run(PhrasePlacer placer, int?[] wanted, long unlike)
        {
            _placer = placer;
            _wanted = wanted;
            _unlike = unlike;
            var count = wanted.Length;
            _rest = new long[count][,,];
            for (var i = count - 1; i >= 0; i--)
            {
                _rest[i] = new long[i == 0 ? 1 : placer.Choices(i - 1), placer.Choices(i), States];
                for (var w = 0; w < _rest[i].GetLength(0); w++)
                {
                    for (var x = 0; x < _rest[i].GetLength(1); x++)
                    {
                        for (var differs = 0; differs < States; differs++)
                        {
                            _rest[i][w, x, differs] = i > 0 && !placer.InOrder(i - 1, w, x) ? Never : Least(i, w, x, differs);
                        }
                    }
                }
            }
        }

        public PhrasePlaces Best()
        {
            var least = Never;
            for (var x = 0; x < _placer.Choices(0); x++)
            {
                least = Math.Min(least, Entering(0, 0, x, 0).Cost);
            }

            var last = Walk(least, latest: true);
            var first = Walk(least, latest: false);
            return new PhrasePlaces(last, least, last.SequenceEqual(first) ? null : first);
        }

        // The cost of everything after the places of onset i and the one before it.
        private long Least(int i, int w, int x, int differs)
        {
            if (i == _wanted.Length - 1)
            {
                return After(i, w, x, 0);
            }

            var least = Never;
            for (var y = 0; y < _placer.Choices(i + 1); y++)
            {
                if (_placer.InOrder(i, x, y))
                {
                    least = Math.Min(least, After(i, w, x, y) + Entering(i + 1, x, y, differs).Cost);
                }
            }

            return least;
        }

        private long After(int i, int w, int x, int y) => _placer._between[i][x, y] + (i == 0 ? 0 : _placer._around[i][w, x, y]);

        private (long Cost, int Differs) Entering(int i, int before, int choice, int differs)
        {
            var already = !_placer.BeginsSpan(i) && differs == 1;
            var now = already || (_wanted[i] is { } place && place != _placer._lowest[i] + choice);
            var state = now ? 1 : 0;
            return (_placer._alone[i][choice] + (now && !already ? _unlike : 0) + _rest[i][before, choice, state], state);
        }

        private int[] Walk(long least, bool latest)
        {
            var places = new int[_wanted.Length];
            var (before, own, differs, left) = (0, 0, 0, least + Equal);
            for (var i = 0; i < places.Length; i++)
            {
                var choices = Enumerable.Range(0, _placer.Choices(i));
                foreach (var choice in latest ? choices.Reverse() : choices)
                {
                    if (i > 0 && !_placer.InOrder(i - 1, own, choice))
                    {
                        continue;
                    }

                    var (cost, state) = Entering(i, own, choice, differs);
                    var after = i == 0 ? 0 : After(i - 1, before, own, choice);
                    if (cost + after > left)
                    {
                        continue;
                    }

                    places[i] = _placer._lowest[i] + choice;
                    left -= after + cost - _rest[i][own, choice, state];
                    (before, own, differs) = (own, choice, state);
                    break;
                }
            }

            return places;
        }
    }
}
