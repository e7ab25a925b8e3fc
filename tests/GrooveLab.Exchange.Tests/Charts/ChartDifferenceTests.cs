using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Each item of a chart, changed alone in a text with an odd layout: the lines removed and added.</summary>
public sealed class ChartDifferenceTests
{
    // Odd layout on purpose: it must survive.
    private const string Text = """
        # My song.

        format=1
        title   =  'Odd layout'   # in single quotes
        key = "D dorian"
        tempo = "eighth = 260"    # quick
        meter = "5/8 3+2"

        # The band.
        [[part]]
          role = "pulse"          # strums
          level = -4

        [[part]]
          role = "bass"

        # The song.
        [[section]]
        name = "verse"   # twice
        chords = '''
        | Dm |  C  | % | [2/4] G |
        | F G | Am |'''  # five and a bit

            [section.tune]
            notes = "| D4:5 | E4:5 | F4:5 | G4:2 | A4:5 | r |"   # a tune
            words = ["la"]

        [[section]]
        name = "turn"
        chords = "| Am | G |"
        tune = { notes = "| A4:5 | r |" } # short
        # The end.
        """;

    private static readonly ChartDocument Document = ChartDocument.FromText(Text, "song.toml");
    private static readonly BarMeter TwoThree = new(new TimeSignature(5, 8), Grouping.Of(2, 3));

    public static TheoryData<string> Names => [.. Changes.Keys];

