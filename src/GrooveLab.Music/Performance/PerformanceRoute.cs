using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>The bars of a state: composed for the sounding tempo, so that hands and bows can play them, but expressed in the written
/// tempo, because the engine's speed makes the difference.</summary>
internal sealed class PerformanceBars : IBarSource
{
    private readonly Rational _speed;
    private readonly PerformanceState _state;

    /// <summary>Composes for a state.</summary>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public PerformanceBars(PerformanceState state)
    {
        (_speed, _state) = (state.Pace, state);
        var chart = state.Chart.AtPace(_speed, Tempo.LargestDenominator);
        var pass = state.Plan.BarsInPass;
        if (state.Orders.Loop is { } loop)
        {
            Round = new BarComposer(chart, new ComposerOptions { Endless = true, Loop = loop });
        }
        else if (state.Orders.EndBar is null && chart.Sections.Any(section => section.Vamp))
        {
            Round = new BarComposer(chart, new ComposerOptions { Endless = true, VampsGoRound = true });
        }

        Composer = state.Orders.EndBar is { } end && end % pass == 0 && chart.Tag.Count > 0

            // The end of the form, including the chart's own tag.
            ? new BarComposer(chart with { Times = end / pass })
            : state.Orders.EndBar is null && state.Orders.Passes is { } passes
            ? new BarComposer(chart with { Times = passes })
            : new BarComposer(
                chart, new ComposerOptions { Endless = state.Orders.EndBar is null, Bars = state.Orders.EndBar, RingsAfterBars = true });
    }

    /// <summary>The band.</summary>
    public BarComposer Composer { get; }

    /// <summary>The band while loops or vamps repeat and lead back into themselves; null for none.</summary>
    public BarComposer? Round { get; }

    /// <inheritdoc/>
    public int First => -1;

    /// <inheritdoc/>
    public int? End => Composer.End;

    /// <inheritdoc/>
    public IReadOnlyList<PartChannels> Band => Composer.Band;

    /// <inheritdoc/>
    public PieceHeading Heading => Composer.Heading;

    /// <inheritdoc/>
    public Bar BarAt(int index) => Slowed(Composer.BarAt(index));

    /// <summary>A bar of a loop or repeating vamp.</summary>
    /// <param name="index">Its number.</param>
    /// <param name="round">Number of earlier rounds.</param>
    public Bar RoundAt(int index, int round) => IsInTag(index) ? BarAt(index) : Slowed((Round ?? Composer).RoundAt(index, round));

    // Bars that repeat without end have no tag after them.
    private bool IsInTag(int index) =>
        Composer.Chart.Tag.Count > 0 && Composer.Options is { Endless: false, Bars: null } && index >= Composer.Chart.Times * Composer.Plan.BarsInPass;

    /// <summary>The lead-in to a bar.</summary>
    public Bar LeadInTo(int index) => Slowed(Composer.LeadInTo(index));

    /// <summary>The lead-in to a bar, or to the first, at another tempo than the final one of a ramp.</summary>
    /// <param name="index">The bar; null for the lead-in to the form.</param>
    /// <param name="factor">The ramp's factor at that bar.</param>
    public Bar LeadInTo(int? index, Rational factor)
    {
        var composer = new BarComposer(_state.Chart.AtPace(_state.Speed * factor, Tempo.LargestDenominator), Composer.Options);
        return Slowed(index is { } bar ? composer.LeadInTo(bar) : composer.BarAt(-1), _state.Speed);
    }

    private Bar Slowed(Bar bar) => Slowed(bar, _speed);

    private static Bar Slowed(Bar bar, Rational speed) =>
        speed == Rational.One ? bar : bar with { Tempi = [.. bar.Tempi.Select(step => (step.Onset, step.Tempo.Times(Rational.One / speed)))] };
}

/// <summary>The route of a performance through the bars of a state, following its form orders. Pure.</summary>
public sealed record PerformanceRoute : BarRoute
{
    private readonly PerformanceBars _bars;
    private readonly FormOrders _orders;

