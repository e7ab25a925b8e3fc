using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>How fast the result is.</summary>
public enum RecastTempo
{
    /// <summary>What becomes a bar lasts as long as that bar; where a beat is added, the beat keeps its length.</summary>
    Usual,

    /// <summary>The song lasts as long as before.</summary>
    SameLength,

    /// <summary>Note values last as long as before.</summary>
    SameNotes,
}

/// <summary>What is asked for when a song is moved into another meter.</summary>
/// <param name="Treatment">How all sections are moved that have no treatment of their own.</param>
public sealed record RecastOptions(Treatment Treatment)
{
    /// <summary>Treatments of sections by name.</summary>
    public IReadOnlyDictionary<string, Treatment> Sections { get; init; } = new Dictionary<string, Treatment>();

    /// <summary>How fast the result is.</summary>
    public RecastTempo Tempo { get; init; }

    /// <summary>The tempo at the start, in place of the one that follows from <see cref="Tempo"/>; null for that one.</summary>
    public TempoMark? Start { get; init; }

    /// <summary>True if notes that anticipate a strong beat move onto it; false if they still anticipate it.</summary>
    public bool Straighten { get; init; }

    /// <summary>The longest distance of places in the new bars; null for eighths, or units where these are shorter.</summary>
    public Span? Grid { get; init; }

    /// <summary>What changes cost; null for the usual costs with those that the chart changes.</summary>
    public PlacementCosts? Costs { get; init; }

    /// <summary>What changes of a song cost.</summary>
    /// <param name="song">The song.</param>
    public PlacementCosts CostsFor(Chart song) => Costs ?? PlacementCosts.Usual.With(song.Recast?.Costs.Select(cost => (cost.Name, cost.Value)) ?? []);

    /// <summary>The stress of each note's syllable in a verse, from its words alone; by default what its marks say.</summary>
    public Func<IReadOnlyList<Syllable?>, IReadOnlyList<SyllableStress>> Stresses { get; init; } = SungStresses.Marked;

    /// <summary>How the words are sung.</summary>
    public Phrasing Phrasing { get; init; }

    /// <summary>How the delays of <see cref="Phrasing"/> are written.</summary>
    public DelayWriting Writing { get; init; }
}

/// <summary>A section, or an ending of it, in its new meter.</summary>
public sealed class RecastStretch
{
    private readonly StretchMap _map;
    private readonly IReadOnlyList<Span> _sourceStarts;

    internal RecastStretch(int section, int ending, Treatment treatment, StretchMap map, IReadOnlyList<ChartBar> bars, IReadOnlyList<IReadOnlyList<RecastNote>> lines)
    {
        Section = section;
        Ending = ending;
        Treatment = treatment;
        Lines = lines;
        _map = map;
        var at = Span.Zero;
        var starts = new List<Span>();
        foreach (var bar in bars)
        {
            starts.Add(at);
            at += bar.Meter.Length;
        }

        _sourceStarts = starts;
    }

    /// <summary>The index of the section in the source.</summary>
    public int Section { get; }

    /// <summary>The number of the ending, from 1; 0 for the section's own bars.</summary>
    public int Ending { get; }

    /// <summary>How it was moved.</summary>
    public Treatment Treatment { get; }

    /// <summary>The notes of each line; the first line is the melody. Empty without a tune.</summary>
    public IReadOnlyList<IReadOnlyList<RecastNote>> Lines { get; }

    /// <summary>The bar of the source in which a place lies, from 0, and the place in it; bar -1 is the pickup, with a negative place.</summary>
    /// <param name="place">From the first bar line.</param>
    public (int Bar, Span Offset) SourceBar(Span place)
    {
        if (place < Span.Zero)
        {
            return (-1, place);
        }

        var bar = 0;
        var high = _sourceStarts.Count - 1;
        while (bar < high)
        {
            var middle = (bar + high + 1) / 2;
            (bar, high) = _sourceStarts[middle] <= place ? (middle, high) : (bar, middle - 1);
        }

        return (bar, place - _sourceStarts[bar]);
    }

