using System.Collections.Immutable;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

internal static class RestingTunes
{
    /// <summary>A section with the tunes of its bars and of its endings; null for none.</summary>
    public static Section WithTunes(this Section section, RestingTune? tunes) => section with
    {
        Tune = tunes?.Tune,
        Endings = section.Endings.Count == 0 ? section.Endings
            : [.. section.Endings.Select((ending, i) => ending with { Tune = i < tunes?.Endings.Count ? tunes.Endings[i] : null })],
    };
}

/// <summary>Everything changeable during a performance, at one moment. Immutable: a change creates a new state, and undo restores an old
/// one, so that the following bars are the same as before, bit for bit. Excludes the current place in the music.</summary>
public sealed record PerformanceState
{
    /// <summary>The chart with all changes; its parts contain levels and pans.</summary>
    public required Chart Chart { get; init; }

    /// <summary>The available instruments.</summary>
    public required InstrumentCatalogue Instruments { get; init; }

    /// <summary>The speed relative to the chart; takes effect at once.</summary>
    public Rational Speed { get; init; } = Rational.One;

    /// <summary>Names of the muted parts.</summary>
    public ImmutableSortedSet<string> Muted { get; init; } = [];

    /// <summary>Names of the solo parts; empty for none.</summary>
    public ImmutableSortedSet<string> Solo { get; init; } = [];

    /// <summary>The overall level, in dB.</summary>
    public double MasterDecibels { get; init; }

    /// <summary>True when a restart counts in.</summary>
    public bool CountIn { get; init; } = true;

    /// <summary>The beats to which the feel returns from the whole bar; null for the groups.</summary>
    public FeltLevel? Beats { get; init; }

    /// <summary>The orders for the form.</summary>
    public FormOrders Orders { get; init; } = FormOrders.None;

    /// <summary>The tunes that do not fit the current bars of their section, by its name. They return with the bars that they fit.</summary>
    public ImmutableSortedDictionary<string, RestingTune> Resting { get; init; } = ImmutableSortedDictionary<string, RestingTune>.Empty;

    /// <summary>How far the chart was transposed since it was opened, in half steps up.</summary>
    public int Moved { get; init; }

    /// <summary>How much farther sections were transposed alone, by name.</summary>
    public ImmutableSortedDictionary<string, int> MovedAlone { get; init; } = ImmutableSortedDictionary<string, int>.Empty;

    /// <summary>The sections whose meter was changed, by name: their old bars return with their old meters.</summary>
    public ImmutableSortedDictionary<string, ChangedBars> ChangedBars { get; init; } = ImmutableSortedDictionary<string, ChangedBars>.Empty;

    /// <summary>The chart's tempo as it was said before another meter changed what it counts, and as it is said since; null for none.</summary>
    public (TempoMark Before, TempoMark Now)? ChangedMark { get; init; }

    /// <summary>The parts that another key moved to another octave, by name: they return to their own when their instrument can play the tune
    /// there again.</summary>
    public ImmutableSortedDictionary<string, MovedPart> MovedParts { get; init; } = ImmutableSortedDictionary<string, MovedPart>.Empty;

    /// <summary>The sections that have a key of their own only because they were changed alone, by name.</summary>
    public ImmutableSortedSet<string> ChangedKeys { get; init; } = [];

    /// <summary>The tempo of sections changed alone, as a factor of what the chart said when it was opened, by name.</summary>
    public ImmutableSortedDictionary<string, Rational> SectionPaces { get; init; } = ImmutableSortedDictionary<string, Rational>.Empty;

    /// <summary>What sections changed alone said about their tempo before, by name: it returns with their old tempo.</summary>
    public ImmutableSortedDictionary<string, ChangedTempo> SectionTempi { get; init; } = ImmutableSortedDictionary<string, ChangedTempo>.Empty;

    /// <summary>Finds the stresses of a song's verses from their words alone, for moves into other meters; null for what their marks say.</summary>
    public Func<IReadOnlyList<IReadOnlyList<Syllable?>>, Func<IReadOnlyList<Syllable?>, IReadOnlyList<SyllableStress>>>? WordStresses { get; init; }

    /// <summary>The moves of the song into other meters since the chart was opened, in order.</summary>
    public ImmutableList<RecastMove> Recasts { get; init; } = [];

