using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>Sets the tempo at once. In a ritardando or an accelerando of the chart it is the tempo of the passage: the gradual change stays
/// as strong as it is.</summary>
/// <param name="Goal">The tempo.</param>
public sealed record SetTempo(TempoGoal Goal) : StateChange
{
    // The engine's speeds are ratios of numbers up to this.
    private const long LargestTerm = 16_384;

    // Numbers written into a section have three decimals: they play as what was asked for, and can be multiplied further.
    private const long LargestDenominator = 1000;

    private static readonly Rational FastestSpeed = 16;
    private static readonly Rational SlowestSpeed = new(1, 16);

    /// <summary>The section that it is for, from the next bar line on; null for the whole chart, at once.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new(
        "tempo", "tempo 120 | bar = 60 | by -4 | 80% | learner | 80% here", "felt beats per minute, or a share of the chart's tempo", (rest, state) =>
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        return SetPace.Read(text) is { } pace ? pace with { Scope = scope } : new SetTempo(TempoGoal.Read(text)) { Scope = scope };
    });

    /// <inheritdoc/>
    public override string Words => $"tempo {Goal}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    /// <summary>The change for a tapped tempo: bars as bars, anything shorter as units. Taps give the sounding tempo, also in a ritardando or an
    /// accelerando.</summary>
    public static SetTempo FromTaps(TappedTempo heard, BarPlace bar)
    {
        var (level, note, length) = heard.Level is FeltLevel.Bar or FeltLevel.BarGroup
            ? (TempoLevel.Bar, Span.Zero, bar.Length)
            : (TempoLevel.Note, bar.Meter.Unit, bar.Meter.Unit);
        var steady = (bar.SteadyTempo.WholesPerMinute / bar.Tempo.WholesPerMinute).ToDouble();
        var tenths = (long)Math.Round(Math.Round(heard.WholesPerMinute * steady / length.Wholes.ToDouble(), 1) * 10);
        return new SetTempo(new TempoGoal(level, note, new Rational(Math.Max(1, tenths), 10), null));
    }

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var bar = ChangeScope.BarOf(Scope, state, place);
        var now = state.SteadyTempoIn(bar, place.Ordinal);
        var wanted = Goal.In(bar, now);
        if (Scope is not null)
        {
            return InSection(state, bar, wanted, place);
        }

        var next = state with { Speed = Usable(state.Speed * (wanted.WholesPerMinute / now.WholesPerMinute)) };
        if (state.Orders.Ramp is { } ramp)
        {
            // Ends the ramp and keeps the factor that it has reached, as a number that can be multiplied further.
            var reached = Usable(ramp.At(place.Ordinal, Rational.Zero));
            next = next with { Speed = Usable(wanted.WholesPerMinute / bar.SteadyTempo.WholesPerMinute / reached) };
            next = next.Ordered(orders => orders with { Ramp = new TempoRamp(place.Ordinal, 0, reached, reached) });
        }

        return new ChangeResult(
            next,
            FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace) + InRamp(bar, wanted, place) + Turned(bar, next, place) + InProportion(state.Chart),
            next.IsFeltAs(state) ? ChangeMoment.Now : ChangeMoment.BarLine);
    }

    // Where the chart does not say what is felt and counted, it follows the tempo, from the next bar line on.
    internal static string Turned(BarPlace bar, PerformanceState next, PerformancePlace place)
    {
        var then = next.BarAt(place);
        var when = place.Index >= 0 ? " from the next bar" : string.Empty;
        return then.Felt != bar.Felt ? $"; {FeltTempo.Of(then.Felt, then.Meter, then.Tempo, then.GroupPlace).In}{when}"
            : then.Counted != bar.Counted ? $"; counted in {(then.Counted == Counted.Units ? "units" : "groups")}{when}"
            : string.Empty;
    }

    // The whole chart goes faster or slower, so a ritardando stays as strong as written: a fixed goal could turn it round.
    private static string InProportion(Chart chart) => chart.SectionsWithTempi().Count > 0 ? "; tempi in sections keep their ratio" : string.Empty;

    // What sounds in the bar of a ritardando or an accelerando in which the tempo is set.
    private static string InRamp(BarPlace bar, Tempo wanted, PerformancePlace place)
    {
        if (place.Index < 0 || bar.Tempo == bar.SteadyTempo)
        {
            return string.Empty;
        }

        var sounding = new Tempo(wanted.WholesPerMinute * bar.Tempo.WholesPerMinute / bar.SteadyTempo.WholesPerMinute);
        return $"; now {FeltTempo.Of(bar.Felt, bar.Meter, sounding, bar.GroupPlace).Figure} in the {NameOfRamp(bar)}";
    }

    private static string NameOfRamp(BarPlace bar) => bar.Tempo.WholesPerMinute < bar.SteadyTempo.WholesPerMinute ? "ritardando" : "accelerando";

    /// <summary>The change of one section's tempo.</summary>
    internal static ChangeResult InSection(PerformanceState state, BarPlace bar, Tempo wanted, PerformancePlace place)
    {
        // Always from what the section said first, which returns with its old tempo.
        var (index, name) = (bar.Run.SectionIndex, bar.Run.Section.Name);
        var (before, plain, written) = First(state, bar, place);
        var was = plain.SteadyTempoIn(written, place.Ordinal);
        var chart = was == wanted ? plain.Chart : AtTempo(plain, written, wanted, was, place);
        var pace = before.Pace * (wanted.WholesPerMinute / was.WholesPerMinute);
        var next = state with
        {
            Chart = chart,
            SectionPaces = pace == Rational.One ? state.SectionPaces.Remove(name) : state.SectionPaces.SetItem(name, pace),
            SectionTempi = was == wanted ? state.SectionTempi.Remove(name)
                : state.SectionTempi.SetItem(name, before with { Now = SectionTempo.Of(chart.Sections[index]) }),
        };
        return new ChangeResult(
            next,
            $"{name}: {FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace)}" + InProportion(before.Before, next, bar.Run, place),
            ChangeMoment.BarLine);
    }

    /// <summary>What a section said about its tempo before it was changed alone, the state with that, and the bar in it.</summary>
    internal static (ChangedTempo Changed, PerformanceState State, BarPlace Bar) First(PerformanceState state, BarPlace bar, PerformancePlace place)
    {
        var index = bar.Run.SectionIndex;
        var section = state.Chart.Sections[index];
        var now = SectionTempo.Of(section);
        if (state.SectionTempi.TryGetValue(section.Name, out var changed) && changed.Now == now)
        {
            try
            {
                var first = state with { Chart = ChangeScope.With(state.Chart, index, changed.Before.In) };
                return (changed, first, first.PlanAt(place).BarAt(bar.Index));
            }
            catch (ChartProblemException)
            {
                // It does not suit the current meter.
            }
        }

        return (new ChangedTempo(now, now, state.PaceOf(section.Name)), state, bar);
    }

    // The goals of a section's own ritardandi and accelerandi that are not what the section said before.
    private static string InProportion(SectionTempo before, PerformanceState next, SectionRun run, PerformancePlace place)
    {
        var now = SectionTempo.Of(next.Chart.Sections[run.SectionIndex]);
        var goals = before.Ramps.Zip(now.Ramps, (was, ramp) => (Was: was.To, Now: ramp.To))
            .Concat(before.Tempo?.To is { } to ? [(to, now.Tempo!.To!.Value)] : [])
            .Where(goal => goal.Was != goal.Now).Select(goal => goal.Now).ToList();
        var plan = next.PlanAt(place);
        var ramp = Enumerable.Range(run.FirstBar, run.Bars).Select(plan.BarAt).FirstOrDefault(bar => bar.Tempo != bar.SteadyTempo);
        return goals is [] || ramp is null ? string.Empty
            : goals is [var goal] ? $"; its {NameOfRamp(ramp)} keeps its ratio: to {ChartChanges.Times(goal, next.PaceIn(place.Ordinal), null).Rounded()}"
            : "; its tempi keep their ratio";
    }

    // The section begins at the tempo, its own changes of tempo keep their ratio to it, and what follows is as fast as before.
    internal static Chart AtTempo(PerformanceState state, BarPlace bar, Tempo wanted, Tempo now, PerformancePlace place)
    {
        var plan = state.PlanAt(place);
        var first = plan.BarAt(bar.Run.FirstBar);
        var section = state.Chart.Sections[bar.Run.SectionIndex];
        var factor = wanted.WholesPerMinute / now.WholesPerMinute;
        var own = section.Tempo is not null || section.Join is not null || section.Ramps.Count > 0;
        var started = section.Tempo is { From: { } from }
            ? from.At(first.Meter, first.GroupPlace.LengthIn(first.Meter)).WholesPerMinute
            : section.Tempo?.To is null && section.Ramps.All(ramp => ramp.BarsIn(bar.Run.Bars).From > 0) ? first.Tempo.WholesPerMinute
            : bar.Run.FirstBar == 0 ? state.Chart.Tempo.At(first.Meter, first.GroupPlace.LengthIn(first.Meter)).WholesPerMinute
            : plan.TempoAfter(plan.BarAt(bar.Run.FirstBar - 1).Run).WholesPerMinute;
        var last = plan.BarAt(bar.Run.EndBar - 1).Meter;
        var starts = started == now.WholesPerMinute / state.PaceIn(place.Ordinal) ? wanted.WholesPerMinute / state.PaceIn(place.Ordinal) : started * factor;
        var mark = Rounded(BeatOf(first, starts));
        var leadsOn = LeadsOn(plan, bar.Run);
        var after = section.Tempo?.After
            ?? (leadsOn ? null : new TempoAfter(own ? Rounded(new TempoMark(TempoLevel.Note, last.Unit, plan.TempoAfter(bar.Run).PerMinute(last.Unit))) : null));
        var scaled = section.AtPace(factor, LargestDenominator);
        if (leadsOn)
        {
            scaled = LastRise(section, bar.Run.Bars) is { } rise
                ? scaled with { Ramps = [.. scaled.Ramps.Select((ramp, i) => i == rise ? ramp with { To = section.Ramps[i].To } : ramp)] }
                : scaled with { Tempo = scaled.Tempo! with { To = section.Tempo!.To } };
        }

        return ChangeScope.With(state.Chart, bar.Run.SectionIndex, _ => scaled with
        {
            Join = null,
            Tempo = (scaled.Tempo ?? new TempoChange(null, null, null)) with { From = mark, After = after },
        });
    }

    // True when the section's last bars move to the tempo of another section, which stays as it is: then their goal stays too.
    private static bool LeadsOn(FormPlan plan, SectionRun run)
    {
        var section = run.Section;
        if (section.Tempo?.After is not null
            || (LastRise(section, run.Bars) is { } rise ? section.Ramps[rise].After is not null
                : section.Tempo?.To is null || (section.Tempo.OverBars ?? run.Bars) != run.Bars))
        {
            return false;
        }

        var runs = plan.Runs.ToList();
        return runs.Zip(runs.Skip(1)).Any(pair => pair.First.SectionIndex == run.SectionIndex
            && pair.Second.SectionIndex != run.SectionIndex && pair.Second.Section.Tempo?.From is null && pair.Second.Section.Join is null);
    }

    // The gradual change that ends with the section; null for none.
    private static int? LastRise(Section section, int bars) =>
        Enumerable.Range(0, section.Ramps.Count).Select(i => (int?)i).FirstOrDefault(i => section.Ramps[i!.Value].BarsIn(bars).End == bars);

    // As said: in felt beats, where the whole bar is a beat in bars.
    private static TempoMark Rounded(TempoMark mark) => mark with { PerMinute = mark.PerMinute.Within(LargestDenominator) };

    internal static TempoMark BeatOf(BarPlace first, Rational wholesPerMinute)
    {
        var felt = FeltTempo.Of(first.Felt, first.Meter, new Tempo(wholesPerMinute), first.GroupPlace);
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

/// <summary>Sets the tempo to a share of the chart's.</summary>
/// <param name="Share">The share, 1 being the chart's tempo; null for the chart's tempo for learners.</param>
public sealed record SetPace(Rational? Share) : StateChange
{
    private const string Learner = "learner";
    private const int LeastPercent = 5;
    private const int MostPercent = 500;

    /// <summary>The section that it is for, from the next bar line on; null for the whole chart, at once.</summary>
    public ChangeScope? Scope { get; init; }

    /// <inheritdoc/>
    public override string Words => (Share is { } share ? $"tempo {share * 100}%" : $"tempo {Learner}") + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

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
        var bar = ChangeScope.BarOf(Scope, state, place);
        var now = state.SteadyTempoIn(bar, place.Ordinal);

        // A share of what the chart says there, as for the whole chart: twice 80% is 80%.
        var (first, _, written) = SetTempo.First(state, bar, place);
        var wanted = new Tempo(Scope is null ? bar.SteadyTempo.WholesPerMinute * share : written.SteadyTempo.WholesPerMinute / first.Pace * share);
        var changed = Scope is null
            ? new SetTempo(new TempoGoal(TempoLevel.Bar, Span.Zero, wanted.WholesPerMinute / bar.Length.Wholes, null)).ApplyTo(state, place)
            : SetTempo.InSection(state, bar, wanted, place);
        var warning = Share is not null ? string.Empty
            : share > Rational.One ? "; faster than the chart's tempo"
            : wanted.WholesPerMinute > now.WholesPerMinute ? "; faster than before"
            : string.Empty;
        return changed with { Says = changed.Says + warning };
    }
}

