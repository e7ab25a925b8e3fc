using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Exchange.Tests.Charts.ChartTexts;

namespace GrooveLab.Exchange.Tests.Charts;

public sealed class ChartReaderTests
{
    [Fact]
    public void ReadText_SmallestChart_HasTheHouseBandAndOneSection()
    {
        var chart = Chart(WithSection("chords = \"| Dm | C |\""));

        Assert.Equal("Test", chart.Title);
        Assert.Equal("D dorian", chart.Key.ToString());
        Assert.Equal(new TempoMark(TempoLevel.Note, Span.Of(1, 8), 260), chart.Tempo);
        Assert.Equal(Enum.GetValues<Role>(), chart.Parts.Select(part => part.Role));
        Assert.Equal("A", chart.Sections.Single().Name);
        Assert.Equal([new FormStep(0, 1)], chart.Form);
        Assert.Equal(new BarGroups(4), chart.Sections[0].BarGroups);
        Assert.True(chart.Ending);
        Assert.Null(chart.EndingChord);
    }

    [Theory]
    [InlineData("eighth = 300", TempoLevel.Note, "1/8", "300")]
    [InlineData("dotted quarter=96", TempoLevel.Note, "3/8", "96")]
    [InlineData("dotted-quarter = 96 bpm", TempoLevel.Note, "3/8", "96")]
    [InlineData("♪ = 300", TempoLevel.Note, "1/8", "300")]
    [InlineData("♩. = 96", TempoLevel.Note, "3/8", "96")]
    [InlineData("1/12 = 300", TempoLevel.Note, "1/12", "300")]
    [InlineData("Bar = 57.5", TempoLevel.Bar, "0", "115/2")]
    [InlineData("bar group = 14", TempoLevel.BarGroup, "0", "14")]
    [InlineData("bar-group = 14", TempoLevel.BarGroup, "0", "14")]
    [InlineData("unit = 200", TempoLevel.Unit, "0", "200")]
    public void ReadText_Tempo_SaysOfWhat(string tempo, TempoLevel level, string note, string perMinute)
    {
        var chart = Chart(WithSection("chords = \"Dm\"").Replace("eighth = 260", tempo, StringComparison.Ordinal));

        Assert.Equal(level, chart.Tempo.Level);
        Assert.Equal(note, chart.Tempo.Note.ToString());
        Assert.Equal(perMinute, chart.Tempo.PerMinute.ToString());
    }

    [Theory]
    [InlineData("eighth = 240", "eighth = 240", null, null)]
    [InlineData("to eighth = 320", null, "eighth = 320", null)]
    [InlineData("eighth = 240 to 320", "eighth = 240", "eighth = 320", null)]
    [InlineData("eighth = 240 to bar = 60 over 2 bars", "eighth = 240", "bar = 60", 2)]
    [InlineData("to bar = 60 over 1 bar", null, "bar = 60", 1)]
    public void ReadText_SectionTempo_ChangesOrRamps(string tempo, string? from, string? to, int? over)
    {
        var change = Section($"chords = \"| Dm | C |\"\ntempo = \"{tempo}\"").Tempo;

        Assert.Equal(from, change?.From?.ToString());
        Assert.Equal(to, change?.To?.ToString());
        Assert.Equal(over, change?.OverBars);
    }

    [Fact]
    public void ReadText_Join_SaysWhatIsEqual()
    {
        Assert.Equal(new TempoJoin(false, Span.Of(1, 8), Span.Of(1, 4)), Section("chords = \"Dm\"\njoin = \"eighth = quarter\"").Join);
        Assert.Equal(new TempoJoin(false, Span.Of(3, 8), Span.Of(1, 4)), Section("chords = \"Dm\"\njoin = \"3/8 = quarter\"").Join);
        Assert.True(Section("chords = \"Dm\"\njoin = \"bar = bar\"").Join?.BarsEqual);
    }