    // How many times the form is played until the tag; null if that is not known, or if the end that was called leaves the tag out.
    private int? LastPass(FormPlan plan) => Orders switch
    {
        { EndBar: { } end } => end % plan.BarsInPass == 0 ? end / plan.BarsInPass : null,
        { Passes: { } passes } => passes,
        _ => null,
    };

    /// <summary>The initial state of a chart.</summary>
    /// <exception cref="ChartProblemException">The chart cannot be played.</exception>
    public static PerformanceState Opening(Chart chart, InstrumentCatalogue instruments) => new()
    {
        Chart = new FormPlan(chart).Chart,
        Instruments = instruments,
        Muted = [.. chart.Parts.Where(part => part.Silent).Select(part => part.Name)],
    };

    /// <summary>The repeating form: a tag belongs only to its end. Tempi are as written; what is felt and counted follows the sounding
    /// tempo where the chart does not say it.</summary>
    public FormPlan Plan => new(Chart with { Tag = [] }, pace: Pace);

    /// <summary>The bar that a change refers to: the current one, or the first.</summary>
    public BarPlace BarAt(PerformancePlace place)
    {
        var bar = PlanAt(place).BarAt(IndexAt(place));

        // Bar groups as they sound; the section is whole.
        return Orders.Loop is { } loop
            ? bar with { GroupPlace = new FormPlan(Chart with { Tag = [] }, loop: loop, pace: Pace).BarAt(bar.Index).GroupPlace }
            : bar;
    }

    /// <summary>The form with its tag, as it is played from a place on: the tag follows the last time through, or lies ahead if none is known.</summary>
    internal FormPlan PlanAt(PerformancePlace place)
    {
        var plan = Plan;
        if (Chart.Tag.Count == 0)
        {
            return plan;
        }

        return new FormPlan(Chart with { Times = LastPass(plan) ?? (IndexAt(place) / plan.BarsInPass) + 2 }, pace: Pace);
    }

    /// <summary>True for a bar of the chart's tag, which follows the last time through the form.</summary>
    internal bool IsInTag(int index, FormPlan plan) => TagAround(index, plan) is not null;

    /// <summary>The first bar of the chart's tag if a bar is in it; otherwise null.</summary>
    internal int? TagAround(int index, FormPlan plan) =>
        Chart.Tag.Count > 0 && Orders.Loop is null && LastPass(plan) is { } last && index >= last * plan.BarsInPass ? last * plan.BarsInPass : null;

    /// <summary>True when each bar of the form is felt and counted on the same levels in another state of the same bars.</summary>
    internal bool IsFeltAs(PerformanceState other)
    {
        var (one, two) = (Plan, other.Plan);
        return Enumerable.Range(0, one.BarsInPass).All(bar => (one.BarAt(bar).Felt, one.BarAt(bar).Counted) == (two.BarAt(bar).Felt, two.BarAt(bar).Counted));
    }

    /// <summary>The number of the bar that a change refers to: the current one; in the lead-in, the one that follows it.</summary>
    public int IndexAt(PerformancePlace place) => place.Index >= 0 ? place.Index : Orders.StartAt ?? 0;

    /// <summary>The factor between the tempo as written and as it sounds after a ramp.</summary>
    public Rational Pace => Speed * (Orders.Ramp?.To ?? Rational.One);

    /// <summary>The factor between the tempo as written and as it sounds in a bar of the performance.</summary>
    public Rational PaceIn(int ordinal) => Speed * (Orders.Ramp?.At(ordinal, Rational.Zero) ?? Rational.One);

    /// <summary>The factor between a section's tempo in the opened chart and in this one.</summary>
    internal Rational PaceOf(string section) => SectionPaces.GetValueOrDefault(section, Rational.One);

    /// <summary>The sounding tempo at the start of a bar.</summary>
    public Tempo TempoIn(BarPlace bar, int ordinal) => new(bar.Tempo.WholesPerMinute * PaceIn(ordinal));

    /// <summary>The sounding tempo of the passage: what the bar would have without a ritardando or an accelerando of the chart.</summary>
    public Tempo SteadyTempoIn(BarPlace bar, int ordinal) => new(bar.SteadyTempo.WholesPerMinute * PaceIn(ordinal));

    /// <summary>The state with other orders for the form.</summary>
    internal PerformanceState Ordered(Func<FormOrders, FormOrders> change) => this with { Orders = change(Orders) };

