using CsCheck;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Charts with everything that the format supports.</summary>
internal sealed class RandomCharts(Random random)
{
    private static readonly string[] Chords =
        ["Am", "C", "F#m7b5", "Bb", "E7#9", "Gm7/F", "Dsus4", "N.C.", "C7(b9, #11)", "B♭maj7", "Ebdim", "C6/9", "A°", "G+", "Dm(maj7)"];

    private static readonly string[] Syllables = ["la", "star's", "öre,", "the old", "ling", "“so", "day.\"", "a\\b", "o’er"];
    private static readonly string[] Keys = ["D dorian", "Am", "Bb major", "F# phrygian", "C", "Eb mixolydian"];

    public static Gen<Chart> All { get; } = Gen.Int.Select(seed => new RandomCharts(new Random(seed)).Chart());

    private Chart Chart()
    {
        var sections = Enumerable.Range(0, 1 + random.Next(3)).Select(Section).ToList();
        var chart = new Chart
        {
            Title = One(["Test", "Übers “Meer”", "a \"b\" \\ c", "# no remark"]),
            Key = Key.Parse(One(Keys)),
            Tempo = Mark(),
            Counted = Maybe() ? One([Counted.Units, Counted.Groups]) : null,
            Feel = Maybe() ? One(Enum.GetValues<FeltLevel>()) : null,
            Parts = Parts(),
            Sections = sections,
            Form = [.. Enumerable.Range(0, 1 + random.Next(4)).Select(_ => Step(sections, 1 + random.Next(3)))],
            Times = 1 + random.Next(3),
            Tag = Maybe() ? [.. Enumerable.Range(0, 1 + random.Next(2)).Select(_ => Step(sections, 1 + random.Next(2)))] : [],
            Ending = true,
            EndingChord = Maybe() ? ChordSymbol.Parse("Am") : null,
            Seed = Maybe() ? ulong.MaxValue - (ulong)random.Next(100) : (ulong)random.Next(100),
            Looseness = random.Next(9) / 4.0,
            Swing = Maybe() ? new Rational(random.Next(100, 301), 100) : 1,
            IsArranged = Maybe(),
            DroneSeconds = Maybe() ? random.Next(61) : 0,
            Trains = Maybe() ? One(["hearing five as one", "a \"long\" line \\ with # signs", "“slow”"]) : null,
            LearnerTempo = Maybe() ? new TempoMark(TempoLevel.Note, Span.Of(1, 8), random.Next(100, 300)) : null,
        };
        chart = chart with
        {
            Sections =
            [
                .. sections.Select(section => section with
                {
                    Playing = Maybe() ? [.. Enumerable.Range(0, chart.Parts.Count).Where(_ => Maybe())] : null,
                    StopTime = random.Next(4) == 0,
                    BreakBars = random.Next(4) == 0 ? random.Next(section.Bars.Count + 1) : 0,
                    HoldSeconds = random.Next(4) == 0 ? random.Next(61) : 0,
                    Vamp = random.Next(4) == 0,
                    Orders = random.Next(3) == 0 ? Orders(chart.Parts) : null,
                }),
            ],
        };
        chart = Maybe() ? chart with { Recast = Recast(sections) } : chart;
        chart = Maybe() && chart.EndingChord is null ? chart with { Ending = false } : chart;
        return Playable(chart) ? chart : chart with
        {
            Tempo = new TempoMark(TempoLevel.Note, Span.Of(1, 8), 260),
            Sections = [.. chart.Sections.Select(section => section with { Tempo = null, Ramps = [], Join = null })],
        };
    }

    private SectionOrders? Orders(IReadOnlyList<Part> parts)
    {
        var band = Enumerable.Range(0, parts.Count).Where(part => parts[part].Role is not (Role.Tune or Role.Count)).ToList();
        PartTask[] tasks = [.. Enum.GetValues<PartTask>().Where(task => task != PartTask.Break)];
        var orders = new SectionOrders
        {
            Energies = [.. Enumerable.Range(0, random.Next(4)).Select(_ => 1 + random.Next(5))],
            Tasks = [.. band.Where(_ => Maybe()).Select(part => new PartOrders(part, [.. Enumerable.Range(0, 1 + random.Next(3)).Select(_ => One(tasks))]))],
            Fill = random.Next(3) switch { 0 when band.Count > 0 => One(band), 1 => SectionOrders.NoFill, _ => null },
        };
        return orders.Energies.Count == 0 && orders.Tasks.Count == 0 && orders.Fill is null ? null : orders;
    }

