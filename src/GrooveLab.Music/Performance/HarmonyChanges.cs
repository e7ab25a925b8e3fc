using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Performance;

/// <summary>Transposes the chart to another key by the smaller interval. The mode stays.</summary>
/// <param name="Key">The key; only its tonic matters.</param>
public sealed record SetKey(Key Key) : StateChange
{
    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new("key", "key E | E here", "transpose to that key by the smaller interval; the mode stays", (rest, state) =>
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        return Key.TryParse(text, out var key, out var problem) ? new SetKey(key) { Scope = scope } : throw new ChangeRefusedException(problem);
    });

    /// <inheritdoc/>
    public override string Words => $"key {Key}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) => Scope is null
        ? Whole(state.Transposed(state.Chart.Key.To(Key)))
        : InSection(state, ChangeScope.BarOf(Scope, state, place).Run.SectionIndex, key => key.To(Key));

    private static ChangeResult Whole(PerformanceState moved) => new(moved, $"in {moved.Chart.Key}", ChangeMoment.BarLine);

    internal static ChangeResult InSection(PerformanceState state, int index, Func<Key, Interval> by)
    {
        var section = state.Chart.Sections[index];
        var moved = state.Transposed(index, by(section.KeyIn(state.Chart)));
        return state.Chart.Parts.FirstOrDefault(part => state.Chart.CanPlayTune(part) && !moved.Chart.CanPlayTune(part)) is { } part
            ? throw new ChangeRefusedException(
                $"the tune of {section.Name} would leave the range of the {part.Instrument.Name}; choose a nearer key, or change the octaves of {part.Name}")
            : new ChangeResult(moved, $"{section.Name} in {moved.Chart.Sections[index].Key}", ChangeMoment.BarLine);
    }
}

/// <summary>Transposes the chart up or down.</summary>
/// <param name="HalfSteps">Half steps up, -12 to 12.</param>
public sealed record Transpose(int HalfSteps) : StateChange
{
    private const int Most = 12;

    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new("up", "up 2 | up -2 | up 2 here", "move up by half steps, down with a minus", (rest, state) =>
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        return new Transpose(ChangeWords.Whole(text, -Most, Most, "a number of half steps")) { Scope = scope };
    });

    /// <inheritdoc/>
    public override string Words => $"up {ChangeWords.Plain(HalfSteps)}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        if (Scope is not null)
        {
            return SetKey.InSection(state, ChangeScope.BarOf(Scope, state, place).Run.SectionIndex, key => key.IntervalUp(HalfSteps));
        }

        var moved = HalfSteps == 0 ? state : state.Transposed(state.Chart.Key.IntervalUp(HalfSteps));
        return new ChangeResult(moved, $"in {moved.Chart.Key}", ChangeMoment.BarLine);
    }
}

/// <summary>Replaces the chords of a section.</summary>
/// <param name="Section">The section's name.</param>
/// <param name="Marks">Its bars in slash notation, as in a chart: "| Am | F C |".</param>
public sealed record SetChords(string Section, string Marks) : StateChange
{
    internal static ChangeForm Form { get; } = new("chords", "chords SECTION | Am | G |", "new chords for a section", (rest, state) =>
    {
        var section = state.Chart.Sections.Where(section => rest.StartsWith(section.Name + " ", StringComparison.OrdinalIgnoreCase))
            .OrderByDescending(section => section.Name.Length).FirstOrDefault()
            ?? throw new ChangeRefusedException(
                $"give a section and its chords: chords {state.Chart.Sections[0].Name} | Am | G |; "
                + $"sections: {string.Join(", ", state.Chart.Sections.Select(section => section.Name))}");
        return new SetChords(section.Name, rest[section.Name.Length..].Trim());
    });

    /// <inheritdoc/>
    public override string Words => $"chords {Section} {Marks}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var section = state.Chart.Sections.FirstOrDefault(section => string.Equals(section.Name, Section, StringComparison.OrdinalIgnoreCase))
            ?? throw new ChangeRefusedException(
                $"no section called {Wording.Words.Quote(Section)}; sections: {string.Join(", ", state.Chart.Sections.Select(other => other.Name))}");
        var bars = Read(section);
        if (section.Tune is not null && !bars.Select(bar => bar.Meter.Length).SequenceEqual(section.Bars.Select(bar => bar.Meter.Length)))
        {
            throw new ChangeRefusedException(
                $"the tune of {section.Name} needs {Wording.Words.Count(section.Bars.Count, "bar")} of the same lengths; write as many");
        }

        if (bars.Count + section.Endings.Select(ending => ending.Bars.Count).DefaultIfEmpty(0).Min() < section.BreakBars)
        {
            throw new ChangeRefusedException($"{section.Name} has a break of {Wording.Words.Count(section.BreakBars, "bar")}; write at least that many");
        }

        return new ChangeResult(
            state with
            {
                Chart = state.Chart with
                {
                    Sections = [.. state.Chart.Sections.Select(other => ReferenceEquals(other, section) ? other with { Bars = bars } : other)],
                },
            },
            $"new chords in {section.Name}",
            ChangeMoment.BarLine);
    }

    private IReadOnlyList<ChartBar> Read(Section section)
    {
        (string What, string Accepted)? problem = null;
        var read = ChordMarks.Read(Marks, MeterRound.Of(section.Bars), bars: null, (_, what, accepted) => problem ??= (what, accepted));
        return read.Bars ?? throw new ChangeRefusedException($"{problem!.Value.What}; {problem.Value.Accepted}");
    }
}

/// <summary>Sets how the piece ends: on the tonic chord, on another chord, or at the last bar line.</summary>
/// <param name="Ending">"on" for the tonic chord of the key, "off" for the last bar line, or a chord symbol.</param>
public sealed record SetEnding(string Ending) : StateChange
{
    private const string Tonic = "on";
    private const string None = "off";

    internal static ChangeForm Form { get; } = new("ending", "ending on | off | G6", "the last, ringing chord: the key's, none or another", (rest, state) =>
        rest.ToLowerInvariant() is var plain && plain is Tonic or None ? new SetEnding(plain)
        : ChordSymbol.TryParse(rest, out var chord, out _) ? new SetEnding(chord.Text)
        : throw new ChangeRefusedException($"{Wording.Words.Quote(rest)} is not an ending; accepted: on, off or a chord such as G6"));

    /// <inheritdoc/>
    public override string Words => $"ending {Ending}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var chord = Ending is Tonic or None ? null : ChordSymbol.Parse(Ending);
        return new ChangeResult(
            state with { Chart = state.Chart with { Ending = Ending != None, EndingChord = chord } },
            Ending switch { Tonic => "ends on the key's chord", None => "ends at the last bar line", _ => $"ends on {Ending}" },
            ChangeMoment.BarLine);
    }
}