    /// <summary>The chart with the resting tunes in their sections, whose bars they do not fit.</summary>
    internal Chart WithRestingTunes() => Resting.IsEmpty ? Chart : Chart with
    {
        Sections = [.. Chart.Sections.Select(section => Resting.TryGetValue(section.Name, out var tune) ? section.WithTunes(tune) : section)],
    };

    /// <summary>The state with its chart and the resting tunes transposed. A part whose instrument cannot play the tune there plays it in
    /// another octave.</summary>
    internal PerformanceState Transposed(Interval interval)
    {
        var resting = Resting;
        var (moved, movedParts) = InReach(WithRestingTunes().Transposed(interval), canMove: true);
        return this with
        {
            Chart = moved with
            {
                Sections = [.. moved.Sections.Select(section => resting.ContainsKey(section.Name) ? section.WithTunes(null) : section)],
            },
            Moved = Moved + interval.Semitones,
            MovedParts = movedParts,
            ChangedBars = ChangedBars.ToImmutableSortedDictionary(
                pair => pair.Key,
                pair => pair.Value.Transposed(
                    Chart.Sections.First(section => section.Name == pair.Key), moved.Sections.First(section => section.Name == pair.Key), Chart.Key, interval)),
            Resting = moved.Sections.Where(section => resting.ContainsKey(section.Name))
                .ToImmutableSortedDictionary(
                    section => section.Name,
                    section => resting[section.Name] with { Tune = section.Tune!, Endings = [.. section.Endings.Select(ending => ending.Tune)] }),
        };
    }

    /// <summary>The state with one section, and its resting tune, moved to another key. The ending chord moves with the last section. A section that
    /// comes back to the chart's key has no key of its own again.</summary>
    internal PerformanceState Transposed(int index, Interval interval)
    {
        var section = Chart.Sections[index];
        var resting = Resting.GetValueOrDefault(section.Name);
        var key = section.KeyIn(Chart);
        var moved = ChartChanges.Transposed((resting is null ? section : section.WithTunes(resting)) with { Key = key }, key, interval);
        var (chartKey, changed) = (Chart.Key, section.Key is null ? ChangedKeys.Add(section.Name) : ChangedKeys);
        var (far, alone) = (Moved, MovedAlone.SetItem(section.Name, MovedAlone.GetValueOrDefault(section.Name) + interval.Semitones));
        if (changed.Count == Chart.Sections.Count && Chart.Sections.Where((_, i) => i != index).All(other => other.Key == moved.Key))
        {
            // All have moved there.
            chartKey = moved.Key!;
            var by = alone[Chart.Sections[Chart.Form[0].Section].Name];
            (far, alone) = (far + by, alone.ToImmutableSortedDictionary(pair => pair.Key, pair => pair.Value - by));
        }

        Section InKey(Section one) => changed.Contains(one.Name) && one.Key == chartKey ? one with { Key = null } : one;
        var last = (Chart.Tag.Count > 0 ? Chart.Tag : Chart.Form)[^1].Section;
        var chart = Chart with
        {
            Key = chartKey,
            EndingChord = index == last ? Chart.EndingChord?.Transpose(ChartChanges.Moved(key, interval).By) : Chart.EndingChord,
            Sections = [.. Chart.Sections.Select((other, i) => InKey(i == index ? moved : other))],
        };
        var (reached, movedParts) = InReach((this with { Chart = chart, Resting = Resting.Remove(section.Name) }).WithRestingTunes(), canMove: false);
        return this with
        {
            Chart = chart with
            {
                Parts = reached.Parts,
                Sections = [.. chart.Sections.Select((other, i) => i == index && resting is not null ? other.WithTunes(null) : other)],
            },
            ChangedBars = ChangedBars.TryGetValue(section.Name, out var bars)
                ? ChangedBars.SetItem(section.Name, bars.Transposed(section, moved, key, interval))
                : ChangedBars,
            ChangedKeys = [.. changed.Where(name => chart.Sections.Any(other => other.Name == name && other.Key is not null))],
            Moved = far,
            MovedAlone = alone,
            MovedParts = movedParts,
            Resting = resting is null ? Resting
                : Resting.SetItem(section.Name, resting with { Tune = moved.Tune!, Endings = [.. moved.Endings.Select(ending => ending.Tune)] }),
        };
    }