    private RecastNotes Recast(IReadOnlyList<Section> sections) => new()
    {
        Costs = [.. PlacementCosts.Names.Where(_ => Maybe()).Select(name => new RecastCost(name, random.Next(9) / 4.0))],
        Pins =
        [
            .. sections.Where(_ => Maybe()).Select(section => new RecastPin(
                section.Name,
                1 + random.Next(section.Bars.Count),
                [.. Enumerable.Range(0, 1 + random.Next(2)).Select(_ => new PinnedBar([.. Enumerable.Range(1, random.Next(4)).Select(unit => new PinnedNote(Maybe() ? new Rational(unit * 3, 2) : null))]))])),
        ],
    };

    private FormStep Step(IReadOnlyList<Section> sections, int times)
    {
        var section = random.Next(sections.Count);
        return new FormStep(section, times)
        {
            Up = Maybe() ? One([1, 2, 3, -1, -2]) : 0,
            Ending = Maybe() && sections[section].Endings.Count is > 0 and var endings ? 1 + random.Next(endings) : null,
        };
    }

    // Over named bars or the last ones, with and without what follows.
    private IReadOnlyList<TempoRise> Ramps(int bars)
    {
        var last = 1 + random.Next(bars);
        return random.Next(4) switch
        {
            0 => [new TempoRise(Mark(), 0, last) { After = After() }],
            1 => [new TempoRise(Mark(), 1 + random.Next(last), last) { After = After() }],
            2 when bars > 2 => [new TempoRise(Mark(), 1, 1) { After = After() }, new TempoRise(Mark(), 0, 1)],
            _ => [],
        };
    }

    private TempoAfter? After() => random.Next(3) switch { 0 => new TempoAfter(null), 1 => new TempoAfter(Mark()), _ => null };

    private static bool Playable(Chart chart)
    {
        try
        {
            _ = new FormPlan(chart);
            _ = new FormPlan(chart with { Tempo = chart.LearnerTempo ?? chart.Tempo });
            return chart.Sections.All(section => new FormPlan(chart with { Sections = [section with { Join = null }], Form = [new FormStep(0, 1)], Tag = [] }).Bars > 0);
        }
        catch (ChartProblemException)
        {
            return false;
        }
    }

    private bool Maybe() => random.Next(2) == 0;

    private T One<T>(IReadOnlyList<T> choices) => choices[random.Next(choices.Count)];

    private TempoMark Mark() => random.Next(5) switch
    {
        0 => new TempoMark(TempoLevel.Bar, Span.Zero, new Rational(random.Next(40, 200), 2)),
        1 => new TempoMark(TempoLevel.Unit, Span.Zero, random.Next(100, 400)),
        2 => new TempoMark(TempoLevel.BarGroup, Span.Zero, new Rational(random.Next(5, 30), 3)),
        3 => new TempoMark(TempoLevel.Note, One([Span.Of(1, 12), Span.Of(3, 8), Span.Of(7, 16), Span.Of(1, 32)]), random.Next(60, 300)),
        _ => new TempoMark(TempoLevel.Note, Span.Of(1, 8), random.Next(100, 400)),
    };

    private List<Part> Parts()
    {
        var catalogue = InstrumentFile.BuiltIn;
        var parts = new List<Part>();
        foreach (var role in Enum.GetValues<Role>().Where(_ => Maybe()).DefaultIfEmpty(Role.Pulse))
        {
            var instrument = role switch
            {
                Role.Count => catalogue.Default(role),
                Role.Tune => catalogue.ByName(One(["concertina", "fiddle"])),
                _ => One([.. catalogue.All.Where(candidate => !candidate.Unpitched)]),
            };
            var part = HouseBand.Part(role, instrument, catalogue) with
            {
                Name = Maybe() ? $"{instrument.Name} {parts.Count + 1}" : $"player {parts.Count}",
                LevelDecibels = Maybe() ? random.Next(-120, 13) / 2.0 : HouseBand.Level(role),
                Pan = Maybe() ? random.Next(-100, 101) : HouseBand.Pan(role),
                Silent = random.Next(4) == 0,
                Settings = Settings(role),
            };
            parts.Add(Maybe() && role != Role.Count ? part with { Lowest = instrument.Lowest, Highest = instrument.Lowest + 12 } : part);
        }

        return parts;
    }

