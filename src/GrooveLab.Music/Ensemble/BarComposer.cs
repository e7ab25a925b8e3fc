using System.Collections.Concurrent;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Options of a <see cref="BarComposer"/>, in addition to the chart.</summary>
public sealed record ComposerOptions
{
    /// <summary>The random seed; null for the chart's.</summary>
    public ulong? Seed { get; init; }

    /// <summary>Number of bars, repeating the form without an ending; null plays the form as often as the chart says, with its
    /// ending.</summary>
    public int? Bars { get; init; }

    /// <summary>With <see cref="Bars"/>: true to add the ringing bar, if the chart has an ending.</summary>
    public bool RingsAfterBars { get; init; }

    /// <summary>True to repeat the form without end. <see cref="Bars"/> must be null.</summary>
    public bool Endless { get; init; }

    /// <summary>True to have vamps lead back into themselves, as they do while repeating.</summary>
    public bool VampsGoRound { get; init; }

    /// <summary>Bars to loop, the last leading back into the first; null for none. Only the bars inside sound as in the loop.</summary>
    public BarLoop? Loop { get; init; }

    /// <summary>True to start with a lead-in (chord, start note, count) as bar -1.</summary>
    public bool CountIn { get; init; } = true;
}

/// <summary>The band: composes any bar of a chart. A pure function of chart, random seed and bar number: the same bar in any order and on
/// any thread. Safe to call from several threads at once.</summary>
public sealed class BarComposer : IBarSource
{
    // The number of runs kept; older ones are composed again on request.
    private const int RunsKept = 48;

    /// <summary>Minimum duration of the last downbeat, in seconds. Common practice, no source.</summary>
    private static readonly Rational ShortestRing = new(3, 2);

    private readonly ConcurrentDictionary<(int Number, int Bars, int Round), KeptRun> _runs = new();
    private long _uses;
    private readonly IReadOnlyList<Part> _parts;
    private readonly IReadOnlyList<ChordShapes?> _shapes;
    private readonly Chance _chance;
    private readonly HumanFeel _feel;
    private readonly int _countPart;

    /// <summary>Creates the band for a chart.</summary>
    /// <exception cref="ChartProblemException">Tempi, joins or lengths cannot be played.</exception>
    public BarComposer(Chart chart, ComposerOptions? options = null)
    {
        Chart = chart;
        Options = options ?? new ComposerOptions();
        // A form that repeats without end has no place for a tag.
        Plan = new FormPlan(Options.Endless || Options.Bars is not null ? chart with { Tag = [] } : chart, Options.VampsGoRound, Options.Loop);
        var seed = Options.Seed ?? chart.Seed;
        _chance = Chance.From(seed);
        _feel = new HumanFeel(seed, chart.Looseness);
        _countPart = chart.Parts.ToList().FindIndex(part => part.Role == Role.Count);
        _parts = _countPart >= 0 ? chart.Parts : [.. chart.Parts, CountWriter.ForTheLeadIn];
        _countPart = _countPart >= 0 ? _countPart : _parts.Count - 1;
        _shapes = [.. _parts.Select(part => part.Settings switch
        {
            PulseSettings pulse => new ChordShapes(part, pulse.Voices),
            RollSettings => new ChordShapes(part, RollVoices(part)),
            _ => null,
        })];
        Band = PartChannels.Assign(_parts);
        Arrangement = new ArrangementPlan(Plan, _parts, Options.Endless || (Options.Bars is not null && !Options.RingsAfterBars) ? null : BarsPlayed, seed);
    }

    /// <summary>The chart.</summary>
    public Chart Chart { get; }

    /// <summary>Its options.</summary>
    public ComposerOptions Options { get; }

    /// <summary>The plan of the form.</summary>
    public FormPlan Plan { get; }

    /// <summary>The plan of the arrangement.</summary>
    public ArrangementPlan Arrangement { get; }

    /// <inheritdoc/>
    public IReadOnlyList<PartChannels> Band { get; }

