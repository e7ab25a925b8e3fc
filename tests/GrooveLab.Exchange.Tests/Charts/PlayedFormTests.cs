using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Endings, moved sections and changes of tempo inside a section, from the text to the bars of the form.</summary>
public sealed class PlayedFormTests
{
    private const string Head = "format = 2\nkey = \"D dorian\"\ntempo = \"quarter = 120\"\nmeter = \"4/4\"\n";

    private const string Verse = """

        [[section]]
        name = "verse"
        chords = "| Dm | C |"

        [section.tune]
        pickup = "A4:1"
        notes = "| D4:2 E4 | F4:2 z |"
        words = ["a | one two | three", "b | four five | six"]

        [[section.ending]]
        chords = "| G |"

        [section.ending.tune]
        pickup = "G4:1"
        notes = "| G4:4 |"
        words = ["to | first", "to | third"]

        [[section.ending]]
        chords = "| A | Dm |"

        [section.ending.tune]
        notes = "| A4:4 | D4:4 |"
        words = "second end"

        """;

    private static Chart Read(string text)
    {
        var read = ChartReader.ReadText(text, "song.toml");
        Assert.True(read.IsChart, string.Join('\n', read.Problems));
        return read.Chart;
    }

    private static IEnumerable<string> Runs(FormPlan plan, int bars)
    {
        for (var bar = 0; bar < bars; bar = plan.BarAt(bar).Run.EndBar)
        {
            var run = plan.BarAt(bar).Run;
            var tune = run.Section.Tune;
            var words = tune is null || tune.Verses.Count == 0 ? string.Empty
                : ": " + string.Join(' ', tune.Verses[run.Verse % tune.Verses.Count].Select(syllable => syllable?.Text ?? "*"));
            var chords = Enumerable.Range(bar, run.Bars).Select(index => plan.BarAt(index).Chords[0].Symbol.Text);
            yield return $"{run.Section.Name} {string.Join(' ', chords)}{words}";
        }
    }

    // Common practice, no source: the first time takes the first ending; the last ending serves all later times; each time through the form
    // begins with the first one again.
    [Fact]
    public void Plan_Endings_AreTakenInOrderWithTheirWordsInEachTimeThrough()
    {
        var plan = new FormPlan(Read(Head.Replace("meter", "form = [\"verse x3\"]\ntimes = 2\nmeter", StringComparison.Ordinal) + Verse));

        Assert.Equal(
            [
                "verse Dm C G: a one two three to first",
                "verse Dm C A Dm: b four five six second end",
                "verse Dm C A Dm: a one two three second end",
                "verse Dm C G: b four five six to third",
                "verse Dm C A Dm: a one two three second end",
                "verse Dm C A Dm: b four five six second end",
            ],
            Runs(plan, plan.Bars));
        Assert.Equal([0, 0, 1], Enumerable.Range(0, 3).Select(bar => plan.BarAt(bar).Ending));
        Assert.Equal([(0, 3), (1, 3), (2, 3)], Enumerable.Range(0, 3).Select(bar => (plan.BarAt(bar).GroupPlace.Index, plan.BarAt(bar).GroupPlace.Size)));
    }

    [Fact]
    public void Plan_AnEndingNamedInTheForm_IsTakenThereAndInTheTag()
    {
        var plan = new FormPlan(Read(Head.Replace("meter", "form = [\"verse ending 2 x2\", \"verse ending 1\"]\ntag = [\"verse ending 1\"]\nmeter", StringComparison.Ordinal) + Verse));

        Assert.Equal(
            ["verse Dm C A Dm: a one two three second end", "verse Dm C A Dm: b four five six second end", "verse Dm C G: a one two three to first", "verse Dm C G: b four five six to third"],
            Runs(plan, plan.Bars));
    }

