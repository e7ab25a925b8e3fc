using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>The result of a series of taps.</summary>
/// <param name="Level">The tapped level.</param>
/// <param name="WholesPerMinute">The tempo.</param>
/// <param name="RelativeError">Standard error as a share of the tempo, from the spread of the taps; NaN with fewer than three
/// intervals.</param>
/// <param name="Taps">The number of taps used.</param>
/// <param name="LongShort">True when groups of different lengths were tapped and recognized.</param>
public readonly record struct TappedTempo(FeltLevel Level, double WholesPerMinute, double RelativeError, int Taps, bool LongShort);

/// <summary>Finds the tempo of taps on units, groups (also long and short), bars or bar groups, and which level was tapped. Pure: times
/// in, tempo out.</summary>
/// <remarks>Intervals follow Wing and Kristofferson (1973): a clock with varying intervals, and a motor delay that varies at each tap, so
/// that adjacent intervals are correlated by minus the motor variance. The estimate is the best linear unbiased one for that model
/// (generalised least squares), with the variance ratio of an average tapper.</remarks>
public static class TapTempo
{
    /// <summary>A pause longer than this many usual intervals starts a new series of taps.</summary>
    public const double PauseFactor = 2.6;

    /// <summary>Seconds after which a series of taps always ends.</summary>
    public const double LongestPause = 8;

    // Clock to motor standard deviation; about two in trained tappers. From memory of the literature after Wing and Kristofferson (1973).
    private const double ClockToMotor = 2;

    // Long-short wins when it explains the intervals this much better than even beats.
    private const double LongShortGain = 0.5;
    private const double LargestLimpError = 0.12;
    private const int FewestForLongShort = 4;

    /// <summary>The taps of the newest series: those after the last pause.</summary>
    /// <param name="seconds">Times in seconds, ascending.</param>
    public static IReadOnlyList<double> NewestRow(IReadOnlyList<double> seconds)
    {
        var first = seconds.Count - 1;
        while (first > 0)
        {
            var gap = seconds[first] - seconds[first - 1];
            var later = first + 1 < seconds.Count ? (seconds[^1] - seconds[first]) / (seconds.Count - 1 - first) : double.PositiveInfinity;
            if (gap > LongestPause || gap > PauseFactor * later)
            {
                break;
            }

            first--;
        }

        return first <= 0 ? seconds : [.. seconds.Skip(first)];
    }

    /// <summary>The tempo of a series of taps; null with fewer than two.</summary>
    /// <param name="seconds">Times in seconds, ascending.</param>
    /// <param name="meter">The current meter.</param>
    /// <param name="barsInGroup">Bars in a bar group, of equal length; 1 without bar groups.</param>
    /// <param name="around">The sounding tempo; the tapped level is the one nearest to it.</param>
    public static TappedTempo? Hear(IReadOnlyList<double> seconds, BarMeter meter, int barsInGroup, Tempo around) =>
        Hear(seconds, meter, new BarGroupPlace(0, 0, barsInGroup), around);

    /// <summary>The tempo of a series of taps; null with fewer than two.</summary>
    /// <param name="seconds">Times in seconds, ascending.</param>
    /// <param name="meter">The current meter.</param>
    /// <param name="group">The current bar in its bar group.</param>
    /// <param name="around">The sounding tempo; the tapped level is the one nearest to it.</param>
    public static TappedTempo? Hear(IReadOnlyList<double> seconds, BarMeter meter, BarGroupPlace group, Tempo around)
    {
        if (seconds.Count < 2 || seconds[^1] <= seconds[0])
        {
            return null;
        }

        var intervals = new double[seconds.Count - 1];
        for (var i = 0; i < intervals.Length; i++)
        {
            intervals[i] = seconds[i + 1] - seconds[i];
        }

        var even = Period(intervals, Enumerable.Repeat(1.0, intervals.Length).ToArray(), out var evenError);
        var wanted = around.WholesPerMinute.ToDouble();
        if (LongShort(intervals, meter, wanted) is { } limping && limping.Rms < LongShortGain * Rms(intervals, even, i => 1))
        {
            return new TappedTempo(FeltLevel.Group, 60 / limping.SecondsPerWhole, limping.Error, seconds.Count, LongShort: true);
        }

        TappedTempo? best = null;
        foreach (var (level, length) in EvenLevels(meter, group))
        {
            var tempo = 60 * length / even;
            if (best is not { } other || Distance(tempo, wanted) < Distance(other.WholesPerMinute, wanted))
            {
                best = new TappedTempo(level, tempo, evenError, seconds.Count, LongShort: false);
            }
        }

        return best;
    }

