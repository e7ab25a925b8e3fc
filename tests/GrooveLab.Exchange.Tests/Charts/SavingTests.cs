using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Former bugs in saving a chart, and what saving must never do.</summary>
public sealed class SavingTests
{
    private const string Text = """"
        # The song.
        format = 1
        title = "Slack"
        key = "D major"
        tempo = "eighth = 260"   # brisk
        meter = "4/4"

        [[section]]
        name = "verse"   # sung
        chords = """
        | D | G  | [2/4] A | D |
        | D | Bm | A       | D |
        """

        [section.tune]   # from an old book
        # The pickup is mine.
        notes = """
        | D4:1 E4 F#4 G4 | {3:2 A4:1/8 B4 A4} G4:1 F#4:1.5 E4:0.5 | A4:1 E4 | D4:4    |
        | D4:4           | r                                      | A4:4    | E4:2 D4 |
        """
        words = [
          """
          | One and two, my | three-sail-ed boat at _ | an-chor | rides, |
          | now,            |                           we        | go home. |
          """,   # verse one
        ]

        """";

    [Fact]
    public void Write_AnotherKeyWithAnInsertedBar_KeepsLayoutAndRemarks()
    {
        var written = Saved(chart => chart.Transposed(chart.Key.IntervalUp(2)));

        Assert.False(written.IsReformatted);
        Assert.Empty(written.Reasons);
        Assert.Equal(
            Text.Replace("D major", "E major", StringComparison.Ordinal)
                .Replace("| D | G  | [2/4] A | D |", "| E | A   | [2/4] B | E |", StringComparison.Ordinal)
                .Replace("| D | Bm | A       | D |", "| E | C#m | B       | E |", StringComparison.Ordinal)
                .Replace(
                    "| D4:1 E4 F#4 G4 | {3:2 A4:1/8 B4 A4} G4:1 F#4:1.5 E4:0.5 | A4:1 E4 | D4:4    |",
                    "| E4:1 F#4 G#4 A4 | {3:2 B4:1/8 C#5 B4} A4:1 G#4:1.5 F#4:0.5 | B4:1 F#4 | E4:4     |",
                    StringComparison.Ordinal)
                .Replace(
                    "| D4:4           | r                                      | A4:4    | E4:2 D4 |",
                    "| E4:4            | r                                        | B4:4     | F#4:2 E4 |",
                    StringComparison.Ordinal),
            written.Document.Text);
    }

    [Fact]
    public void Write_AnotherTune_KeepsTheRemarksUnderItsHeader()
    {
        var written = Saved(chart => WithPitch(chart, 3, "A4"));

        Assert.Contains("[section.tune]   # from an old book\n# The pickup is mine.\nnotes", written.Document.Text, StringComparison.Ordinal);
        Assert.Contains("\"\"\",   # verse one\n", written.Document.Text, StringComparison.Ordinal);
        Assert.Empty(written.Reasons);
    }

    [Fact]
    public void Write_AnotherTuneOfTheSameWords_LeavesTheirLineBreaksAlone()
    {
        var written = Saved(chart => WithPitch(chart, 0, "F#4"));

        Assert.Equal(Words(Text), Words(written.Document.Text));
    }