    /// <inheritdoc/>
    public PieceHeading Heading => new(
        Chart.Title, Chart.Key, [.. Enumerable.Range(0, Plan.BarsInPass).Select(index => Plan.BarAt(index).Meter).Distinct()]);

    /// <inheritdoc/>
    public int First => Options.CountIn ? -1 : 0;

    /// <inheritdoc/>
    public int? End => Options.Endless ? null : BarsPlayed + (HasEnding ? 1 : 0);

    /// <summary>The last, ringing bar; null for none.</summary>
    public int? EndingBar => HasEnding ? BarsPlayed : null;

    private int BarsPlayed => Options.Bars ?? Plan.Bars;

    private bool HasEnding => !Options.Endless && Chart.Ending && (Options.Bars is null || Options.RingsAfterBars);

    /// <inheritdoc/>
    /// <exception cref="ArgumentOutOfRangeException">Before the lead-in, or after the end.</exception>
    public Bar BarAt(int index) => RoundAt(index, 0);

    /// <summary>The bar of that number in a round of a loop or of a vamp: the same bars, played otherwise.</summary>
    /// <param name="index">The number of the bar.</param>
    /// <param name="round">Number of earlier rounds, at least 0.</param>
    /// <exception cref="ArgumentOutOfRangeException">Before the lead-in, or after the end.</exception>
    public Bar RoundAt(int index, int round)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(index, -1);
        ArgumentOutOfRangeException.ThrowIfNegative(round);
        if (End is { } end)
        {
            ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(index, end);
        }

        if (index < 0)
        {
            var first = Plan.BarAt(0);
            return LeadIn.Compose(first, BandOf(first.Run, 0), _shapes, _countPart, Chart.DroneSeconds);
        }

