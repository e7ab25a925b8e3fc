using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Performance;

/// <summary>Transposes the chart to another key, as near as possible to where it was when it was opened. The mode stays.</summary>
/// <param name="Key">The key; only its tonic matters.</param>
public sealed record SetKey(Key Key) : StateChange
{
    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new("key", "key E | E here", "transpose to that key, near the written one; the mode stays", (rest, state) =>
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        return Key.TryParse(text, out var key, out var problem) ? new SetKey(key) { Scope = scope } : throw new ChangeRefusedException(problem);
    });

    /// <inheritdoc/>
    public override string Words => $"key {Key}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) => Scope is null
        ? Whole(state, state.Transposed(Near(state.Chart.Key.To(Key), state.Moved)))
        : InSection(state, ChangeScope.BarOf(Scope, state, place).Run);

    private ChangeResult InSection(PerformanceState state, SectionRun run) =>
        InSection(state, run.SectionIndex, key => Near(key.To(Key), state.Moved + state.MovedAlone.GetValueOrDefault(run.Section.Name)));

    // The same key five half steps down to six up from where the music was at first: keys one after the other do not lead away from it.
    private static Interval Near(Interval by, int moved)
    {
        const int lowest = -5;
        var octaves = (int)Math.Floor((moved + by.Semitones - lowest) / 12.0);
        return new Interval(by.Steps - (7 * octaves), by.Semitones - (12 * octaves));
    }

    internal static ChangeResult Whole(PerformanceState before, PerformanceState moved)
    {
        var (was, now) = (before.WithRestingTunes(), moved.WithRestingTunes());
        foreach (var part in now.Parts.Where((_, i) => was.CanPlayTune(was.Parts[i])))
        {
            foreach (var (section, line) in now.LinesBeyond(part))
            {
                throw new ChangeRefusedException(
                    $"{TunePlayers.NameOf(section, line)} of {section.Name} would leave the range of the {part.Instrument.Name} in every octave; choose a nearer key, or give {part.Name} another instrument");
            }
        }

        return new(moved, $"in {moved.Chart.Key}{Octaves(before, moved)}", ChangeMoment.BarLine);
    }

    // The parts that play the tune in another octave than before.
    private static string Octaves(PerformanceState before, PerformanceState moved) => string.Concat(before.Chart.Parts.Zip(moved.Chart.Parts)
        .Select(pair => (pair.Second.Name, By: (pair.Second.Settings as TuneSettings)?.Octaves - (pair.First.Settings as TuneSettings)?.Octaves ?? 0))
        .Where(part => part.By != 0)
        .Select(part => $"; {part.Name} {(moved.MovedParts.ContainsKey(part.Name) ? PartChange.Higher(part.By) : "in its own octave again")}"));

    internal static ChangeResult InSection(PerformanceState state, int index, Func<Key, Interval> by)
    {
        var section = state.Chart.Sections[index];
        var moved = state.Transposed(index, by(section.KeyIn(state.Chart)));
        foreach (var part in moved.Chart.Parts.Where((_, i) => state.Chart.CanPlayTune(state.Chart.Parts[i])))
        {
            foreach (var (_, line) in moved.Chart.LinesBeyond(part))
            {
                throw new ChangeRefusedException(
                    $"{TunePlayers.NameOf(section, line)} of {section.Name} would leave the range of the {part.Instrument.Name}; choose a nearer key, or change the octaves of {part.Name}");
            }
        }

        return new ChangeResult(moved, $"{section.Name} in {moved.Chart.Sections[index].KeyIn(moved.Chart)}{Octaves(state, moved)}", ChangeMoment.BarLine);
    }
}

/// <summary>Transposes the chart up or down.</summary>
/// <param name="Steps">Half steps up, -12 to 12.</param>
public sealed record Transpose(int Steps) : StateChange
{
    private const int Most = 12;

    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new(
        "up", "up 2 | up -2 | a tone | 2 here", "move up by half steps, down with a minus", (rest, state) => Read(rest, state, 1));

    internal static ChangeForm DownForm { get; } = new(
        "down", "down 2 | a tone | 2 here", "move down by half steps", (rest, state) => Read(rest, state, -1));

