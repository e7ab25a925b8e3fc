using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Performance;

/// <summary>Transposes the chart to another key by the smaller interval. The mode stays.</summary>
/// <param name="Key">The key; only its tonic matters.</param>
public sealed record SetKey(Key Key) : StateChange
{
    internal static ChangeForm Form { get; } = new("key", "key E", "transpose to that key by the smaller interval; the mode stays", (rest, _) =>
        Key.TryParse(rest, out var key, out var problem) ? new SetKey(key) : throw new ChangeRefusedException(problem));

    /// <inheritdoc/>
    public override string Words => $"key {Key}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var moved = state.Transposed(state.Chart.Key.To(Key));
        return new ChangeResult(moved, $"in {moved.Chart.Key}", ChangeMoment.BarLine);
    }
}

/// <summary>Transposes the chart up or down.</summary>
/// <param name="HalfSteps">Half steps up, -12 to 12.</param>
public sealed record Transpose(int HalfSteps) : StateChange
{
    private const int Most = 12;

    internal static ChangeForm Form { get; } = new(
        "up", "up 2 | up -2", "move up by half steps, down with a minus", (rest, _) => new Transpose(ChangeWords.Whole(rest, -Most, Most, "a number of half steps")));

    /// <inheritdoc/>
    public override string Words => $"up {ChangeWords.Plain(HalfSteps)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
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

        if (bars.Count < section.BreakBars)
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