        return HasEnding && index == BarsPlayed ? ComposeEnding(index) : ComposeBar(Plan.BarAt(index), round);
    }

    /// <summary>The lead-in (chord, start note, count) to any bar, as bar -1. To the first bar of a section it includes the pickup of the tune.</summary>
    public Bar LeadInTo(int index)
    {
        var place = Plan.BarAt(index);
        return LeadIn.Compose(place, BandOf(place.Run, 0), _shapes, _countPart, Rational.Zero);
    }

    // Three notes for cells of three; with more than three strings or courses, a fourth gives the low voice a choice.
    private static int RollVoices(Part part)
    {
        var strings = part.Instrument.Strings.Count - (part.Instrument.ShortDrone ? 1 : 0);
        return part.Instrument.Strings.Count == 0 ? 4 : Math.Clamp(strings, 2, 4);
    }

    private Bar ComposeBar(BarPlace planned, int round)
    {
        var band = BandOf(planned.Run, round);
        var place = band.Outline.Places[planned.IndexInRun];
        var draft = new BarDraft(place, band, _feel);
        for (var part = 0; part < _parts.Count; part++)
        {
            // A tune that rests here may have a pickup into the next section.
            if (!draft.Band.Plays(part) && _parts[part].Role != Role.Tune)
            {
                continue;
            }

            switch (_parts[part].Role)
            {
                case Role.Pulse or Role.Roll or Role.Bass or Role.Sustain or Role.Count when place.Stop == BandStop.Hold:
                    HoldWriter.Write(draft, part);
                    break;
                case Role.Pulse or Role.Roll or Role.Bass or Role.Sustain when place.Stop == BandStop.Strike:
                    StopTimeWriter.Write(draft, part);
                    break;
                case Role.Pulse or Role.Roll or Role.Bass or Role.Sustain when place.Stop == BandStop.Rest:
                    break;
                case Role.Pulse:
                    draft.Band.PulseOf(part).Write(draft);
                    break;
                case Role.Roll:
                    draft.Band.RollOf(part).Write(draft);
                    break;
                case Role.Bass:
                    HeldWriter.WriteBass(draft, part);
                    break;
                case Role.Sustain:
                    HeldWriter.WriteSustain(draft, part);
                    break;
                case Role.Tune:
                    TuneWriter.Write(draft, part);
                    break;
                default:
                    CountWriter.Write(draft, part);
                    break;
            }
        }

        return Finished(draft, ending: false);
    }

    private Bar ComposeEnding(int index)
    {
        var last = Plan.BarAt(index - 1);
        var chord = Chart.EndingChord ?? ChordSymbol.Parse(last.Run.Key.Tonic + (last.Run.Key.IsMinor ? "m" : string.Empty));
        // As many bars as the ringing takes.
        var tempo = last.TempoUnheld ?? last.Tempi[^1].Tempo;
        var seconds = tempo.Seconds(last.Length);
        var ring = last.Length * Rational.Max(Rational.One, (ShortestRing / seconds).Ceiling());
        var place = last with
        {
            Index = index,
            IndexInRun = last.IndexInRun + 1,
            Start = last.End,
            GroupPlace = new BarGroupPlace(last.GroupPlace.Group + 1, 0, 1),
            Chords = [new ChordSpan(Span.Zero, ring, chord)],
            Tempi = [(Span.Zero, tempo)],
            TempoUnheld = null,
            TempoBeforeRamp = null,
            Stop = BandStop.None,
        };
        // Parts that rested in the last section join the ending.
        var everyone = last.Run with { Section = last.Run.Section with { Playing = null } };
        var band = new RunBand(Plan, everyone, _parts, _shapes, _chance, Arrangement, everyone.Verse, leadsOn: false, everyone: true);
        var draft = new BarDraft(place, band, _feel);
        EndingWriter.Write(draft, _shapes, chord, ring);
        return Finished(draft, ending: true) with { Length = ring };
    }

    private static Bar Finished(BarDraft draft, bool ending)
    {
        var place = draft.Place;
        return new Bar
        {
            Index = place.Index,
            Start = place.Start,
            Length = place.Length,
            Meter = place.Meter,
            Felt = place.Felt,
            GroupPlace = place.GroupPlace,
            Section = place.Run.Section.Name,
            IndexInSection = place.IndexInRun,
            Ending = ending ? 0 : place.Ending,
            Playing = place.Run.Verse,
            Tasks = ending ? BarTasks.None(draft.Band.Parts.Count) : draft.Band.Playing.TasksIn(place.IndexInRun),
            Key = place.Run.Key,
            Swing = draft.Swing,
            Tempi = place.Tempi,
            Chords = place.Chords,
            Stop = ending ? BandStop.None : place.Stop,
            IsEnding = ending,
            Notes = draft.SortedNotes(),
            Controls = draft.SortedControls(),
            Remarks = draft.Remarks,
        };
    }

    // A later playing of a section keeps what the earlier ones played.
    private RunBand EarlierBand(SectionRun run, int playing) => BandOf(run, playing - run.Verse);

    private RunBand BandOf(SectionRun run, int round)
    {
        var kept = _runs.GetOrAdd((run.Number, run.Bars, round), _ => new KeptRun(new Lazy<RunBand>(() =>
        {
            var leadsOn = !HasEnding || run.EndBar < BarsPlayed;
            return new RunBand(Plan, run, _parts, _shapes, _chance, Arrangement, run.Verse + round, leadsOn, EarlierBand);
        })));
        kept.Used = Interlocked.Increment(ref _uses);
        if (_runs.Count > RunsKept)
        {
            // Those used last stay: the one that is being composed, and the earlier playings that it asks for. A copy is sorted, because other
            // threads change the dictionary meanwhile.
            foreach (var old in _runs.ToArray().OrderByDescending(pair => pair.Value.Used).Skip(RunsKept).Select(pair => pair.Key).ToArray())
            {
                _runs.TryRemove(old, out _);
            }
        }

        return kept.Band.Value;
    }

    private sealed class KeptRun(Lazy<RunBand> band)
    {
        public Lazy<RunBand> Band { get; } = band;

        public long Used { get; set; }
    }
}