    /// <summary>Creates the route of a state from a bar on.</summary>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public PerformanceRoute(PerformanceState state, int from)
        : base(new PerformanceBars(state), from, Loop: state.Orders.Loop)
    {
        _bars = (PerformanceBars)Source;
        _orders = state.Orders;
        CountPart = _bars.Composer.Band.ToList().FindIndex(part => part.Role == Role.Count);
    }

    private PerformanceRoute(PerformanceRoute other)
        : base(other)
    {
        _bars = other._bars;
        _orders = other._orders;
        CountPart = other.CountPart;
    }

    /// <summary>The plan of the form.</summary>
    public FormPlan Plan => _bars.Composer.Plan;

    /// <summary>The plan of the arrangement.</summary>
    public ArrangementPlan Arrangement => _bars.Composer.Arrangement;

    private int CountPart { get; }

    /// <inheritdoc/>
    public override int After(int index, int ordinal)
    {
        if (_orders.HoldFrom is { } hold && ordinal >= hold && index >= 0)
        {
            return index;
        }

        if (_orders.Jumps.TryGetValue(ordinal, out var to))
        {
            return to;
        }

        if (index < 0 && _orders.StartAt is { } start && Loop?.Contains(start) != false)
        {
            return start;
        }

        return Loop is null && index >= 0 && _orders.EndBar is null && VampOf(index) is { } run && index + 1 == run.EndBar
            ? run.FirstBar
            : base.After(index, ordinal);
    }

    /// <summary>The vamp that repeats at a bar until released; null for none.</summary>
    public SectionRun? VampOf(int index)
    {
        // The plan goes on after the ending, which belongs to no section.
        if (index == _bars.Composer.EndingBar)
        {
            return null;
        }

        var run = Plan.BarAt(index).Run;
        return run.Section.Vamp && !_orders.Released.Contains(run.Number) ? run : null;
    }

    /// <inheritdoc/>
    public override int TakeOver(BarRoute before, int index, int ordinal) =>
        After(before is PerformanceRoute route ? Translated(route.Plan, index) : index, ordinal);

    /// <summary>The ordinal of the bar after which a given bar number first plays, from a bar of the performance on; null if it does
    /// not play.</summary>
    public int? OrdinalBefore(int number, int index, int ordinal)
    {
        for (var steps = 0; steps < FormPlan.MostBars; steps++)
        {
            var next = After(index, ordinal);
            if (next == number)
            {
                return ordinal;
            }

            (index, ordinal) = (next, ordinal + 1);
        }

        return null;
    }

    /// <inheritdoc/>
    public override Bar BarAt(int index, int ordinal)
    {
        if (index < 0 && _orders.Ramp is { } coming && coming.At(ordinal + 1, Rational.Zero) is var factor && factor != coming.To)
        {
            // The lead-in has the tempo of the bar that follows.
            return _bars.LeadInTo(_orders.StartAt is not null && After(index, ordinal) is > 0 and var first && Has(first) ? first : null, factor);
        }

        // Loops and vamps lead back into themselves, with their own pickup and not with that of the bars after them.
        var bar = RoundOf(index, ordinal) is { } round ? _bars.RoundAt(index, round)
            : index < 0 && After(index, ordinal) is > 0 and var start && _orders.StartAt is not null && Has(start) ? _bars.LeadInTo(start)
            : base.BarAt(index, ordinal);
        if (_orders.HoldFrom is { } hold && ordinal >= hold && index >= 0)
        {
            bar = Held(bar, ordinal == hold);
        }
        else if (_orders.Break is { } broken && ordinal >= broken.From && ordinal < broken.End && index >= 0)
        {
            bar = BrokenOff(bar, ordinal == broken.From);
        }

        return _orders.Ramp is { } ramp ? bar with { Tempi = Ramped(bar, ramp, ordinal) } : bar;
    }

