using GrooveLab.Music.Analysis;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>Checks that the meter is audible: where onsets and accents recur, and where the count clicks. Tune and count are excluded: a
/// listener must find "one" without them. Common practice, no source.</summary>
public static class RhythmChecks
{
    private static readonly Role[] Backing = [Role.Pulse, Role.Roll, Role.Bass, Role.Sustain];
    private static readonly Role[] Accented = [Role.Pulse, Role.Roll, Role.Bass];

    /// <summary>All checks.</summary>
    public static IEnumerable<CheckResult> Of(BandBars band)
    {
        yield return OnsetsComeBackAtTheBar(band);
        yield return AccentsComeBackAtTheFeltBeat(band);
        yield return BestRotation(band, "onsets fit the meter", Backing, Weight);
        yield return BestRotation(band, "accents fit the meter", Accented, Weight);
        yield return CountClicks(band);
    }

    /// <summary>Autocorrelation of all onsets, weighted by velocity, at the bar, minus the maximum at any other lag up to 1.5 bars. With
    /// alternating meters, their whole cycle replaces the bar. Where all groups of the bar are equal, the group repeats as well as the bar by
    /// nature: its multiples do not count.</summary>
    public static CheckResult OnsetsComeBackAtTheBar(BandBars band)
    {
        double? value = null;
        if (Stretch.LongestIn(band) is { } stretch)
        {
            var period = stretch.StepsIn(stretch.Period);
            var lags = Math.Min((period * 3 / 2) + 1, stretch.Steps);
            var found = Statistics.Autocorrelation(stretch.Series(band, Backing, Weight), lags);
            var group = stretch.EqualGroup is { } equal ? stretch.StepsIn(equal) : period;
            int[] others = period < 2 ? [] : [.. Enumerable.Range(1, lags - 1).Where(lag => lag % group != 0)];
            value = others.Length == 0 ? null : found[period] - others.Max(lag => found[lag]);
        }

        return new CheckResult { Name = "onsets repeat at the bar", Value = value, Unit = "r above any other lag", AtLeast = 0 };
    }

    /// <summary>Autocorrelation of the accents of the parts other than the sustain at the felt beat, minus the maximum at any shorter
    /// lag. Groups of different lengths have no period but the bar.</summary>
    public static CheckResult AccentsComeBackAtTheFeltBeat(BandBars band)
    {
        double? value = null;
        if (Stretch.LongestIn(band) is { } stretch && stretch.FeltPeriod() is { } felt)
        {
            var period = stretch.StepsIn(felt);
            if (period > 1 && period < stretch.Steps)
            {
                var found = Statistics.Autocorrelation(stretch.Series(band, Accented, Weight), period + 1);
                value = found[period] - Enumerable.Range(1, period - 1).Max(lag => found[lag]);
            }
        }

        return new CheckResult { Name = "accents repeat at the felt beat", Value = value, Unit = "r above any shorter lag", AtLeast = 0 };
    }

    /// <summary>Bars in which the clicks are not on the felt beats, or on the other level that the chart counts.</summary>
    public static CheckResult CountClicks(BandBars band)
    {
        var counts = band.PartsIn(Role.Count).Where(part => band.SettingsOf<CountSettings>(part.Part).On != CountOn.Nothing).ToList();
        return CheckResult.None("clicks off the felt beats", "bars", counts.Any(part => part.Notes.Count > 0), Broken());

        IEnumerable<string> Broken()
        {
            foreach (var (part, notes) in counts)
            {
                var on = band.SettingsOf<CountSettings>(part).On;
                var clicks = notes.ToLookup(placed => placed.Bar.Index, placed => placed.Note.Onset);
                foreach (var bar in band.Form.Where(bar => bar.Stop != BandStop.Hold))
                {
                    var level = on switch
                    {
                        CountOn.Units => FeltLevel.Unit,
                        CountOn.Groups => FeltLevel.Group,
                        CountOn.Bars => FeltLevel.Bar,
                        _ => bar.Felt,
                    };
                    if (!level.BeatsIn(bar.Meter, bar.GroupPlace).SequenceEqual(clicks[bar.Index]))
                    {
                        yield return $"bar {bar.Index}: clicks at {string.Join(' ', clicks[bar.Index])}, felt as {bar.Felt.Name()}";
                    }
                }
            }
        }
    }

