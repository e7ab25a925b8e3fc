using System.Collections.Concurrent;
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

    /// <summary>A bar of the last round of what was a loop or a vamp, after which the form goes on.</summary>
    /// <param name="index">Its number.</param>
    /// <param name="round">Number of earlier rounds.</param>
    public Bar LastRoundAt(int index, int round) =>
        IsInTag(index) || index == Composer.EndingBar ? BarAt(index) : Slowed(Composer.RoundAt(index, round));

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

/// <summary>The first bar that a route plays.</summary>
/// <param name="Ordinal">Which bar of the performance it is, from 0.</param>
/// <param name="Index">Its number in the form; -1 for the lead-in.</param>
/// <param name="Round">The number of earlier rounds of the loop or vamp to which it belongs or, if that has just been called off, belonged.</param>
/// <param name="RoundBefore">That number of the bar before it, which another route played.</param>
public readonly record struct RouteEntry(int Ordinal, int Index, int Round, int RoundBefore);

/// <summary>The route of a performance through the bars of a state, following its form orders. Pure.</summary>
public sealed record PerformanceRoute : BarRoute
{
    private readonly PerformanceBars _bars;
    private readonly FormOrders _orders;
    private readonly RouteEntry _entry;

    // The bar of the performance at which the first round of a loop or vamp starts, or would have started if it was entered midway, by the first bar of
    // the loop or vamp.
    private readonly ConcurrentDictionary<int, int> _firstRounds;

    /// <summary>Creates the route of a state from a bar on.</summary>
    /// <param name="state">The state.</param>
    /// <param name="from">The bar.</param>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public PerformanceRoute(PerformanceState state, int from)
        : base(new PerformanceBars(state), from, Loop: state.Orders.Loop)
    {
        _bars = (PerformanceBars)Source;
        _orders = state.Orders;
        _entry = new RouteEntry(0, from, 0, 0);
        _firstRounds = [];
        CountPart = _bars.Composer.Band.ToList().FindIndex(part => part.Role == Role.Count);
    }

    private PerformanceRoute(PerformanceRoute other)
        : base(other)
    {
        _bars = other._bars;
        _orders = other._orders;
        _entry = other._entry;
        _firstRounds = [];
        CountPart = other.CountPart;
    }

    private PerformanceRoute(PerformanceRoute other, RouteEntry entry)
        : this(other) => _entry = entry;

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

    /// <summary>This route when it takes over from another: the rounds of a loop or vamp go on being counted where they are the same, and the rest of a
    /// round that is the last belongs to it.</summary>
    /// <param name="before">The route so far.</param>
    /// <param name="index">The last bar that it plays.</param>
    /// <param name="ordinal">Which bar of the performance that is; below 0 if it plays none.</param>
    public PerformanceRoute Following(PerformanceRoute before, int index, int ordinal)
    {
        if (ordinal < 0)
        {
            return this;
        }

        // A route that has not begun yet, because another change came before the bar line, knows how it was before.
        var round = before._entry.Ordinal > ordinal ? before._entry.RoundBefore : before.RoundOf(index, ordinal) ?? 0;
        var (last, first) = (Translated(before.Plan, index), TakeOver(before, index, ordinal));
        var isHeld = first == last && _orders.HoldFrom <= ordinal + 1;
        var goesOn = RoundsAt(first) is var (from, end) && from >= 0 ? last >= from && last < end
            : (first == last + 1 || isHeld) && IsInSameRun(last, first);
        return new PerformanceRoute(this, new RouteEntry(ordinal + 1, first, !goesOn ? 0 : first <= last && !isHeld ? round + 1 : round, round));
    }

    /// <summary>This route when it starts at a bar of the performance, elsewhere than the route so far would go.</summary>
    /// <param name="index">The bar's number; -1 for the lead-in.</param>
    /// <param name="ordinal">Which bar of the performance it is.</param>
    /// <param name="round">The number of earlier rounds of its loop or vamp.</param>
    public PerformanceRoute StartingAt(int index, int ordinal, int round) => new(this, new RouteEntry(ordinal, index, round, round));

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
        var bar = RoundOf(index, ordinal) is { } round ? RoundsAt(index).From < 0 ? _bars.LastRoundAt(index, round) : _bars.RoundAt(index, round)
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

    /// <summary>The number of earlier rounds of the loop or vamp in which a bar is played, also in the rest of the last round, after the loop or vamp
    /// was called off; null outside.</summary>
    /// <param name="index">The bar of the chart.</param>
    /// <param name="ordinal">The bar of the performance.</param>
    public int? RoundOf(int index, int ordinal)
    {
        // The bars of a hold are one.
        var at = _orders.HoldFrom is { } hold ? Math.Min(ordinal, Math.Max(hold, _entry.Ordinal)) : ordinal;
        var (from, end) = RoundsAt(index);
        if (from >= 0)
        {
            if (!_firstRounds.TryGetValue(from, out var first))
            {
                if (FirstRound(from, end, at) is not { } found)
                {
                    return 0;
                }

                _firstRounds[from] = first = found;
            }

            // The route may have begun a bar earlier than it was to.
            var bars = end - from;
            return Math.Max(0, at - (index - from) - first + (bars / 2)) / bars;
        }

        var isRest = _entry.Round > 0 && index - _entry.Index == at - _entry.Ordinal && IsInSameRun(_entry.Index, index);
        return isRest ? _entry.Round : null;
    }

    // The loop or vamp that goes round at a bar; from -1 for none.
    private (int From, int End) RoundsAt(int index) =>
        index < 0 ? (-1, -1)
        : Loop is { } loop ? loop.Contains(index) ? (loop.From, loop.End) : (-1, -1)
        : _orders.EndBar is null && VampOf(index) is { } vamp ? (vamp.FirstBar, vamp.EndBar)
        : (-1, -1);

    // Null if the route does not come there by then.
    private int? FirstRound(int from, int end, int last)
    {
        var (index, at) = (_entry.Index, _entry.Ordinal);
        if (index >= from && index < end)
        {
            return at - (index - from) - (_entry.Round * (end - from));
        }

        for (; at < last; at++)
        {
            index = After(index, at);
            if (index >= from && index < end)
            {
                return at + 1 - (index - from);
            }
        }

        return null;
    }

    private bool IsInSameRun(int bar, int other) =>
        bar >= 0 && other >= 0 && bar != _bars.Composer.EndingBar && other != _bars.Composer.EndingBar && Plan.BarAt(bar).Run.Number == Plan.BarAt(other).Run.Number;

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
