using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>Changes the meter of bars like the current one; a tune that does not fit rests until its meter
/// returns.</summary>
/// <param name="Meter">The meter.</param>
public sealed record SetMeter(BarMeter Meter) : StateChange
{
    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new("meter", "meter 7/8 2+2+3 | 7/8 2+2+3 here", "change the meter of bars like this one", (rest, state) =>
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        return BarMeter.TryParse(text, out var meter, out var problem) ? new SetMeter(meter) { Scope = scope } : throw new ChangeRefusedException(problem);
    });

    /// <inheritdoc/>
    public override string Words => $"meter {Meter}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) =>
        Changed(Meter, Scope, ChangeScope.BarOf(Scope, state, place), state);

    internal static ChangeResult Changed(BarMeter meter, ChangeScope? scope, BarPlace bar, PerformanceState state)
    {
        var old = bar.Meter;
        var only = scope is null ? null : (int?)bar.Run.SectionIndex;
        var (resting, changedBars, tempi) = (state.Resting, state.ChangedBars, state.SectionTempi);
        var like = WrittenMeter(state, bar);
        var sections = new List<Section>();
        var rests = false;
        var returns = false;
        foreach (var section in state.Chart.Sections)
        {
            // Bars that were alike before are alike: others that have the same meter now keep it.
            var before = ChangedBars.Of(state, section);
            bool IsLike(ChartBar bar, ChartBar was) => bar.Meter == old && was.Meter == like;
            IReadOnlyList<ChartBar> Changed(IReadOnlyList<ChartBar> bars, IReadOnlyList<ChartBar> were) =>
                [.. bars.Zip(were, (bar, was) => IsLike(bar, was) ? InMeter(bar, meter) : bar)];
            if (sections.Count != (only ?? sections.Count) || ChangedBars.MetersOf(section).Zip(ChangedBars.MetersOf(before)).All(pair => pair != (old, like)))
            {
                sections.Add(section);
                continue;
            }

            var next = section with
            {
                Bars = Changed(section.Bars, before.Bars),
                Endings = section.Endings.Count == 0 ? section.Endings
                    : [.. section.Endings.Zip(before.Endings, (ending, was) => ending with { Bars = Changed(ending.Bars, was.Bars) })],
            };

            // The old chords with the old meters, also those for which other meters had no room.
            next = ChangedBars.MetersOf(next).SequenceEqual(ChangedBars.MetersOf(before))
                ? next with { Bars = before.Bars, Endings = [.. next.Endings.Zip(before.Endings, (ending, was) => ending with { Bars = was.Bars })] }
                : next;
            changedBars = ReferenceEquals(next.Bars, before.Bars) ? changedBars.Remove(section.Name) : changedBars.SetItem(section.Name, new ChangedBars(before, next));
            var written = section.Tune is { } tune
                ? new RestingTune(tune, LengthsOf(section)) { Endings = [.. section.Endings.Select(ending => ending.Tune)] }
                : resting.GetValueOrDefault(section.Name);
            var fits = written is not null && written.Bars.SequenceEqual(LengthsOf(next));
            rests |= section.Tune is not null && !fits;
            returns |= section.Tune is null && fits;
            resting = written is null || fits ? resting.Remove(section.Name) : resting.SetItem(section.Name, written);
            next = next.WithTunes(fits ? written : null);
            var isBack = ReferenceEquals(next.Bars, before.Bars);
            next = next with { HasOwnMeter = isBack ? before.HasOwnMeter : only is not null || next.HasOwnMeter };
            next = only is null ? next : WithTempoOfTheUnit(next, bar, state);
            sections.Add(next);
            if (next.Tempo != section.Tempo)
            {
                var said = SectionTempo.Of(section);
                tempi = tempi.SetItem(
                    section.Name,
                    (tempi.TryGetValue(section.Name, out var first) && first.Now == said ? first : new ChangedTempo(said, said, state.PaceOf(section.Name))) with { Now = SectionTempo.Of(next) });
            }
        }

        var chart = state.Chart with
        {
            Sections = [.. sections],
            Tempo = only is null || only == state.Chart.Form[0].Section ? OfTheUnit(state, old, meter) : state.Chart.Tempo,
        };
        if (only is { } at && state.PaceOf(sections[at].Name) == Rational.One && tempi.TryGetValue(sections[at].Name, out var other) && other.Now == SectionTempo.Of(sections[at])
            && ChangeScope.With(chart, at, other.Before.In) is var again && IsSameTempo(chart, again, at))
        {
            (chart, tempi) = (again, tempi.Remove(sections[at].Name));
        }

        var mark = state.ChangedMark is { } known && known.Now == state.Chart.Tempo ? known.Before : state.Chart.Tempo;
        if (mark != chart.Tempo && IsSameTempo(chart, chart with { Tempo = mark }, chart.Form[0].Section))
        {
            chart = chart with { Tempo = mark };
        }

        var says = meter + (only is { } index ? $" in {chart.Sections[index].Name}" : string.Empty) + (rests ? $"; the tune, written in {old.Signature}, rests" : string.Empty) + (returns ? "; the tune plays again" : string.Empty);
        return new ChangeResult(
            state with
            {
                Chart = chart,
                Resting = resting,
                ChangedBars = changedBars,
                SectionTempi = tempi,
                ChangedMark = mark == chart.Tempo ? null : (mark, chart.Tempo),
            },
            says,
            ChangeMoment.BarLine);
    }

    // What the bar's meter was before it was changed.
    private static BarMeter WrittenMeter(PerformanceState state, BarPlace bar)
    {
        var section = state.Chart.Sections[bar.Run.SectionIndex];
        var before = ChangedBars.Of(state, section);
        return bar.IndexInRun < section.Bars.Count ? before.Bars[bar.IndexInRun].Meter
            : before.Endings[bar.Run.Ending - 1].Bars[bar.IndexInRun - section.Bars.Count].Meter;
    }

    // Whether a section begins at the same tempo in both.
    private static bool IsSameTempo(Chart chart, Chart other, int section)
    {
        Tempo? Begins(Chart one)
        {
            var plan = new FormPlan(one);
            return plan.Runs.FirstOrDefault(run => run.SectionIndex == section) is { } run ? plan.BarAt(run.FirstBar).SteadyTempo : null;
        }

        try
        {
            return Begins(other) == Begins(chart);
        }
        catch (ChartProblemException)
        {
            // The other does not suit the meter.
            return false;
        }
    }

    private static List<Span> LengthsOf(Section section) =>
        [.. section.Bars.Concat(section.Endings.SelectMany(ending => ending.Bars)).Select(bar => bar.Meter.Length)];

    // In one section too, the unit keeps its speed if the section's own tempo counts something else.
    private static Section WithTempoOfTheUnit(Section section, BarPlace bar, PerformanceState state)
    {
        if (section.Tempo is not { From: { Level: not TempoLevel.Note } } change)
        {
            return section;
        }

        var first = state.Plan.BarAt(bar.Run.FirstBar);
        return section with { Tempo = change with { From = new TempoMark(TempoLevel.Note, first.Meter.Unit, first.SteadyTempo.PerMinute(first.Meter.Unit)) } };
    }

    // The unit keeps its speed, whatever the tempo counts; what it counts keeps its length too if only the grouping changes.
    private static TempoMark OfTheUnit(PerformanceState state, BarMeter old, BarMeter meter)
    {
        if (state.Chart.Tempo.Level is TempoLevel.Note || (state.Chart.Tempo.Level != TempoLevel.Group && old.Signature == meter.Signature))
        {
            return state.Chart.Tempo;
        }

        var first = state.Plan.BarAt(0);
        return new TempoMark(TempoLevel.Note, first.Meter.Unit, first.Tempo.PerMinute(first.Meter.Unit));
    }

    // Back in its first meter, a bar is as it was: chords that were moved together are apart again.
    private static ChartBar InMeter(ChartBar bar, BarMeter meter) =>
        bar.Before is { } before && before.Meter == meter ? before
        : bar with { Meter = meter, Chords = Fitted(bar.Chords, bar.Meter, meter), Before = bar.Before ?? bar };

    // Each chord keeps its share of the bar, to the nearest unit; chords that would coincide get one unit each while units are left.
    private static List<ChordSpan> Fitted(IReadOnlyList<ChordSpan> chords, BarMeter old, BarMeter meter)
    {
        var onsets = new List<int>();
        foreach (var chord in chords)
        {
            var groupAt = old.GroupStartUnits.ToList().FindIndex(unit => old.Unit * unit == chord.Onset);
            var unit = groupAt >= 0 && old.GroupSizes.Count == meter.GroupSizes.Count
                ? meter.GroupStartUnits[groupAt]
                : (int)(chord.Onset / old.Length * meter.Units).Round();
            unit = Math.Max(unit, onsets.Count == 0 ? 0 : onsets[^1] + 1);
            if (unit >= meter.Units)
            {
                break;
            }

            onsets.Add(unit);
        }

        return
        [
            .. onsets.Select((unit, i) => new ChordSpan(
                meter.Unit * unit, meter.Unit * ((i + 1 < onsets.Count ? onsets[i + 1] : meter.Units) - unit), chords[i].Symbol)),
        ];
    }
}