    // Compares the profile of a bar, step by step, with that of the meter: rotation 0 must fit best.
    private static CheckResult BestRotation(BandBars band, string name, Role[] roles, Func<NoteEvent, double> weight)
    {
        double? margin = null;
        foreach (var same in band.Form.GroupBy(bar => bar.Meter))
        {
            var meter = same.Key;
            var step = RollGrid.StepOf(meter);
            var steps = (int)(meter.Length / step).Numerator;
            if (steps < 2)
            {
                continue;
            }

            var profile = new double[steps];
            foreach (var note in same.SelectMany(bar => bar.Notes).Where(note => roles.Contains(note.Role)))
            {
                profile[(int)(note.Onset / step).Round() % steps] += weight(note);
            }

            if (Statistics.Deviation(profile) == 0)
            {
                continue;
            }

            var wanted = Enumerable.Range(0, steps).Select(at => Strength(meter, step * at)).ToArray();
            var fits = Rotation.Fits(profile, wanted);
            var found = fits[0] - fits.Skip(1).Max();
            margin = margin is { } known ? Math.Min(known, found) : found;
        }

        return new CheckResult { Name = name, Value = margin, Unit = "r above any rotation", AtLeast = 0 };
    }

    // The level of the meter that starts at a place: 0 between units.
    private static double Strength(Meter.BarMeter meter, Span at)
    {
        var unit = at / meter.Unit;
        return unit.IsInteger ? meter.Grouping.Depth + 2 - meter.UnitDepths[(int)unit.Numerator] : 0;
    }

    // In General MIDI, amplitude follows the square of velocity.
    private static double Weight(NoteEvent note) => note.Velocity / 127.0 * (note.Velocity / 127.0);

    /// <summary>Consecutive bars in which a meter, or a cycle of meters, repeats.</summary>
    private sealed class Stretch
    {
        private const int LongestPattern = 8;
        private const int FewestPeriods = 3;

        private readonly IReadOnlyList<Bar> _bars;
        private readonly Span _step;

        private Stretch(IReadOnlyList<Bar> bars, int pattern)
        {
            _bars = bars;
            _step = bars.Select(bar => RollGrid.StepOf(bar.Meter)).Min();
            Period = bars.Take(pattern).Aggregate(Span.Zero, (sum, bar) => sum + bar.Meter.Length);
            IsOneMeter = pattern == 1;
            Steps = StepsIn(bars[^1].End - bars[0].Start);
        }

        public Span Period { get; }

        public bool IsOneMeter { get; }

        public int Steps { get; }

        /// <summary>The length of a group, if all groups are equal and longer than a step; null otherwise.</summary>
        public Span? EqualGroup => IsOneMeter && _bars[0].Meter is var meter && meter.GroupSizes.Distinct().Count() == 1 && meter.GroupSizes[0] > 1
            ? meter.Unit * meter.GroupSizes[0]
            : null;

        /// <summary>The longest such stretch of the shortest repeating pattern; null if nothing repeats.</summary>
        public static Stretch? LongestIn(BandBars band)
        {
            var form = band.Form.ToArray();
            for (var pattern = 1; pattern <= LongestPattern; pattern++)
            {
                var (best, bestLength) = (0, 0);
                for (int from = 0, to; from < form.Length; from = Math.Max(from + 1, to - pattern + 1))
                {
                    to = from + 1;
                    while (to < form.Length && form[to].Felt == form[from].Felt
                        && (to - from < pattern || form[to].Meter.Equals(form[to - pattern].Meter)))
                    {
                        to++;
                    }

                    if (to - from > bestLength)
                    {
                        (best, bestLength) = (from, to - from);
                    }
                }

                if (bestLength >= FewestPeriods * pattern)
                {
                    return new Stretch(form[best..(best + bestLength)], pattern);
                }
            }

            return null;
        }

        public int StepsIn(Span length) => (int)(length / _step).Round();

        public double[] Series(BandBars band, Role[] roles, Func<NoteEvent, double> weight)
        {
            var series = new double[Steps];
            var start = _bars[0].Start;
            var bars = _bars.ToHashSet(ReferenceEqualityComparer.Instance);
            foreach (var placed in band.Notes.Where(placed => bars.Contains(placed.Bar) && roles.Contains(placed.Note.Role)))
            {
                var at = StepsIn(placed.From - start);
                if (at < series.Length)
                {
                    series[at] += weight(placed.Note);
                }
            }

            return series;
        }

        public Span? FeltPeriod()
        {
            var meter = _bars[0].Meter;
            switch (_bars[0].Felt)
            {
                case FeltLevel.Unit:
                    return meter.Unit;
                case FeltLevel.Group when IsOneMeter && meter.GroupSizes.Distinct().Count() == 1:
                    return meter.Unit * meter.GroupSizes[0];
                case FeltLevel.BarGroup:
                    var sizes = _bars.Select(bar => bar.GroupPlace.Size).Distinct().ToArray();
                    return IsOneMeter && sizes.Length == 1 && _bars.Count >= FewestPeriods * sizes[0] ? meter.Length * sizes[0] : null;
                default:
                    return Period;
            }
        }
    }
}
