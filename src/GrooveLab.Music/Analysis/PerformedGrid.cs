using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Analysis;

/// <summary>What is known of a performance besides its notes.</summary>
public sealed record PerformedHints
{
    /// <summary>The meter of most bars, with the grouping to be written; null to find it.</summary>
    public BarMeter? Meter { get; init; }

    /// <summary>A time in seconds at which a bar begins; null to find it.</summary>
    public double? BarAt { get; init; }

    /// <summary>About how long a whole note lasts, in seconds; null to find it. Periods up to an eighth away are accepted.</summary>
    public double? WholeNote { get; init; }
}

/// <summary>A meter that a performance may have.</summary>
/// <param name="Meter">The meter; the grouping is undivided where the accents show none.</param>
/// <param name="Strength">How clearly the accents mark its bars, as a share of the clearest: 0 to 1.</param>
public readonly record struct MeterReading(BarMeter Meter, double Strength);

/// <summary>A bar found in a performance.</summary>
/// <param name="Start">Its place from the first bar's start.</param>
/// <param name="Meter">Its meter.</param>
/// <param name="Seconds">The time in seconds at which it begins.</param>
/// <param name="QuartersPerMinute">Its mean tempo, a measurement.</param>
/// <param name="Pause">How long the players paused in it, in seconds; 0 for no pause.</param>
public readonly record struct PerformedBar(Span Start, BarMeter Meter, double Seconds, double QuartersPerMinute, double Pause);

/// <summary>The grid of a performance: its bar lines, meters and tempo, and the place of each note.</summary>
/// <remarks>
/// A pulse is followed through the onsets (<see cref="PulseTracker"/>); a smooth tempo curve is fitted and the onsets are given places
/// together, in turn (<see cref="PulseCurve"/>, <see cref="PulseGrid"/>); bar lines are found from accents (<see cref="PerformedBars"/>).
/// Time and memory are proportional to the notes plus the pulses.
/// </remarks>
public sealed class PerformedGrid
{
    /// <summary>Fewest notes from which a grid can be found.</summary>
    public const int FewestNotes = 8;

    // A tempo hint and the pulse may differ by this factor.
    private const double HintTolerance = 1.13;

    // Bars whose inner accent is so close to that of their bar line are two bars of different lengths in turn.
    private const double AlternatingAccent = 0.68;
    private const int ShortestAlternating = 5;

    // Pulses slower than this are quarters, faster ones eighths, much faster ones sixteenths: common practice. Meters of up to four pulses are
    // written in quarters at faster tempi.
    private const double SlowestEighth = 0.43;
    private const double SlowestEighthOfFour = 0.28;
    private const double SlowestSixteenth = 0.14;

    // A whole note usually lasts two seconds, at quarter = 120: common practice; the deviation is that of its logarithm.
    private const double UsualWhole = 2;
    private const double WholeDeviation = 0.6;

    // Shares of the onsets off the pulse by which threes are told from twos, and swing from threes.
    private const double CompoundShare = 0.6;
    private const double SwungShare = 0.25;
    private const double LeastOffPulse = 0.08;
    private const int MostUnitsInPulse = 4;
    private const int MostReadings = 5;

    private readonly PerformedPulses _pulses;
    private readonly List<PulseBar> _bars;
    private readonly Span _pulse;
    private readonly int[] _gaps;
    private readonly Span[] _starts;

    private PerformedGrid(PerformedPulses pulses, List<PulseBar> bars, Span pulse, int[] gaps)
    {
        (_pulses, _bars, _pulse, _gaps) = (pulses, bars, pulse, gaps);
        _starts = new Span[bars.Count];
        for (var b = 1; b < bars.Count; b++)
        {
            _starts[b] = _starts[b - 1] + (pulse * bars[b - 1].Written);
        }

        Places = [.. pulses.Places.Select(PlaceOf)];
    }

    /// <summary>The place of each note, from the first bar's start, in the order of the notes.</summary>
    public IReadOnlyList<Span> Places { get; }

    /// <summary>The distance of each note from its place in seconds; late is positive.</summary>
    public IReadOnlyList<double> Errors => _pulses.Errors;

    /// <summary>The bars; the first is shorter than its meter's bar if the piece begins with a pickup, and then has a meter of its own.</summary>
    public IReadOnlyList<PerformedBar> Bars { get; private set; } = [];

    /// <summary>True when the first bar is a pickup.</summary>
    public bool HasPickup { get; private init; }