    // The pickup of the ending stands in place of the rest before it: the third and fourth beats of the second bar, minus one.
    [Fact]
    public void Plan_ThePickupOfAnEnding_FillsTheRestBeforeIt()
    {
        var plan = new FormPlan(Read(Head.Replace("meter", "form = [\"verse x2\"]\nmeter", StringComparison.Ordinal) + Verse));
        var (first, second) = (plan.BarAt(0).Run.Section.Tune!, plan.BarAt(3).Run.Section.Tune!);

        Assert.Equal(
            [(Span.Of(-1, 4), "A4"), (Span.Zero, "D4"), (Span.Of(1, 2), "E4"), (Span.Of(1, 1), "F4"), (Span.Of(7, 4), "G4"), (Span.Of(2, 1), "G4")],
            first.Notes.Select(note => (note.Onset, note.Pitch.ToString())));
        Assert.Equal(
            [(Span.Of(-1, 4), "A4"), (Span.Zero, "D4"), (Span.Of(1, 2), "E4"), (Span.Of(1, 1), "F4"), (Span.Of(2, 1), "A4"), (Span.Of(3, 1), "D4")],
            second.Notes.Select(note => (note.Onset, note.Pitch.ToString())));
    }

    [Theory]
    [InlineData("verse up 2", "E dorian", "Em D F#m", 2)]
    [InlineData("verse up a tone", "E dorian", "Em D F#m", 2)]
    [InlineData("verse down 3", "B dorian", "Bm A C#m", -3)]
    [InlineData("verse up 1", "Eb dorian", "Ebm Db Fm", 1)]
    [InlineData("verse up a semitone", "Eb dorian", "Ebm Db Fm", 1)]
    public void Plan_ASectionUpOrDown_MovesChordsTuneLinesAndKeyInItsOwnSpelling(string step, string key, string chords, int halfSteps)
    {
        var chart = Read(Head.Replace("meter", $"form = [\"verse\", \"{step}\", \"verse\"]\nmeter", StringComparison.Ordinal) + """

            [[section]]
            name = "verse"
            chords = "| Dm | C | Em |"

            [section.tune]
            pickup = "A4:1"
            notes = "| D5:4 | C5:4 | E5:4 |"

            [[section.line]]
            name = "low"
            notes = "| D4:4 | C4:4 | E4:4 |"
            """);
        var plan = new FormPlan(chart);
        var (written, moved) = (plan.BarAt(0).Run, plan.BarAt(3).Run);

        Assert.Equal(key, moved.Key.ToString());
        Assert.Equal(chords, string.Join(' ', Enumerable.Range(3, 3).Select(bar => plan.BarAt(bar).Chords[0].Symbol.Text)));
        Assert.All(new[] { 0, 1 }, line => Assert.Equal(
            written.Section.Tune!.Voice(line)!.Notes.Select(note => (note.Onset, note.Pitch.Midi + halfSteps)),
            moved.Section.Tune!.Voice(line)!.Notes.Select(note => (note.Onset, note.Pitch.Midi))));
        Assert.Equal("D dorian", plan.BarAt(6).Run.Key.ToString());
        Assert.Equal([0, 1, 2], new[] { 0, 3, 6 }.Select(bar => plan.BarAt(bar).Run.Verse));
    }

    // Tempi in quarters a minute at each bar line. A ramp has constant tempi in half units: at a bar line it is half a step ahead.
    [Theory]
    [InlineData("\"to quarter = 60 over the last 2 bars\"", "120 120 118.125 88.125 60")]
    [InlineData("\"to quarter = 60 over the last 2 bars, then a tempo\"", "120 120 118.125 88.125 120")]
    [InlineData("\"to quarter = 60 over the last bar, then quarter = 90\"", "120 120 120 116.25 90")]
    [InlineData("\"to quarter = 240 over bars 2 to 3, then a tempo\"", "120 123.75 183.75 120 120")]
    [InlineData("[\"quarter = 100, then a tempo\", \"to quarter = 200 over bar 2\"]", "100 106.25 200 200 120")]
    [InlineData("[\"to quarter = 200 over bar 2, then a tempo\", \"to quarter = 60 over the last bar\"]", "120 125 120 116.25 60")]
    [InlineData("\"quarter = 60, then a tempo\"", "60 60 60 60 120")]
    public void Plan_ChangesOfTempoInASection_StandOverTheirBars(string tempo, string expected)
    {
        var plan = new FormPlan(Read(Head + $"\n[[section]]\nname = \"a\"\ntempo = {tempo}\nchords = \"| Dm | C | Dm | C |\"\n\n[[section]]\nname = \"b\"\nchords = \"| Dm |\"\n"));

        Assert.Equal(expected, string.Join(' ', Enumerable.Range(0, 5).Select(bar => Decimals.Of(plan.BarAt(bar).Tempo.PerMinute(Span.Of(1, 4))))));
    }