    /// <summary>Estimates the period from intervals that each last a number of periods: best linear unbiased under the model, for any
    /// scale of its variances.</summary>
    /// <param name="intervals">Intervals in seconds.</param>
    /// <param name="lengths">The length of each in periods.</param>
    /// <param name="relativeError">Standard error as a share of the period, from the residuals; NaN with fewer than three intervals.</param>
    public static double Period(IReadOnlyList<double> intervals, IReadOnlyList<double> lengths, out double relativeError)
    {
        var weighted = Solved(lengths);
        var information = Dot(lengths, weighted);
        var period = Dot(intervals, weighted) / information;
        relativeError = double.NaN;
        if (intervals.Count >= 3)
        {
            var left = new double[intervals.Count];
            for (var i = 0; i < left.Length; i++)
            {
                left[i] = intervals[i] - (period * lengths[i]);
            }

            var variance = Dot(left, Solved(left)) / (left.Length - 1);
            relativeError = Math.Sqrt(variance / information) / period;
        }

        return period;
    }

    /// <summary>The standard deviation that the model predicts for <see cref="Period"/> over equal intervals.</summary>
    /// <param name="intervals">Number of intervals.</param>
    /// <param name="clock">Standard deviation of the clock's intervals.</param>
    /// <param name="motor">Standard deviation of the motor delay.</param>
    public static double PredictedError(int intervals, double clock, double motor)
    {
        // The estimate's weights, and the model's true covariance around them.
        var ones = Enumerable.Repeat(1.0, intervals).ToArray();
        var weights = Solved(ones);
        var sum = Dot(ones, weights);
        var variance = 0.0;
        for (var i = 0; i < intervals; i++)
        {
            variance += weights[i] * weights[i] * ((clock * clock) + (2 * motor * motor));
            variance -= i + 1 < intervals ? 2 * weights[i] * weights[i + 1] * motor * motor : 0;
        }

        return Math.Sqrt(variance) / sum;
    }

    private static IEnumerable<(FeltLevel Level, double Length)> EvenLevels(BarMeter meter, BarGroupPlace group)
    {
        yield return (FeltLevel.Bar, meter.Length.Wholes.ToDouble());
        if (meter.Units > 1)
        {
            yield return (FeltLevel.Unit, meter.Unit.Wholes.ToDouble());
        }

        if (!meter.Grouping.IsUndivided)
        {
            // If groups differ, even taps mean their average length.
            yield return (FeltLevel.Group, (meter.Length / meter.GroupSizes.Count).Wholes.ToDouble());
        }

        if (group.Size > 1)
        {
            yield return (FeltLevel.BarGroup, group.LengthIn(meter).Wholes.ToDouble());
        }
    }

    // Each place in the bar where the series may have begun; among equal fits the one nearest to the tempo.
    private static (double SecondsPerWhole, double Error, double Rms)? LongShort(double[] intervals, BarMeter meter, double wanted)
    {
        var sizes = meter.GroupSizes;
        if (intervals.Length + 1 < FewestForLongShort || sizes.Count < 2 || sizes.All(size => size == sizes[0]))
        {
            return null;
        }

        (double SecondsPerWhole, double Error, double Rms)? best = null;
        var unit = meter.Unit.Wholes.ToDouble();
        for (var start = 0; start < sizes.Count; start++)
        {
            var from = start;
            double Length(int i) => sizes[(from + i) % sizes.Count] * unit;
            var period = Period(intervals, [.. Enumerable.Range(0, intervals.Length).Select(Length)], out var error);
            var rms = Rms(intervals, period, Length);
            if (rms < LargestLimpError * intervals.Average() && (best is not { } other || rms < other.Rms) && Distance(60 / period, wanted) < 2)
            {
                best = (period, error, rms);
            }
        }

        return best;
    }

    private static double Rms(double[] intervals, double period, Func<int, double> length)
    {
        var sum = 0.0;
        for (var i = 0; i < intervals.Length; i++)
        {
            var left = intervals[i] - (period * length(i));
            sum += left * left;
        }

        return Math.Sqrt(sum / intervals.Length);
    }

    private static double Distance(double tempo, double wanted) => Math.Abs(Math.Log2(tempo / wanted));

    // The model's covariance is tridiagonal: clock² + 2 motor² on the diagonal, -motor² beside it (in motor² = 1).
    private static double[] Solved(IReadOnlyList<double> right)
    {
        const double Diagonal = (ClockToMotor * ClockToMotor) + 2;
        var count = right.Count;
        var upper = new double[count];
        var solved = new double[count];
        for (var i = 0; i < count; i++)
        {
            var pivot = Diagonal + (i > 0 ? upper[i - 1] : 0);
            upper[i] = -1 / pivot;
            solved[i] = (right[i] + (i > 0 ? solved[i - 1] : 0)) / pivot;
        }

        for (var i = count - 2; i >= 0; i--)
        {
            solved[i] -= upper[i] * solved[i + 1];
        }

        return solved;
    }

    private static double Dot(IReadOnlyList<double> a, IReadOnlyList<double> b)
    {
        var sum = 0.0;
        for (var i = 0; i < a.Count; i++)
        {
            sum += a[i] * b[i];
        }

        return sum;
    }
}