    // The parts of a moved chart, each in its own octave or, if it has to move and may, in the nearest in which it can play the tune.
    private (Chart Chart, ImmutableSortedDictionary<string, MovedPart> Moved) InReach(Chart moved, bool canMove)
    {
        var (was, found) = (WithRestingTunes(), MovedParts);
        var parts = new List<Part>();
        foreach (var (part, old) in moved.Parts.Zip(Chart.Parts))
        {
            if (old.Settings is not TuneSettings { Octaves: var octaves } tune)
            {
                parts.Add(part);
                continue;
            }

            var own = found.TryGetValue(old.Name, out var before) && before.Octaves == octaves ? before.Own : octaves;
            var home = old with { Settings = tune with { Octaves = own } };
            var now = moved.CanPlayTune(home) ? home
                : !canMove ? old
                : was.CanPlayTune(old) ? moved.InReach(home) : old;
            var reached = ((TuneSettings)now.Settings).Octaves;
            found = reached == own ? found.Remove(old.Name) : found.SetItem(old.Name, new MovedPart(own, reached));
            parts.Add(now);
        }

        return (moved with { Parts = parts }, found);
    }

    /// <summary>True for a silent part: muted, or not among the solo parts.</summary>
    public bool IsSilent(Part part) => Muted.Contains(part.Name) || (!Solo.IsEmpty && !Solo.Contains(part.Name));

    /// <summary>True when the other state has the same bars in the same order: they differ at most in levels and pans.</summary>
    public bool SoundsTheSameNotes(PerformanceState other) =>
        Speed == other.Speed && Orders == other.Orders && (ReferenceEquals(Chart, other.Chart) || SameBut(Chart, other.Chart));

    // Levels and pans affect only the mix, not the composed bars.
    private static bool SameBut(Chart a, Chart b) =>
        a with { Parts = b.Parts } == b
        && a.Parts.Count == b.Parts.Count
        && a.Parts.Zip(b.Parts).All(pair =>
            pair.First with { LevelDecibels = 0, Pan = 0, Silent = false } == pair.Second with { LevelDecibels = 0, Pan = 0, Silent = false });
}

/// <summary>What a section says about its tempo.</summary>
/// <param name="Tempo">At its start.</param>
/// <param name="Join">How it follows the section before.</param>
/// <param name="Ramps">Inside it.</param>
public sealed record SectionTempo(TempoChange? Tempo, TempoJoin? Join, IReadOnlyList<TempoRise> Ramps)
{
    /// <summary>What a section says.</summary>
    public static SectionTempo Of(Section section) => new(section.Tempo, section.Join, section.Ramps);

    /// <summary>The section, saying this.</summary>
    public Section In(Section section) => section with { Tempo = Tempo, Join = Join, Ramps = Ramps };

    /// <inheritdoc/>
    public bool Equals(SectionTempo? other) => other is not null && Tempo == other.Tempo && Join == other.Join && Ramps.SequenceEqual(other.Ramps);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Tempo, Join, Ramps.Count);
}

/// <summary>The tempo of a section that was changed alone.</summary>
/// <param name="Before">What the section said before the change.</param>
/// <param name="Now">What it says since. If it says something else, it was changed in another way too, and the old tempo no longer fits.</param>
/// <param name="Pace">Before the change, its tempo as a factor of that in the opened chart.</param>
public sealed record ChangedTempo(SectionTempo Before, SectionTempo Now, Rational Pace);

/// <summary>The bars of a section whose meter was changed, with those of its endings.</summary>
/// <param name="Before">The section as it was.</param>
/// <param name="Now">The section since. If it has other bars, they were changed in another way too, and the old ones no longer fit.</param>
public sealed record ChangedBars(Section Before, Section Now)
{
    /// <summary>The section as it was, for what is the section now.</summary>
    public static Section Of(PerformanceState state, Section section) =>
        state.ChangedBars.TryGetValue(section.Name, out var changed) && IsSame(changed.Now, section) ? changed.Before : section;

    /// <summary>All meters of a section and its endings.</summary>
    public static IEnumerable<BarMeter> MetersOf(Section section) =>
        section.Bars.Concat(section.Endings.SelectMany(ending => ending.Bars)).Select(bar => bar.Meter);

    // The same objects: any other change of the bars makes new ones.
    private static bool IsSame(Section one, Section other) => ReferenceEquals(one.Bars, other.Bars)
        && one.Endings.Count == other.Endings.Count && one.Endings.Zip(other.Endings).All(pair => ReferenceEquals(pair.First.Bars, pair.Second.Bars));