    /// <summary>The meter of most bars.</summary>
    public BarMeter Meter { get; private init; } = null!;

    /// <summary>The meters that were considered, the clearest first: at most five.</summary>
    public IReadOnlyList<MeterReading> Readings { get; private init; } = [];

    /// <summary>True when the short notes off the pulse are long-short in the ratio 2:1.</summary>
    public bool IsSwung { get; private init; }

    /// <summary>How much clearer the meter is than the next best, 0 to 1: one minus the ratio of their strengths. It is no
    /// probability. 1 for a given meter.</summary>
    public double Confidence { get; private init; }

    /// <summary>Finds the grid.</summary>
    /// <param name="notes">The notes in order of their onsets.</param>
    /// <param name="hints">What is known besides.</param>
    /// <returns>Null for fewer than <see cref="FewestNotes"/> notes, notes without duration, music longer than the limit of pulses, and when
    /// no pulse agrees with the hints.</returns>
    public static PerformedGrid? Find(IReadOnlyList<PerformedNote> notes, PerformedHints hints)
    {
        if (notes.Count < FewestNotes)
        {
            return null;
        }

        var onsets = new double[notes.Count];
        for (var i = 0; i < onsets.Length; i++)
        {
            onsets[i] = notes[i].Start;
        }

        var candidates = PerformedPulses.Candidates(onsets);
        if (candidates.Count == 0 || Choose(candidates, notes, hints) is not { } chosen)
        {
            return null;
        }

        // The candidates were compared on the beginning of a long piece.
        var pulses = chosen.Places.Length == onsets.Length ? chosen : PerformedPulses.Of(onsets, chosen.Period);
        return pulses is null ? null : Of(pulses, notes, hints);
    }

    /// <summary>The place of any time, rounded to twelfths of the pulse; before the first bar's start it is zero.</summary>
    public Span PlaceAt(double seconds) => PlaceOf(TwelfthsAt(seconds));

    /// <summary>The end of a note, rounded to halves of the pulse; at least a quarter of a pulse after its start.</summary>
    /// <param name="seconds">When it ends.</param>
    /// <param name="start">The place of its start.</param>
    public Span EndAt(double seconds, Span start)
    {
        const int half = PulseGrid.Fine / 2;
        var end = PlaceOf((TwelfthsAt(seconds) + (half / 2)) / half * half);
        return end > start ? end : start + (_pulse / 4);
    }

    // With a given meter or tempo, the pulse that shows it most clearly; otherwise the fastest of those that explain the onsets best.
    private static PerformedPulses? Choose(List<PerformedPulses> candidates, IReadOnlyList<PerformedNote> notes, PerformedHints hints)
    {
        var fitting = candidates.Where(one => hints.WholeNote is not { } whole || ValueOf(one.Period, whole) is not null).ToList();
        if (fitting.Count == 0)
        {
            return null;
        }

        var best = fitting.Max(one => one.Score);
        if (hints.Meter is not { } meter)
        {
            return fitting.Find(one => one.Score > best - PerformedPulses.Margin);
        }

        PerformedPulses? clearest = null;
        var most = 0.0;
        foreach (var one in fitting)
        {
            var compared = notes.Take(one.Places.Length).ToList();
            var accents = PerformedBars.Accents(new PerformedAccents(compared, one));
            var strength = OfMeter(PerformedBars.Lengths(accents, one.Period, TimeSignature.LargestNumerator / MostUnitsInPulse * 2), meter, one.Period)
                .Select(length => length.Strength).DefaultIfEmpty(0).Max();
            strength *= Math.Exp(Math.Min(0, one.Score - best + PerformedPulses.Margin));
            if (strength > most)
            {
                (clearest, most) = (one, strength);
            }
        }

        return clearest;
    }

    // A pulse may be a unit, two or three of them or a part of one.
    private static bool IsBarOf(int pulses, BarMeter meter) =>
        pulses % meter.Units == 0 ? pulses / meter.Units is 1 or 2 or 4 : meter.Units % pulses == 0 && meter.Units / pulses is 2 or 3 or 4;

    // The lengths that are bars of a meter, the likeliest first: units have usual tempi.
    private static List<BarLength> OfMeter(IEnumerable<BarLength> lengths, BarMeter meter, double period) =>
    [
        .. lengths.Where(length => IsBarOf(length.Pulses, meter)).Select(length =>
        {
            var whole = length.Pulses * period / meter.Length.Wholes.ToDouble();
            var away = Math.Log(whole / UsualWhole) / WholeDeviation;
            return length with { Strength = length.Strength * Math.Exp(-0.5 * away * away) };
        }).OrderByDescending(length => length.Strength),
    ];