    /// <summary>The bar of the target in which a place lies, from 0, and the place in it; bar -1 is the pickup, with a negative place.</summary>
    /// <param name="place">From the first bar line.</param>
    public (int Bar, Span Offset) TargetBar(Span place) => place < Span.Zero ? (-1, place) : _map.BarAt(place);

    /// <summary>The first target bar of a source bar.</summary>
    /// <param name="bar">From 0.</param>
    public int FirstBarOf(int bar) => _map.FirstBarOf(bar);

    /// <summary>The place in the target at the same share of its span.</summary>
    /// <param name="place">A place of the source.</param>
    public Span SameShare(Span place) => _map.SameShare(place);

    /// <summary>The place in the source at the same share of its span.</summary>
    /// <param name="place">A place of the target.</param>
    public Span BackInSource(Span place) => _map.BackInSource(place);

    /// <summary>The strong places of the source in a stretch of time.</summary>
    /// <param name="from">Its start; a strong place there counts.</param>
    /// <param name="to">Its end; a strong place there does not count.</param>
    public IReadOnlyList<Span> StrongPlaces(Span from, Span to) => [.. _map.StrongPlaces(from, to)];

    /// <summary>True for a strong place of the target: a bar line, or the start of a group.</summary>
    /// <param name="place">From the first bar line.</param>
    public bool IsStrongInTarget(Span place) => _map.IsStrongInTarget(place);
}

/// <summary>The tempo at which a section of the result begins.</summary>
/// <param name="Section">The index of the section.</param>
/// <param name="Before">Whole notes in a minute in the source.</param>
/// <param name="After">Whole notes in a minute in the result.</param>
public readonly record struct RecastSeam(int Section, Rational Before, Rational After);

/// <summary>A song in its new meter.</summary>
/// <param name="Source">The song as it was.</param>
/// <param name="Result">The song as it is now.</param>
/// <param name="Stretches">Its sections and endings with every note's old and new place.</param>
/// <param name="Phrases">The phrases whose places were sought.</param>
/// <param name="Places">Their places.</param>
/// <param name="Seams">The tempo of each section.</param>
public sealed record SongRecasting(
    Chart Source, Chart Result, IReadOnlyList<RecastStretch> Stretches, IReadOnlyList<PlacementPhrase> Phrases, TunePlaces Places, IReadOnlyList<RecastSeam> Seams)
{
    /// <summary>The result with the words that are sung late; <see cref="RecastNote.To"/> is their place without the delay.</summary>
    public required PhrasedSong Phrased { get; init; }
}

/// <summary>Moves a song into another meter: bars, chords, tune and words, further lines, tempi and form.</summary>
public static class SongRecast
{
    /// <summary>The song in its new meter.</summary>
    /// <param name="source">The song.</param>
    /// <param name="options">What is asked for.</param>
    /// <exception cref="ChartProblemException">The treatment does not fit the song.</exception>
    /// <exception cref="ArgumentException">A cost is negative or not finite.</exception>
    public static SongRecasting Of(Chart source, RecastOptions options)
    {
        foreach (var name in options.Sections.Keys)
        {
            if (!source.Sections.Any(section => section.Name == name))
            {
                throw new ChartProblemException(Wording.Words.Unknown("section", name, source.Sections.Select(section => section.Name)));
            }
        }

        var tempi = new RecastTempi(source, options);
        var drafts = new List<Draft>();
        for (var i = 0; i < source.Sections.Count; i++)
        {
            var section = source.Sections[i];
            var treatment = options.Sections.GetValueOrDefault(section.Name, options.Treatment);
            var usual = tempi.UsualMeter(i);
            drafts.Add(InSection(section, () => new Draft(source, i, 0, treatment, section.Bars, section.Bars[0].Meter, usual, section.Tune, tempi, options)));
            for (var ending = 0; ending < section.Endings.Count; ending++)
            {
                var number = ending + 1;
                var one = section.Endings[ending];
                drafts.Add(InSection(section, () => new Draft(source, i, number, treatment, one.Bars, section.Bars[^1].Meter, usual, one.Tune, tempi, options)));
            }
        }

        var lines = drafts.SelectMany(draft => draft.Lines.Select(line => (Draft: draft, Line: line))).ToList();
        var (phrases, places) = Solve(source, lines, options.CostsFor(source));
        var first = 0;
        foreach (var (_, line) in lines)
        {
            var count = line.Phrases.Count;
            line.Place([.. places.Phrases.Skip(first).Take(count)], first);
            first += count;
        }

        var stretches = drafts.ConvertAll(draft => InSection(source.Sections[draft.Section], draft.Stretch));
        var sections = source.Sections.Select((section, i) => InSection(section, () => Recast(section, i, drafts, stretches, tempi))).ToList();
        var phrased = BackPhrasing.Of(tempi.Apply(source with { Sections = sections, Recast = null }), options.Phrasing, options.Writing, options.Grid, options.Stresses);
        return new SongRecasting(source, phrased.Chart, stretches, phrases, places, tempi.Seams) { Phrased = phrased };
    }