    [Theory]
    [InlineData("form = [\"verse up 13\"]", 5, "half steps")]
    [InlineData("form = [\"verse ending 3\"]", 5, "2 endings")]
    [InlineData("form = [\"verse ending 0\"]", 5, "number of an ending")]
    [InlineData("form = [\"vers up 2\"]", 5, "no section called 'vers'")]
    [InlineData("form = [\"verse up 12\"]\n[[part]]\nrole = \"tune\"\ninstrument = \"fiddle\"\noctaves = 1", 5, "leaves the range of the fiddle")]
    public void Read_AStepThatCannotBePlayed_IsToldInItsPlace(string form, int line, string says)
    {
        var text = Head + form + "\n" + Verse;

        var problem = Assert.Single(ChartReader.ReadText(text, "song.toml").Problems);

        Assert.Equal(line, problem.Line);
        Assert.Contains(says, problem.What, StringComparison.Ordinal);
    }

    // As vocal scores write it: a syllable, and a tie, held over into both endings.
    private const string Held = Head + """
        form = ["verse x2"]

        [[section]]
        name = "verse"
        chords = "| Dm | C |"

        [section.tune]
        notes = "| D4:2 E4 | F4:2 G4- |"
        words = ["one two | three gold-", "four five | six sea"]

        [[section.ending]]
        chords = "| G |"

        [section.ending.tune]
        notes = "| G4:2 F4 |"
        words = "_ _-en"

        [[section.ending]]
        chords = "| A | Dm |"

        [section.ending.tune]
        notes = "| A4:1 G4 F4:2 | D4:4 |"
        words = "_ _ on | *"

        """;

    [Fact]
    public void Plan_SyllableHeldOverIntoAnEnding_IsSungOnItsNotes()
    {
        // Without the tie, whose notes are one.
        var plan = new FormPlan(Read(Held.Replace("G4- |", "G4 |", StringComparison.Ordinal).Replace("_-en", "_", StringComparison.Ordinal).Replace("gold-", "gold", StringComparison.Ordinal)));
        var (first, second) = (plan.BarAt(0).Run.Section.Tune!, plan.BarAt(3).Run.Section.Tune!);

        Assert.Equal(["one 1", "two 1", "three 1", "gold 3", "", ""], first.Verses[0].Select(Sung));
        Assert.Equal(["four 1", "five 1", "six 1", "sea 3", "", "", "on 1", ""], second.Verses[1].Select(Sung));

        static string Sung(Syllable? syllable) => syllable is null ? string.Empty : $"{syllable.Text} {syllable.Notes}";
    }

    [Fact]
    public void Plan_WordThatGoesOnAfterAHeldSyllable_IsOneWord()
    {
        var text = Held.Replace("F4 |\"", "F4:1 E4 |\"", StringComparison.Ordinal);
        var tune = new FormPlan(Read(text.Replace("_ _-en", "_ _ en", StringComparison.Ordinal))).BarAt(0).Run.Section.Tune!;

        Assert.Equal([("gold", SyllablePlace.Begin, 2), ("en", SyllablePlace.End, 1)], tune.Verses[0].Skip(3).OfType<Syllable>().Select(one => (one.Text, one.Place, one.Notes)));
    }

