namespace GrooveLab.Music.Recast;

/// <summary>
/// The terms of the cost of a phrase, each rounded to a billionth and added as whole numbers, so that equal costs are equal exactly, in whatever order they are added.
/// </summary>
internal sealed class PhraseTerms
{
    private const double Billion = 1e9;

    // Above this a syllable counts as longer in relation to its neighbour: an eighth of five and an eighth of four differ by less.
    private const double HeardLengthening = 0.1;

    // Lengths are compared as double numbers, which no sum of note values brings as close as this.
    private const double SameLength = 1e-9;

    private readonly PlacementPhrase _phrase;
    private readonly PlacementCosts _costs;
    private readonly int _verses;
    private readonly double[] _source;
    private readonly double[] _sourceLogs;
    private readonly double[] _sourceLengths;
    private readonly double[] _spanStarts;
    private readonly int[] _stressedFirst;
    private readonly int[] _stressedLast;

    public PhraseTerms(PlacementPhrase phrase, PlacementCosts costs)
    {
        _phrase = phrase;
        _costs = costs;
        var onsets = phrase.Onsets;
        var count = onsets.Count;
        _verses = count == 0 ? 0 : onsets[0].Stresses.Count;
        _spanStarts = new double[phrase.Spans.Count + 1];
        var sourceStarts = new double[phrase.Spans.Count + 1];
        for (var i = 0; i < phrase.Spans.Count; i++)
        {
            var span = phrase.Spans[i];
            _spanStarts[i + 1] = _spanStarts[i] + (span.Places * span.Step.Wholes.ToDouble());
            sourceStarts[i + 1] = sourceStarts[i] + span.Source.Wholes.ToDouble();
        }

        _source = new double[count + 1];
        var sourceTimes = new double[count + 1];
        for (var i = 0; i < count; i++)
        {
            var onset = onsets[i];
            _source[i] = onset.SpanIndex + (onset.Offset / phrase.Spans[onset.SpanIndex].Source).ToDouble();
            sourceTimes[i] = sourceStarts[onset.SpanIndex] + onset.Offset.Wholes.ToDouble();
        }

        if (count > 0)
        {
            _source[count] = onsets[^1].SpanIndex + 1;
            sourceTimes[count] = sourceStarts[onsets[^1].SpanIndex + 1];
        }

        _sourceLogs = new double[count];
        _sourceLengths = new double[count];
        _stressedFirst = new int[count];
        _stressedLast = new int[count];
        for (var i = 0; i < count; i++)
        {
            _sourceLogs[i] = Math.Log2(_source[i + 1] - _source[i]);
            _sourceLengths[i] = sourceTimes[i + 1] - sourceTimes[i];
            for (var verse = 0; i + 1 < count && verse < _verses; verse++)
            {
                var (first, last) = (onsets[i].Stresses[verse], onsets[i + 1].Stresses[verse]);
                _stressedFirst[i] += first == SyllableStress.Stressed && last == SyllableStress.Unstressed ? 1 : 0;
                _stressedLast[i] += first == SyllableStress.Unstressed && last == SyllableStress.Stressed ? 1 : 0;
            }
        }
    }

    public int Count => _phrase.Onsets.Count;

    /// <summary>What onset <paramref name="i"/> costs at a place by itself.</summary>
    public long Alone(int i, int place) => Moved(i, place) + WeightLost(i, place);

    /// <summary>What the interval from onset <paramref name="i"/> to the next costs, or to the end after the last.</summary>
    public long Between(int i, int place, int next) => IntervalChanged(i, place, next) + StressOnWeakPlace(i, place, next) + TooShort(i, place, next);

    /// <summary>What the intervals before and after onset <paramref name="i"/> cost in relation to each other.</summary>
    public long Around(int i, int before, int place, int next) => FigureReversed(i, before, place, next) + WeakLengthened(i, before, place, next);

    public long Moved(int i, int place) => Rounded(_costs.Moved * Math.Abs(Axis(i, place) - _source[i]));

    public long WeightLost(int i, int place) =>
        Rounded(_costs.WeightLost * Math.Max(0, _phrase.Onsets[i].Weight - SpanOf(i).Weights[place]));

