using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Small successive changes of a chart, as when a band works on it.</summary>
internal sealed class RandomEdits(Random random)
{
    private static readonly string[] Chords = ["Am", "C", "F#m7b5", "Bb", "Gm7/F", "N.C.", "C7(b9, #11)", "Dm(maj7)"];

    /// <summary>The chart with a number of changes.</summary>
    public Chart Changed(Chart chart, int changes)
    {
        for (var i = 0; i < changes; i++)
        {
            var other = Change(chart);
            chart = CanBePlayed(other) ? other : chart;
        }

        return chart;
    }

    private static bool CanBePlayed(Chart chart)
    {
        try
        {
            _ = new FormPlan(chart);
            _ = new FormPlan(chart with { Tempo = chart.LearnerTempo ?? chart.Tempo });
            return Marks(chart).All(mark => mark.PerMinute.Denominator <= 100_000)
                && chart.Parts.All(part => chart.CanPlayTune(part))
                && chart.Sections.All(section => section.BreakBars <= section.Bars.Count && !(section.Tempo?.OverBars > section.Bars.Count));
        }
        catch (ChartProblemException)
        {
            return false;
        }
    }

    private static IEnumerable<TempoMark> Marks(Chart chart) =>
        chart.Sections.SelectMany(section => new[] { section.Tempo?.From, section.Tempo?.To, section.Tempo?.After?.Mark }
            .Concat(section.Ramps.SelectMany(ramp => new[] { ramp.To, ramp.After?.Mark }))).Append(chart.LearnerTempo).OfType<TempoMark>().Append(chart.Tempo);

    private Chart Change(Chart chart) => random.Next(32) switch
    {
        0 => chart.Transposed(chart.Key.IntervalUp(random.Next(-5, 7))),
        1 => chart.AtPace(new Rational(random.Next(60, 140), 97)),
        2 => chart with { Title = One(["New \"name\"", "O'Brien's", "C:\\tmp", "# one"]) },
        3 => chart with { Feel = Maybe() ? One(Enum.GetValues<FeltLevel>()) : null, Counted = Maybe() ? One(Enum.GetValues<Counted>()) : null },
        4 => chart with { Times = random.Next(1, 4), Seed = (ulong)random.Next(50), DroneSeconds = random.Next(3), Looseness = random.Next(3) / 2.0, IsArranged = Maybe() },
        5 => chart with { Form = [.. Enumerable.Range(0, random.Next(1, 5)).Select(_ => new FormStep(random.Next(chart.Sections.Count), random.Next(1, 4)))] },
        6 => chart with { Tag = Maybe() ? [new FormStep(random.Next(chart.Sections.Count), 1)] : [] },
        7 => chart with { Ending = Maybe(), EndingChord = Maybe() ? ChordSymbol.Parse("Em6") : null } is var end && !end.Ending ? end with { EndingChord = null } : end,
        8 => chart with { Trains = Maybe() ? "hearing \"one\"" : null, Swing = One<Rational>([1, new(3, 2), new(2, 1)]) },
        9 => Part(chart, part => part with { LevelDecibels = random.Next(-40, 6) / 2.0, Pan = random.Next(-50, 50) }),
        10 => Part(chart, part => part.Settings is PulseSettings pulse ? part with { Settings = pulse with { Voices = random.Next(1, 5), Damped = Maybe() } } : part),
        11 => WithPart(chart),
        12 => chart.Parts.Count > 1 ? WithoutPart(chart, random.Next(chart.Parts.Count)) : chart,
        13 => Shuffled(chart),
        14 => Section(chart, section => section with { Name = section.Name + "'" }),
        15 => Reordered(chart),
        16 => Section(chart, section => section with { Vamp = Maybe(), StopTime = Maybe(), HoldSeconds = random.Next(3), BreakBars = random.Next(2) }),
        17 => Section(chart, section => section with { Feel = Maybe() ? FeltLevel.Bar : null, Key = Maybe() ? Key.Parse("Eb lydian") : null }),
        18 => Section(chart, section => section with { BarGroups = new BarGroups([.. Enumerable.Range(0, random.Next(1, 3)).Select(_ => random.Next(1, 5))]) }),
        19 => Section(chart, OtherChords),
        20 => Section(chart, MoreOrFewerBars),
        21 => Section(chart, OtherNotes),
        22 => Section(chart, OtherWords),
        23 => Section(chart, section => section with { Playing = Maybe() ? [.. Enumerable.Range(0, chart.Parts.Count).Where(_ => Maybe())] : null }),
        24 => chart with
        {
            Form =
            [
                .. chart.Form.Select(step => step with
                {
                    Up = Maybe() ? One([0, 1, 2, -1]) : step.Up,
                    Ending = Maybe() && chart.Sections[step.Section].Endings.Count > 0 ? 1 : null,
                }),
            ],
        },
        25 => Section(chart, section => section with { Ramps = Maybe() ? [new TempoRise(Mark(), 0, 1) { After = Maybe() ? new TempoAfter(null) : null }] : [] }),
        26 => Section(chart, section => section with { Tempo = Maybe() ? new TempoChange(Mark(), null, null) { After = new TempoAfter(Maybe() ? Mark() : null) } : null, Join = null }),
        27 => Part(chart, part => part with { Silent = Maybe() }),
        28 => Section(chart, section => section.Endings.Count == 0 || chart.Form.Concat(chart.Tag).Any(step => step.Ending > 1) ? section
            : section with { Endings = [.. section.Endings.Take(Maybe() ? 1 : section.Endings.Count)] }),
        29 => Section(chart, section => section.Bars.Any(bar => bar.Inserted || bar.Meter != section.Bars[0].Meter) ? section
            : section with { Endings = [.. section.Endings, new SectionEnding([new ChartBar(section.Bars[0].Meter, ChordsIn(section.Bars[0].Meter), Inserted: false)], null)] }),
        30 => Section(chart, section => section with
        {
            Endings = [.. section.Endings.Select(ending => ending with { Bars = [.. ending.Bars.Select(bar => Maybe() ? bar with { Chords = ChordsIn(bar.Meter) } : bar)] })],
        }),
        _ => Section(chart, OtherMeter),
    };