    [Fact]
    public void Write_AnotherNoteBesideATriplet_LeavesTheTripletATriplet()
    {
        // The quarter after the triplet becomes two eighths; the other notes of the bar stay as written.
        var written = Saved(chart => WithTune(chart, tune => TuneChanges.WithEvent(tune, 0, 7, one =>
        {
            var eighth = new WrittenValue(NoteBase.Eighth);
            return [one.WithValue(eighth) with { Lyrics = [] }, new NotesEvent(one.Notes, eighth)];
        })));

        Assert.Contains("| {3:2 A4:1/8 B4 A4} G4:0.5 G4 F#4:1.5 E4:0.5 |", written.Document.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Write_ATripletInThePlaceOfANote_IsWrittenAsATriplet()
    {
        var written = Saved(chart => WithTune(chart, tune => TuneChanges.WithEvent(tune, 0, 0, one =>
        {
            var third = new WrittenValue(new NoteUnit(NoteBase.Eighth), new Tuplet(99, 3, 2));
            return [one.WithValue(third), new NotesEvent(one.Notes, third), new NotesEvent(one.Notes, third)];
        })));

        Assert.Contains("| {3:2 D4:1/8 D4 D4} E4:1 F#4 G4 |", written.Document.Text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("eighth = 260", "5980/63", "eighth = 94.92")]
    [InlineData("quaver = 260 bpm", "5980/63", "quaver = 94.92 bpm")]
    [InlineData("eighth=260", "270", "eighth=270")]
    [InlineData("♪ = 260", "2717/10", "♪ = 271.7")]
    [InlineData("eighth = 260", "1039/4", "eighth = 259.75")]
    [InlineData("bar group = 14.5", "43/3", "bar group = 14.33")]
    [InlineData("bar = 32.5", "100/3", "bar = 33.33")]
    [InlineData("eighth = 260", "13143/100", "eighth = 131.43")]
    [InlineData("eighth = 260", "26002/100", "eighth = 260.02")]
    public void Write_AnotherTempo_KeepsWhatItIsSaidOfAndGetsAMusiciansNumber(string was, string perMinute, string expected)
    {
        Assert.True(Rational.TryParse(perMinute, out var number));
        var text = Text.Replace("eighth = 260", was, StringComparison.Ordinal);
        var written = Saved(text, chart => chart with { Tempo = chart.Tempo with { PerMinute = number } });

        // The remark stays in its column as long as there is room.
        var value = $"tempo = \"{was}\"";
        Assert.Equal(
            text.Replace($"{value}   # brisk", $"tempo = \"{expected}\"".PadRight(value.Length + 2) + " # brisk", StringComparison.Ordinal), written.Document.Text);
    }

    [Fact]
    public void Write_AnotherTempoOfARamp_ChangesItsNumbersOnly()
    {
        var text = Text.Replace("chords", "tempo = \"eighth = 240 to 320 over 3 bars\"  # up\nchords", StringComparison.Ordinal);
        var written = Saved(text, chart => chart.AtPace(new Rational(11, 10)));

        Assert.Equal(["tempo = \"eighth = 286\"   # brisk", "tempo = \"eighth = 264 to 352 over 3 bars\"  # up"], LineChanges.Come(text, written.Document.Text));
    }

    [Fact]
    public void Write_AnotherTempoThatWouldTurnWhatIsCounted_SaysWhatIsCounted()
    {
        // At 320 the eighths are faster than five per second: groups are counted and felt. At 250 units would be.
        const string five = "format = 1\nkey = \"D\"\ntempo = \"eighth = 320\"\nmeter = \"5/8 3+2\"\n[[section]]\nname = \"A\"\nchords = \"| D |\"\n";
        var document = ChartDocument.FromText(five, "five");
        var opened = document.Read().Chart!.WithLevelsSaid();
        var now = opened with { Tempo = opened.Tempo with { PerMinute = 250 } };
        var written = ChartDifference.Write(document, opened, now);

        Assert.Equal(["tempo = \"eighth = 250\"", "feel = \"group\"", "counted = \"groups\""], LineChanges.Come(five, written.Document.Text));
        Assert.Equal((FeltLevel.Group, Counted.Groups), (now.Sections[0].Feel!.Value, now.Sections[0].Counted!.Value));
        Assert.True(SameChart.IsRead(now, written.Document.Read().Chart!.WithLevelsSaid()));
    }

    // Five per second are the limit: a tempo a little above it must not be rounded to it without a word.
    [Fact]
    public void Write_TempoWhoseRoundingWouldTurnWhatIsCounted_SaysWhatIsCounted()
    {
        const string five = "format = 1\nkey = \"D\"\ntempo = \"eighth = 320\"\nmeter = \"5/8 3+2\"\n[[section]]\nname = \"A\"\nchords = \"| D |\"\n";
        var document = ChartDocument.FromText(five, "five");
        var opened = document.Read().Chart!;
        var now = opened with { Tempo = opened.Tempo with { PerMinute = new Rational(300_001, 1000) } };

        var written = ChartDifference.Write(document, opened, now);

        Assert.Equal(["tempo = \"eighth = 300\"", "feel = \"group\"", "counted = \"groups\""], LineChanges.Come(five, written.Document.Text));
    }

    [Fact]
    public void Write_LevelsSaidOnBothSides_SaysNoneOfThem()
    {
        var document = ChartDocument.FromText(Text, "song");
        var opened = document.Read().Chart!.WithLevelsSaid();
        var written = ChartDifference.Write(document, opened, opened with { Title = "Taut" });

        Assert.Equal(Text.Replace("Slack", "Taut", StringComparison.Ordinal), written.Document.Text);
    }

    [Fact]
    public void Write_NothingChanged_GivesTheTextBack()
    {
        var document = ChartDocument.FromText(Text, "song");
        Assert.Same(document, ChartDifference.Write(document, document.Read().Chart!, document.Read().Chart!).Document);
    }

    [Fact]
    public void Write_FiftyChanges_ParsesEachTextOnce()
    {
        var parses = 0;
        var text = "format = 1\nkey = \"D\"\ntempo = \"quarter = 100\"\nmeter = \"4/4\"\n"
            + string.Concat(Enumerable.Range(0, 25).Select(i => $"\n[[section]]\nname = \"s{i}\"\nchords = \"| D | G |\"  # {i}\n"));
        var document = ChartDocument.FromText(text, "song", null, (source, problems) =>
        {
            parses++;
            return ChartReader.Parse(source, problems);
        });
        var before = document.Read().Chart!;
        Assert.Equal(1, parses);

        // Two changes in each of 25 sections.
        var now = before with
        {
            Sections =
            [
                .. before.Sections.Select((section, i) => section with
                {
                    Key = Key.Parse(i % 2 == 0 ? "G" : "A"),
                    Bars = [section.Bars[0], section.Bars[1] with { Chords = [section.Bars[1].Chords[0] with { Symbol = ChordSymbol.Parse("Em") }] }],
                }),
            ],
        };
        var written = ChartDifference.Write(document, before, now);

        // The old text is read and edited from one parse; the new one is parsed once, to be read back.
        Assert.Equal(75, LineChanges.Of(text, written.Document.Text).Count);
        Assert.True(written.Document.Read().IsChart);
        Assert.Equal(2, parses);
    }

    [Fact]
    public void Write_ALongerText_TakesWorkInProportion()
    {
        // The work is counted in bytes allocated; one-time allocations come first.
        _ = Work(150);
        var (small, length) = Work(150);
        var (large, longer) = Work(2490);

        Assert.InRange(longer, 900_000, ChartReader.LargestFile);
        Assert.InRange((double)large / small, 0.5 * longer / length, 1.5 * longer / length);

        static (long Bytes, int Length) Work(int sections)
        {
            var text = "format = 1\nkey = \"D\"\ntempo = \"quarter = 100\"\nmeter = \"4/4\"\n" + string.Concat(Enumerable.Range(0, sections).Select(i => $""""

                [[section]]   # number {i} of the long, long song that is sung on the way to the islands and back, with all of its verses and choruses
                name = "section {i}"
                chords = """
                | D  | G   | A     | Bm  |
                | Em | F#m | G A   | D   |
                """
                [section.tune]
                notes = """
                | D4:1 E4 F#4 G4 | A4:2 B4 | {'{'}3:2 C#5:1/4 B4 A4{'}'} G4:2 | F#4:4 |
                | D4:1 E4 F#4 G4 | %       | r                         | D4:4  |
                """

                """".Replace("                ", string.Empty, StringComparison.Ordinal)));
            var document = ChartDocument.FromText(text, "long");
            Assert.True(document.Read().IsChart, string.Join('\n', document.Read().Problems));
            var before = document.Read().Chart!;
            var now = before.Transposed(new Interval(1, 2));
            var allocated = GC.GetAllocatedBytesForCurrentThread();
            var written = ChartDifference.Write(document, before, now);
            allocated = GC.GetAllocatedBytesForCurrentThread() - allocated;
            Assert.False(written.IsReformatted);
            Assert.True(SameChart.IsRead(now, written.Document.Read().Chart!));
            return (allocated, text.Length);
        }
    }

    [Fact]
    public void Write_SectionsInAnotherOrder_MovesThemWithTheirRemarks()
    {
        const string text = """
            format = 1
            key = "D"
            tempo = "quarter = 100"
            meter = "4/4"

            # First.
            [[section]]
            name = "one"  # 1
            chords = "| D |"

            [section.tune]
            notes = "| D4:4 |"
            # Sung low.

            # Second.
            [[section]]
            name = "two"
            chords = "| G |"

            [[section]]
            name = "three"
            chords = "| A |"
            """;
        var document = ChartDocument.FromText(text, "song");
        var before = document.Read().Chart!;
        var now = before with
        {
            Sections = [before.Sections[2], before.Sections[1] with { Feel = FeltLevel.Bar }, before.Sections[0]],
            Form = [new FormStep(2, 1), new FormStep(1, 1), new FormStep(0, 1)],
        };
        var written = ChartDifference.Write(document, before, now);

        Assert.Equal(
            """
            format = 1
            key = "D"
            tempo = "quarter = 100"
            meter = "4/4"
            form = ["one", "two", "three"]

            [[section]]
            name = "three"
            chords = "| A |"

            # Second.
            [[section]]
            name = "two"
            feel = "bar"
            chords = "| G |"

            # First.
            [[section]]
            name = "one"  # 1
            chords = "| D |"

            [section.tune]
            notes = "| D4:4 |"
            # Sung low.

            """.TrimEnd('\n'),
            written.Document.Text.TrimEnd('\n'));
        Assert.Empty(written.Reasons);
    }

    [Fact]
    public void Write_PartsInBracesInAnotherOrder_MovesThemWithTheirChanges()
    {
        const string text = """
            format = 1
            key = "D"
            tempo = "quarter = 100"
            meter = "4/4"
            part = [ { role = "pulse" }, { role = "bass" }, { role = "roll", level = -8 } ]
            section = [ { chords = "| D |", play = ["roll", "bass"] } ]
            """;
        var document = ChartDocument.FromText(text, "song");
        var before = document.Read().Chart!;
        var now = before with
        {
            Parts = [before.Parts[2] with { Pan = 5, LevelDecibels = -9 }, before.Parts[0], before.Parts[1]],
            Sections = [before.Sections[0] with { Playing = [0, 2] }],
        };
        var written = ChartDifference.Write(document, before, now);

        Assert.Equal(
            ["part = [ { role = \"roll\", level = -9, pan = 5 }, { role = \"pulse\" }, { role = \"bass\" } ]"],
            LineChanges.Come(text, written.Document.Text));
    }

    [Fact]
    public void Write_ASectionOfMoreBars_IsReformattedAloneInItsManner()
    {
        const string text = """"
            format = 1
            key = "D"
            tempo = "quarter = 100"
            meter = "4/4"
            [[section]]
            name = "long"
            chords = """
              | D  | G   | A |
              | Bm | F#m | G |
            """   # three a line
            [[section]]
            name = "other"
            chords = "| A | G |"   # stays
            """";
        var document = ChartDocument.FromText(text, "song");
        var before = document.Read().Chart!;
        var long1 = before.Sections[0];
        var now = before with { Sections = [long1 with { Bars = [.. long1.Bars, long1.Bars[2], long1.Bars[0]] }, before.Sections[1]] };
        var written = ChartDifference.Write(document, before, now);

        Assert.Equal(["  | A  | D   |"], LineChanges.Come(text, written.Document.Text));
        Assert.Empty(LineChanges.Gone(text, written.Document.Text));
        Assert.Equal("the chords of 'long' were reformatted: the section now has 8 bars instead of 6", Assert.Single(written.Reasons));
    }

    [Fact]
    public void Write_ARemarkInsideWhatGoes_StaysInTheText()
    {
        const string text = """
            format = 1
            key = "D"
            tempo = "quarter = 100"
            meter = [ # the meters
              "4/4", # four
              "3/4", # three
            ]
            form = ["A", # once
              "A"] # twice
            [[section]]
            chords = [
              "| D | G |", # up
              "| A | D |", # down
            ]
            """;
        var document = ChartDocument.FromText(text, "song");
        var before = document.Read().Chart!;
        var four = before.Sections[0].Bars[0].Meter;
        var now = before with
        {
            Form = [new FormStep(0, 1)],
            Sections = [before.Sections[0] with { Bars = [.. before.Sections[0].Bars.Take(3).Select(bar => new ChartBar(four, [bar.Chords[0] with { Length = four.Length }], false))] }],
        };
        var written = ChartDifference.Write(document, before, now);

        Assert.False(written.IsReformatted);
        Assert.Equal(
            Remarks.In(text).Select(remark => text[remark.Start..remark.End]).Order(StringComparer.Ordinal),
            Remarks.In(written.Document.Text).Select(remark => written.Document.Text[remark.Start..remark.End]).Order(StringComparer.Ordinal));
        Assert.Contains("the remark '# four' was moved: its line was removed", written.Reasons);
    }

    [Fact]
    public void Write_IntoATextWithProblems_LaysItOutAgainWithItsRemarks()
    {
        var document = ChartDocument.FromText(Text.Replace("key = \"D major\"", "key = \"H\"  # B?", StringComparison.Ordinal), "song");
        var chart = ChartDocument.FromText(Text, "song").Read().Chart!;
        var written = ChartDifference.Write(document, chart, chart with { Title = "Taut" });

        Assert.True(written.IsReformatted);
        Assert.Equal("the whole chart was reformatted: the text has problems, so single changes were not possible", Assert.Single(written.Reasons));
        Assert.All(["# The song.", "# B?", "# verse one"], remark => Assert.Contains(remark, written.Document.Text, StringComparison.Ordinal));
        Assert.True(SameChart.IsRead(chart with { Title = "Taut" }, written.Document.Read().Chart!));
    }

    [Fact]
    public void Write_SectionsThatDoNotStandInOnePieceInAnotherOrder_LaysTheChartOutAgainWithRemarksAtTheirSections()
    {
        const string text = """
            # top
            format = 1
            key = "D"
            tempo = "quarter = 100"
            meter = "4/4"
            [[section]]
            name = "one"
            chords = "| D |" # first
            [[part]]
            role = "bass" # low
            [section.tune]
            notes = "| D4:4 |" # sung
            [[section]]
            name = "two"
            chords = "| G |" # second
            [[section]]
            name = "three"
            chords = "| A |"
            """;
        var document = ChartDocument.FromText(text, "song");
        var before = document.Read().Chart!;
        var now = before with { Sections = [before.Sections[1], before.Sections[2], before.Sections[0]], Form = [new FormStep(0, 1), new FormStep(1, 1), new FormStep(2, 1)] };
        var written = ChartDifference.Write(document, before, now);

        Assert.True(written.IsReformatted);
        Assert.Contains("# low\n[[part]]", written.Document.Text, StringComparison.Ordinal);
        Assert.Contains("# first\n# sung\n[[section]]\nname = \"one\"", written.Document.Text, StringComparison.Ordinal);
        Assert.Contains("# second\n[[section]]\nname = \"two\"", written.Document.Text, StringComparison.Ordinal);
        Assert.StartsWith("# top\n", written.Document.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Write_AChartThatNoTextCanSay_IsRefused()
    {
        var document = ChartDocument.FromText(Text, "song");
        var chart = document.Read().Chart!;
        var bar = chart.Sections[0].Bars[0];
        var half = bar with
        {
            Chords = [bar.Chords[0] with { Length = Span.Of(1, 8) }, bar.Chords[0] with { Onset = Span.Of(1, 8), Length = Span.Of(7, 8) }],
        };
        var now = chart with { Sections = [chart.Sections[0] with { Bars = [half, .. chart.Sections[0].Bars.Skip(1)] }] };

        var problem = Assert.Throws<ChartProblemException>(() => ChartDifference.Write(document, chart, now));
        Assert.Contains("between two units", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Write_ALevelInAChartOfTheHouseBand_WritesTheBandOutFirst()
    {
        var text = ChartTexts.Top + "\n# The song.\n[[section]]\nchords = \"| Dm | C |\"\n";
        var document = ChartDocument.FromText(text, "song.toml");
        var before = document.Read().Chart!;
        var written = ChartDifference.Write(
            document,
            before,
            before with { Parts = [.. before.Parts.Select(part => part.Role == Role.Sustain ? part with { LevelDecibels = -12.5 } : part)] });

        Assert.Equal(Enum.GetValues<Role>(), written.Document.Read().Chart!.Parts.Select(part => part.Role));
        Assert.Contains("\n# The song.\n[[section]]\nchords = \"| Dm | C |\"\n", written.Document.Text, StringComparison.Ordinal);
        Assert.StartsWith(ChartTexts.Top, written.Document.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("name =", written.Document.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Write_InATextWithoutALastLineBreak_StartsALineOfItsOwn()
    {
        var document = ChartDocument.FromText(ChartTexts.Top + "[[section]]\nchords = \"Dm\"", "song.toml");
        var before = document.Read().Chart!;
        Chart With(Func<Section, Section> change) => before with { Sections = [change(before.Sections[0])] };

        Assert.EndsWith(
            "[[section]]\nfeel = \"bar\"\nchords = \"Dm\"",
            ChartDifference.Write(document, before, With(section => section with { Feel = FeltLevel.Bar })).Document.Text,
            StringComparison.Ordinal);
        Assert.EndsWith(
            "chords = \"Dm\"\n\n[section.tune]\nnotes = \"| D4:5 |\"\n",
            ChartDifference.Write(document, before, With(section => section with { Tune = ChartTexts.Tune(1, "notes = \"D4:5\"") })).Document.Text,
            StringComparison.Ordinal);
    }

    [Fact]
    public void Write_UnnamedSectionsAndPartsThatChangePlaces_GetTheNamesTheyWentBy()
    {
        const string text = "format = 1\nkey = \"D\"\ntempo = \"quarter = 100\"\nmeter = \"4/4\"\n"
            + "[[part]]\nrole = \"sustain\"\n[[part]]\nrole = \"sustain\"\npan = 9\n[[section]]\nchords = \"| D |\"\n[[section]]\nchords = \"| G |\"\n";
        var document = ChartDocument.FromText(text, "song");
        var before = document.Read().Chart!;
        var now = before with { Parts = [before.Parts[1]], Sections = [before.Sections[1]], Form = [new FormStep(0, 1)] };
        var read = ChartDifference.Write(document, before, now).Document.Read().Chart!;

        Assert.Equal(("cello 2", "B"), (read.Parts[0].Name, read.Sections[0].Name));
    }

    // Once a bug: the hyphen after * was not written, and the chart could neither be saved nor recovered.
    [Theory]
    [InlineData("lan- * - !late:0.5!terns | glow", "lan- * -!late:1/16!terns glow")]
    [InlineData("* -terns * - moon", "* -terns * -moon")]
    [InlineData("-lan - tern * | * -s", "-lan-tern * * -s")]
    public void Write_WordThatGoesOnAfterANoteWithoutASyllable_KeepsItsHyphen(string words, string laidOut)
    {
        var text = "format = 2\nkey = \"C\"\ntempo = \"eighth = 200\"\nmeter = \"6/8\"\n\n[[section]]\nchords = \"| C | F |\"\n[section.tune]\n"
            + $"notes = \"| C4:2 D4:1 E4:3 | F4:3 G4:3 |\"\nwords = \"{words}\"\n";
        var document = ChartDocument.FromText(text, "song.toml");
        var was = document.Read().Chart!;
        var meter = Meter("3/4");
        var now = was with
        {
            Sections = [was.Sections[0] with { Bars = [.. was.Sections[0].Bars.Select(bar => bar with { Meter = meter })] }],
        };

        var written = ChartDifference.Write(document, was, now);

        Assert.Equal(ChartDescription.Of(now), ChartDescription.Of(written.Document.Read().Chart!));
        Assert.Contains(laidOut, ChartWriter.Write(was), StringComparison.Ordinal);
        Assert.Contains($"words = \"{words.Replace("0.5", "1/16", StringComparison.Ordinal)}\"\n", written.Document.Text, StringComparison.Ordinal);
    }

    // Once a bug: rewritten notes had the first names of marks and the first signs of rests and ties in the tune.
    [Fact]
    public void Write_AnotherUnit_KeepsTheSpellingOfEachNote()
    {
        const string text = "format = 2\nkey = \"C\"\ntempo = \"eighth = 200\"\nmeter = \"6/8\"\n\n[[section]]\nchords = \"| C | F |\"\n[section.tune]\n"
            + "notes = \"| !<(!e4:1 !<)!!>!f♯4 z:1 g4:3~ | !p!g4:1 !f!r:1 !late:0.5!(b♭4)A4:2- A4:2 |\"\n";
        var document = ChartDocument.FromText(text, "song.toml");
        var was = document.Read().Chart!;
        var meter = Meter("12/16 3+3+3+3");
        var now = was with
        {
            Sections =
            [
                was.Sections[0] with
                {
                    Bars = [.. was.Sections[0].Bars.Select(bar => new ChartBar(meter, [bar.Chords[0] with { Length = meter.Length }], false))],
                },
            ],
        };

        var written = ChartDifference.Write(document, was, now);

        Assert.Contains(
            "| !<(!e4:2 !<)!!>!f♯4 z:2 g4:6~ | !p!g4:2 !f!r:2 !late:1!(b♭4)A4:4- A4 |", written.Document.Text, StringComparison.Ordinal);
    }

    private const string Aligned = """"
        format = 2
        key    = "E dorian"          # ours
        tempo  = "eighth = 90"   # slow
        meter  = "7/8 2+2+3"

        [[section]]
        name   = "A"
        chords = "| Em | D |"

        [section.tune]
        notes  = """
        | E4:2 F4:2 G4:3 | F4:2 D4:2 D4:3 |
        """
        words  = """
        | low    lie the | fields in  fog |
        """
        [[section.line]]
        name   = "second voice"
        notes  = """
        | B3:2 D4:2 E4:3 | D4:2 A3:2 A3:3 |
        """

        [[section]]
        name   = "B"
        chords = """
        | Em  | D      |
        | G   | A7sus4 |
        """

        """";

    // Once a bug: each text kept only its own columns, so that the second line drifted away from the tune; and columns were widened although
    // there was room.
    [Fact]
    public void Write_AnotherKey_KeepsTheLinesOfATuneAlignedWithEachOther()
    {
        // F sharp and C sharp: some notes get a sign.
        var written = Saved(Aligned, chart => chart.Transposed(chart.Key.IntervalUp(2)));

        Assert.Empty(written.Reasons);
        Assert.Equal(
            Aligned.Replace("\"E dorian\"          #", "\"F# dorian\"         #", StringComparison.Ordinal)
                .Replace("| Em | D |", "| F#m | E |", StringComparison.Ordinal)
                .Replace("| Em  | D      |", "| F#m | E      |", StringComparison.Ordinal)
                .Replace("| G   | A7sus4 |", "| A   | B7sus4 |", StringComparison.Ordinal)
                .Replace("| E4:2 F4:2 G4:3 | F4:2 D4:2 D4:3 |", "| F#4:2 G4:2 A4:3  | G4:2 E4:2 E4:3 |", StringComparison.Ordinal)
                .Replace("| low    lie the | fields in  fog |", "| low    lie the   | fields in  fog |", StringComparison.Ordinal)
                .Replace("| B3:2 D4:2 E4:3 | D4:2 A3:2 A3:3 |", "| C#4:2 E4:2 F#4:3 | E4:2 B3:2 B3:3 |", StringComparison.Ordinal),
            written.Document.Text);
    }

    // A text that is aligned by chance, in one bar, is left alone.
    [Fact]
    public void Write_AnotherKeyOfABarAsWideAsAnotherText_LeavesThatAlone()
    {
        const string text = "format = 2\nkey = \"C\"\ntempo = \"eighth = 200\"\nmeter = \"6/8\"\n\n[[section]]\nchords = \"\"\"\n| N.C. |\n\"\"\"\n[section.tune]\nnotes = \"\"\"\n| F4:6 |\n\"\"\"\n";

        var written = Saved(text, chart => chart.Transposed(chart.Key.IntervalUp(1)));

        Assert.Equal(["key = \"Db\"", "| Gb4:6 |"], LineChanges.Come(text, written.Document.Text));
    }

    // Once a bug: it moved with the number.
    [Fact]
    public void Write_AWiderTempo_LeavesTheRemarkInItsColumn()
    {
        var written = Saved(Aligned, chart => chart with { Tempo = chart.Tempo with { PerMinute = 110 } });

        Assert.Equal(["tempo  = \"eighth = 110\"  # slow"], LineChanges.Come(Aligned, written.Document.Text));
    }

    private const string InManner = """
        format = 1
        key = "B♭m"
        tempo = "eighth = 260"
        meter = "7/8 2+2+3"
        feel = "groups"   # in three
        ending = "B♭m6"

        [[part]]
        role = "pulse"

        [[section]]
        name = "verse"
        chords = "| B♭m7/A♭ | Gb | E♭ |"

        [[section]]
        name = "turn"
        chords = "| F7 | F7 |"
        """;

    // By hand: what a musician would write there, in the spelling, the plural, and at the place of the text.
    [Theory]
    [InlineData("up 5", "key = \"E♭m\"", "ending = \"E♭m6\"", "chords = \"| E♭m7/D♭ | Cb | A♭ |\"", "chords = \"| Bb7 | Bb7 |\"")]
    [InlineData("feel bar", "feel = \"bars\"     # in three")]
    [InlineData("ending E♭m", "ending = \"E♭m\"")]
    [InlineData("ending B♭m6")]
    [InlineData("ending on", "ending = true")]
    [InlineData("meter 5/8 3+2", "meter = \"5/8 3+2\"")]
    [InlineData("grouping 3+2+2", "meter = \"7/8 3+2+2\"")]
    [InlineData("grouping 3+2+2 here", "grouping = \"3+2+2\"")]
    [InlineData("add roll banjo", "[[part]]", "role = \"roll\"", "instrument = \"banjo\"", "")]
    [InlineData("tempo eighth = 271.3", "tempo = \"eighth = 271.3\"")]
    public void Write_AChange_IsInTheMannerOfTheText(string words, params string[] come)
    {
        var document = ChartDocument.FromText(InManner, "song");
        var opened = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn);
        var change = (StateChange)ChangeWords.Read(words, opened);
        var now = change.ApplyTo(opened, new PerformancePlace(0, 0, 1)).State;

        var written = ChartDifference.Write(document, opened.Chart, now.Chart.AtPace(now.Pace, largestDenominator: 100_000)).Document.Text;

        Assert.Equal(come, LineChanges.Come(InManner, written));
        Assert.InRange(LineChanges.Gone(InManner, written).Length, 0, come.Length);
    }

    private static BarMeter Meter(string text) => BarMeter.TryParse(text, out var meter, out var problem) ? meter : throw new ArgumentException(problem);

    private static WrittenChart Saved(Func<Chart, Chart> change) => Saved(Text, change);

    private static WrittenChart Saved(string text, Func<Chart, Chart> change)
    {
        var document = ChartDocument.FromText(text, "song");
        Assert.True(document.Read().IsChart, string.Join('\n', document.Read().Problems));
        var before = document.Read().Chart!;
        return ChartDifference.Write(document, before, change(before));
    }

    private static Chart WithTune(Chart chart, Func<Tune, Tune> change) =>
        chart with { Sections = [.. chart.Sections.Select(section => section.Tune is { } tune ? section with { Tune = change(tune) } : section)] };

    private static Chart WithPitch(Chart chart, int note, string pitch) => WithTune(chart, tune =>
        TuneChanges.WithEvent(tune, 0, note, one => [one.WithNotes([one.Notes[0].WithPitch(SpelledPitch.Of(Pitch.Parse(pitch)))])]));

    private static string Words(string text) => text[text.IndexOf("words", StringComparison.Ordinal)..];
}
