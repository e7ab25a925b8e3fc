using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Music.Charts;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

public sealed class ChartMakerTests(ITestOutputHelper output)
{
    internal static readonly Tempo Assumed = Tempo.Of(Span.Of(1, 4), 100);

    // Scores of our own: [name, measures].
    internal static readonly (string Name, string[] Measures)[] Songs =
    [
        ("a repeat with two verses and a pickup",
        [
            "4/4 K=0:dorian Q=1/4:96 len=1/4 A3:1/4=The/And",
            "@Dm D4:1/2=lan-/o- F4:1/4=terns/ver A4=swing/row",
            "@C G4:1/2=low/slow E4:1/4=and/with C4=the/a",
            "@Am A4:1/8=moon/song G4=_/_ E4:1/4=is/is C4:1/2=high/long",
            "len=3/4 @Dm D4:3/4=there/here :|",
            "len=1/4 A4:1/4=Oh",
            "@F C5:1/2=hey A4:1/4=ho F4=we",
            "@C G4:1=go",
            "@Dm D4:1/2=home A4:1/4=and F4=on",
            "@Am E4:1=on",
            "@Dm D4:3/4=home z:1/4",
        ]),
        ("endings, da capo and coda",
        [
            "3/4 K=1:major @G |: G4:1/4 B4 D5",
            "@C C5:1/2 A4:1/4",
            "[1 @D D5:3/4 ] :|",
            "[2 @G G4:3/4- ]",
            "@G G4:1/2 z:1/4 tocoda",
            "@Em E4:1/4 G4 B4",
            "@Am A4:3/4",
            "@D F#4:3/4 dc",
            "coda @C C5:1/4 B4 A4",
            "@G G4:3/4",
        ]),
        ("five and seven, with triplets and a grace note",
        [
            "3+2/8 K=0 @Am A4:1/4. C5:1/4",
            "2+2+3/8 @G B4:1/8t C5 D5 B4:1/4 G4:1/4.",
            "3+2/8 @Am (B4)A4:1/4. E4:1/4",
            "2+2+3/8 @Em E4:1/4 G4 B4:1/4.",
            "3+2/8 @F F4:1/4. A4:1/4",
            "2+2+3/8 @Em E4:1/4 G4 B4:1/4.",
            "3+2/8 @Am A4:1/4. C5:1/4-",
            "2+2+3/8 @Am C5:1/4 B4 A4:1/4.",
        ]),
        ("a tempo and a key that change",
        [
            "4/4 K=2:major Q=1/4:120 @D D4:1/2 F#4", "@A E4:1", "@D D4:1/2 A4", "@A A4:1",
            "K=-1:major Q=1/2:72 @F F4:1/2 A4", "@Bb Bb4:1", "@C C5:1/2 G4", "@F F4:1",
            "K=2:major Q=1/4:120 @D D4:1/2 F#4", "@A E4:1", "@D D4:1/2 A4", "@A A4:1",
        ]),
        ("a repeat whose pickup is missing at its end",
        [
            "4/4 |: len=1/8 A3:1/8",
            "@F A3:2/8 C4:1/8 A3:1/8 C4:3/8 Bb4:1/8",
            "@Dm E4:1/8 C4:2/8 G4:3/8 F#4:2/8",
            "Bb4:1/8 A3:2/8 z:3/8 Bb4:1/8 z:1/8",
            "@F A3:2/8 C4:1/8 D4:2/8 G4:1/8 z:2/8",
            "len=7/8 Bb4:1/8 A3:2/8 z:3/8 Bb4:1/8 :|",
            "3/4 |: @F D4:2/8=la6/lo6 A3:3/8=la0/lo0 F#4:1/8=la1/lo1",
            "D4:1/8=la2/lo2 G4:1/8=la3/lo3 C4:3/8=la4/lo4 F#4:1/8",
            "F#4:1/8=la6/lo6 z:2/8 Bb4:1/8=la0/lo0 z:2/8",
            "@Dm G4:2/8 Bb4:3/8=la2-/lo2- A3:1/8=la3/lo3",
            "[1 @F D4:2/8=la4/lo4 A3:3/8=la5/lo5 F#4:1/8=la6/lo6 ] :|",
            "[2 @Dm G4:2/8 Bb4:3/8=la1-/lo1- A3:1/8=la2/lo2 ]",
        ]),
        ("short and long measures inside",
        [
            "4/4 @C C4:1/2 E4", "2/4 @G G4:1/2", "4/4 @C E4:1/2 G4", "len=5/4 @F F4:1/4 A4 C5 A4 F4", "@C C4:1", "3/8 E4:1/8 D4 C4", "4/4 C4:1",
        ]),
    ];