    private TempoMark Mark() => new(TempoLevel.Note, Span.Of(1, 8), random.Next(150, 300));

    private bool Maybe() => random.Next(2) == 0;

    private T One<T>(IReadOnlyList<T> choices) => choices[random.Next(choices.Count)];

    private Chart Part(Chart chart, Func<Part, Part> change)
    {
        var index = random.Next(chart.Parts.Count);
        return chart with { Parts = [.. chart.Parts.Select((part, i) => i == index ? change(part) : part)] };
    }

    private Chart Section(Chart chart, Func<Section, Section> change)
    {
        var index = random.Next(chart.Sections.Count);
        return chart with { Sections = [.. chart.Sections.Select((section, i) => i == index ? Fitting(change(section)) : section)] };
    }

    // The lines of an ending are lines of its section.
    private static Section Fitting(Section section)
    {
        return section with { Endings = [.. section.Endings.Select(ending => ending with { Tune = ending.Tune is { } tune ? With(tune) : null })] };

        Tune? With(Tune tune) => section.Tune is not { } own ? null : new Tune(
            new WrittenMusic(tune.Written.Measures, [.. tune.Written.Parts.Where((part, i) => i == 0 || own.Lines.Any(line => line.Name == part.Name))]));
    }

    private Chart WithPart(Chart chart)
    {
        var role = One([Role.Pulse, Role.Roll, Role.Bass, Role.Sustain]);
        var part = HouseBand.Part(role, InstrumentFile.BuiltIn.Default(role), InstrumentFile.BuiltIn) with { Name = $"extra {random.Next(100)}" };
        return chart.Parts.Any(other => other.Name == part.Name) || chart.Parts.Count > 20 ? chart : At(chart, part, random.Next(chart.Parts.Count + 1));
    }

    private static Chart At(Chart chart, Part part, int index) => chart with
    {
        Parts = [.. chart.Parts.Take(index), part, .. chart.Parts.Skip(index)],
        Sections = Players(chart, player => player >= index ? player + 1 : player),
    };

    private static Chart WithoutPart(Chart chart, int index) => chart with
    {
        Parts = [.. chart.Parts.Where((_, i) => i != index)],
        Sections = Players(chart, player => player == index ? -1 : player > index ? player - 1 : player),
    };

    private Chart Shuffled(Chart chart)
    {
        var order = Enumerable.Range(0, chart.Parts.Count).OrderBy(_ => random.Next()).ToArray();
        return chart with { Parts = [.. order.Select(i => chart.Parts[i])], Sections = Players(chart, player => Array.IndexOf(order, player)) };
    }

    private static IReadOnlyList<Section> Players(Chart chart, Func<int, int> now) =>
    [
        .. chart.Sections.Select(section => section.Playing is not { } playing ? section : section with
        {
            Playing = [.. playing.Select(now).Where(player => player >= 0).Order()],
        }),
    ];