    private static Dictionary<string, (Func<Chart, Chart> Change, string[] Gone, string[] Come)> Changes { get; } = new(StringComparer.Ordinal)
    {
        ["title"] = (
            chart => chart with { Title = "New \"one\"" },
            ["title   =  'Odd layout'   # in single quotes"],
            ["title   =  'New \"one\"'    # in single quotes"]),
        ["a title that its quotes cannot hold"] = (
            chart => chart with { Title = "It's new" },
            ["title   =  'Odd layout'   # in single quotes"],
            ["title   =  \"It's new\"     # in single quotes"]),
        ["trains"] = (chart => chart with { Trains = "hearing five" }, [], ["trains = \"hearing five\""]),
        ["key"] = (chart => chart with { Key = Key.Parse("G minor") }, ["key = \"D dorian\""], ["key = \"G minor\""]),
        ["tempo"] = (
            chart => chart with { Tempo = new TempoMark(TempoLevel.Bar, Span.Zero, new Rational(115, 2)) },
            ["tempo = \"eighth = 260\"    # quick"],
            ["tempo = \"bar = 57.5\"      # quick"]),
        ["learner tempo"] = (
            chart => chart with { LearnerTempo = new TempoMark(TempoLevel.Note, Span.Of(1, 8), 190) },
            [],
            ["learner-tempo = \"eighth = 190\""]),
        ["counted"] = (chart => chart with { Counted = Counted.Groups }, [], ["counted = \"groups\""]),
        ["feel"] = (chart => chart with { Feel = FeltLevel.BarGroup }, [], ["feel = \"bar-group\""]),
        ["swing"] = (chart => chart with { Swing = new Rational(3, 2) }, [], ["swing = \"3:2\""]),
        ["looseness"] = (chart => chart with { Looseness = 0.5 }, [], ["looseness = 0.5"]),
        ["seed"] = (chart => chart with { Seed = 9 }, [], ["seed = 9"]),
        ["drone"] = (chart => chart with { DroneSeconds = 8 }, [], ["drone = 8"]),
        ["form"] = (chart => chart with { Form = [new FormStep(0, 2), new FormStep(1, 1)] }, [], ["form = [\"verse x2\", \"turn\"]"]),
        ["times"] = (chart => chart with { Times = 3 }, [], ["times = 3"]),
        ["tag"] = (chart => chart with { Tag = [new FormStep(1, 1)] }, [], ["tag = [\"turn\"]"]),
        ["ending"] = (chart => chart with { EndingChord = ChordSymbol.Parse("Dm6") }, [], ["ending = \"Dm6\""]),
        ["no ending"] = (chart => chart with { Ending = false }, [], ["ending = false"]),
        ["bar groups of all"] = (
            chart => chart with { Sections = [.. chart.Sections.Select(section => section with { BarGroups = new BarGroups(4, 2) })] },
            [],
            ["bar-groups = [4, 2]"]),
        ["the grouping of all"] = (
            chart => chart with { Sections = [.. chart.Sections.Select(section => InMeter(section, TwoThree))] },
            ["meter = \"5/8 3+2\""],
            ["meter = \"5/8 2+3\""]),
        ["level"] = (chart => Part(chart, 0, part => part with { LevelDecibels = -9.5 }), ["  level = -4"], ["  level = -9.5"]),
        ["a level that is usual"] = (chart => Part(chart, 0, part => part with { LevelDecibels = -3 }), ["  level = -4"], ["  level = -3"]),
        ["pan and a setting"] = (
            chart => Part(chart, 0, part => part with { Pan = 10, Settings = new PulseSettings { Damped = false } }),
            [],
            ["  pan = 10", "  damped = false"]),
        ["instrument"] = (
            chart => Part(chart, 1, part => part with { Instrument = Instrument("guitar"), Lowest = 40, Highest = 64 }),
            [],
            ["  name = \"plucked bass\"", "  instrument = \"guitar\"", "  register = \"E2-E4\""]),
        ["a new name"] = (chart => Part(chart, 1, part => part with { Name = "low" }), [], ["  name = \"low\""]),
        ["a new part"] = (
            chart => chart with
            {
                Parts = [.. chart.Parts, Of(Role.Roll, "banjo") with { Settings = new RollSettings { Crossing = Crossing.Free } }],
            },
            [],
            ["[[part]]", "role = \"roll\"", "instrument = \"banjo\"", "crossing = \"free\"", ""]),
        ["parts in another order"] = (
            chart => chart with { Parts = [chart.Parts[1], chart.Parts[0]] },
            ["[[part]]", "  role = \"bass\"", ""],
            ["[[part]]", "  role = \"bass\"", ""]),
        ["no bass"] = (chart => chart with { Parts = [chart.Parts[0]] }, ["[[part]]", "  role = \"bass\"", ""], []),
        ["section key"] = (chart => Section(chart, 1, section => section with { Key = Key.Parse("G minor") }), [], ["key = \"G minor\""]),
        ["section feel"] = (chart => Section(chart, 1, section => section with { Feel = FeltLevel.Bar }), [], ["feel = \"bar\""]),
        ["ramp"] = (
            chart => Section(chart, 1, section => section with { Tempo = new TempoChange(null, new TempoMark(TempoLevel.Note, Span.Of(1, 8), 320), 2) }),
            [],
            ["tempo = \"to eighth = 320 over 2 bars\""]),
        ["join"] = (
            chart => Section(chart, 1, section => section with { Join = new TempoJoin(true, Span.Zero, Span.Zero) }),
            [],
            ["join = \"bar = bar\""]),
        ["who plays"] = (chart => Section(chart, 1, section => section with { Playing = [0] }), [], ["play = [\"bouzouki\"]"]),
        ["how the band stops"] = (
            chart => Section(chart, 1, section => section with { StopTime = true, BreakBars = 1, HoldSeconds = 4, Vamp = true }),
            [],
            ["stop-time = true", "break = 1", "hold = 4", "vamp = true"]),
        ["section bar groups"] = (chart => Section(chart, 1, section => section with { BarGroups = new BarGroups(2) }), [], ["bar-groups = 2"]),
        ["section grouping"] = (chart => Section(chart, 1, section => InMeter(section, TwoThree)), [], ["grouping = \"2+3\""]),
        ["section meter"] = (
            chart => Section(chart, 1, section => InMeter(section, new BarMeter(new TimeSignature(6, 8), Grouping.Of(3, 3))) with { Tune = null }),
            ["tune = { notes = \"| A4:5 | r |\" } # short"],
            ["meter = \"6/8\"", "# short"]),
        ["meters that alternate"] = (
            chart => Section(chart, 1, section => section with { Bars = [section.Bars[0], InMeter(section, TwoThree).Bars[1]] }),
            [],
            ["meter = [\"5/8 3+2\", \"5/8 2+3\"]"]),
        ["all chords"] = (
            chart => Section(chart, 1, section => section with { Bars = [.. section.Bars.Select(bar => Chords(bar, "F"))] }),
            ["chords = \"| Am | G |\""],
            ["chords = \"| F | F |\""]),
        ["one bar"] = (
            chart => Section(chart, 0, section => Bar(section, 5, bar => Chords(bar, "C", "E7"))),
            ["| F G | Am |'''  # five and a bit"],
            ["| F G | C E7 |''' # five and a bit"]),
        ["a bar that is repeated"] = (
            chart => Section(chart, 0, section => Bar(section, 1, bar => Chords(bar, "Bb", "F"))),
            ["| Dm |  C  | % | [2/4] G |"],
            ["| Dm |  Bb F | C | [2/4] G |"]),
        ["a bar in brackets"] = (
            chart => Section(chart, 0, section => Bar(section, 3, bar => Chords(bar, "C"))),
            ["| Dm |  C  | % | [2/4] G |"],
            ["| Dm |  C  | % | [2/4] C |"]),
        ["the brackets' meter"] = (
            chart => Section(chart, 0, section => Bar(section, 3, bar => InMeter(bar, new BarMeter(new TimeSignature(4, 8), Grouping.Of(2, 2))))),
            ["| Dm |  C  | % | [2/4] G |", "    notes = \"| D4:5 | E4:5 | F4:5 | G4:2 | A4:5 | r |\"   # a tune"],
            ["| Dm |  C  | % | [4/8 2+2] G |", "    notes = \"| D4:5 | E4:5 | F4:5 | G4:4 | A4:5 | r |\"   # a tune"]),
        ["a bar more"] = (
            chart => Section(chart, 1, section => section with { Bars = [.. section.Bars, Chords(section.Bars[0], "Em")] }),
            ["chords = \"| Am | G |\"", "tune = { notes = \"| A4:5 | r |\" } # short"],
            ["chords = \"| Am | G | Em |\"", "tune = { notes = \"| A4:5 | r | r |\" } # short"]),
        ["one note"] = (
            chart => Section(chart, 0, section => Note(section, 1, note => note with { Pitch = Pitch.Parse("Eb4") })),
            ["    notes = \"| D4:5 | E4:5 | F4:5 | G4:2 | A4:5 | r |\"   # a tune"],
            ["    notes = \"| D4:5 | Eb4:5 | F4:5 | G4:2 | A4:5 | r |\"  # a tune"]),
        ["a shorter note"] = (
            chart => Section(chart, 0, section => Note(section, 0, note => note with { Length = Span.Of(3, 8) })),
            ["    notes = \"| D4:5 | E4:5 | F4:5 | G4:2 | A4:5 | r |\"   # a tune"],
            ["    notes = \"| D4:3 r:2 | E4:5 | F4:5 | G4:2 | A4:5 | r |\" # a tune"]),
        ["a pickup"] = (
            chart => Section(chart, 1, section => TuneChanges.WithNotes(
                section, notes => notes.Insert(0, new TuneNote(Span.Of(-1, 8), Span.Of(1, 8), Pitch.Parse("C4"), [])))),
            ["tune = { notes = \"| A4:5 | r |\" } # short"],
            ["tune = { notes = \"| A4:5 | r |\", pickup = \"C4:1\" } # short"]),
        ["words"] = (
            chart => Section(chart, 1, section => TuneChanges.WithVerses(section, [[new Syllable("Oh", SyllablePlace.Single, 1)]])),
            ["tune = { notes = \"| A4:5 | r |\" } # short"],
            ["tune = { notes = \"| A4:5 | r |\", words = [", "  \"Oh\",", "] } # short"]),
        ["no words"] = (chart => Section(chart, 0, section => TuneChanges.WithVerses(section, [])), ["    words = [\"la\"]"], []),
        ["no tune"] = (
            chart => Section(chart, 0, section => section with { Tune = null }),
            ["", "    [section.tune]", "    notes = \"| D4:5 | E4:5 | F4:5 | G4:2 | A4:5 | r |\"   # a tune", "    words = [\"la\"]"],
            ["    # a tune"]),
        ["a new section"] = (
            chart => chart with
            {
                Sections = [.. chart.Sections, chart.Sections[1] with { Name = "coda", Tune = null }],
                Form = [new FormStep(0, 1), new FormStep(1, 1), new FormStep(2, 1)],
            },
            [],
            ["", "[[section]]", "name = \"coda\"", "chords = \"| Am | G |\""]),
        ["a section with another name"] = (
            chart => Section(chart, 1, section => section with { Name = "bridge" }),
            ["name = \"turn\""],
            ["name = \"bridge\""]),
        ["no turn"] = (
            chart => chart with { Sections = [chart.Sections[0]], Form = [new FormStep(0, 1)] },
            ["[[section]]", "name = \"turn\"", "chords = \"| Am | G |\"", "tune = { notes = \"| A4:5 | r |\" } # short"],
            ["# short"]),
    };