    public static TheoryData<string> SongNames => [.. Songs.Select(song => song.Name)];

    [Theory]
    [MemberData(nameof(SongNames))]
    public void Make_OwnScore_PlaysTheSameMusic(string name)
    {
        var music = SmallScore.Read(Songs.Single(song => song.Name == name).Measures);
        var song = ChartMaker.Make(music, ImportedChartText.Options());
        output.WriteLine(ImportedChartText.Write(song, name));
        output.WriteLine(string.Join('\n', song.NotCarried.Select(lost => lost.What)));
        Same.AsTheScore(music, song);
        Same.WhenRead(song);
    }

    [Fact]
    public void Make_KeysChange_EachSectionHasItsOwn()
    {
        var chart = ChartMaker.Make(SmallScore.Read(Songs[3].Measures), ImportedChartText.Options()).Chart;
        Assert.Equal(["D major", "F major", "D major"], chart.Form.Select(step => (chart.Sections[step.Section].Key ?? chart.Key).ToString()));
        Assert.Equal("half = 72", chart.Sections[chart.Form[1].Section].Tempo!.From!.ToString());
    }

    [Fact]
    public void Make_VerseAndRefrain_AreToldApartByTheirWords()
    {
        var chart = ChartMaker.Make(SmallScore.Read(Songs[0].Measures), ImportedChartText.Options()).Chart;
        Assert.Equal("verse", chart.Sections[0].Name);
        Assert.Equal(2, chart.Sections[0].Tune!.Verses.Count);
        Assert.Equal(2, chart.Form[0].Times);
    }

    [Theory]
    [InlineData("K=0 D4:1/1", "D dorian")]
    [InlineData("K=0 A4:1/1", "A minor")]
    [InlineData("K=0 C4:1/1", "C major")]
    [InlineData("K=1 D4:1/1", "D mixolydian")]
    [InlineData("K=-2:minor Bb4:1/1", "G minor")]
    [InlineData("C4:1/4 E4 F#4 G4", "G major")]
    public void Make_Mode_IsWrittenOrFoundFromTheLastNote(string measure, string key)
    {
        var song = ChartMaker.Make(SmallScore.Read("4/4 " + measure), ImportedChartText.Options());
        Assert.Equal(key, song.Chart.Key.ToString());
        Assert.Equal(measure.Contains(':', StringComparison.Ordinal) && !measure.Contains("minor", StringComparison.Ordinal), song.Remarks.Any(remark => remark.Key == "key"));
    }

    [Theory]
    [InlineData("7/8", "C4:1/4 E4 G4:1/4.", "2+2+3")]
    [InlineData("7/8", "C4:1/4. E4:1/4 G4", "3+2+2")]
    [InlineData("8/8", "C4:1/4. E4 G4:1/4", "3+3+2")]
    [InlineData("5/8", "C4:1/4 E4:1/8 G4 G4", "2+3")]
    [InlineData("5/8", "C4:5/8", "none")]
    public void Make_MeterWithoutAGrouping_GetsItFromTheNotes(string meter, string notes, string grouping)
    {
        var song = ChartMaker.Make(SmallScore.Read($"{meter} {notes}", notes, notes, notes), ImportedChartText.Options());
        Assert.Equal(grouping, song.Chart.Sections[0].Bars[0].Meter.Grouping.ToString());
        Assert.Equal(grouping != "none", song.Remarks.Any(remark => remark.Key == "meter"));
    }

    [Fact]
    public void Make_UnknownPart_ListsTheParts()
    {
        var music = SmallScore.Read([("P1", "Flute", ["4/4 C4:1"]), ("P2", "Fiddle", ["4/4 E4:1"])]);
        var problem = Assert.Throws<ChartProblemException>(() => ChartMaker.Make(music, ImportedChartText.Options() with { Part = "tuba" }));
        Assert.Equal("no part called 'tuba'; parts: 1 Flute, 2 Fiddle", problem.Message);
        Assert.Equal("P2", ChartMaker.Make(music, ImportedChartText.Options() with { Part = "2" }).TunePart);
        Assert.Equal("P1", ChartMaker.Make(music, ImportedChartText.Options() with { Part = "flute" }).TunePart);
    }