/// <summary>Changes the grouping of bars like the current one.</summary>
/// <param name="Grouping">The grouping as text: "3+2", "(3+2)+(2+2)", "none". It must add up to the units of the current bar.</param>
public sealed record SetGrouping(string Grouping) : StateChange
{
    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new("grouping", "grouping 3+2 | 3+2 here", "regroup bars like this one", (rest, state) =>
    {
        var (text, scope) = ChangeScope.Read(rest, state);

        // The numbers are compared with the bar when the change is made.
        return text.All(letter => !char.IsLetter(letter)) || BarMeter.TryParse($"1/4 {text}", out _, out _)
            ? new SetGrouping(text) { Scope = scope }
            : throw new ChangeRefusedException($"{Wording.Words.Quote(text)} is not a grouping; {Wording.Words.Meant(Wording.Words.Nearest(text, ["none"]))}write it as 3+2, or none");
    });

    /// <inheritdoc/>
    public override string Words => $"grouping {Grouping}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var bar = ChangeScope.BarOf(Scope, state, place);
        return BarMeter.TryParse($"{bar.Meter.Signature} {Grouping}", out var meter, out var problem)
            ? SetMeter.Changed(meter, Scope, bar, state)
            : throw new ChangeRefusedException(problem);
    }
}

/// <summary>How the felt level changes.</summary>
public enum FeelTurn
{
    /// <summary>To a given level.</summary>
    To,