    [Theory]
    [MemberData(nameof(Names))]
    public void Write_OneThing_ChangesItsLinesOnly(string name)
    {
        var (change, gone, come) = Changes[name];
        var written = Written(Document, change);

        Assert.Equal(gone, LineChanges.Gone(Text, written.Document.Text));
        Assert.Equal(come, LineChanges.Come(Text, written.Document.Text));
        Assert.False(written.IsReformatted);
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Write_OneThingInAFileWithWindowsLinesAndMark_KeepsThem(string name)
    {
        var windows = ChartDocument.FromText('\uFEFF' + Text.Replace("\n", "\r\n", StringComparison.Ordinal), "song.toml");
        var changed = Written(windows, Changes[name].Change).Document.Text;

        Assert.StartsWith("\uFEFF", changed, StringComparison.Ordinal);
        Assert.DoesNotContain("\n", changed.Replace("\r\n", string.Empty, StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Equal(Written(Document, Changes[name].Change).Document.Text, changed[1..].Replace("\r\n", "\n", StringComparison.Ordinal));
    }

    private static WrittenChart Written(ChartDocument document, Func<Chart, Chart> change)
    {
        var before = document.Read().Chart!;
        return ChartDifference.Write(document, before, change(before));
    }

    private static Instrument Instrument(string name) => InstrumentFile.BuiltIn.ByName(name);

    private static Part Of(Role role, string instrument) => HouseBand.Part(role, Instrument(instrument), InstrumentFile.BuiltIn);

    private static Chart Part(Chart chart, int index, Func<Part, Part> change) =>
        chart with { Parts = [.. chart.Parts.Select((part, i) => i == index ? change(part) : part)] };

    private static Chart Section(Chart chart, int index, Func<Section, Section> change) =>
        chart with { Sections = [.. chart.Sections.Select((section, i) => i == index ? change(section) : section)] };

    private static Section Bar(Section section, int index, Func<ChartBar, ChartBar> change) =>
        section with { Bars = [.. section.Bars.Select((bar, i) => i == index ? change(bar) : bar)] };

    private static Section Note(Section section, int index, Func<TuneNote, TuneNote> change) =>
        TuneChanges.WithNotes(section, notes => notes[index] = change(notes[index]));

    // One chord per bar, or one per group.
    private static ChartBar Chords(ChartBar bar, params string[] chords)
    {
        var at = Span.Zero;
        var spans = new List<ChordSpan>();
        for (var i = 0; i < chords.Length; i++)
        {
            var length = chords.Length == 1 ? bar.Meter.Length : bar.Meter.Unit * bar.Meter.GroupSizes[i];
            spans.Add(new ChordSpan(at, length, ChordSymbol.Parse(chords[i])));
            at += length;
        }

        return bar with { Chords = spans };
    }

    private static Section InMeter(Section section, BarMeter meter) =>
        section with { Bars = [.. section.Bars.Select(bar => bar.Inserted ? bar : InMeter(bar, meter))] };

    // Chords for groups stay chords for groups.
    private static ChartBar InMeter(ChartBar bar, BarMeter meter) =>
        Chords(bar with { Meter = meter }, [.. bar.Chords.Select(chord => chord.Symbol.Text)]);
}