    // The written value of a pulse at a tempo; null for none that is near.
    private static Span? ValueOf(double period, double whole)
    {
        foreach (var value in new[] { Span.Of(1, 4), Span.Of(1, 8), Span.Of(3, 8), Span.Of(1, 16), Span.Of(1, 2), Span.Of(3, 16) })
        {
            var ratio = period / (whole * value.Wholes.ToDouble());
            if (ratio < HintTolerance && ratio > 1 / HintTolerance)
            {
                return value;
            }
        }

        return null;
    }

    private static PerformedGrid? Of(PerformedPulses pulses, IReadOnlyList<PerformedNote> notes, PerformedHints hints)
    {
        var (isCompound, isSwung) = Threes(pulses);
        var accents = PerformedBars.Accents(new PerformedAccents(notes, pulses));
        var most = Math.Min(PerformedBars.Most, TimeSignature.LargestNumerator / (isCompound || hints.Meter is not null ? MostUnitsInPulse : 1));
        var lengths = PerformedBars.Lengths(accents, pulses.Period, most);
        if (hints.Meter is { } given)
        {
            lengths = OfMeter(lengths, given, pulses.Period);
        }

        if (lengths.Count == 0)
        {
            return null;
        }

        var gaps = Gaps(pulses);
        int? anchor = hints.BarAt is { } at ? (int)Math.Round(TwelfthsAt(pulses.Times, at) / (double)PulseGrid.Fine) : null;
        var length = lengths[0].Pulses;
        var bars = PerformedBars.Find(accents, length, most, gaps, pulses.Period, anchor);
        var profile = Profile(accents, bars, length);
        var pulse = hints.Meter is { } known ? known.Length / length
            : hints.WholeNote is { } whole ? ValueOf(pulses.Period, whole)!.Value
            : ValueOf(pulses.Period, length, isCompound);
        var meters = new PulseMeters(pulse);
        var meter = hints.Meter ?? meters.Of(length, profile);
        if (hints.Meter is null && Alternating(profile) is { } first)
        {
            bars = Split(bars, length, first);
        }

        var clearest = Math.Max(1e-9, lengths[0].Strength);
        var grid = new PerformedGrid(pulses, bars, pulse, gaps)
        {
            Meter = meter,
            IsSwung = isSwung,
            HasPickup = bars.Count > 1 && bars[0].Written < bars[1].Written && bars[0].Written < length,
            Readings = [.. lengths.Take(MostReadings).Select(one => new MeterReading(one.Pulses == length ? meter : meters.Of(one.Pulses, null), Math.Min(1, one.Strength / clearest)))],
            Confidence = hints.Meter is not null || lengths.Count < 2 ? 1 : Math.Clamp(1 - (lengths[1].Strength / clearest), 0, 1),
        };
        grid.Bars = grid.BarsOf(meters, meter, length, accents);
        return grid;
    }

    private List<PerformedBar> BarsOf(PulseMeters meters, BarMeter usual, int length, double[] accents)
    {
        var made = new List<PerformedBar>();
        var known = new Dictionary<int, BarMeter> { [length] = usual };
        for (var b = 0; b < _bars.Count; b++)
        {
            var bar = _bars[b];
            if (!known.TryGetValue(bar.Written, out var meter))
            {
                known.Add(bar.Written, meter = meters.Of(bar.Written, Profile(accents, _bars, bar.Written)));
            }

            var seconds = TimeAt(bar.Start);
            var lasts = TimeAt(bar.Start + bar.Pulses) - seconds;
            var pause = bar.Pulses > bar.Written ? lasts * (bar.Pulses - bar.Written) / bar.Pulses : 0;
            var quarters = (_pulse * bar.Written).Wholes.ToDouble() * 4;
            made.Add(new PerformedBar(_starts[b], meter, seconds, quarters * 60 / Math.Max(1e-3, lasts - pause), pause));
        }

        return made;
    }

    private double TimeAt(int pulse)
    {
        var times = _pulses.Times;
        return pulse < times.Length ? times[pulse] : times[^1] + ((pulse - times.Length + 1) * (times[^1] - times[^2]));
    }