    /// <summary>The number of earlier playings of the section of a bar, rounds of a loop or vamp included.</summary>
    /// <param name="index">The bar of the chart, at least 0.</param>
    /// <param name="ordinal">The bar of the performance.</param>
    public int PlayingAt(int index, int ordinal) => Plan.BarAt(index).Run.Verse + (RoundOf(index, ordinal) ?? 0);

    // The number of the round in which a bar of a loop or vamp is played; null outside. Inside a round ordinal and bar number grow
    // together, so that their difference names the round.
    private int? RoundOf(int index, int ordinal)
    {
        if (index < 0)
        {
            return null;
        }

        var (inRound, bars) = Loop is { } loop
            ? (loop.Contains(index) ? index - loop.From : -1, loop.End - loop.From)
            : _orders.EndBar is null && VampOf(index) is { } vamp ? (index - vamp.FirstBar, vamp.Bars) : (-1, 1);
        return inRound < 0 ? null : Math.Max(0, ordinal - inRound) / bars;
    }

    /// <inheritdoc/>
    public bool Equals(PerformanceRoute? other) => ReferenceEquals(this, other);

    /// <inheritdoc/>
    public override int GetHashCode() => System.Runtime.CompilerServices.RuntimeHelpers.GetHashCode(this);

    // A hold: the chord is struck and rings, out of time; bars pass in silence until it is released.
    private Bar Held(Bar bar, bool first)
    {
        const int LongestHold = 64;
        var notes = first
            ? bar.Notes.Where(note => note.Onset == Span.Zero && note.Part != CountPart)
                .Select(note => note with { Length = bar.Length * LongestHold, Touch = Touch.Open })
            : [];
        return bar with
        {
            Notes = [.. notes],
            Controls = first ? [.. bar.Controls.Where(point => point.Onset == Span.Zero)] : [],
            Remarks = [],
        };
    }

    // A break: the band plays the first downbeat and rests; tune and count continue.
    private Bar BrokenOff(Bar bar, bool strikes)
    {
        bool Stays(NoteEvent note) => note.Role is Role.Tune or Role.Count;
        return bar with
        {
            Notes =
            [
                .. bar.Notes.Where(note => Stays(note) || (strikes && note.Onset == Span.Zero))
                    .Select(note => Stays(note) ? note : note with
                    {
                        Length = Span.Min(note.Length, bar.Meter.Unit),
                        Written = note.Written with { Length = Span.Min(note.Written.Length, bar.Meter.Unit) },
                    }),
            ],
        };
    }

    private static List<(Span Onset, Tempo Tempo)> Ramped(Bar bar, TempoRamp ramp, int ordinal)
    {
        if (ordinal < ramp.FromOrdinal || ordinal >= ramp.FromOrdinal + ramp.Bars)
        {
            return [.. bar.Tempi.Select(written => (written.Onset, written.Tempo.Times(ramp.At(ordinal, Rational.Zero))))];
        }

        return
        [
            .. Ramp.HalfUnits(bar.Length, bar.Meter.Unit).Select(step =>
                (step.Onset, bar.Tempi.Last(written => written.Onset <= step.Onset).Tempo.Times(ramp.At(ordinal, step.Middle)))),
        ];
    }

    // The same bar of the same playing of its section, when a change of the chart has shifted the numbers.
    private int Translated(FormPlan before, int index)
    {
        if (index < 0 || ReferenceEquals(before, Plan) || before.BarsInPass == Plan.BarsInPass)
        {
            return index;
        }

        var place = before.BarAt(index);
        var lap = index / before.BarsInPass;
        var inPass = place.Run.Number - before.BarAt(lap * before.BarsInPass).Run.Number;
        for (var bar = 0; bar < Plan.BarsInPass; bar++)
        {
            var run = Plan.BarAt(bar).Run;
            if (run.Number == inPass)
            {
                return (lap * Plan.BarsInPass) + run.FirstBar + Math.Min(place.IndexInRun, run.Bars - 1);
            }
        }

        return lap * Plan.BarsInPass;
    }
}