    private RoleSettings Settings(Role role) => role switch
    {
        Role.Pulse => new PulseSettings
        {
            Strokes = One(Enum.GetValues<StrokeOrder>()),
            Damped = Maybe(),
            Voices = 1 + random.Next(4),
            Share = One(Enum.GetValues<PulseShare>()),
            StrumMs = random.Next(15),
        },
        Role.Roll => new RollSettings { Crossing = One(Enum.GetValues<Crossing>()), HandLimitMs = Maybe() ? random.Next(40, 401) : null },
        Role.Bass => new BassSettings { Approaches = random.Next(31) / 100.0, Ring = Maybe() ? random.Next(20, 101) / 100.0 : null },
        Role.Sustain => new SustainSettings { Voices = 1 + random.Next(2), LaidBack = One(Enum.GetValues<LayBack>()) },
        Role.Tune => new TuneSettings(),
        _ => new CountSettings { On = One(Enum.GetValues<CountOn>()) },
    };

    private Section Section(int number)
    {
        var round = Enumerable.Range(0, 1 + random.Next(3)).Select(_ => Meter()).ToList();
        var bars = Bars(round, 1 + random.Next(10));
        IReadOnlyList<string> lines = random.Next(3) switch { 0 => ["below"], 1 => ["a \"high\" one", "below"], _ => [] };
        var tune = Maybe() ? Tune(bars, lines) : null;
        IReadOnlyList<SectionEnding> endings = random.Next(3) > 0 ? [] :
        [
            .. Enumerable.Range(0, 1 + random.Next(3)).Select(_ =>
            {
                var own = Bars(round, 1 + random.Next(4));
                return new SectionEnding(own, tune is not null && Maybe() ? Tune(own, [.. lines.Where(_ => Maybe())], hasPickup: false) : null);
            }),
        ];

        // A cycle cut short may repeat in a shorter way that includes an inserted bar: then it is not inserted.
        var over = Maybe() ? (int?)(1 + random.Next(bars.Count)) : null;
        return new Section
        {
            Name = One(["verse", "B", "the \"turn\"", "x"]) + number,
            Bars = bars,
            Endings = endings,
            Ramps = Ramps(bars.Count),
            BarGroups = new BarGroups([.. Enumerable.Range(0, 1 + random.Next(3)).Select(_ => 1 + random.Next(8))]),
            Tempo = random.Next(3) switch { 0 => new TempoChange(Mark(), null, null) { After = After() }, 1 => new TempoChange(Maybe() ? Mark() : null, Mark(), over) { After = After() }, _ => null },
            Join = null,
            Feel = Maybe() ? One(Enum.GetValues<FeltLevel>()) : null,
            Counted = Maybe() ? One(Enum.GetValues<Counted>()) : null,
            Key = Maybe() ? Key.Parse(One(Keys)) : null,
            Tune = tune,
        } is var section && section.Tempo is null && Maybe()
            ? section with { Join = Maybe() ? new TempoJoin(true, Span.Zero, Span.Zero) : new TempoJoin(false, Span.Of(1, 8), Span.Of(1, 12)) }
            : section;
    }

    private List<ChartBar> Bars(List<BarMeter> round, int length)
    {
        var bars = new List<ChartBar>();
        var counted = 0;
        while (bars.Count < length)
        {
            var meter = round[counted % round.Count];
            var other = Meter();
            var inserted = random.Next(6) == 0 && other != meter && counted > 0;
            counted += inserted ? 0 : 1;
            bars.Add(new ChartBar(inserted ? other : meter, ChordsIn(inserted ? other : meter), inserted));
        }

        return bars;
    }