    // Spans that are crowded get places at half the distance until all notes have one.
    private static (IReadOnlyList<PlacementPhrase> Phrases, TunePlaces Places) Solve(Chart source, List<(Draft Draft, LineRecast Line)> lines, PlacementCosts costs)
    {
        while (true)
        {
            var phrases = new List<PlacementPhrase>();
            var owners = new List<(Draft Draft, LineRecast Line, int Phrase)>();
            foreach (var (draft, line) in lines)
            {
                var own = line.Phrases;
                phrases.AddRange(own);
                owners.AddRange(own.Select((_, number) => (draft, line, number)));
            }

            var placer = new TunePlacer(phrases, costs);
            var crowded = placer.CrowdedSpans.ToList();
            if (crowded.Count == 0)
            {
                return (phrases, placer.Best());
            }

            foreach (var (phrase, span) in crowded)
            {
                var owner = owners[phrase];
                InSection(source.Sections[owner.Draft.Section], () =>
                {
                    owner.Line.Refine(owner.Phrase, span);
                    return true;
                });
            }
        }
    }

    private static Section Recast(Section section, int index, List<Draft> drafts, List<RecastStretch> stretches, RecastTempi tempi)
    {
        var own = drafts.FindIndex(draft => draft.Section == index);
        var draft = drafts[own];
        var endings = drafts.FindAll(other => other.Section == index && other.Ending > 0);
        var bars = draft.Bars(stretches[own]);
        var made = section with
        {
            Bars = bars,
            BarGroups = draft.Map.BarGroups(section.BarGroups, section.Bars),
            HasOwnMeter = section.HasOwnMeter || tempi.IsMixed,
            Feel = null,
            Counted = null,
            Tune = draft.Tune(stretches[own], bars),
            BreakBars = LastBars(section.BreakBars),
            Ramps = [.. section.Ramps.Select(ramp => ramp.First == 0 ? ramp with { Last = LastBars(ramp.Last) } : ramp with { First = FirstBars(ramp.First - 1) + 1, Last = FirstBars(ramp.Last) })],
            Tempo = section.Tempo is { OverBars: { } over } change ? change with { OverBars = FirstBars(over) } : section.Tempo,
            Endings =
            [
                .. section.Endings.Select((_, i) =>
                {
                    var stretch = stretches[own + 1 + i];
                    var endingBars = endings[i].Bars(stretch);
                    return new SectionEnding(endingBars, endings[i].Tune(stretch, endingBars));
                }),
            ],
        };
        return tempi.Apply(made, section, index);

        // The bars of a section go on in its ending; the last ending is played last.
        int FirstBars(int count) => count <= section.Bars.Count ? draft.Map.FirstBarOf(count)
            : draft.Map.Bars.Count + endings[^1].Map.FirstBarOf(Math.Min(count - section.Bars.Count, section.Endings[^1].Bars.Count));
        int LastBars(int count)
        {
            var all = section.Bars.Count + (endings.Count > 0 ? section.Endings[^1].Bars.Count : 0);
            return count == 0 ? 0 : FirstBars(all) - FirstBars(Math.Max(0, all - count));
        }
    }

