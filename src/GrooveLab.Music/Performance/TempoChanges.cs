using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>Sets the tempo at once.</summary>
/// <param name="Goal">The tempo.</param>
public sealed record SetTempo(TempoGoal Goal) : StateChange
{
    // The engine's speeds are ratios of numbers up to this.
    private const long LargestTerm = 16_384;

    private static readonly Rational FastestSpeed = 16;
    private static readonly Rational SlowestSpeed = new(1, 16);

    /// <summary>The section that it is for, from the next bar line on; null for the whole chart, at once.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new(
        "tempo", "tempo 120 | bar = 60 | by -4 | 80% | learner | 120 here", "felt beats per minute, or a share of the chart's tempo", (rest, state) =>
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        return (scope is null ? SetPace.Read(text) : null) ?? (Change)new SetTempo(TempoGoal.Read(text)) { Scope = scope };
    });

    /// <inheritdoc/>
    public override string Words => $"tempo {Goal}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null && Goal.Step is null ? this with { Scope = section } : null;

    /// <summary>The change for a tapped tempo: bars as bars, anything shorter as units.</summary>
    public static SetTempo FromTaps(TappedTempo heard, BarPlace bar)
    {
        var (level, note, length) = heard.Level is FeltLevel.Bar or FeltLevel.BarGroup
            ? (TempoLevel.Bar, Span.Zero, bar.Length)
            : (TempoLevel.Note, bar.Meter.Unit, bar.Meter.Unit);
        var tenths = (long)Math.Round(Math.Round(heard.WholesPerMinute / length.Wholes.ToDouble(), 1) * 10);
        return new SetTempo(new TempoGoal(level, note, new Rational(Math.Max(1, tenths), 10), null));
    }

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var bar = ChangeScope.BarOf(Scope, state, place);
        var now = state.TempoIn(bar, place.Ordinal);
        var wanted = Goal.In(bar, now);
        if (Scope is not null)
        {
            return new ChangeResult(
                state with { Chart = InSection(state, bar, wanted, now, place) },
                $"{bar.Run.Section.Name}: {FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace.Size)}",
                ChangeMoment.BarLine);
        }

        var next = state with { Speed = Usable(state.Speed * (wanted.WholesPerMinute / now.WholesPerMinute)) };
        if (state.Orders.Ramp is { } ramp)
        {
            // Ends the ramp and keeps the factor that it has reached.
            var reached = ramp.At(place.Ordinal, Rational.Zero);
            next = next.Ordered(orders => orders with { Ramp = new TempoRamp(place.Ordinal, 0, reached, reached) });
        }

        return new ChangeResult(next, FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace.Size).ToString(), ChangeMoment.Now);
    }

    // The section begins at the tempo, its own changes of tempo keep their ratio to it, and what follows is as fast as before.
    private static Chart InSection(PerformanceState state, BarPlace bar, Tempo wanted, Tempo now, PerformancePlace place)
    {
        var plan = state.Plan;
        var first = plan.BarAt(bar.Run.FirstBar);
        var section = state.Chart.Sections[bar.Run.SectionIndex];
        var factor = wanted.WholesPerMinute / now.WholesPerMinute;
        var own = section.Tempo is not null || section.Join is not null || section.Ramps.Count > 0;
        var started = section.Tempo is { From: { } from }
            ? from.At(first.Meter, first.Length * first.GroupPlace.Size).WholesPerMinute
            : section.Tempo?.To is null && section.Ramps.All(ramp => ramp.BarsIn(bar.Run.Bars).From > 0) ? first.Tempo.WholesPerMinute
            : bar.Run.FirstBar == 0 ? state.Chart.Tempo.At(first.Meter, first.Length * first.GroupPlace.Size).WholesPerMinute
            : plan.TempoAfter(plan.BarAt(bar.Run.FirstBar - 1).Run).WholesPerMinute;
        var last = plan.BarAt(bar.Run.EndBar - 1).Meter;
        var starts = started == now.WholesPerMinute / state.PaceIn(place.Ordinal) ? wanted.WholesPerMinute / state.PaceIn(place.Ordinal) : started * factor;
        var mark = BeatOf(first, starts);
        var after = section.Tempo?.After
            ?? new TempoAfter(own ? new TempoMark(TempoLevel.Note, last.Unit, plan.TempoAfter(bar.Run).PerMinute(last.Unit)) : null);
        var scaled = section.AtPace(factor);
        return ChangeScope.With(state.Chart, bar.Run.SectionIndex, _ => scaled with
        {
            Join = null,
            Tempo = (scaled.Tempo ?? new TempoChange(null, null, null)) with { From = mark, After = after },
        });
    }

    // As said: in felt beats, where the whole bar is a beat in bars.
    private static TempoMark BeatOf(BarPlace first, Rational wholesPerMinute)
    {
        var felt = FeltTempo.Of(first.Felt, first.Meter, new Tempo(wholesPerMinute), first.GroupPlace.Size);
        return felt.Beat == first.Length
            ? new TempoMark(TempoLevel.Bar, Span.Zero, felt.PerMinute)
            : felt.Level == FeltLevel.BarGroup ? new TempoMark(TempoLevel.Bar, Span.Zero, new Tempo(wholesPerMinute).PerMinute(first.Length))
            : new TempoMark(TempoLevel.Note, felt.Beat, felt.PerMinute);
    }

    // The nearest speed available in the engine; off by less than 1/10000.
    internal static Rational Usable(Rational speed)
    {
        if (speed < SlowestSpeed || speed > FastestSpeed)
        {
            throw new ChangeRefusedException("the tempo must be between 1/16 and 16 times the chart's tempo");
        }

        if (speed.Numerator <= LargestTerm && speed.Denominator <= LargestTerm)
        {
            return speed;
        }

        var part = LargestTerm;
        while (speed * part > LargestTerm)
        {
            part /= 2;
        }

        return new Rational((speed * part).Round(), part);
    }
}