    [Fact]
    public void Make_TwoSungParts_GivesASecondLine()
    {
        var music = SmallScore.Read([("P1", "Alto", ["4/4 C4:1/2=low D4"]), ("P2", "Soprano", ["4/4 E4:1/2=up F4=here"]), ("P3", "Piano", ["4/4 C3:1"])]);
        var song = ChartMaker.Make(music, ImportedChartText.Options());
        Assert.Equal("P2", song.TunePart);
        Assert.Equal("Alto", Assert.Single(song.Chart.Sections[0].Tune!.Lines).Name);
        Assert.Contains(song.NotCarried, lost => lost.What == "notes of Piano");
        Assert.Equal(PlayedOut.Notes(music, 0, "1", 0), PlayedOut.Notes(song.Chart, "Alto", 0));
        Same.WhenRead(song);
    }

    [Fact]
    public void Make_MoreVersesThanPlayings_PlaysTheFormSeveralTimes()
    {
        var music = SmallScore.Read("4/4 C4:1/2=one/two/three D4=a/b/c", "E4:1=d/e/f", "C4:1=x/y/z");
        var song = ChartMaker.Make(music, ImportedChartText.Options());
        Assert.Equal((3, 3), (song.Chart.Times, song.Chart.Sections[0].Tune!.Verses.Count));
        Same.AsTheScore(music, song);
    }

    [Fact]
    public void Suggested_RangeOfAFifthHigher_StartsWithTheNearestKey()
    {
        var song = ChartMaker.Make(SmallScore.Read("4/4 K=0:major C4:1/4 D4 E4 G4", "C4:1"), ImportedChartText.Options());
        Assert.Equal(("C4", "G4", "C4", "D4"), (song.View!.Lowest.ToString(), song.View.Highest.ToString(), song.View.MostlyFrom.ToString(), song.View.MostlyTo.ToString()));
        var keys = SingersKeys.Suggested(song.View, song.Chart.Key, Pitch.FromMidi(67), Pitch.FromMidi(76));
        Assert.Equal((7, "G major"), (keys[0].Up, keys[0].Key.ToString()));
        Assert.Equal([7, 8, 9], keys.Select(key => key.Up));
        Assert.Empty(SingersKeys.Suggested(song.View, song.Chart.Key, Pitch.FromMidi(60), Pitch.FromMidi(65)));
    }

    [Fact]
    public void Make_ContradictoryRepeats_PlaysEveryMeasureOnceAndSaysSo()
    {
        var song = ChartMaker.Make(SmallScore.Read("4/4 C4:1 |:", "[1 D4:1 ] :|", "[3 E4:1 ]"), ImportedChartText.Options());
        Assert.Equal(3, new FormPlan(song.Chart).BarsInPass);
        Assert.Contains(song.NotCarried, lost => lost.What.StartsWith("repeats and jumps that cannot be followed", StringComparison.Ordinal));
    }