    /// <summary>To the next wider level; refused at the widest.</summary>
    Wider,

    /// <summary>To the next narrower level; refused at the narrowest.</summary>
    Narrower,

    /// <summary>From beats to the whole bar, or back to the beats.</summary>
    Other,
}

/// <summary>Changes the level felt as the beat.</summary>
/// <param name="Turn">The kind of change.</param>
/// <param name="Level">The level, with <see cref="FeelTurn.To"/>; otherwise the default.</param>
public sealed record SetFeel(FeelTurn Turn, FeltLevel Level = default) : StateChange
{
    private static readonly string[] Levels = ["unit", "group", "bar", "bar-group", "wider", "narrower", "other"];

    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new(
        "feel",
        "feel unit | group | bar | bar-group | bar here",
        "what you feel as the beat (also: wider, narrower)",
        (rest, state) =>
        {
            var (text, scope) = ChangeScope.Read(rest, state);
            var read = text.ToLowerInvariant() switch
            {
                "wider" => new SetFeel(FeelTurn.Wider),
                "narrower" => new SetFeel(FeelTurn.Narrower),
                "other" => new SetFeel(FeelTurn.Other),
                _ => FeltLevels.TryParse(text, out var named)
                    ? new SetFeel(FeelTurn.To, named)
                    : throw new ChangeRefusedException(
                        $"{Wording.Words.Quote(text)} is not a level; {Wording.Words.Meant(Wording.Words.Nearest(text, Levels))}accepted: unit, group, bar, bar-group, wider, narrower or other"),
            };
            return read with { Scope = scope };
        });

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null && Turn == FeelTurn.To ? this with { Scope = section } : null;

    /// <inheritdoc/>
    public override string Words => "feel " + Turn switch
    {
        FeelTurn.Wider => "wider",
        FeelTurn.Narrower => "narrower",
        FeelTurn.Other => "other",
        _ => Level.Name(),
    } + ChangeScope.WordsOf(Scope);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var bar = ChangeScope.BarOf(Scope, state, place);
        var levels = LevelFit.Of(bar.Meter, bar.Tempo, bar.GroupPlace).Select(fit => fit.Level).ToList();
        var at = Math.Max(0, levels.IndexOf(bar.Felt));
        var level = Turn switch
        {
            FeelTurn.Wider => at + 1 < levels.Count ? levels[at + 1] : throw AtTheEnd("widest"),
            FeelTurn.Narrower => at > 0 ? levels[at - 1] : throw AtTheEnd("narrowest"),
            FeelTurn.Other => bar.Felt < FeltLevel.Bar ? FeltLevel.Bar : state.Beats ?? levels[bar.Meter.Grouping.IsUndivided ? 0 : 1],
            _ => Level,
        };
        var felt = FeltTempo.Of(level, bar.Meter, state.TempoIn(bar, place.Ordinal), bar.GroupPlace);
        if (Scope is not null)
        {
            return new ChangeResult(
                state with { Chart = ChangeScope.With(state.Chart, bar.Run.SectionIndex, section => section with { Feel = level }) },
                $"feel {bar.Run.Section.Name} {felt.In}",
                ChangeMoment.BarLine);
        }

        return new ChangeResult(
            state with { Chart = state.Chart.FeltAs(level), Beats = bar.Felt < FeltLevel.Bar ? bar.Felt : state.Beats },
            "feel it " + felt.In,
            ChangeMoment.BarLine);

        ChangeRefusedException AtTheEnd(string end) =>
            new($"you already feel the {end} level, {FeltTempo.Of(bar.Felt, bar.Meter, state.TempoIn(bar, place.Ordinal), bar.GroupPlace).In}");
    }
}