    [Theory]
    [InlineData("5/8 3+2", "5/8 3+2")]
    [InlineData("5/8", "5/8 none")]
    [InlineData("5/8   none", "5/8 none")]
    [InlineData("4/4", "4/4 2+2")]
    [InlineData("9/8 (2+2)+(2+3)", "9/8 (2+2)+(2+3)")]
    [InlineData("7/12 2 + 2 + 3", "7/12 2+2+3")]
    public void ReadText_Meter_WithAndWithoutGrouping(string written, string read)
    {
        var chart = Chart(WithSection("chords = \"Dm\"").Replace("5/8 3+2", written, StringComparison.Ordinal));

        Assert.Equal(read, chart.Sections[0].Bars[0].Meter.ToString());
    }

    [Fact]
    public void ReadText_GroupingApart_GroupsTheMeter()
    {
        var chart = Chart(WithSection("chords = \"Dm\"").Replace("meter = \"5/8 3+2\"", "meter = \"13/16\"\ngrouping = \"3+3+2+3+2\"", StringComparison.Ordinal));

        Assert.Equal("13/16 3+3+2+3+2", chart.Sections[0].Bars[0].Meter.ToString());
    }

    [Fact]
    public void ReadText_SectionGrouping_TurnsTheChartsMeterRound() =>
        Assert.Equal("5/8 2+3", Section("grouping = \"2+3\"\nchords = \"Dm\"").Bars[0].Meter.ToString());

    [Fact]
    public void ReadText_SectionMeterWithoutGrouping_TakesTheOneSaidBefore()
    {
        Assert.Equal("5/8 3+2", Section("meter = \"5/8\"\nchords = \"Dm\"").Bars[0].Meter.ToString());
        Assert.Equal("5/8 none", Section("meter = \"5/8 none\"\nchords = \"Dm\"").Bars[0].Meter.ToString());
        Assert.Equal("7/8 none", Section("meter = \"7/8\"\nchords = \"Dm\"").Bars[0].Meter.ToString());
    }

    [Fact]
    public void ReadText_MetersInAList_GoRoundAndWaitForAnInsertedBar()
    {
        var bars = Section("meter = [\"5/8 3+2\", \"7/8 2+2+3\"]\nchords = \"| Dm | C | Dm | [2/4] G | C | [5/8] Dm |\"").Bars;

        Assert.Equal(["5/8 3+2", "7/8 2+2+3", "5/8 3+2", "2/4 none", "7/8 2+2+3", "5/8 3+2"], bars.Select(bar => bar.Meter.ToString()));
        Assert.Equal([false, false, false, true, false, false], bars.Select(bar => bar.Inserted));
    }

    [Theory]
    [InlineData("chords = \"| Dm | G | [1/8] C |\"")]
    [InlineData("chords = \"| Dm |\"\n[[section.ending]]\nchords = \"| G | [1/8] C |\"")]
    public void ReadText_TempoOfABarGroupThatEndsInAnInsertedBar_IsThatOfTheWholeGroup(string bars)
    {
        var text = WithSection($"bar-groups = 2\ntempo = \"eighth = 200, then bar group = 1\"\n{bars}").Replace("format = 1", "format = 2", StringComparison.Ordinal);

        var plan = new FormPlan(Chart(text));

        // Two bars of five eighths and one eighth.
        Assert.Equal(new Rational(11, 8), plan.TempoAfter(plan.Runs.Single()).WholesPerMinute);
    }