    // Sections are moved, removed or added.
    private Chart Reordered(Chart chart)
    {
        var order = Enumerable.Range(0, chart.Sections.Count).OrderBy(_ => random.Next()).Where(_ => random.Next(5) > 0).DefaultIfEmpty(0).ToList();
        var sections = order.ConvertAll(i => chart.Sections[i]);
        if (Maybe())
        {
            var model = One(chart.Sections);
            sections.Insert(random.Next(sections.Count + 1), model with { Name = $"new {random.Next(1000)}", Join = null });
            if (sections.DistinctBy(section => section.Name.ToUpperInvariant()).Count() < sections.Count)
            {
                return chart;
            }
        }

        return chart with
        {
            Sections = sections,
            Form = [.. sections.Select((_, i) => new FormStep(i, random.Next(1, 3)))],
            Tag = [],
        };
    }

    private Section OtherChords(Section section)
    {
        var index = random.Next(section.Bars.Count);
        return section with { Bars = [.. section.Bars.Select((bar, i) => i == index ? bar with { Chords = ChordsIn(bar.Meter) } : bar)] };
    }

    private List<ChordSpan> ChordsIn(BarMeter meter)
    {
        var cut = meter.Units > 1 && Maybe() ? random.Next(1, meter.Units) : 0;
        var first = new ChordSpan(Span.Zero, meter.Unit * (cut == 0 ? meter.Units : cut), ChordSymbol.Parse(One(Chords)));
        return cut == 0 ? [first] : [first, new ChordSpan(first.Length, meter.Length - first.Length, ChordSymbol.Parse(One(Chords)))];
    }

    private Section MoreOrFewerBars(Section section)
    {
        var round = section.Bars.Where(bar => !bar.Inserted).ToList();
        var bars = section.Bars.ToList();
        var end = bars.Aggregate(Span.Zero, (sum, bar) => sum + bar.Meter.Length);
        if (Maybe() && bars.Count > 1 && !(section.Tune?.Notes.Any(note => note.Onset + note.Length > end - bars[^1].Meter.Length) ?? false))
        {
            bars.RemoveAt(bars.Count - 1);
        }
        else if (round.Count > 0 && round.All(bar => bar.Meter == round[0].Meter))
        {
            bars.Add(round[0] with { Chords = ChordsIn(round[0].Meter) });
        }

        // The tune has as many measures as its section.
        return section with { Bars = bars, Tune = section.Tune is { } tune ? Plain(section with { Bars = bars }, tune, _ => { }) : null };
    }

    // One note of the melody or of another line changes; the others stay as written.
    private Section OtherNotes(Section section)
    {
        if (section.Tune is not { } tune)
        {
            return section;
        }

        var line = random.Next(1 + tune.Lines.Count);
        return random.Next(8) switch
        {
            0 => section with { Tune = Plain(section, tune, notes => notes.RemoveAt(random.Next(notes.Count))) },
            1 => section with { Tune = Plain(section, tune, notes => notes[^1] = notes[^1] with { Length = notes[^1].Length / 2 }) },
            2 => section with { Tune = null },
            3 => section with { Tune = WithLine(section, tune) },
            4 => section with { Tune = WithEvents(tune, line, InHalves) },
            5 => section with { Tune = WithEvents(tune, line, one => one with { Marks = Maybe() ? [new Mark(MarkKind.Accent)] : [] }) },
            6 => section with { Tune = WithEvents(tune, line, one => one with { Late = Maybe() && one.Notes[0].TiedFrom is null ? one.Length / 4 : Span.Zero }) },
            _ => section with
            {
                Tune = WithEvents(tune, line, one => one.Notes is [{ Pitch: { } pitch, TiedFrom: null, TiedTo: null }]
                    ? one.WithNotes([WrittenNote.Of(pitch.Transpose(new Interval(1, Maybe() ? 1 : 2)))])
                    : one),
            },
        };
    }

    // As a list of notes, without other notation.
    private static Tune Plain(Section section, Tune tune, Action<List<TuneNote>> change)
    {
        var notes = tune.Notes.ToList();
        if (notes.Count > 1)
        {
            change(notes);
        }

        return Music.Charts.Tune.Of(notes, [.. tune.Verses.Select(verse => (IReadOnlyList<Syllable?>)[.. verse.Take(notes.Count)]).Where(Whole)], section.Bars);
    }

