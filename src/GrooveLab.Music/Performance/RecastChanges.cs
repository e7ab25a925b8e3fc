using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>Moves the song, or one section, into another meter: bars, chords, tune, words and tempo. What is left open is found: the cheapest of what fits.</summary>
/// <param name="To">The time signature.</param>
public sealed record RecastSong(TimeSignature To) : StateChange
{
    private const string By = "by";
    private const string AddBeat = "add-beat";
    private const int MostBeats = 64;

    private PerformanceState? _madeFor;
    private TreatedSong? _made;

    /// <summary>What becomes a bar, in words.</summary>
    public static IReadOnlyList<(string Word, SourceSpan Span)> Spans { get; } = [("beat", SourceSpan.Beat), ("half-bar", SourceSpan.HalfBar), ("bar", SourceSpan.Bar)];

    /// <summary>The grouping; null to find one.</summary>
    public Grouping? Grouping { get; init; }

    /// <summary>What becomes a bar; null to find it.</summary>
    public SourceSpan? Span { get; init; }

    /// <summary>The beat after which each bar gets another one; null to fit the notes into the new bars.</summary>
    public int? BeatAfter { get; init; }

    /// <summary>The section that it is for; null for the whole chart.</summary>
    public ChangeScope? Scope { get; init; }

    internal static ChangeForm Form { get; } = new(
        "recast", "recast 5/8 3+2 | 7/8 by bar | 5/4 add-beat 4 | 5/8 here", "move the song into another meter, from the next section on", Read);

    /// <inheritdoc/>
    public override string Words => $"recast {To}" + (Grouping is { } groups ? $" {groups}" : string.Empty)
        + (BeatAfter is { } beat ? string.Create(CultureInfo.InvariantCulture, $" {AddBeat} {beat}") : Span is { } span ? $" {By} {WordOf(span)}" : string.Empty)
        + ChangeScope.WordsOf(Scope);

    private TreatmentWish Wish => new(To) { Grouping = Grouping, Span = Span, BeatAfter = BeatAfter };

    /// <summary>Equal if they ask for the same.</summary>
    public bool Equals(RecastSong? other) => other is not null && Words == other.Words;

    /// <inheritdoc/>
    public override int GetHashCode() => StringComparer.Ordinal.GetHashCode(Words);

    /// <inheritdoc/>
    public override StateChange? LimitedTo(ChangeScope section) => Scope is null ? this with { Scope = section, _madeFor = null, _made = null } : null;

    /// <summary>The change with the section named that plays, if it is for that one.</summary>
    /// <param name="state">The current state.</param>
    /// <param name="place">Where the band is.</param>
    public RecastSong AsPlayed(PerformanceState state, PerformancePlace place) =>
        Scope is { Section: null } ? this with { Scope = new ChangeScope(state.BarAt(place).Run.Section.Name) } : this;

    /// <summary>The change with everything found that it leaves open, and with the new bars, which take a moment. For any thread.</summary>
    /// <param name="state">A state.</param>
    /// <exception cref="ChangeRefusedException">It cannot be made; the message says why and what is accepted.</exception>
    public RecastSong MadeFor(PerformanceState state)
    {
        try
        {
            if (IsMadeFor(state))
            {
                return this;
            }

            var made = Make(SourceOf(state), state);
            var treatment = made.Treatment;
            return this with
            {
                Grouping = treatment.To.Grouping,
                Span = treatment.BeatAfter is null ? treatment.Span : null,
                _madeFor = state,
                _made = made,
            };
        }
        catch (ChartProblemException problem)
        {
            throw new ChangeRefusedException(problem.Message);
        }
        catch (OverflowException)
        {
            throw new ChangeRefusedException("these meters cannot be combined exactly; use another meter");
        }
    }

    /// <summary>True if <see cref="MadeFor"/> has made the new bars of this state: levels, speed and the like change nothing.</summary>
    /// <param name="state">The state.</param>
    public bool IsMadeFor(PerformanceState state) => _made is not null && _madeFor is { } known
        && known.Chart with { Parts = state.Chart.Parts } == state.Chart && ReferenceEquals(known.Resting, state.Resting) && ReferenceEquals(known.ChangedBars, state.ChangedBars);