    /// <summary>The same in another key.</summary>
    /// <param name="was">The section in the old key.</param>
    /// <param name="moved">The section in the new key.</param>
    /// <param name="chart">The chart's old key.</param>
    /// <param name="interval">The interval to it.</param>
    internal ChangedBars Transposed(Section was, Section moved, Key chart, Interval interval) => IsSame(Now, was)
        ? new ChangedBars(ChartChanges.Transposed(Before, was.Key ?? chart, interval), moved)
        : this;
}

/// <summary>A part that another key moved to another octave.</summary>
/// <param name="Own">The octaves that it had.</param>
/// <param name="Octaves">Those that it was given. If it has others, they were chosen since, and are its own.</param>
public sealed record MovedPart(int Own, int Octaves);

/// <summary>A tune that does not fit the current bars of its section.</summary>
/// <param name="Tune">The tune.</param>
/// <param name="Bars">The lengths of the bars that it fits, with those of the endings.</param>
public sealed record RestingTune(Tune Tune, IReadOnlyList<Span> Bars)
{
    /// <summary>The tunes of the section's endings, in order; null for an ending without one.</summary>
    public IReadOnlyList<Tune?> Endings { get; init; } = [];
}

/// <summary>Orders for the form, in addition to the chart. Bars are given by their number in the endless form; moments by their ordinal,
/// the count of bars played. Immutable.</summary>
public sealed record FormOrders
{
    /// <summary>No orders: the form repeats.</summary>
    public static FormOrders None { get; } = new();

    /// <summary>The number of times through the form after which it ends by itself, with the chart's tag and ending; null to repeat it without
    /// end.</summary>
    public int? Passes { get; init; }

    /// <summary>The bar of the endless form that follows the lead-in; null for the first.</summary>
    public int? StartAt { get; init; }

    /// <summary>Looping bars; null for none.</summary>
    public BarLoop? Loop { get; init; }

    /// <summary>The name of the loop on the screen.</summary>
    public string LoopName { get; init; } = string.Empty;

    /// <summary>Runs whose vamp was released.</summary>
    public ImmutableSortedSet<int> Released { get; init; } = [];

    /// <summary>A jump: after the bar with that ordinal comes the bar with that number.</summary>
    public ImmutableSortedDictionary<int, int> Jumps { get; init; } = ImmutableSortedDictionary<int, int>.Empty;

    /// <summary>The bar of the endless form at which it ends; null to repeat.</summary>
    public int? EndBar { get; init; }

    /// <summary>The ordinal of the bar from which the band holds; null for none.</summary>
    public int? HoldFrom { get; init; }

    /// <summary>The bars of a break, by ordinal: from the first to the second, exclusive.</summary>
    public (int From, int End)? Break { get; init; }

    /// <summary>A gradual change of tempo; null for none.</summary>
    public TempoRamp? Ramp { get; init; }

    /// <inheritdoc/>
    public bool Equals(FormOrders? other) =>
        other is not null && Loop == other.Loop && EndBar == other.EndBar && HoldFrom == other.HoldFrom && Break == other.Break
        && Ramp == other.Ramp && Passes == other.Passes && StartAt == other.StartAt && Released.SetEquals(other.Released) && Jumps.SequenceEqual(other.Jumps);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Loop, EndBar, HoldFrom, Break, Ramp, Released.Count, Jumps.Count, Passes);
}

/// <summary>A gradual change of tempo, multiplied with the speed: from one factor to another over a number of bars; the final factor then
/// stays.</summary>
/// <param name="FromOrdinal">The bar of the performance in which it starts.</param>
/// <param name="Bars">Its number of bars; 0 for a constant factor.</param>
/// <param name="From">Factor before it.</param>
/// <param name="To">Factor after it.</param>
public sealed record TempoRamp(int FromOrdinal, int Bars, Rational From, Rational To)
{
    /// <summary>The bar of the performance after its last.</summary>
    public int EndOrdinal => FromOrdinal + Bars;

    /// <summary>The factor in a bar of which the share <paramref name="done"/>, 0-1, has passed.</summary>
    public Rational At(int ordinal, Rational done) => Bars == 0 ? To : new Ramp(From, To).At((ordinal - FromOrdinal + done) / Bars);
}