    [Fact]
    public void Plan_TieIntoAnEnding_LastsWhereTheEndingBeginsWithTheSameNote()
    {
        var plan = new FormPlan(Read(Held.Replace("_ _-en", "_ en", StringComparison.Ordinal)));
        var (first, second) = (plan.BarAt(0).Run.Section.Tune!, plan.BarAt(3).Run.Section.Tune!);

        Assert.Equal(
            [(Span.Of(3, 2), Span.Of(1, 1), "G4"), (Span.Of(5, 2), Span.Of(1, 2), "F4")],
            first.Notes.Skip(3).Select(note => (note.Onset, note.Length, note.Pitch.ToString())));
        Assert.Equal(
            [(Span.Of(3, 2), Span.Of(1, 2), "G4"), (Span.Of(2, 1), Span.Of(1, 4), "A4")],
            second.Notes.Skip(3).Take(2).Select(note => (note.Onset, note.Length, note.Pitch.ToString())));
        Assert.Equal(("gold", "en"), (first.Verses[0][3]!.Text, first.Verses[0][4]!.Text));
    }

    [Theory]
    [InlineData("| G4:2 F4 |", "| E4:2 F4 |", 7, "the last note of the tune in the section 'verse' is tied to nothing", "begin an ending with the same note")]
    [InlineData("| G4:2 F4 |", "| (A4)G4:2 F4 |", 7, "the last note of the tune in the section 'verse' is tied to nothing", "begin an ending with the same note")]
    [InlineData("words = [\"one", "words = [\"_", 13, "no syllable before it", "write *")]
    [InlineData("\"_ _ on", "\"* _ on", 27, "no syllable before it", "write *")]
    public void Read_AHeldSyllableOrATieWithoutItsOtherEnd_IsTold(string old, string now, int line, string what, string accepted)
    {
        var read = ChartReader.ReadText(Held.Replace("_ _-en", "_ en", StringComparison.Ordinal).Replace(old, now, StringComparison.Ordinal), "song.toml");
        var problem = Assert.Single(read.Problems.Concat(read.Remarks));

        Assert.Equal(line, problem.Line);
        Assert.Contains(what, problem.What, StringComparison.Ordinal);
        Assert.Contains(accepted, problem.Accepted, StringComparison.Ordinal);
    }

    [Fact]
    public void Save_AChartWithASyllableAndATieHeldOver_KeepsBoth()
    {
        var text = Held.Replace("_ _-en", "_ en", StringComparison.Ordinal);
        var chart = Read(text);
        var again = ChartReader.ReadText(ChartWriter.Write(chart), "song.toml");
        var document = ChartDocument.FromText(text, "song.toml");
        var moved = ChartDifference.Write(document, chart, chart.Transposed(chart.Key.IntervalUp(2)));

        Assert.Empty(again.Problems);
        Assert.Equal(chart.Sections[0].Tune, again.Chart!.Sections[0].Tune);
        Assert.Equal(chart.Sections[0].Endings.Select(ending => ending.Tune), again.Chart.Sections[0].Endings.Select(ending => ending.Tune));
        Assert.False(moved.IsReformatted);
        Assert.Contains("\"| E4:2 F#4 | G4:2 A4- |\"", moved.Document.Text, StringComparison.Ordinal);
        Assert.Contains("\"| A4:2 G4 |\"\nwords = \"_ en\"", moved.Document.Text, StringComparison.Ordinal);
        Assert.Contains("words = \"_ _ on | *\"", moved.Document.Text, StringComparison.Ordinal);
    }

    private const string Lines = Head + """
        form = ["verse"]

        [[part]]
        role = "tune"
        instrument = "fiddle"

        [[part]]
        role = "tune"
        instrument = "cello"

        [[part]]
        role = "tune"
        instrument = "plucked bass"

        [[section]]
        name = "verse"
        chords = "| Dm |"

        [section.tune]
        notes = "| D5:4 |"

        [[section.line]]
        name = "low"
        notes = "| D3:4 |"

        [[section.line]]
        name = "lower"
        notes = "| F1:4 |"

        [[section.ending]]
        chords = "| Dm |"

        [section.ending.tune]
        notes = "| A5:4 |"

        [[section.ending.line]]
        name = "lower"
        notes = "| E1:4 |"

        """;

    // The fiddle has nothing below G3, the cello nothing above A4.
    [Fact]
    public void Read_LinesForThreeInstruments_AreCheckedForTheOneThatPlaysThem() => Assert.Empty(ChartReader.ReadText(Lines, "song.toml").Problems);