    private Tune WithLine(Section section, Tune tune)
    {
        var builder = TuneChanges.Lines(section, tune, [tune.Verses, .. tune.Lines.Select(line => line.Verses)]);
        return tune.Lines.Any(line => line.Name == "new") ? Plain(section, tune, _ => { })
            : builder.Add("new", TuneBuilder.Measures(tune.Notes, [.. section.Bars.Select(bar => bar.Meter.Length)]), []).Made();
    }

    // One note becomes two of half its length, or two tied ones.
    private IEnumerable<VoiceEvent> InHalves(NotesEvent one)
    {
        if (one.Notes is not [{ TiedFrom: null, TiedTo: null } head] || one.Value is not { Unit: var unit } || !NoteUnit.TryFrom(unit.Length / 2, out var half) || one.Late > Span.Zero)
        {
            return [one];
        }

        var tied = one.Lyrics.Count > 0 || Maybe();
        var first = one.WithNotes([head with { TiedTo = tied ? new TieEnd() : null }]).WithValue(one.Value.With(half));
        var second = (new NotesEvent([head with { TiedFrom = tied ? new TieEnd() : null }], one.Value.With(half)));
        return tied || one.Lyrics.Count == 0 ? [first, second] : [one];
    }

    private Tune WithEvents(Tune tune, int line, Func<NotesEvent, NotesEvent> change) => WithEvents(tune, line, one => [change(one)]);

    private Tune WithEvents(Tune tune, int line, Func<NotesEvent, IEnumerable<VoiceEvent>> change) =>
        TuneChanges.WithEvent(tune, line, random.Next(Math.Max(1, tune.Voice(line)!.Notes.Count)), change);

    // A verse cut inside a word or a melisma is invalid.
    private static bool Whole(IReadOnlyList<Syllable?> verse)
    {
        for (var i = 0; i < verse.Count; i++)
        {
            if (verse[i] is { } syllable)
            {
                if (i + syllable.Notes > verse.Count || (i + syllable.Notes == verse.Count && syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle))
                {
                    return false;
                }

                i += syllable.Notes - 1;
            }
        }

        return true;
    }

    // Words of the melody, the rest as written.
    private Section OtherWords(Section section)
    {
        if (section.Tune is not { Notes.Count: > 0, Lines.Count: 0 } tune)
        {
            return section;
        }

        var verses = tune.Verses.ToList();
        if (verses.Count == 0 || random.Next(4) == 0)
        {
            verses.Add([.. tune.Notes.Select(_ => new Syllable("la", SyllablePlace.Single, 1))]);
        }
        else if (random.Next(4) == 0)
        {
            verses.RemoveAt(random.Next(verses.Count));
        }
        else
        {
            var index = random.Next(verses.Count);
            verses[index] =
            [
                .. verses[index].Select(syllable => syllable is null || random.Next(8) > 0 ? syllable
                    : random.Next(4) == 0 ? null
                    : Maybe() ? syllable with { Text = One(["hey", "o’er", "two words"]) }
                    : syllable with { Stress = One([Stress.Unknown, Stress.Strong, Stress.Weak]), Late = Maybe() ? Span.Of(1, 32) : null }),
            ];
        }

        return TuneChanges.WithVerses(section, verses);
    }

    // Another grouping keeps the notes where they are; another meter removes the tune.
    private Section OtherMeter(Section section)
    {
        var meter = section.Bars[0].Meter;
        if (Maybe())
        {
            var cut = meter.Units > 1 ? random.Next(1, meter.Units) : 0;
            var other = new BarMeter(meter.Signature, cut == 0 ? Grouping.Undivided(meter.Units) : Grouping.Of(cut, meter.Units - cut));
            return section with
            {
                Bars = Other(section.Bars),
                Endings = [.. section.Endings.Select(ending => ending with { Bars = Other(ending.Bars) })],
            };

            IReadOnlyList<ChartBar> Other(IReadOnlyList<ChartBar> bars) => [.. bars.Select(bar => bar.Meter == meter ? bar with { Meter = other } : bar)];
        }

        var seven = new BarMeter(new TimeSignature(7, One([4, 8, 16])), Maybe() ? Grouping.Of(2, 2, 3) : Grouping.Undivided(7));
        return section with
        {
            Tune = null,
            Bars = Sevens(section.Bars),
            Endings = [.. section.Endings.Select(ending => new SectionEnding(Sevens(ending.Bars), null))],
        };

        IReadOnlyList<ChartBar> Sevens(IReadOnlyList<ChartBar> bars) => [.. bars.Select(_ => new ChartBar(seven, ChordsIn(seven), Inserted: false))];
    }
}