    private static int[] Gaps(PerformedPulses pulses)
    {
        var gaps = new int[pulses.Times.Length];
        var begins = new bool[gaps.Length];
        foreach (var place in pulses.Places)
        {
            begins[Math.Min(gaps.Length - 1, place / PulseGrid.Fine)] = true;
        }

        for (var k = 1; k < gaps.Length; k++)
        {
            gaps[k] = begins[k - 1] ? 0 : gaps[k - 1] + 1;
        }

        return gaps;
    }

    private static double[] Profile(double[] accents, List<PulseBar> bars, int length)
    {
        var profile = new double[length];
        var count = 0;
        foreach (var bar in bars)
        {
            if (bar.Pulses == length && bar.Written == length && bar.Start + length <= accents.Length)
            {
                count++;
                for (var j = 0; j < length; j++)
                {
                    profile[j] += accents[bar.Start + j];
                }
            }
        }

        return Array.ConvertAll(profile, sum => sum / Math.Max(1, count));
    }

    private static (bool IsCompound, bool IsSwung) Threes(PerformedPulses pulses)
    {
        var counts = new int[PulseGrid.Fine];
        foreach (var place in pulses.Places)
        {
            counts[place % PulseGrid.Fine]++;
        }

        var off = pulses.Places.Length - counts[0];
        var thirds = counts[4] + counts[8];
        var isThrees = off > LeastOffPulse * pulses.Places.Length && thirds > CompoundShare * off;
        var isSwung = isThrees && counts[4] < SwungShare * counts[8];
        return (isThrees && !isSwung, isSwung);
    }

    private static Span ValueOf(double period, int length, bool isCompound) =>
        isCompound ? Span.Of(3, 8)
        : period >= (length <= 4 ? SlowestEighthOfFour : SlowestEighth) ? Span.Of(1, 4)
        : period >= SlowestSixteenth ? Span.Of(1, 8)
        : Span.Of(1, 16);

    // The first of two bars of different lengths in turn; null for bars of one length.
    private static int? Alternating(double[] profile)
    {
        for (var j = ShortestAlternating; j <= profile.Length - ShortestAlternating; j++)
        {
            if (j * 2 != profile.Length && profile[j] > AlternatingAccent * profile[0])
            {
                return j;
            }
        }

        return null;
    }

    private static List<PulseBar> Split(List<PulseBar> bars, int length, int first)
    {
        var split = new List<PulseBar>();
        foreach (var bar in bars)
        {
            if (bar.Pulses == length && bar.Written == length)
            {
                split.Add(new PulseBar(bar.Start, first, first));
                split.Add(new PulseBar(bar.Start + first, length - first, length - first));
            }
            else
            {
                split.Add(bar);
            }
        }

        return split;
    }

    private static int TwelfthsAt(double[] times, double seconds)
    {
        var index = Array.BinarySearch(times, seconds);
        index = Math.Clamp(index < 0 ? ~index - 1 : index, 0, times.Length - 2);
        var twelfths = Math.Round((seconds - times[index]) / (times[index + 1] - times[index]) * PulseGrid.Fine);
        return (int)Math.Clamp((index * (double)PulseGrid.Fine) + twelfths, 0, int.MaxValue / 2);
    }

    private int TwelfthsAt(double seconds) => TwelfthsAt(_pulses.Times, seconds);

    private Span PlaceOf(int twelfths)
    {
        var (low, high) = (0, _bars.Count - 1);
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            (low, high) = _bars[middle].Start * PulseGrid.Fine <= twelfths ? (middle, high) : (low, middle - 1);
        }

        var bar = _bars[low];
        var inside = twelfths - (bar.Start * PulseGrid.Fine);
        if (bar.Pulses != bar.Written && low < _bars.Count - 1)
        {
            inside = AcrossPause(bar, inside);
        }

        return _starts[low] + (_pulse * new Rational(inside, PulseGrid.Fine));
    }

    // What comes after the pause keeps its distance from the end of the bar.
    private int AcrossPause(PulseBar bar, int inside)
    {
        var (longest, end) = (0, bar.Start + bar.Pulses);
        for (var k = bar.Start + 1; k <= bar.Start + bar.Pulses && k < _gaps.Length; k++)
        {
            if (_gaps[k] > longest)
            {
                (longest, end) = (_gaps[k], k);
            }
        }

        var change = (bar.Written - bar.Pulses) * PulseGrid.Fine;
        var after = (end - bar.Start) * PulseGrid.Fine;
        return inside >= after ? inside + change : Math.Min(inside, Math.Max(0, after + change));
    }
}
