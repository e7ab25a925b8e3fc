using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

public sealed class ChartDocumentTests
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

    /// <summary>Each change, and the lines that it changes: what was there and what is.</summary>
    public static TheoryData<string, string[], string[]> Changes => new()
    {
        { "title", ["title   =  'Odd layout'   # in single quotes"], ["title   =  \"New \\\"one\\\"\"   # in single quotes"] },
        { "key", ["key = \"D dorian\""], ["key = \"G minor\""] },
        { "section key", [], ["key = \"G minor\""] },
        { "tempo", ["tempo = \"eighth = 260\"    # quick"], ["tempo = \"bar = 57.5\"    # quick"] },
        { "meter", ["meter = \"5/8 3+2\""], ["meter = \"7/8 2+2+3\""] },
        { "meters", ["meter = \"5/8 3+2\""], ["meter = [\"5/8 3+2\", \"5/8 2+3\"]"] },
        { "section meter", [], ["meter = \"5/8 2+3\""] },
        { "grouping", ["meter = \"5/8 3+2\""], ["meter = \"5/8 2+3\""] },
        { "section grouping", [], ["grouping = \"2+3\""] },
        { "bar groups", [], ["bar-groups = [4, 2]"] },
        { "feel", [], ["feel = \"bar-group\""] },
        { "section feel", [], ["feel = \"bar\""] },
        { "form", [], ["form = [\"verse x2\", \"turn\"]"] },
        { "seed", [], ["seed = 9"] },
        { "ending", [], ["ending = \"Dm6\""] },
        { "ramp", [], ["tempo = \"to eighth = 320 over 2 bars\""] },
        { "chords", ["chords = \"| Am | G |\""], ["chords = \"| F | C |\""] },
        { "one bar", ["| F G | Am |'''  # five and a bit"], ["| F G | C / / / E7 |'''  # five and a bit"] },
        { "a bar that is repeated", ["| Dm |  C  | % | [2/4] G |"], ["| Dm |  Bb F  | C | [2/4] G |"] },
        { "a bar in brackets", ["| Dm |  C  | % | [2/4] G |"], ["| Dm |  C  | % | [2/4] C |"] },
        { "level", ["  level = -4"], ["level = -9.5".Insert(0, "  ")] },
        { "instrument", [], ["instrument = \"guitar\""] },
        { "part setting", [], ["strokes = \"heavy\""] },
        { "no level", ["  level = -4"], [] },
        { "new part", [], ["[[part]]", "name = \"banjo\"", "role = \"roll\"", "instrument = \"banjo\"", "crossing = \"free\"", ""] },
        { "part changed", ["  level = -4"], ["pan = 10", "damped = false"] },
        { "no bass", ["[[part]]", "  role = \"bass\"", ""], [] },
        {
            "tune",
            ["    notes = \"| D4:5 | E4:5 | F4:5 | G4:2 | A4:5 | r |\"   # a tune", "    words = [\"la\"]"],
            ["    notes = \"\"\"", "| r | r | r | r |", "| D4:5 | r |", "\"\"\"   # a tune"]
        },
        { "tune in braces", ["tune = { notes = \"| A4:5 | r |\" } # short"], ["tune = { notes = \"| r | D4:5 |\", pickup = \"C4:1\" } # short"] },
        {
            "no tune",
            ["    [section.tune]", "    notes = \"| D4:5 | E4:5 | F4:5 | G4:2 | A4:5 | r |\"   # a tune", "    words = [\"la\"]", ""],
            []
        },
        { "no tune in braces", ["tune = { notes = \"| A4:5 | r |\" } # short"], [] },
        { "new section", [], ["", "[[section]]", "name = \"coda\"", "chords = \"| Dm |\""] },
        { "no turn", ["", "[[section]]", "name = \"turn\"", "chords = \"| Am | G |\"", "tune = { notes = \"| A4:5 | r |\" } # short"], [] },
    };

    [Theory]
    [MemberData(nameof(Changes))]
    public void Change_OfOneThing_KeepsEveryOtherLine(string change, string[] gone, string[] come)
    {
        var changed = Apply(Document, change);

        var (before, after) = Differences(Text, changed.Text);
        Assert.Equal(gone, before);
        Assert.Equal(come, after);
    }

    [Theory]
    [MemberData(nameof(Changes))]
    public void Change_InAFileWithWindowsLinesAndMark_KeepsThem(string change, string[] gone, string[] come)
    {
        var windows = ChartDocument.FromText('\uFEFF' + Text.Replace("\n", "\r\n", StringComparison.Ordinal), "song.toml");
        var changed = Apply(windows, change).Text;

        Assert.StartsWith("\uFEFF", changed, StringComparison.Ordinal);
        Assert.DoesNotContain("\n", changed.Replace("\r\n", string.Empty, StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Equal(Apply(Document, change).Text, changed[1..].Replace("\r\n", "\n", StringComparison.Ordinal));
        Assert.True(gone.Length + come.Length > 0);
    }

    [Theory]
    [MemberData(nameof(Changes))]
    public void Change_Read_SaysWhatWasSet(string change, string[] gone, string[] come)
    {
        // A meter that the chords do not fit is the only change here that leaves problems.
        var result = Apply(Document, change).Read();

        Assert.Equal(change != "meter", result.IsChart);
        Assert.True(gone.Length + come.Length > 0);
    }

    [Fact]
    public void WithPart_InAChartOfTheHouseBand_WritesTheBandOutFirst()
    {
        var document = ChartDocument.FromText(ChartTexts.Top + "\n# The song.\n[[section]]\nchords = \"| Dm | C |\"\n", "song.toml");
        var changed = document.WithPartSetting("cello", "level", -12.5);

        var chart = changed.Read().Chart!;
        Assert.Equal(Enum.GetValues<Role>(), chart.Parts.Select(part => part.Role));
        Assert.Equal(-12.5, chart.Parts[3].LevelDecibels);
        Assert.Contains("\n# The song.\n[[section]]\nchords = \"| Dm | C |\"\n", changed.Text, StringComparison.Ordinal);
        Assert.StartsWith(ChartTexts.Top, changed.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void WithPart_EveryChange_ReadsBackAsThatPart()
    {
        var part = Document.Read().Chart!.Parts[0] with
        {
            Instrument = InstrumentFile.BuiltIn.ByName("mandolin"),
            Lowest = 60,
            Highest = 80,
            LevelDecibels = 1.5,
            Pan = 77,
            Settings = new PulseSettings { Strokes = StrokeOrder.Down, Voices = 2, StrumMs = 3 },
        };

        Assert.Equal(part, Document.WithPart(part).Read().Chart!.Parts[0]);
    }

    [Fact]
    public void Change_InAFileWithoutALastLineBreak_StartsALineOfItsOwn()
    {
        var document = ChartDocument.FromText(ChartTexts.Top + "[[section]]\nchords = \"Dm\"", "song.toml");

        Assert.EndsWith("[[section]]\nfeel = \"bar\"\nchords = \"Dm\"", document.WithFeel(FeltLevel.Bar, "A").Text, StringComparison.Ordinal);
        Assert.EndsWith("chords = \"Dm\"\n\n[section.tune]\nnotes = \"| D4:5 |\"\n", document.WithTune("A", ChartTexts.Tune(1, "notes = \"D4:5\"")).Text, StringComparison.Ordinal);
        Assert.EndsWith("chords = \"Dm\"\n\n[[section]]\nname = \"B\"\nchords = \"C\"\n", document.WithSection("B", "C").Text, StringComparison.Ordinal);
    }

    [Fact]
    public void AnyChange_OfABrokenText_IsRefusedWithTheProblem()
    {
        var document = ChartDocument.FromText("format = 1\nkey = \"D\n", "song.toml");

        var problem = Assert.Throws<ChartProblemException>(() => document.WithTitle("x"));
        Assert.StartsWith("song.toml:2:", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void AnyChange_OfWhatIsNotThere_IsRefused()
    {
        Assert.Throws<ChartProblemException>(() => Document.WithChords("bridge", "| Dm |"));
        Assert.Throws<ChartProblemException>(() => Document.WithBarChords("turn", 2, "Dm"));
        Assert.Throws<ChartProblemException>(() => Document.WithoutPart("banjo"));
        Assert.Throws<ChartProblemException>(() => Document.WithoutPart("plucked bass").WithoutPart("bouzouki"));
        Assert.Throws<ChartProblemException>(() => Document.WithMeters([new BarMeter(new TimeSignature(5, 8), Grouping.Of(3, 2)), new BarMeter(new TimeSignature(7, 8), Grouping.Of(2, 2, 3))]).WithGrouping(Grouping.Of(2, 3)));
    }

    [Fact]
    public void WithoutPart_NamedInWhoPlays_TakesTheNameAndLeavesRoles()
    {
        var document = ChartDocument.FromText(
            Text.Replace("name = \"verse\"   # twice", "name = \"verse\"   # twice\nplay = [\"plucked bass\", \"pulse\"]  # quiet", StringComparison.Ordinal),
            "song.toml");
        var left = document.WithoutPart("plucked bass");

        Assert.Contains("play = [\"pulse\"]  # quiet", left.Text, StringComparison.Ordinal);
        Assert.Equal([0], left.Read().Chart!.Sections[0].Playing!);
        Assert.Contains("play = []", left.WithPart(document.Read().Chart!.Parts[1]).WithoutPart("bouzouki").Text, StringComparison.Ordinal);
    }

    [Fact]
    public void WithPlaying_NamesOrNull_SaysWhoPlaysInASection()
    {
        var some = Document.WithPlaying("turn", ["bouzouki"]);

        Assert.Equal([0], some.Read().Chart!.Sections[1].Playing!);
        Assert.Equal(Text, some.WithPlaying("turn", null).Text);
    }

    [Fact]
    public void FromChart_MakesATextOfTheChart()
    {
        var chart = ChartTexts.Chart(DemoChart.Text);

        Assert.Equal(ChartDescription.Of(chart), ChartDescription.Of(ChartDocument.FromChart(chart, "demo").Read().Chart!));
    }

    private static ChartDocument Apply(ChartDocument document, string change) => change switch
    {
        "title" => document.WithTitle("New \"one\""),
        "key" => document.WithKey(Key.Parse("G minor")),
        "section key" => document.WithKey(Key.Parse("G minor"), "turn"),
        "tempo" => document.WithTempo(new TempoMark(TempoLevel.Bar, Span.Zero, new Rational(115, 2))),
        "meter" => document.WithMeter(new BarMeter(new TimeSignature(7, 8), Grouping.Of(2, 2, 3))),
        "meters" => document.WithMeters([new BarMeter(new TimeSignature(5, 8), Grouping.Of(3, 2)), new BarMeter(new TimeSignature(5, 8), Grouping.Of(2, 3))]),
        "section meter" => document.WithMeter(new BarMeter(new TimeSignature(5, 8), Grouping.Of(2, 3)), "Verse"),
        "grouping" => document.WithGrouping(Grouping.Of(2, 3)),
        "section grouping" => document.WithGrouping(Grouping.Of(2, 3), "turn"),
        "bar groups" => document.WithBarGroups(new BarGroups(4, 2)),
        "feel" => document.WithFeel(FeltLevel.BarGroup),
        "section feel" => document.WithFeel(FeltLevel.Bar, "turn"),
        "form" => document.WithForm([("verse", 2), ("turn", 1)]),
        "seed" => document.WithSeed(9),
        "ending" => document.WithEnding(ChordSymbol.Parse("Dm6")),
        "ramp" => document.WithTempo("turn", new TempoChange(null, new TempoMark(TempoLevel.Note, Span.Of(1, 8), 320), 2)),
        "chords" => document.WithChords("turn", "| F | C |"),
        "one bar" => document.WithBarChords("verse", 5, "C / / / E7"),
        "a bar that is repeated" => document.WithBarChords("verse", 1, "Bb F"),
        "a bar in brackets" => document.WithBarChords("verse", 3, "C"),
        "level" => document.WithPartSetting("bouzouki", "level", -9.5),
        "instrument" => document.WithPartSetting("plucked bass", "instrument", "guitar"),
        "part setting" => document.WithPartSetting("bouzouki", "strokes", "heavy"),
        "no level" => document.WithPartSetting("bouzouki", "level", null),
        "new part" => document.WithPart(HouseBand.Part(Role.Roll, InstrumentFile.BuiltIn.ByName("banjo"), InstrumentFile.BuiltIn) with
        {
            Settings = new RollSettings { Crossing = Crossing.Free },
        }),
        "part changed" => document.WithPart(document.Read().Chart!.Parts[0] with
        {
            LevelDecibels = -3,
            Pan = 10,
            Settings = new PulseSettings { Damped = false },
        }),
        "no bass" => document.WithoutPart("plucked bass"),
        "tune" => document.WithTune("verse", Tune.Of([new TuneNote(Span.Of(19, 8), Span.Of(5, 8), Pitch.Parse("D4"), [])], [], BarsOf(document, "verse"))),
        "tune in braces" => document.WithTune("turn", Tune.Of(
            [new TuneNote(Span.Of(-1, 8), Span.Of(1, 8), Pitch.Parse("C4"), []), new TuneNote(Span.Of(5, 8), Span.Of(5, 8), Pitch.Parse("D4"), [])],
            [],
            BarsOf(document, "turn"))),
        "no tune" => document.WithTune("verse", null),
        "no tune in braces" => document.WithTune("turn", null),
        "new section" => document.WithSection("coda", "| Dm |"),
        "no turn" => document.WithoutSection("turn"),
        _ => throw new ArgumentException("Not a change.", nameof(change)),
    };

    private static IReadOnlyList<ChartBar> BarsOf(ChartDocument document, string section) =>
        document.Read().Chart!.Sections.Single(other => other.Name == section).Bars;

    // What is left of both texts after their longest common sequence of lines.
    private static (List<string> Gone, List<string> Come) Differences(string before, string after)
    {
        var a = before.Split('\n');
        var b = after.TrimEnd('\n').Split('\n');
        var common = new int[a.Length + 1, b.Length + 1];
        for (var i = a.Length - 1; i >= 0; i--)
        {
            for (var j = b.Length - 1; j >= 0; j--)
            {
                common[i, j] = a[i] == b[j] ? common[i + 1, j + 1] + 1 : Math.Max(common[i + 1, j], common[i, j + 1]);
            }
        }

        var gone = new List<string>();
        var come = new List<string>();
        for (int i = 0, j = 0; i < a.Length || j < b.Length;)
        {
            if (i < a.Length && j < b.Length && a[i] == b[j])
            {
                i++;
                j++;
            }
            else if (j < b.Length && (i == a.Length || common[i, j + 1] >= common[i + 1, j]))
            {
                come.Add(b[j++]);
            }
            else
            {
                gone.Add(a[i++]);
            }
        }

        return (gone, come);
    }
}