    [Theory]
    [InlineData("D3:4", "B1:4", 28, "B1 is outside the range of the cello that plays the line 'low' (C2 to A4)", "give 'cello' another instrument or octaves = 1 or -1")]
    [InlineData("E1:4", "D1:4", 42, "D1 is outside the range of the plucked bass that plays the line 'lower' (E1 to G3)", "give 'plucked bass' another instrument or octaves = 1 or -1")]
    [InlineData("A5:4", "C6:4", 38, "C6 is outside the range of the fiddle that plays the tune (G3 to B5)", "give the tune part another instrument or octaves = 1 or -1")]
    [InlineData("[\"verse\"]", "[\"verse down 3\"]", 5, "'verse' down 3 leaves the range of the plucked bass that plays the line 'lower'", "give 'plucked bass' another instrument or octaves = 1 or -1")]
    public void Read_ALineOutOfReach_IsToldWithItsNameAndItsPart(string old, string now, int line, string what, string accepted)
    {
        var problem = Assert.Single(ChartReader.ReadText(Lines.Replace(old, now, StringComparison.Ordinal), "song.toml").Problems);

        Assert.Equal((line, what), (problem.Line, problem.What));
        Assert.Contains(accepted, problem.Accepted, StringComparison.Ordinal);
    }

    // Once a bug: the lines of the section were unknown, so that the ending was checked for all instruments.
    [Theory]
    [InlineData("D5:4", "D5:q", 24)]
    [InlineData("D3:4", "D3:q", 28)]
    [InlineData("F1:4", "F1:q", 32)]
    [InlineData("name = \"low\"", "name = 7", 27)]
    public void Read_ABrokenLine_IsTheOnlyProblem(string old, string now, int line)
    {
        var text = Lines.Replace(old, now, StringComparison.Ordinal);
        var problem = Assert.Single(ChartReader.ReadText(text, "song.toml").Problems);

        Assert.True(line == problem.Line, problem.ToString());
    }

    [Theory]
    [InlineData("up 3 in verse", "the tune of verse would leave the range of the fiddle")]
    [InlineData("up -2 in verse", "the line 'lower' of verse would leave the range of the plucked bass")]
    [InlineData("instrument cello concertina", "")]
    [InlineData("instrument fiddle plucked bass", "")]
    [InlineData("remove cello", "")]
    public void Do_AChangeThatALineCannotFollow_IsRefusedWithItsName(string words, string says)
    {
        var history = new PerformanceHistory(PerformanceState.Opening(Read(Lines), InstrumentFile.BuiltIn));
        if (says.Length == 0)
        {
            history.Do(words, new PerformancePlace(0, 0, 1));
        }
        else
        {
            Assert.Contains(says, Assert.Throws<ChangeRefusedException>(() => history.Do(words, new PerformancePlace(0, 0, 1))).Message, StringComparison.Ordinal);
        }
    }