/// <summary>Changes the tempo gradually, from the next bar on.</summary>
/// <param name="Goal">The final tempo.</param>
/// <param name="Bars">The number of bars, 1 to 64.</param>
public sealed record RampTempo(TempoGoal Goal, int Bars) : StateChange
{
    private const int MostBars = 64;

    internal static ChangeForm Form { get; } = new("ramp", "ramp 140 over 8 | 140 over 4 here", "change gradually to that tempo, over that many bars", Read);

    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    /// <inheritdoc/>
    public override string Words => $"ramp {Goal} over {ChangeWords.Plain(Bars)}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var bar = ChangeScope.BarOf(Scope, state, place);
        var wanted = Goal.In(bar, state.SteadyTempoIn(bar, place.Ordinal));
        if (Scope is not null)
        {
            return InSection(state, bar, wanted, place);
        }

        var from = state.Orders.Ramp?.At(place.Next, Rational.Zero) ?? Rational.One;
        var to = SetTempo.Usable(wanted.WholesPerMinute / bar.SteadyTempo.WholesPerMinute / state.Speed);
        var next = state.Ordered(orders => orders with { Ramp = new TempoRamp(place.Next, Bars, SetTempo.Usable(from), to) });
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace);
        return new ChangeResult(
            next, $"to {felt.BeatName} = {felt.Figure} over {Wording.Words.Count(Bars, "bar")}{SetTempo.Turned(bar, next, place)}", ChangeMoment.Later, place.Next);
    }

    // Part of the section from now on, each time that it is played: from the next bar on, or in another section from its first.
    private ChangeResult InSection(PerformanceState state, BarPlace bar, Tempo wanted, PerformancePlace place)
    {
        var run = bar.Run;
        var current = state.BarAt(place);
        var first = current.Run.SectionIndex == run.SectionIndex && place.Index >= 0 ? current.Index - current.Run.FirstBar + 1 : 0;
        var left = run.Bars - first;
        if (Bars > left)
        {
            throw new ChangeRefusedException(left == 0
                ? $"this is the last bar of {run.Section.Name}; make the change in its first bars, or without 'here'"
                : $"{run.Section.Name} has {Wording.Words.Count(left, "more bar")}; write ramp {Goal} over {ChangeWords.Plain(left)}{ChangeScope.WordsOf(Scope)}");
        }

        var begins = state.PlanAt(place).BarAt(run.FirstBar + first);
        var rise = new TempoRise(SetTempo.BeatOf(begins, wanted.WholesPerMinute / state.PaceIn(place.Ordinal)), first + 1, first + Bars);
        if (Bars == left)
        {
            rise = new TempoRise(rise.To, 0, Bars) { After = new TempoAfter(null) };
        }
        else
        {
            // The tempo that it reaches stays until the section ends.
            var now = state.SteadyTempoIn(bar, place.Ordinal);
            state = state with { Chart = SetTempo.AtTempo(state, bar, now, now, place) };
        }

        var chart = ChangeScope.With(state.Chart, run.SectionIndex, section => section with { Ramps = [.. section.Ramps, rise] });
        var felt = FeltTempo.Of(begins.Felt, begins.Meter, wanted, begins.GroupPlace);
        return new ChangeResult(
            state with { Chart = chart }, $"{run.Section.Name}: to {felt.BeatName} = {felt.Figure} over {Wording.Words.Count(Bars, "bar")}", ChangeMoment.BarLine);
    }

    private static RampTempo Read(string rest, PerformanceState state)
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        var words = text.Split(" over ", StringSplitOptions.TrimEntries);
        if (words.Length != 2)
        {
            throw new ChangeRefusedException("give the tempo and the number of bars: ramp 140 over 8");
        }

        var bars = words[1].Split(' ', 2, StringSplitOptions.TrimEntries);
        return bars.Length > 1 && bars[1] is not ("bar" or "bars")
            ? throw new ChangeRefusedException($"{Wording.Words.Quote(words[1])} is not a number of bars; write ramp 140 over 8")
            : new RampTempo(TempoGoal.Read(words[0]), ChangeWords.Whole(bars[0], 1, MostBars, "a number of bars")) { Scope = scope };
    }
}