    [Fact]
    public void ReadText_TempoOfABarGroupThatEndsInAnInsertedBar_TellsOnlyAnUnreadableChord()
    {
        var problem = Assert.Single(Problems(WithSection("bar-groups = 2\ntempo = \"eighth = 200, then bar group = 1\"\nchords = \"| Dm | Gq | [1/8] C |\"").Replace("format = 1", "format = 2", StringComparison.Ordinal)));

        Assert.Contains("Gq", problem.ToString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Dm", "Dm:5/8")]
    [InlineData("Dm C", "Dm:3/8 C:1/4")]
    [InlineData("Dm / / / C", "Dm:1/2 C:1/8")]
    [InlineData("Dm / / C/E /", "Dm:3/8 C/E:1/4")]
    [InlineData("Dm // / C", "Dm:1/2 C:1/8")]
    [InlineData("N.C.", "N.C.:5/8")]
    [InlineData("Dm /", "Dm:5/8")]
    [InlineData("C7(b9, #11) Dm", "C7(b9, #11):3/8 Dm:1/4")]
    public void ReadText_ChordBar_TakesOneOfThreeWays(string bar, string read)
    {
        var chords = Section($"chords = \"| {bar} |\"").Bars[0].Chords;

        Assert.Equal(read, string.Join(' ', chords.Select(chord => $"{chord.Symbol.Text}:{chord.Length}")));
        Assert.Equal(Span.Zero, chords[0].Onset);
    }

    [Theory]
    [InlineData("Am F", "7/8 3/8")]
    [InlineData("Am F C G", "1/4 1/4 3/8 3/8")]
    public void ReadText_NestedGroups_TakeOuterOrInnerChords(string bar, string lengths)
    {
        var chords = Section($"meter = \"10/8 ((2+2)+3)+3\"\nchords = \"| {bar} |\"").Bars[0].Chords;

        Assert.Equal(lengths, string.Join(' ', chords.Select(chord => chord.Length)));
    }

    [Fact]
    public void ReadText_ChordLines_BreaksAndOuterBarLinesMakeNoDifference()
    {
        var one = Section("chords = \"| Dm | C | F G | % |\"").Bars;
        var lines = Section("chords = \"\"\"\n  | Dm | C |\n  | F G | % |\n\"\"\"").Bars;
        var bare = Section("chords = '''\nDm | C\nF G | %\n'''").Bars;
        var listed = Section("chords = [\"| Dm | C |\", \"| F G | % |\"]").Bars;

        static string Told(IReadOnlyList<ChartBar> bars) =>
            string.Join('|', bars.Select(bar => string.Join(' ', bar.Chords.Select(chord => $"{chord.Symbol}:{chord.Length}"))));
        Assert.Equal("Dm:5/8|C:5/8|F:3/8 G:1/4|F:3/8 G:1/4", Told(one));
        Assert.Equal(Told(one), Told(lines));
        Assert.Equal(Told(one), Told(bare));
        Assert.Equal(Told(one), Told(listed));
    }

    [Fact]
    public void ReadText_SlashAtABarsBeginning_GoesOnWithTheChordBefore() =>
        Assert.Equal(["Dm", "C"], Section("chords = \"| Dm | / / / C / |\"").Bars[1].Chords.Select(chord => chord.Symbol.Text));

    [Fact]
    public void ReadText_Bars_LetsTheChordsGoRound() =>
        Assert.Equal(
            ["Dm", "C", "G", "Dm", "C", "G", "Dm"],
            Section("chords = \"| Dm | C | G |\"\nbars = 7").Bars.Select(bar => bar.Chords[0].Symbol.Text));

    [Theory]
    [InlineData("3", "3")]
    [InlineData("[4, 4, 2]", "4+4+2")]
    [InlineData("\"4+4+2\"", "4+4+2")]
    public void ReadText_BarGroups_AreANumberOrAPattern(string written, string read) =>
        Assert.Equal(read, Section($"chords = \"Dm\"\nbar-groups = {written}").BarGroups.ToString());

    [Fact]
    public void ReadText_Form_NamesSectionsAndHowOften()
    {
        var sections = "[[section]]\nname = \"first verse\"\nchords = \"Dm\"\n[[section]]\nname = \"B\"\nrepeat = 2\nchords = \"C\"\n";
        var form = Chart(Top + "form = [\"First Verse x3\", \"b\", \"B x2\"]\n" + sections).Form;
        var all = Chart(Top + sections).Form;

        Assert.Equal([new FormStep(0, 3), new FormStep(1, 2), new FormStep(1, 4)], form);
        Assert.Equal([new FormStep(0, 1), new FormStep(1, 2)], all);
    }

    [Fact]
    public void ReadText_Top_SaysSwingDroneAndWhatItTrains()
    {
        var chart = Chart(Top + "swing = \"2:1\"\ndrone = 8\ntrains = \" Long and short. \"\nlearner-tempo = \"bar = 40\"\n[[section]]\nchords = \"Dm\"\n");
        var half = Chart(Top + "swing = 1.5\n[[section]]\nchords = \"Dm\"\n");
        var plain = Chart(Top + "[[section]]\nchords = \"Dm\"\n");

        Assert.Equal(new Rational(2, 1), chart.Swing);
        Assert.Equal(new Rational(3, 2), half.Swing);
        Assert.Equal(8, chart.DroneSeconds);
        Assert.Equal("Long and short.", chart.Trains);
        Assert.Equal(new TempoMark(TempoLevel.Bar, Span.Zero, 40), chart.LearnerTempo);
        Assert.Equal((Rational.One, 0, null, null), (plain.Swing, plain.DroneSeconds, plain.Trains, plain.LearnerTempo));
    }

    [Fact]
    public void ReadText_Section_SaysWhoPlaysAndHow()
    {
        var band = "[[part]]\nname = \"bass\"\nrole = \"pulse\"\n[[part]]\nrole = \"bass\"\n[[part]]\nrole = \"sustain\"\n[[part]]\nrole = \"sustain\"\ninstrument = \"fiddle\"\n";
        var sections = Chart(Top + band + string.Concat(
            "[[section]]\nplay = [\"Sustain\", \"bass\"]\nvamp = true\nchords = \"Dm\"\n",
            "[[section]]\nplay = \"plucked bass\"\nstop-time = true\nchords = \"Dm\"\n",
            "[[section]]\nplay = []\nchords = \"Dm\"\n",
            "[[section]]\nchords = \"Dm\"\n")).Sections;

        Assert.Equal([0, 2, 3], sections[0].Playing);
        Assert.Equal([1], sections[1].Playing);
        Assert.Equal([], sections[2].Playing);
        Assert.Null(sections[3].Playing);
        Assert.Equal([true, false, false, false], sections.Select(section => section.Vamp));
        Assert.Equal([false, true, false, false], sections.Select(section => section.StopTime));
    }

    [Fact]
    public void ReadText_BreakHoldTag_AreRead()
    {
        var chart = Chart(Top + "tag = \"b x2\"\n" + string.Concat(
            "[[part]]\nrole = \"tune\"\nconsonants = true\nlaid-back = \"unit\"\n",
            "[[section]]\nname = \"a\"\nbreak = 2\nchords = \"| Dm | C | Dm |\"\n",
            "[[section]]\nname = \"b\"\nhold = 4\nchords = \"Dm\"\n"));

        Assert.Equal([new FormStep(0, 1), new FormStep(1, 1)], chart.Form);
        Assert.Equal([new FormStep(1, 2)], chart.Tag);
        Assert.Equal([(2, 0), (0, 4)], chart.Sections.Select(section => (section.BreakBars, section.HoldSeconds)));
        Assert.Equal(new TuneSettings { Consonants = true, LaidBack = LayBack.Unit }, chart.Parts[0].Settings);
    }

    [Fact]
    public void ReadText_Top_SaysEverythingElse()
    {
        var chart = Chart(Top + "counted = \"groups\"\nfeel = \"bar-group\"\nlooseness = 0.5\nseed = 7\ntimes = 3\nending = \"Dm6\"\n[[section]]\nchords = \"Dm\"\n");

        Assert.Equal(Counted.Groups, chart.Counted);
        Assert.Equal(FeltLevel.BarGroup, chart.Feel);
        Assert.Equal(0.5, chart.Looseness);
        Assert.Equal(7UL, chart.Seed);
        Assert.Equal(3, chart.Times);
        Assert.Equal("Dm6", chart.EndingChord?.Text);
        Assert.False(Chart(Top + "ending = false\n[[section]]\nchords = \"Dm\"\n").Ending);
    }

    [Fact]
    public void ReadText_Parts_TakeTheirSettings()
    {
        var parts = Chart(Top + """
            [[part]]
            role = "pulse"
            instrument = "Guitar"
            register = ["E2", "E4"]
            level = -4.5
            pan = -40
            strokes = "heavy"
            damped = false
            voices = 4
            share = "starts"
            strum-ms = 0
            [[part]]
            role = "pulse"
            instrument = "guitar"
            [[part]]
            name = "drone"
            role = "sustain"
            laid-back = "unit"
            voices = 1
            [[part]]
            role = "count"
            on = "bars"
            [[section]]
            chords = "Dm"
            """).Parts;

        Assert.Equal(["guitar", "guitar 2", "drone", "clicks"], parts.Select(part => part.Name));
        Assert.Equal(
            new PulseSettings { Strokes = StrokeOrder.Heavy, Damped = false, Voices = 4, Share = PulseShare.Starts, StrumMs = 0 }, parts[0].Settings);
        Assert.Equal((40, 64, -4.5, -40), (parts[0].Lowest, parts[0].Highest, parts[0].LevelDecibels, parts[0].Pan));
        Assert.Equal(new PulseSettings(), parts[1].Settings);
        Assert.Equal(new SustainSettings { LaidBack = LayBack.Unit, Voices = 1 }, parts[2].Settings);
        Assert.Equal("cello", parts[2].Instrument.Name);
        Assert.Equal(new CountSettings { On = CountOn.Bars }, parts[3].Settings);
    }

    [Theory]
    [InlineData("D4:3 E4:2", "0 D4 3/8 | 3/8 E4 1/4")]
    [InlineData("D4:3/8 E4:1/4", "0 D4 3/8 | 3/8 E4 1/4")]
    [InlineData("D4:1/4. E4:1/4", "0 D4 3/8 | 3/8 E4 1/4")]
    [InlineData("D4:1.5 E4 F4:2", "0 D4 3/16 | 3/16 E4 3/16 | 3/8 F4 1/4")]
    [InlineData("D4 E4 F4 G4 A4", "0 D4 1/8 | 1/8 E4 1/8 | 1/4 F4 1/8 | 3/8 G4 1/8 | 1/2 A4 1/8")]
    [InlineData("r:3 E4:2", "3/8 E4 1/4")]
    [InlineData("D4:3~ D4:2", "0 D4 5/8")]
    [InlineData("{3:2 D4:1/8 E4 F4} G4:3", "0 D4 1/12 | 1/12 E4 1/12 | 1/6 F4 1/12 | 1/4 G4 3/8")]
    [InlineData("{3:2 D4:1/8 E4 F4} G4 A4 B4", "0 D4 1/12 | 1/12 E4 1/12 | 1/6 F4 1/12 | 1/4 G4 1/8 | 3/8 A4 1/8 | 1/2 B4 1/8")]
    [InlineData("(F#4)G4:5", "0 F#4>G4 5/8")]
    [InlineData("(E4 F♯4) G4:5", "0 E4>F#4>G4 5/8")]
    [InlineData("bb4:3 B♭4:2", "0 Bb4 3/8 | 3/8 Bb4 1/4")]
    [InlineData("r", "")]
    public void ReadText_TuneBar_HasExactNotes(string bar, string read)
    {
        var notes = Tune(1, $"notes = \"| {bar} |\"").Notes;

        Assert.Equal(read, string.Join(" | ", notes.Select(note => $"{note.Onset} {string.Concat(note.Graces.Select(grace => grace + ">"))}{note.Pitch} {note.Length}")));
    }

    [Fact]
    public void ReadText_TuneOverBarLines_TiesAndRepeats()
    {
        var notes = Tune(3, "pickup = \"A3:1/16 B3~\"\nnotes = \"\"\"\n| B3:1 D4:4~ | D4:2 E4:3\n| % |\n\"\"\"".Replace("| B3", "B3", StringComparison.Ordinal)
            .Replace("| % |", "D4:2 E4:3", StringComparison.Ordinal)).Notes;

        Assert.Equal(["-1/8 1/16", "-1/16 3/16", "1/8 3/4", "7/8 3/8", "5/4 1/4", "3/2 3/8"], notes.Select(note => $"{note.Onset} {note.Length}"));
    }

    [Fact]
    public void ReadText_RepeatedTuneBar_SoundsAgain() =>
        Assert.Equal(
            ["0 D4", "3/8 E4", "5/8 D4", "1 E4"],
            Tune(2, "notes = \"| D4:3 E4:2 | % |\"").Notes.Select(note => $"{note.Onset} {note.Pitch}"));

    [Fact]
    public void ReadText_UnitsInAlternatingMeters_AreThoseOfTheirBar()
    {
        var chart = Chart(WithSection("meter = [\"5/8 3+2\", \"5/4\"]\nchords = \"| Dm | C |\"\n[section.tune]\nnotes = \"| D4:5 | E4:5 |\""));

        Assert.Equal(["5/8", "5/4"], chart.Sections[0].Tune!.Notes.Select(note => note.Length.ToString()));
    }

    [Fact]
    public void ReadText_Words_GoToTheirNotes()
    {
        var verse = Tune(2, "pickup = \"A3\"\nnotes = \"| D4:1 E4 F4 G4 A4 | D4:2 E4 F4:1 |\"\nwords = \"The | lan-ter-ns_ * | row~the wa_-\"").Verses.Single();

        Assert.Equal(
            [
                new Syllable("The", SyllablePlace.Single, 1),
                new Syllable("lan", SyllablePlace.Begin, 1),
                new Syllable("ter", SyllablePlace.Middle, 1),
                new Syllable("ns", SyllablePlace.End, 2),
                null,
                null,
                new Syllable("row the", SyllablePlace.Single, 1),
                new Syllable("wa", SyllablePlace.Begin, 2),
                null,
            ],
            verse);
    }

    [Theory]
    [InlineData("a b | c | d | e")]
    [InlineData("| a b | c | | d | e |")]
    [InlineData("a b | c | d |\\n| e ||")]
    [InlineData("a b | c")]
    [InlineData("a b c d e")]
    public void ReadText_BarLinesInWords_StandForTheTunes(string words)
    {
        // The tune: two notes, one, a rest, one that is tied over, and one more after the tie.
        var notes = "\"| D4:3 E4:2 | F4:5 | r | G4:5~ | G4:2 A4:3 |\"";
        var verse = Tune(5, $"notes = {notes}\nwords = [\"{words}\"]").Verses.Single();

        Assert.StartsWith("abc", string.Concat(verse.Select(syllable => syllable?.Text)), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("lan - terns")]
    [InlineData("lan- terns")]
    [InlineData("lan -terns")]
    [InlineData("lan -- terns")]
    public void ReadText_HyphensInAnyPlace_JoinSyllables(string words)
    {
        var verse = Tune(1, $"notes = \"| D4:3 E4:2 |\"\nwords = [\"{words}\"]").Verses.Single();

        Assert.Equal([new Syllable("lan", SyllablePlace.Begin, 1), new Syllable("terns", SyllablePlace.End, 1)], verse);
    }

    [Fact]
    public void ReadText_FewerSyllablesThanNotes_LeavesTheRestWithout() =>
        Assert.Equal(["la", null], Tune(1, "notes = \"| D4:3 E4:2 |\"\nwords = [\"la\"]").Verses.Single().Select(syllable => syllable?.Text));

    [Fact]
    public void ReadText_TuneInBracesOrWithDots_IsTheSame()
    {
        var braces = Section("chords = \"Dm\"\ntune = { notes = \"D4:5\", words = \"la\" }").Tune!;
        var dots = Section("chords = \"Dm\"\ntune.notes = \"D4:5\"\ntune.words = \"la\"").Tune!;

        Assert.Equal(braces.Notes.Single().Length, dots.Notes.Single().Length);
        Assert.Equal(braces.Verses.Single(), dots.Verses.Single());
    }

    [Fact]
    public void ReadBytes_ByteOrderMarkAndWindowsLines_MakeNoDifference()
    {
        var text = DemoChart.Text.Replace("\n", "\r\n", StringComparison.Ordinal);
        var result = ChartReader.ReadBytes([0xEF, 0xBB, 0xBF, .. System.Text.Encoding.UTF8.GetBytes(text)], "demo");

        Assert.True(result.IsChart, string.Join('\n', result.Problems));
        Assert.Equal(ChartWriter.Write(Chart(DemoChart.Text)), ChartWriter.Write(result.Chart));
    }
}