/// <summary>Sets the tempo to a share of the chart's, at once.</summary>
/// <param name="Share">The share, 1 being the chart's tempo; null for the chart's tempo for learners.</param>
public sealed record SetPace(Rational? Share) : StateChange
{
    private const string Learner = "learner";
    private const int LeastPercent = 5;
    private const int MostPercent = 500;

    /// <inheritdoc/>
    public override string Words => Share is { } share ? $"tempo {share * 100}%" : $"tempo {Learner}";

    /// <summary>Reads "80%" or "learner"; null if the text is neither.</summary>
    /// <exception cref="ChangeRefusedException">The share is out of range.</exception>
    internal static SetPace? Read(string text)
    {
        if (string.Equals(text, Learner, StringComparison.OrdinalIgnoreCase))
        {
            return new SetPace((Rational?)null);
        }

        return !text.EndsWith('%') ? null
            : Rational.TryParse(text[..^1].Trim(), out var percent) && percent >= LeastPercent && percent <= MostPercent && percent.Denominator <= 1000
                ? new SetPace(percent / 100)
                : throw new ChangeRefusedException($"the tempo must be from {LeastPercent}% to {MostPercent}% of the chart's tempo, not {Wording.Words.Quote(text)}");
    }

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var share = Share ?? state.Chart.PaceOf(
            state.Chart.LearnerTempo ?? throw new ChangeRefusedException("the chart has no learner-tempo; give a tempo, such as bar = 40 or 70%"));
        var bar = state.BarAt(place);
        var now = state.TempoIn(bar, place.Ordinal);
        var wanted = new Tempo(now.WholesPerMinute / state.PaceIn(place.Ordinal) * share);
        return new SetTempo(new TempoGoal(TempoLevel.Bar, Span.Zero, wanted.WholesPerMinute / bar.Length.Wholes, null)).ApplyTo(state, place);
    }
}

/// <summary>Changes the tempo gradually, from the next bar on.</summary>
/// <param name="Goal">The final tempo.</param>
/// <param name="Bars">The number of bars, 1 to 64.</param>
public sealed record RampTempo(TempoGoal Goal, int Bars) : StateChange
{
    private const int MostBars = 64;

    internal static ChangeForm Form { get; } = new("ramp", "ramp 140 over 8", "change gradually to that tempo, over that many bars", Read);

    /// <inheritdoc/>
    public override string Words => $"ramp {Goal} over {ChangeWords.Plain(Bars)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var bar = state.BarAt(place);
        var wanted = Goal.In(bar, state.TempoIn(bar, place.Ordinal));
        var from = state.Orders.Ramp?.At(place.Next, Rational.Zero) ?? Rational.One;
        var to = SetTempo.Usable(wanted.WholesPerMinute / bar.Tempo.WholesPerMinute / state.Speed);
        var next = state.Ordered(orders => orders with { Ramp = new TempoRamp(place.Next, Bars, SetTempo.Usable(from), to) });
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace.Size);
        return new ChangeResult(next, $"to {felt.BeatName} = {felt.Figure} over {Wording.Words.Count(Bars, "bar")}", ChangeMoment.Later, place.Next);
    }

    private static RampTempo Read(string rest, PerformanceState state)
    {
        var words = rest.Split(" over ", StringSplitOptions.TrimEntries);
        if (words.Length != 2)
        {
            throw new ChangeRefusedException("give the tempo and the number of bars: ramp 140 over 8");
        }

        var bars = words[1].Split(' ', 2, StringSplitOptions.TrimEntries);
        return bars.Length > 1 && bars[1] is not ("bar" or "bars")
            ? throw new ChangeRefusedException($"{Wording.Words.Quote(words[1])} is not a number of bars; write ramp 140 over 8")
            : new RampTempo(TempoGoal.Read(words[0]), ChangeWords.Whole(bars[0], 1, MostBars, "a number of bars"));
    }
}