    private static T InSection<T>(Section section, Func<T> make)
    {
        try
        {
            return make();
        }
        catch (ChartProblemException problem) when (problem.Section is null)
        {
            throw new ChartProblemException($"{section.Name}: {problem.Message}", section.Name, problem.Bar);
        }
    }

    // A section or an ending on its way.
    private sealed class Draft
    {
        private readonly IReadOnlyList<ChartBar> _bars;
        private readonly Tune? _tune;

        public Draft(Chart source, int section, int ending, Treatment treatment, IReadOnlyList<ChartBar> bars, BarMeter before, BarMeter usual, Tune? tune, RecastTempi tempi, RecastOptions options)
        {
            Section = section;
            Ending = ending;
            Treatment = treatment;
            _bars = bars;
            _tune = tune;
            Map = new StretchMap(bars, before, usual, treatment);
            var (was, now) = tempi.SecondsInWhole(section);
            Lines = tune is null ? [] :
            [
                .. Enumerable.Range(0, tune.Lines.Count + 1).Select(number =>
                {
                    var voice = tune.Voice(number)!;
                    var pins = number == 0 && ending == 0 ? Pins(source, section) : [];
                    return new LineRecast(Map, voice, StressesOf(voice, bars, before, options), was, now, options.Straighten, options.Grid, pins);
                }),
            ];
        }

        public int Section { get; }

        public int Ending { get; }

        public Treatment Treatment { get; }

        public StretchMap Map { get; }

        public IReadOnlyList<LineRecast> Lines { get; }

        public RecastStretch Stretch()
        {
            var lines = Lines.Select(line => line.Notes()).ToList();
            foreach (var notes in lines.Where(notes => notes.Count > 0))
            {
                // The pickup of an ending fills the rest of one bar.
                var most = Map.Bars[0].Meter.Length * (Ending == 0 ? GrooveLab.Music.Charts.Tune.MostPickupBars : 1);
                if (notes[0].To <= -most)
                {
                    throw new ChartProblemException(
                        $"its pickup would be as long as {Wording.Words.Count(Ending == 0 ? GrooveLab.Music.Charts.Tune.MostPickupBars : 1, "bar")} of {Map.Bars[0].Meter.Signature} or longer; let a longer span of the source become a bar, or write the pickup as a bar of its own");
                }
            }

            return new RecastStretch(Section, Ending, Treatment, Map, _bars, lines);
        }

        public IReadOnlyList<ChartBar> Bars(RecastStretch stretch) => Map.Chords(
            _bars, stretch.Lines.Count == 0 ? new Dictionary<Span, Span>() : stretch.Lines[0].Where(note => note.IsPushed).ToDictionary(note => note.From, note => note.To));

        public Tune? Tune(RecastStretch stretch, IReadOnlyList<ChartBar> bars) => _tune?.InRhythms(
            [.. stretch.Lines.Select(line => (IReadOnlyList<(Span Onset, Span Length)>)[.. line.Select(note => (note.To, note.ToLength))])], bars);

        private static List<RecastPin> Pins(Chart source, int section) =>
            [.. source.Recast?.Pins.Where(pin => string.Equals(pin.Section, source.Sections[section].Name, StringComparison.OrdinalIgnoreCase)) ?? []];

        private static IReadOnlyList<IReadOnlyList<SyllableStress>> StressesOf(TuneVoice voice, IReadOnlyList<ChartBar> bars, BarMeter before, RecastOptions options)
        {
            var strong = new HashSet<Span>();
            var at = -before.Length;
            foreach (var meter in bars.Select(bar => bar.Meter).Prepend(before))
            {
                strong.UnionWith(GrooveLab.Music.Recast.Treatment.StrongPlaces(meter).Select(place => at + place));
                at += meter.Length;
            }

            var onStrong = voice.Notes.Select(note => strong.Contains(note.Onset)).ToList();
            return [.. voice.Verses.Select(verse => SungStresses.Of(verse, options.Stresses(verse), onStrong))];
        }
    }
}