    public long IntervalChanged(int i, int place, int next) => Rounded(_costs.IntervalChanged * Math.Abs(TargetLog(i, place, next) - _sourceLogs[i]));

    public long StressOnWeakPlace(int i, int place, int next)
    {
        if (_stressedFirst[i] + _stressedLast[i] == 0)
        {
            return 0;
        }

        var (first, last) = (SpanOf(i).Weights[place], SpanOf(i + 1).Weights[next]);
        var times = first < last ? _stressedFirst[i] : last < first ? _stressedLast[i] : 0;
        return Rounded(_costs.StressOnWeakPlace * times / _verses);
    }

    public long TooShort(int i, int place, int next)
    {
        var onset = _phrase.Onsets[i];
        var sung = 0;
        for (var verse = 0; verse < _verses; verse++)
        {
            sung += onset.Stresses[verse] != SyllableStress.Held && (i + 1 == Count || _phrase.Onsets[i + 1].Stresses[verse] != SyllableStress.Held) ? 1 : 0;
        }

        return sung > 0 && Seconds(i, place, next) < _costs.ShortestSyllable - SameLength ? Rounded(_costs.TooShort * sung / _verses) : 0;
    }

    public long FigureReversed(int i, int before, int place, int next)
    {
        var (sourceFirst, sourceLast) = (_sourceLengths[i - 1], _sourceLengths[i]);
        if (Math.Abs(sourceFirst - sourceLast) < SameLength)
        {
            return 0;
        }

        var (first, last) = (TargetLength(i - 1, before, place), TargetLength(i, place, next));
        if (Math.Abs(first - last) < SameLength)
        {
            return Rounded(_costs.FigureReversed / 2);
        }

        return sourceFirst < sourceLast == first < last ? 0 : Rounded(_costs.FigureReversed);
    }

    public long WeakLengthened(int i, int before, int place, int next)
    {
        if (_stressedFirst[i - 1] + _stressedLast[i - 1] == 0)
        {
            return 0;
        }

        var gained = TargetLog(i, place, next) - TargetLog(i - 1, before, place) - (_sourceLogs[i] - _sourceLogs[i - 1]);
        var cost = (_stressedFirst[i - 1] * Math.Max(0, gained - HeardLengthening)) + (_stressedLast[i - 1] * Math.Max(0, -gained - HeardLengthening));
        return Rounded(_costs.WeakLengthened * cost / _verses);
    }

    public static long Rounded(double cost) => (long)Math.Round(cost * Billion);

    public static double Cost(long rounded) => rounded / Billion;

    private PlacementSpan SpanOf(int i) => _phrase.Spans[_phrase.Onsets[i].SpanIndex];

    // The place in spans from the start of the phrase.
    private double Axis(int i, int place) => _phrase.Onsets[i].SpanIndex + ((double)place / SpanOf(i).Places);

    private double TargetLog(int i, int place, int next) =>
        Math.Log2((i + 1 == Count ? _phrase.Onsets[i].SpanIndex + 1 : Axis(i + 1, next)) - Axis(i, place));

    private double TargetTime(int i, int place) => _spanStarts[_phrase.Onsets[i].SpanIndex] + (place * SpanOf(i).Step.Wholes.ToDouble());

    private double TargetLength(int i, int place, int next) =>
        (i + 1 == Count ? _spanStarts[_phrase.Onsets[i].SpanIndex + 1] : TargetTime(i + 1, next)) - TargetTime(i, place);

    private double Seconds(int i, int place, int next)
    {
        var first = _phrase.Onsets[i].SpanIndex;
        var last = i + 1 == Count ? first : _phrase.Onsets[i + 1].SpanIndex;
        if (i + 1 < Count && first == last)
        {
            return (next - place) * SpanOf(i).SecondsPerPlace;
        }

        var seconds = (SpanOf(i).Places - place) * SpanOf(i).SecondsPerPlace;
        for (var span = first + 1; span < last; span++)
        {
            seconds += _phrase.Spans[span].Places * _phrase.Spans[span].SecondsPerPlace;
        }

        return last > first ? seconds + (next * _phrase.Spans[last].SecondsPerPlace) : seconds;
    }
}