    /// <summary>Refuses what can be seen at once.</summary>
    /// <param name="state">A state.</param>
    /// <exception cref="ChangeRefusedException">It cannot be made; the message says why and what is accepted.</exception>
    public void Check(PerformanceState state)
    {
        try
        {
            _ = Treatments(SourceOf(state));
        }
        catch (ChartProblemException problem)
        {
            throw new ChangeRefusedException(problem.Message);
        }
    }

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        if (Scope is { Section: null })
        {
            return AsPlayed(state, place).Apply(state, place);
        }

        var made = MadeFor(state);
        var recasting = made._made!.Recasting;
        var only = Index(state.Chart);
        var chart = only is { } at ? InSection(state, at, recasting) : recasting.Result with { Parts = state.Chart.Parts };
        bool IsMoved(string name) => only is not { } index || state.Chart.Sections[index].Name == name;

        // What returned with the old bars or tempi is not known any more; undo has it.
        return new ChangeResult(
            state with
            {
                Chart = chart,
                Recasts = state.Recasts.Add(RecastMove.Of(recasting, section => only ?? section)),
                Resting = state.Resting.RemoveRange(state.Resting.Keys.Where(name => IsMoved(name) && chart.Sections.Any(section => section.Name == name && section.Tune is not null))),
                ChangedBars = state.ChangedBars.RemoveRange(state.ChangedBars.Keys.Where(IsMoved)),
                SectionTempi = state.SectionTempi.RemoveRange(state.SectionTempi.Keys.Where(IsMoved)),
                SectionPaces = state.SectionPaces.RemoveRange(state.SectionPaces.Keys.Where(IsMoved)),
                ChangedMark = only is null ? null : state.ChangedMark,
            },
            $"recast into {made._made.Treatment.Words}" + ChangeScope.WordsOf(Scope),
            ChangeMoment.BarLine);
    }

    private static RecastSong Read(string rest, PerformanceState state)
    {
        var (text, scope) = ChangeScope.Read(rest, state);
        var words = text.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        var at = Array.FindIndex(words, word => Is(word, By) || Is(word, AddBeat));
        var meter = string.Join(' ', at < 0 ? words : words[..at]);
        if (!BarMeter.TryParse(meter, out var to, out var problem))
        {
            throw new ChangeRefusedException(meter.Length == 0 ? $"give the meter first; usage: {Form.Usage}" : problem);
        }

        var read = new RecastSong(to.Signature) { Grouping = MeterMark.HasGrouping(meter) ? to.Grouping : null, Scope = scope };
        return at < 0 ? read
            : Is(words[at], By) ? read with { Span = SpanIn(string.Join(' ', words[(at + 1)..])) }
            : read with { BeatAfter = ChangeWords.Whole(string.Join(' ', words[(at + 1)..]), 1, MostBeats, "the number of a beat") };
    }

    private static bool Is(string word, string known) => string.Equals(word, known, StringComparison.OrdinalIgnoreCase);

    private static SourceSpan SpanIn(string text) => ChangeWords.Choice<SourceSpan>(text, "part of the old bar that becomes a bar", [.. Spans.Select(span => (span.Word, span.Span))]);

    private static string WordOf(SourceSpan span) => Spans.First(known => known.Span == span).Word;

    private int? Index(Chart chart)
    {
        if (Scope?.Section is not { } name)
        {
            return null;
        }

        var index = chart.Sections.ToList().FindIndex(section => string.Equals(section.Name, name, StringComparison.OrdinalIgnoreCase));
        return index >= 0 ? index : throw new ChangeRefusedException(Wording.Words.Unknown("section", name, chart.Sections.Select(section => section.Name)));
    }

    private IReadOnlyList<Treatment> Treatments(Chart source)
    {
        var treatments = TreatmentChoice.Treatments(source, Wish);
        var meters = source.Sections.SelectMany(section => section.Bars.Concat(section.Endings.SelectMany(ending => ending.Bars))).Select(bar => bar.Meter).Distinct().ToList();
        if (BeatAfter is null && Span is null or SourceSpan.Bar && meters is [var one] && one.Signature == To && (Grouping is null || Grouping.Equals(one.Grouping)))
        {
            throw new ChangeRefusedException($"{Scope?.Section ?? "the song"} is in {To} already; name another meter");
        }

        return treatments;
    }

    private TreatedSong Make(Chart source, PerformanceState state)
    {
        var treatments = Treatments(source);
        var options = new RecastOptions(treatments[0]);
        var verses = source.Sections.SelectMany(section => section.Endings.Select(ending => ending.Tune).Prepend(section.Tune)).OfType<Tune>()
            .SelectMany(tune => tune.Verses).ToList();
        return TreatmentChoice.Cheapest(
            source, treatments, verses.Count > 0 && state.WordStresses is { } stresses ? options with { Stresses = stresses(verses) } : options);
    }

    // The song that is moved: tunes that rest because of another meter are moved from the bars that they were written in. One section is a song of its own.
    private Chart SourceOf(PerformanceState state)
    {
        var only = Index(state.Chart);
        var rests = state.Chart.Sections.Where((section, i) => (only is null || only == i) && Written(state, section) is not null).Any();
        var chart = state.Chart with
        {
            Sections = [.. state.Chart.Sections.Select(section => !rests ? section : Written(state, section) ?? Plain(section, ChangedBars.Of(state, section)))],
        };
        if (only is not { } index)
        {
            return chart;
        }

        var begins = Begins(state, index)?.SteadyTempo ?? state.Plan.BarAt(0).SteadyTempo;
        var unit = chart.Sections[index].Bars[0].Meter.Unit;
        return chart with
        {
            Sections = [chart.Sections[index] with { Join = null }],
            Form = [new FormStep(0, 1)],
            Tag = [],
            Times = 1,
            Tempo = new TempoMark(TempoLevel.Note, unit, begins.PerMinute(unit)),
            LearnerTempo = null,
        };
    }

    // A section with its resting tune in the bars that it fits; null without one.
    private static Section? Written(PerformanceState state, Section section)
    {
        var before = ChangedBars.Of(state, section);
        return state.Resting.TryGetValue(section.Name, out var tune) && !ReferenceEquals(before, section)
            && tune.Bars.SequenceEqual(before.Bars.Concat(before.Endings.SelectMany(ending => ending.Bars)).Select(bar => bar.Meter.Length))
                ? Plain(section, before).WithTunes(tune)
                : null;
    }

    private static Section Plain(Section section, Section before) => section with
    {
        Bars = before.Bars,
        HasOwnMeter = before.HasOwnMeter,
        Endings = section.Endings.Count == 0 ? section.Endings : [.. section.Endings.Zip(before.Endings, (ending, was) => ending with { Bars = was.Bars })],
    };

    private static BarPlace? Begins(PerformanceState state, int section)
    {
        var plan = state.PlanAt(new PerformancePlace(-1, -1, 1));
        return plan.Runs.FirstOrDefault(run => run.SectionIndex == section) is { } run ? plan.BarAt(run.FirstBar) : null;
    }

    // The section says its tempo, and so does each section after it that took its tempo from there.
    private static Chart InSection(PerformanceState state, int index, SongRecasting recasting)
    {
        var chart = state.Chart;
        var made = recasting.Result.Sections[0] with { HasOwnMeter = true };
        var seam = recasting.Seams[0];
        var sections = chart.Sections.ToList();
        if (seam.Before != seam.After || sections[index].Join is not null)
        {
            made = made with { Tempo = (made.Tempo ?? new TempoChange(null, null, null)) with { From = made.Tempo?.From ?? recasting.Result.Tempo } };
            var plan = state.PlanAt(new PerformancePlace(-1, -1, 1));
            foreach (var run in plan.Runs.ToList())
            {
                var after = plan.RunAfter(run);
                if (run.SectionIndex == index && after.SectionIndex != index && sections[after.SectionIndex] is { Tempo: not { From: not null } } next)
                {
                    var meter = next.Bars[0].Meter;
                    var tempo = plan.BarAt(after.FirstBar).SteadyTempo;
                    sections[after.SectionIndex] = next with
                    {
                        Join = null,
                        Tempo = (next.Tempo ?? new TempoChange(null, null, null)) with { From = new TempoMark(TempoLevel.Note, meter.Unit, tempo.PerMinute(meter.Unit)).Writable() },
                    };
                }
            }
        }

        sections[index] = made;
        return chart with { Sections = sections };
    }
}