    [Fact]
    public void Make_MeasureOfNoMeter_IsAnErrorWithItsNumber()
    {
        var problem = Assert.Throws<ChartProblemException>(() => ChartMaker.Make(SmallScore.Read("4/4 C4:1", "len=7/100 C4:7/100", "C4:1"), ImportedChartText.Options()));
        Assert.Contains("measure 2 lasts 7/100", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Make_SongOfACycle_HasItsOwnTitleAndNamesTheCycle()
    {
        var score = SmallScore.Read("4/4 C4:1/2=Row D4=on", "E4:1=now");
        var song = ChartMaker.Make(
            new WrittenMusic(score.Measures, score.Parts)
            {
                Headings =
                [
                    new Heading("work-title", null, "Three Quays"), new Heading("movement-title", null, "Rope Walk"), new Heading("creator", "composer", "Words: a rigger, 1847."),
                    new Heading("creator", "composer", "A. Netmender"),
                ],
            },
            ImportedChartText.Options());
        Assert.Equal("Rope Walk", song.Chart.Title);
        var text = ImportedChartText.Write(song, "song");
        Assert.Contains("# From: Three Quays\n# Words: a rigger, 1847.\n# Composer: A. Netmender\n", text, StringComparison.Ordinal);
    }

    // Seen in a real song: "ter - kin" on one note.
    [Fact]
    public void Make_TwoSyllablesOnANoteWithAHyphenBetween_AreOneWord()
    {
        var score = SmallScore.Read("4/4 C4:1/2=Lantern D4=low", "E4:1=now");
        var part = score.Parts[0];
        var voice = part.Measures[0].Voices[0];
        var first = voice.Events[0] with { Lyrics = [new Lyric { Number = "1", Parts = [new LyricPart("Lan - tern", WordPlace.Single)] }] };
        var sung = new WrittenMusic(score.Measures, [part with { Measures = [part.Measures[0] with { Voices = [voice with { Events = [first, .. voice.Events.Skip(1)] }] }, part.Measures[1]] }]);
        var song = ChartMaker.Make(sung, ImportedChartText.Options());
        Assert.Contains("| Lan‑tern low", ImportedChartText.Write(song, "song"), StringComparison.Ordinal);
        Same.WhenRead(song);
    }

    // Words sung before the bar line of a new section belong to it: a rest, a divided bar or the piece's own pickup shows it, or else the words do.
    [Theory]
    [InlineData("G4:1/2=quay. E4:1/4=So F4=turn", "quay.", "So turn with the tide and come home.")]
    [InlineData("G4:1/2=quay E4:1/4=So F4=turn", "turn", "with the tide and come home.")]
    [InlineData("G4:1/2=quay. E4:1/4=so F4=turn", "turn", "with the tide and come home.")]
    [InlineData("G4:1/4=quay. E4:1/2=So F4:1/4=turn", "turn", "with the tide and come home.")]
    public void Make_LineOfWordsBeforeTheRefrain_LeadsIntoIt(string last, string verseEnds, string refrain)
    {
        var song = ChartMaker.Make(
            SmallScore.Read(
                "4/4 K=0:major Q=1/4:100 @C C4:1/4=Lamps D4=are E4=lit F4=and", "@F G4:1/2=low, A4:1/4=boats G4=lie", "@G F4:1/4=in E4=the D4:1/2=bay,",
                "@C C4:1/4=nets D4=are E4=dry F4=and", "@F G4:1/2=gone A4:1/4=from G4=the", last,
                "{Refrain} @C C5:1/2=with C5=the", "@F A4:1=tide", "@G G4:1/2=and F4=come", "@C E4:1=home."),
            ImportedChartText.Options());
        var sung = song.Chart.Sections.Select(section => section.Tune!.Verses[0].OfType<Syllable>().Select(syllable => syllable.Text).ToList()).ToList();
        Assert.Equal(verseEnds, sung[0][^1]);
        Assert.Equal(refrain, string.Join(' ', sung[1]));
        Same.WhenRead(song);
    }
}

internal static class Same
{
    /// <summary>Checks that a chart plays what its score says.</summary>
    public static void AsTheScore(WrittenMusic music, SongChart song)
    {
        var part = music.Parts.ToList().FindIndex(one => one.Id == song.TunePart);
        for (var lap = 0; lap < song.Chart.Times; lap++)
        {
            Assert.Equal(PlayedOut.Notes(music, part, "1", lap), PlayedOut.Notes(song.Chart, "tune", lap));
        }

        Assert.False(PlayedOut.CutsNotes(song.Chart), ImportedChartText.Write(song));
        var keys = song.Chart.Sections.Any(section => section.Key is not null);
        string Plain(string bar) => keys ? string.Join(' ', bar.Split(' ').Where((_, i) => i is not (2 or 3))) : bar;
        Assert.Equal(PlayedOut.Bars(music, song.Chart.Key, ChartMakerTests.Assumed).Select(Plain), PlayedOut.Bars(song.Chart).Select(Plain));
    }

    /// <summary>Checks that a chart's text reads back as the chart.</summary>
    public static void WhenRead(SongChart song)
    {
        var text = ImportedChartText.Write(song, "song");
        var read = ChartReader.ReadText(text, "song.toml");
        Assert.True(read.IsChart, string.Join('\n', read.Problems) + "\n" + text);
        Assert.True(SameChart.IsRead(song.Chart, read.Chart!), text);
    }
}
