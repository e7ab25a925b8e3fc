using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>The meters of a score's measures, as a chart has them. A grouping that is not written and not usual is found from the notes
/// and chords of all measures in that meter.</summary>
internal sealed class MeterFinder
{
    // Longer bars have too many ways of grouping to tell them apart.
    private const int MostUnits = 24;
    private static readonly int[] GroupSizes = [2, 3];
    private const int ChordWeight = 3;
    private const int LongestWeight = 4;

    private readonly Dictionary<TimeSignature, Grouping> _found = [];
    private readonly BarMeter?[] _meters;

    public MeterFinder(WrittenMusic music)
    {
        var evidence = new Dictionary<TimeSignature, double[]>();
        _meters = new BarMeter?[music.Measures.Count];
        for (var m = 0; m < music.Measures.Count; m++)
        {
            var written = music.MeterAt(m);
            _meters[m] = written?.ToBarMeter();
            if (_meters[m] is { } meter && written is { Grouping: null, Pairs: [{ Beats.Count: 1 }] } && NeedsGrouping(meter))
            {
                if (!evidence.TryGetValue(meter.Signature, out var weights))
                {
                    evidence.Add(meter.Signature, weights = new double[meter.Units]);
                }

                Weigh(music, m, meter, weights);
            }
        }

        foreach (var (signature, weights) in evidence)
        {
            if (Best(weights) is { } grouping)
            {
                _found.Add(signature, grouping);
            }
        }

        for (var m = 0; m < _meters.Length; m++)
        {
            if (_meters[m] is { } meter && music.MeterAt(m) is { Grouping: null, Pairs: [{ Beats.Count: 1 }] } && _found.TryGetValue(meter.Signature, out var grouping))
            {
                _meters[m] = new BarMeter(meter.Signature, grouping);
            }
        }
    }

    /// <summary>The groupings that were found from the notes.</summary>
    public IReadOnlyDictionary<TimeSignature, Grouping> Found => _found;

    /// <summary>The meter of a measure; null if it is free or cannot be a bar's meter.</summary>
    public BarMeter? At(int measure) => _meters[measure];

    /// <summary>A meter for a bar of a length: in the units of the meter around it if they fit, otherwise in the largest that do.</summary>
    /// <returns>Null if no bar can have that length.</returns>
    public static BarMeter? Fitting(Span length, BarMeter? around)
    {
        if (around is not null && (length / around.Unit).IsInteger && (length / around.Unit).Numerator <= TimeSignature.LargestNumerator)
        {
            return Usual((int)(length / around.Unit).Numerator, around.Signature.Denominator);
        }

        // Quarters at most: a bar of one whole note is 4/4.
        var below = length.Wholes.Denominator;
        var times = below < 4 && 4 % below == 0 ? 4 / below : 1;
        return below * times <= TimeSignature.LargestDenominator && length.Wholes.Numerator * times <= TimeSignature.LargestNumerator
            ? Usual((int)(length.Wholes.Numerator * times), (int)(below * times))
            : null;
    }

    private static BarMeter Usual(int units, int unit)
    {
        var signature = new TimeSignature(units, unit);
        return new BarMeter(signature, Grouping.Usual(signature));
    }

    private static bool NeedsGrouping(BarMeter meter) => meter.Grouping.IsUndivided && meter.Units is >= 5 and <= MostUnits;

    private static void Weigh(WrittenMusic music, int measure, BarMeter meter, double[] weights)
    {
        foreach (var voice in music.Parts.SelectMany(part => part.Measures[measure].Voices))
        {
            var at = Span.Zero;
            foreach (var one in voice.Events)
            {
                if (one is NotesEvent { Grace: null, IsCue: false })
                {
                    var (from, to) = (at / meter.Unit, (at + one.Length) / meter.Unit);
                    for (var unit = (int)from.Ceiling(); unit < Math.Min(weights.Length, to.Ceiling()); unit++)
                    {
                        // A note that sounds on over a unit speaks against a group there.
                        weights[unit] += unit == from ? 1 + Math.Min(LongestWeight, (to - from).ToDouble()) : -1;
                    }

                    // What follows a long note begins a group more often than what follows a short one.
                    if (to - from > 1 && to.IsInteger && to.Numerator < weights.Length)
                    {
                        weights[(int)to.Numerator]++;
                    }
                }

                at += one.Length;
            }
        }

        foreach (var chord in music.Measures[measure].Chords)
        {
            var unit = chord.At / meter.Unit;
            if (unit.IsInteger && unit.Numerator >= 0 && unit.Numerator < weights.Length)
            {
                weights[(int)unit.Numerator] += ChordWeight;
            }
        }
    }

    private static Grouping? Best(double[] weights)
    {
        Grouping? best = null;
        var most = 1e-9;
        foreach (var sizes in Compositions(weights.Length))
        {
            var starts = new HashSet<int>();
            var at = 0;
            foreach (var size in sizes.SkipLast(1))
            {
                starts.Add(at += size);
            }

            // The downbeat is in all of them and tells nothing.
            var inside = Enumerable.Range(1, weights.Length - 1).Where(starts.Contains).Select(unit => weights[unit]).DefaultIfEmpty(0).Average();
            var outside = Enumerable.Range(1, weights.Length - 1).Where(unit => !starts.Contains(unit)).Select(unit => weights[unit]).DefaultIfEmpty(0).Average();
            if (inside - outside > most + 1e-9)
            {
                (best, most) = (Grouping.Of([.. sizes]), inside - outside);
            }
        }

        return best;
    }

    // Groups of two and three; of equal ones the quick steps first, as most written out: 2+2+3. Five is 3+2.
    private static IEnumerable<List<int>> Compositions(int units)
    {
        return units == 5 ? [[3, 2], [2, 3]] : All(units);

        static IEnumerable<List<int>> All(int left)
        {
            if (left == 0)
            {
                yield return [];
                yield break;
            }

            foreach (var size in GroupSizes.Where(size => size <= left))
            {
                foreach (var rest in All(left - size))
                {
                    yield return [size, .. rest];
                }
            }
        }
    }

    /// <summary>A remark for each grouping that was found.</summary>
    public IEnumerable<ChartRemark> Remarks() => _found.OrderBy(pair => pair.Key.Denominator).ThenBy(pair => pair.Key.Numerator)
        .Select(pair => new ChartRemark(null, "meter", string.Create(CultureInfo.InvariantCulture, $"The grouping {pair.Value} of {pair.Key} is inferred from the notes.")));
}