    // By hand: two groups of 7/8 and 5/8, each 12 eighths. 240 eighths a minute are 20 groups a minute, in the seven and in the five; 24 groups are
    // 288 eighths, and one group more than 20 is 252 eighths. Four such bars are 24 eighths; a loop of the first three, 19.
    [Theory]
    [InlineData(2, "", "in two-bar groups, two bars = 20", "240")]
    [InlineData(2, "tempo bar-group = 24", "in two-bar groups, two bars = 24", "288")]
    [InlineData(2, "tempo 24", "in two-bar groups, two bars = 24", "288")]
    [InlineData(2, "tempo by 1", "in two-bar groups, two bars = 21", "252")]
    [InlineData(4, "", "in four-bar groups, four bars = 10", "240")]
    [InlineData(4, "loop 1 3", "in three-bar groups, three bars = 12.6", "240")]
    public void Tempo_FeltInGroupsOfUnequalBars_CountsWholeGroups(int group, string words, string felt, string eighths)
    {
        var chart = Read($"format = 2\nkey = \"D dorian\"\ntempo = \"bar group = {40 / group}\"\nmeter = [\"7/8 2+2+3\", \"5/8 3+2\"]\nbar-groups = {group}\nfeel = \"bar-group\"\n\n" + "[[section]]\nname = \"a\"\nchords = \"| Dm | C | Dm | C |\"\n");
        var history = new PerformanceHistory(PerformanceState.Opening(chart, InstrumentFile.BuiltIn));
        if (words.Length > 0)
        {
            history.Do(words, new PerformancePlace(1, 1, 2));
        }

        foreach (var bar in new[] { 0, 1, 2 })
        {
            var place = new PerformancePlace(bar, bar, bar + 1);
            var here = history.State.BarAt(place);
            var tempo = history.State.TempoIn(here, bar);

            var reading = FeltTempo.Of(here.Felt, here.Meter, tempo, here.GroupPlace);
            var taps = Enumerable.Range(0, 5).Select(tap => tap * 60 / reading.PerMinute.ToDouble()).ToList();

            Assert.Equal(felt, reading.ToString());
            Assert.Equal(60, LevelFit.Of(here.Meter, tempo, here.GroupPlace)[^1].Seconds * reading.PerMinute.ToDouble(), 6);
            Assert.Equal(FeltLevel.BarGroup, TapTempo.Hear(taps, here.Meter, here.GroupPlace, tempo)!.Value.Level);
            Assert.Equal(tempo.WholesPerMinute.ToDouble(), TapTempo.Hear(taps, here.Meter, here.GroupPlace, tempo)!.Value.WholesPerMinute, 6);
            Assert.Equal(eighths, Decimals.Of(tempo.PerMinute(Span.Of(1, 8))));
        }
    }

    [Theory]
    [InlineData("pickup = \"G4:1\"\nnotes = \"| G4:4", "pickup = \"G4:3\"\nnotes = \"| G4:4", "needs a rest")]
    [InlineData("chords = \"| G |\"", "chords = \"| G | G |\"", "bars")]
    [InlineData("[[section.ending]]\nchords = \"| G |\"", "[[section.ending]]", "no chords")]
    [InlineData("chords = \"| G |\"", "chords = \"| G |\"\nkey = \"G\"", "not a key of an ending")]
    [InlineData("name = \"verse\"", "name = \"verse\"\ntempo = [\"to quarter = 90 over bar 2\", \"to quarter = 80 over bars 2 to 3\"]", "overlap")]
    [InlineData("name = \"verse\"", "name = \"verse\"\ntempo = \"to quarter = 90 over bars 3 to 4\"", "the section has 3")]
    [InlineData("name = \"verse\"", "name = \"verse\"\ntempo = \"to quarter = 90 over bars 3 to 2\"", "bars in order")]
    [InlineData("name = \"verse\"", "name = \"verse\"\ntempo = [\"quarter = 90\", \"quarter = 80\"]", "two tempi")]
    public void Read_AnEndingOrATempoThatCannotBePlayed_IsTold(string old, string now, string says)
    {
        var text = Head + Verse.Replace(old, now, StringComparison.Ordinal);

        Assert.Contains(ChartReader.ReadText(text, "song.toml").Problems, problem => problem.What.Contains(says, StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("form = [\"verse up 2\"]", "")]
    [InlineData("", "tempo = \"to quarter = 90 over the last 2 bars\"\n")]
    [InlineData("", "tempo = \"quarter = 90, then a tempo\"\n")]
    [InlineData("", "tempo = [\"quarter = 90\"]\n")]
    public void Read_InFormat1_SaysThatItBelongsToFormat2(string form, string tempo)
    {
        var text = Head.Replace("format = 2", "format = 1", StringComparison.Ordinal) + form + $"\n[[section]]\nname = \"verse\"\n{tempo}chords = \"| Dm | C |\"\n";

        Assert.Contains("format 2", Assert.Single(ChartReader.ReadText(text, "song.toml").Problems).What, StringComparison.Ordinal);
        Assert.Contains("endings belong to format 2", string.Concat(ChartReader.ReadText(Head.Replace("format = 2", "format = 1", StringComparison.Ordinal) + Verse, "s").Problems), StringComparison.Ordinal);
    }
}