    private static Transpose Read(string rest, PerformanceState state, int sign)
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        return HalfSteps.TryParse(text, out var steps) && steps >= -Most && steps <= Most
            ? new Transpose(sign * steps) { Scope = scope }
            : throw new ChangeRefusedException($"{Wording.Words.Quote(text)} is not a number of half steps; {Wording.Words.Meant(Wording.Words.Nearest(text, ["a tone", "a semitone"]))}accepted: -{Most} to {Most}, a tone or a semitone");
    }

    /// <inheritdoc/>
    public override string Words => $"up {ChangeWords.Plain(Steps)}" + ChangeScope.WordsOf(Scope);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section } : null;

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        if (Scope is not null)
        {
            return SetKey.InSection(state, ChangeScope.BarOf(Scope, state, place).Run.SectionIndex, key => key.IntervalUp(Steps));
        }

        return SetKey.Whole(state, Steps == 0 ? state : state.Transposed(state.Chart.Key.IntervalUp(Steps)));
    }
}

/// <summary>Replaces the chords of a section or of one of its endings, or adds an ending.</summary>
/// <param name="Section">The section's name.</param>
/// <param name="Marks">Its bars in slash notation, as in a chart: "| Am | F C |".</param>
public sealed record SetChords(string Section, string Marks) : StateChange
{
    private const string EndingWord = "ending ";

    /// <summary>The ending, from 1; null for the bars before the endings. One more than the section has adds an ending.</summary>
    public int? Ending { get; init; }

    internal static ChangeForm Form { get; } = new("chords", "chords SECTION | Am | G | · SECTION ending 2 | Dm |", "new chords for a section, or its first or second ending", (rest, state) =>
    {
        var section = state.Chart.Sections.Where(section => rest.StartsWith(section.Name + " ", StringComparison.OrdinalIgnoreCase))
            .OrderByDescending(section => section.Name.Length).FirstOrDefault()
            ?? throw new ChangeRefusedException(ChangeWords.NoSectionBefore(rest, state, EndingWord.Trim()) ?? $"give a section and its chords: chords {state.Chart.Sections[0].Name} | Am | G |; "
                + $"sections: {string.Join(", ", state.Chart.Sections.Select(section => section.Name))}");
        var marks = rest[section.Name.Length..].Trim();
        if (!$"{marks} ".StartsWith(EndingWord, StringComparison.OrdinalIgnoreCase))
        {
            if (ChangeWords.NoSectionBefore(rest, state, EndingWord.Trim()) is { } misspelt)
            {
                throw new ChangeRefusedException(misspelt);
            }

            return new SetChords(section.Name, marks);
        }

        var bar = marks.IndexOf('|', StringComparison.Ordinal);
        return bar < 0
            ? throw new ChangeRefusedException($"give the ending and its chords: chords {section.Name} ending 1 | Am |")
            : new SetChords(section.Name, marks[bar..])
            {
                Ending = ChangeWords.Whole(marks[EndingWord.Length..bar].Trim(), 1, section.Endings.Count + 1, $"an ending of {section.Name}"),
            };
    });

    /// <inheritdoc/>
    public override string Words => $"chords {Section} {(Ending is { } ending ? $"{EndingWord}{ChangeWords.Plain(ending)} " : string.Empty)}{Marks}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var section = state.Chart.Sections.FirstOrDefault(section => string.Equals(section.Name, Section, StringComparison.OrdinalIgnoreCase))
            ?? throw new ChangeRefusedException(Wording.Words.Unknown("section", Section, state.Chart.Sections.Select(other => other.Name)));
        var bars = Read(section);
        if (Ending is { } number)
        {
            return WithEnding(state, section, number, bars);
        }

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

    private static ChangeResult WithEnding(PerformanceState state, Section section, int number, IReadOnlyList<ChartBar> bars)
    {
        if (number > section.Endings.Count + 1)
        {
            throw new ChangeRefusedException($"{section.Name} has {Wording.Words.Count(section.Endings.Count, "ending")}; add ending {section.Endings.Count + 1} first");
        }

        var was = number <= section.Endings.Count ? section.Endings[number - 1] : null;
        if (was?.Tune is not null && !bars.Select(bar => bar.Meter.Length).SequenceEqual(was.Bars.Select(bar => bar.Meter.Length)))
        {
            throw new ChangeRefusedException(
                $"the tune of ending {number} needs {Wording.Words.Count(was.Bars.Count, "bar")} of the same lengths; write as many");
        }

        IReadOnlyList<SectionEnding> endings = was is null ? [.. section.Endings, new SectionEnding(bars, null)]
            : [.. section.Endings.Select((ending, i) => i == number - 1 ? ending with { Bars = bars } : ending)];
        return new ChangeResult(
            state with { Chart = ChangeScope.With(state.Chart, state.Chart.Sections.ToList().IndexOf(section), other => other with { Endings = endings }) },
            $"{(was is null ? "ending" : "new chords in ending")} {number} of {section.Name}",
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