    private BarMeter Meter()
    {
        var units = 1 + random.Next(13);
        var signature = new TimeSignature(units, One([4, 8, 8, 8, 16, 12, 7, 2, 64, 1]));
        var groups = new List<GroupNode>();
        for (var left = units; left > 0;)
        {
            var size = Math.Min(left, 1 + random.Next(4));
            groups.Add(size > 2 && random.Next(4) == 0 ? new GroupNode(size, [new GroupNode(1, []), new GroupNode(size - 1, [])]) : new GroupNode(size, []));
            left -= size;
        }

        return new BarMeter(signature, Maybe() ? Grouping.Undivided(units) : groups.Count == 1 ? Grouping.Of(groups[0]) : Grouping.Of(new GroupNode(units, groups)));
    }

    private List<ChordSpan> ChordsIn(BarMeter meter)
    {
        var lengths = random.Next(3) switch
        {
            0 => [meter.Units],
            1 => meter.GroupSizes.ToList(),
            _ => [],
        };
        for (var left = meter.Units - lengths.Sum(); left > 0;)
        {
            var size = 1 + random.Next(left);
            lengths.Add(size);
            left -= size;
        }

        var chords = new List<ChordSpan>();
        var at = Span.Zero;
        foreach (var length in lengths)
        {
            chords.Add(new ChordSpan(at, meter.Unit * length, ChordSymbol.Parse(One(Chords))));
            at += meter.Unit * length;
        }

        return chords;
    }

    // Every line has notes, grace notes and words of its own.
    private Tune Tune(List<ChartBar> bars, IReadOnlyList<string> lines, bool hasPickup = true)
    {
        var lengths = bars.ConvertAll(bar => bar.Meter.Length);
        var builder = new TuneBuilder(lengths);
        foreach (var name in lines.Prepend("tune"))
        {
            var notes = Notes(bars, hasPickup);
            builder.Add(name, TuneBuilder.Measures(notes, lengths), [.. Enumerable.Range(0, random.Next(3)).Select(_ => Verse(notes.Count))]);
        }

        return builder.Made();
    }

    private List<TuneNote> Notes(List<ChartBar> bars, bool hasPickup)
    {
        var end = bars.Aggregate(Span.Zero, (sum, bar) => sum + bar.Meter.Length);
        var notes = new List<TuneNote>();
        var at = !hasPickup || Maybe() ? Span.Zero : -(bars[0].Meter.Unit * new Rational(1 + random.Next(2), 3));
        while (at < end)
        {
            var unit = bars[0].Meter.Unit;
            var length = Span.Min(end - at, unit * One<Rational>([1, 2, 3, 7, new Rational(1, 2), new Rational(1, 3), new Rational(3, 2), new Rational(2, 5)]));
            if (random.Next(5) > 0)
            {
                var graces = random.Next(5) == 0 ? new[] { Pitch.FromMidi(62), Pitch.FromMidi(63, flats: true) }[..(1 + random.Next(2))] : [];
                notes.Add(new TuneNote(at, length, Pitch.FromMidi(random.Next(58, 80), Maybe()), graces));
            }

            at += length;
        }

        return notes;
    }

    private List<Syllable?> Verse(int notes)
    {
        var verse = new List<Syllable?>();
        var inWord = random.Next(6) == 0;
        while (verse.Count < notes)
        {
            // A word may go on after notes without a syllable, or begin on no note at all.
            if (random.Next(6) == 0)
            {
                verse.Add(null);
                inWord = random.Next(3) == 0;
                continue;
            }

            var over = Math.Min(notes - verse.Count, random.Next(5) == 0 ? 1 + random.Next(3) : 1);
            var goesOn = Maybe() && verse.Count + over < notes;
            var place = (inWord, goesOn) switch
            {
                (false, false) => SyllablePlace.Single,
                (false, true) => SyllablePlace.Begin,
                (true, true) => SyllablePlace.Middle,
                _ => SyllablePlace.End,
            };
            verse.Add(new Syllable(One(Syllables), place, over));
            verse.AddRange(Enumerable.Repeat<Syllable?>(null, over - 1));
            inWord = goesOn;
        }

        return verse;
    }
}
