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
    internal static ChangeForm Form { get; } = new("meter", "meter 7/8 2+2+3", "change the meter of bars like this one", (rest, _) =>
        BarMeter.TryParse(rest, out var meter, out var problem) ? new SetMeter(meter) : throw new ChangeRefusedException(problem));

    /// <inheritdoc/>
    public override string Words => $"meter {Meter}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) => Changed(Meter, state, place);

    internal static ChangeResult Changed(BarMeter meter, PerformanceState state, PerformancePlace place)
    {
        var old = state.BarAt(place).Meter;
        var resting = state.Resting;
        var sections = new List<Section>();
        var rests = false;
        var returns = false;
        foreach (var section in state.Chart.Sections)
        {
            if (section.Bars.All(bar => bar.Meter != old))
            {
                sections.Add(section);
                continue;
            }

            IReadOnlyList<ChartBar> bars =
                [.. section.Bars.Select(bar => bar.Meter == old ? bar with { Meter = meter, Chords = Fitted(bar.Chords, old, meter) } : bar)];
            var written = section.Tune is { } tune ? new RestingTune(tune, LengthsOf(section.Bars)) : resting.GetValueOrDefault(section.Name);
            var fits = written is not null && written.Bars.SequenceEqual(LengthsOf(bars));
            rests |= section.Tune is not null && !fits;
            returns |= section.Tune is null && fits;
            resting = written is null || fits ? resting.Remove(section.Name) : resting.SetItem(section.Name, written);
            sections.Add(section with { Bars = bars, Tune = fits ? written!.Tune : null });
        }

        var chart = state.Chart with { Sections = [.. sections], Tempo = OfTheUnit(state, old, meter) };
        var says = meter + (rests ? $"; the tune, written in {old.Signature}, rests" : string.Empty) + (returns ? "; the tune plays again" : string.Empty);
        return new ChangeResult(state with { Chart = chart, Resting = resting }, says, ChangeMoment.BarLine);
    }

    private static List<Span> LengthsOf(IEnumerable<ChartBar> bars) => [.. bars.Select(bar => bar.Meter.Length)];

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
    internal static ChangeForm Form { get; } = new("grouping", "grouping 3+2", "regroup bars like this one", (rest, _) => new SetGrouping(rest));

    /// <inheritdoc/>
    public override string Words => $"grouping {Grouping}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) =>
        BarMeter.TryParse($"{state.BarAt(place).Meter.Signature} {Grouping}", out var meter, out var problem)
            ? SetMeter.Changed(meter, state, place)
            : throw new ChangeRefusedException(problem);
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
    internal static ChangeForm Form { get; } = new(
        "feel",
        "feel unit | group | bar | bar-group",
        "what you feel as the beat (also: wider, narrower)",
        (rest, _) => rest.ToLowerInvariant() switch
        {
            "wider" => new SetFeel(FeelTurn.Wider),
            "narrower" => new SetFeel(FeelTurn.Narrower),
            "other" => new SetFeel(FeelTurn.Other),
            _ => FeltLevels.TryParse(rest, out var named)
                ? new SetFeel(FeelTurn.To, named)
                : throw new ChangeRefusedException(
                    $"{Wording.Words.Quote(rest)} is not a level; accepted: unit, group, bar, bar-group, wider, narrower or other"),
        });

    /// <inheritdoc/>
    public override string Words => "feel " + Turn switch
    {
        FeelTurn.Wider => "wider",
        FeelTurn.Narrower => "narrower",
        FeelTurn.Other => "other",
        _ => Level.Name(),
    };

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var bar = state.BarAt(place);
        var levels = LevelFit.Of(bar.Meter, bar.Tempo, bar.GroupPlace.Size).Select(fit => fit.Level).ToList();
        var at = Math.Max(0, levels.IndexOf(bar.Felt));
        var level = Turn switch
        {
            FeelTurn.Wider => at + 1 < levels.Count ? levels[at + 1] : throw AtTheEnd("widest"),
            FeelTurn.Narrower => at > 0 ? levels[at - 1] : throw AtTheEnd("narrowest"),
            FeelTurn.Other => bar.Felt < FeltLevel.Bar ? FeltLevel.Bar : state.Beats ?? levels[bar.Meter.Grouping.IsUndivided ? 0 : 1],
            _ => Level,
        };
        var felt = FeltTempo.Of(level, bar.Meter, state.TempoIn(bar, place.Ordinal), bar.GroupPlace.Size);
        return new ChangeResult(
            state with { Chart = state.Chart.FeltAs(level), Beats = bar.Felt < FeltLevel.Bar ? bar.Felt : state.Beats },
            "feel it " + felt.In,
            ChangeMoment.BarLine);

        ChangeRefusedException AtTheEnd(string end) =>
            new($"you already feel the {end} level, {FeltTempo.Of(bar.Felt, bar.Meter, state.TempoIn(bar, place.Ordinal), bar.GroupPlace.Size).In}");
    }
}
