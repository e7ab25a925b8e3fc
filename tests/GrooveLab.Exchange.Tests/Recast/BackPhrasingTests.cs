using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Exchange.Tests.Charts.ChartTexts;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>Words that lay back in a song. The numbers follow from the rules in <see cref="BackPhrasing"/>.</summary>
public sealed class BackPhrasingTests
{
    // Twelve strong beats, every fourth at the start of a bar group.
    private const string Words = "be to more to my be be be be o to be";

    [Theory]
    [InlineData(Phrasing.Plain, "", "")]
    [InlineData(Phrasing.Light, "2 6", "1/32 1/32")]
    [InlineData(Phrasing.Strong, "2 4 6 9", "1/16 1/16 1/16 1/16")]
    public void Of_Phrasing_ChoosesHeldConsonantsFirstAndNeverNeighboursOrTwoBarGroups(Phrasing phrasing, string notes, string delays)
    {
        var phrased = BackPhrasing.Of(Song(Words), phrasing);
        Assert.Equal(notes, string.Join(' ', phrased.Late.Select(late => late.Note)));
        Assert.Equal(delays, string.Join(' ', phrased.Late.Select(late => late.Delay)));
        Assert.Equal((12, phrased.Late.Count), (phrased.StrongBeats, phrased.LateStrongBeats));
        Assert.Equal(phrased.Late.Select(late => ((int, Span?))(late.Note, late.Delay)), Melody(phrased.Chart).Verses[0].Index().Where(one => one.Item?.Late is not null).Select(one => (one.Index, one.Item!.Late)));
    }

    [Fact]
    public void Of_EndingThatIsNeverPlayedAndHasNoTempo_IsPhrasedAtTheFirstOne()
    {
        // The ritardando ends in a bar; that of the second ending is so long that it would be too fast, but nobody plays it.
        var song = ChartReader.ReadText(
            """
            format = 2
            key = "C"
            tempo = "quarter = 60"
            meter = "4/4"
            form = ["verse ending 1"]
            [[section]]
            name = "verse"
            tempo = "to bar = 93 over the last bar"
            chords = "| C |"
            [section.tune]
            notes = "| C4:1 D4 E4 F4 |"
            words = ["moon on my boat"]
            [[section.ending]]
            chords = "| C |"
            [section.ending.tune]
            notes = "| C4:1 D4 E4 F4 |"
            words = ["moon on my boat"]
            [[section.ending]]
            chords = "| [13/1] C |"
            [section.ending.tune]
            notes = "| C4:6 D4:7 |"
            words = ["more moon"]
            """,
            "song.toml");
        Assert.True(song.IsChart, string.Join('\n', song.Problems));
        Assert.Equal(2, BackPhrasing.Of(song.Chart, Phrasing.Strong).Chart.Sections[0].Endings.Count);
    }

    [Fact]
    public void Of_PlainPhrasing_ChangesNothing()
    {
        var song = Song(Words, part: "laid-back = \"half\"");
        Assert.Same(song, BackPhrasing.Of(song, Phrasing.Plain, DelayWriting.Literal).Chart);
    }

    // What cannot be held is moved: after a consonant the voice slides up, into a vowel it slides from the note before.
    [Fact]
    public void Of_WordsThatCannotBeHeld_AreApproachedWithAGlide()
    {
        var phrased = BackPhrasing.Of(Song(Words), Phrasing.Strong);
        var marks = Melody(phrased.Chart).Notes.Index().SelectMany(one => one.Item.Marks.Select(mark => (one.Index, mark.Kind, mark.Edge)));
        Assert.Equal([(6, MarkKind.Scoop, MarkEdge.Single), (8, MarkKind.Slide, MarkEdge.Start), (9, MarkKind.Slide, MarkEdge.Stop)], marks);
        Assert.Equal([(true, false), (true, false), (false, true), (false, true)], phrased.Late.Select(late => (late.IsHeld, late.IsGlided)));
    }

    // Where one verse holds its consonant, a glide would be in its way; on note 9 one verse has a vowel, the other a consonant.
    [Fact]
    public void Of_Verses_AgreeWhereTheyCanAndGlideOnlyTogether()
    {
        var phrased = BackPhrasing.Of(Song(Words, "be to be no to be be mine be be to be"), Phrasing.Strong);
        Assert.Equal(["2 4 7 9", "2 4 7 9"], phrased.Late.GroupBy(late => late.Verse).Select(verse => string.Join(' ', verse.Select(late => late.Note))));
        Assert.Equal([(9, MarkKind.Scoop)], Melody(phrased.Chart).Notes.Index().SelectMany(one => one.Item.Marks.Select(mark => (one.Index, mark.Kind))));
        Assert.Equal("0:9 1:9", string.Join(' ', phrased.Late.Where(late => late.IsGlided).Select(late => $"{late.Verse}:{late.Note}")));
    }

    [Fact]
    public void Of_NotesThatOneVerseCannotDelay_AreAvoidedByTheOthers()
    {
        var phrased = BackPhrasing.Of(Song("be to be be be be be be be be be be", "be !weak!to go !weak!be !weak!to be !weak!to be be be be be"), Phrasing.Strong);
        Assert.Equal(["2 5 7 9", "2 5 7 9"], phrased.Late.GroupBy(late => late.Verse).Select(verse => string.Join(' ', verse.Select(late => late.Note))));
    }

    // Note 2 would be late. A breath of 375 ms would have 250 ms left after the strong delay of 125 ms, and 312 ms after the light one.
    [Theory]
    [InlineData(Phrasing.Strong, "D4:3", "2 4 6 9")]
    [InlineData(Phrasing.Strong, "(C4)D4:3", "1 4 6 9")]
    [InlineData(Phrasing.Strong, "!breath!D4:3", "1 4 6 9")]
    [InlineData(Phrasing.Strong, "!caesura!D4:3", "1 4 6 9")]
    [InlineData(Phrasing.Strong, "!fermata!D4:3", "1 4 6 9")]
    [InlineData(Phrasing.Strong, "!staccato!D4:3", "1 4 6 9")]
    [InlineData(Phrasing.Strong, "!late:1/16!D4:3", "2 4 6 9")]
    [InlineData(Phrasing.Strong, "D4:0.75 z:2.25", "1 4 6 9")]
    [InlineData(Phrasing.Strong, "D4:1 z:2", "2 4 6 9")]
    [InlineData(Phrasing.Strong, "D4:1.5 z:1.5", "1 4 6 9")]
    [InlineData(Phrasing.Light, "D4:1.5 z:1.5", "2 6")]
    public void Of_NotesThatCannotBeLate_LeavesThemInTime(Phrasing phrasing, string note, string late)
    {
        var phrased = BackPhrasing.Of(Song(Words, notes: $"D4:3 E4:2 | {note} E4:2 | D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2"), phrasing);
        Assert.Equal(late, string.Join(' ', phrased.Late.Select(one => one.Note)));
    }

    // The last note would be late. A held bar has no time, and the singer breathes before a pickup of two units.
    [Theory]
    [InlineData(0, "", "2 4 6 11")]
    [InlineData(5, "", "2 4 6 9")]
    [InlineData(0, "pickup = \"A4:2\"\n", "2 4 6 9")]
    [InlineData(0, "pickup = \"A4:1\"\n", "2 4 6 11")]
    public void Of_LastNoteUnderAHoldOrBeforeAPickup_LeavesItInTime(int hold, string pickup, string late)
    {
        var song = Song("be to more to my be be be be o to moon");
        var next = Song(pickup.Length == 0 ? Words : "oh " + Words, pickup: pickup).Sections[0] with { Name = "b" };
        var phrased = BackPhrasing.Of(song with { Sections = [song.Sections[0] with { HoldSeconds = hold }, next], Form = [new FormStep(0, 1), new FormStep(1, 1)] }, Phrasing.Strong);
        Assert.Equal(late, string.Join(' ', phrased.Late.Where(one => one.Section == 0).Select(one => one.Note)));
    }

    [Fact]
    public void Of_LiteralWritingOfASectionTiedIntoItsEnding_KeepsTheTie()
    {
        var song = Song(Words, ending: "[[section.ending]]\nchords = \"| Dm |\"\n[section.ending.tune]\nnotes = \"| E4:3 D4:2 |\"\nwords = \"_ be\"\n", notes: "D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2~");
        Assert.EndsWith("E4:2-", Notes(song), StringComparison.Ordinal);
        Assert.EndsWith("E4:2-", Notes(BackPhrasing.Of(song, Phrasing.Light, DelayWriting.Literal).Chart), StringComparison.Ordinal);
    }

    [Fact]
    public void Of_StressFromTheWords_LeavesUnstressedSyllablesPlain()
    {
        var phrased = BackPhrasing.Of(
            Song(Words), Phrasing.Strong, stresses: verse => [.. verse.Select(syllable => syllable?.Text is "more" or "my" ? SyllableStress.Unstressed : SyllableStress.Unknown)]);
        Assert.Equal("1 3 6 9", string.Join(' ', phrased.Late.Select(late => late.Note)));
    }

    // 250 ms is the longest that a consonant is held; common practice, no source.
    [Theory]
    [InlineData(60, "", Phrasing.Strong, "1/16")]
    [InlineData(60, "", Phrasing.Light, "1/16")]
    [InlineData(50, "", Phrasing.Strong, "3/64")]
    [InlineData(96, "", Phrasing.Strong, "3/32")]
    [InlineData(96, "swing = \"3:1\"", Phrasing.Strong, "1/16")]
    [InlineData(120, "", Phrasing.Strong, "1/8")]
    [InlineData(120, "", Phrasing.Light, "1/16")]
    public void Of_SlowUnits_DelaysByNoMoreThan250Milliseconds(int tempo, string swing, Phrasing phrasing, string delay)
    {
        var notes = string.Join(" | ", Enumerable.Repeat("D4:3 E4:2", 6));
        var song = Chart($"format = 2\ntitle = \"t\"\nkey = \"D dorian\"\ntempo = \"quarter = {tempo}\"\nmeter = \"5/4 3+2\"\n{swing}\n[[section]]\nname = \"a\"\nchords = \"| Dm | Dm | Dm | Dm | Dm | Dm |\"\n[section.tune]\nnotes = \"| {notes} |\"\nwords = \"{Words}\"\n");
        var phrased = BackPhrasing.Of(song, phrasing);
        Assert.NotEmpty(phrased.Late);
        Assert.All(phrased.Late, late => Assert.Equal(delay, late.Delay.ToString()));
        Assert.All(phrased.Late, late => Assert.InRange(late.Seconds, 0.1, 0.25));
    }

    // The second playing is so slow that half a unit would be too much.
    [Fact]
    public void Of_SectionThatIsPlayedTwice_FollowsItsSlowestTempo()
    {
        var song = Song(Words);
        var slow = song.Sections[0] with { Name = "b", Tune = null, Tempo = new TempoChange(new TempoMark(TempoLevel.Note, Span.Of(1, 8), 80), null, null) };
        var phrased = BackPhrasing.Of(song with { Sections = [song.Sections[0], slow], Form = [new FormStep(0, 1), new FormStep(1, 1), new FormStep(0, 1)] }, Phrasing.Strong);
        Assert.All(phrased.Late, late => Assert.Equal(Span.Of(5, 16 * 8), late.Delay));
        Assert.All(phrased.Late, late => Assert.Equal(0.234375, late.Seconds, 9));
    }

    [Fact]
    public void Of_DelaysOfTheSong_StayAndCount()
    {
        var phrased = BackPhrasing.Of(Song("be !late:1/16!to more to my be be be be o to be"), Phrasing.Strong);
        Assert.Equal("1 True, 4 False, 6 False, 9 False", string.Join(", ", phrased.Late.Select(late => $"{late.Note} {late.IsOwn}")));
        Assert.Equal("1 True", string.Join(", ", BackPhrasing.Of(Song("be !late:1/16!to more to my be be be be o to be"), Phrasing.Plain).Late.Select(late => $"{late.Note} {late.IsOwn}")));
    }

    [Fact]
    public void Of_PartThatLaysBack_LeavesThatToTheMarks()
    {
        var parts = BackPhrasing.Of(Song(Words, part: "laid-back = \"half\""), Phrasing.Light).Chart.Parts;
        Assert.Equal(LayBack.None, Assert.IsType<TuneSettings>(parts[0].Settings).LaidBack);
    }

    // Sundberg & Bauer-Huppmann 2007, Journal of Voice 21: 285-292: singers put the vowel on the beat and the consonant before it. Laid back, the consonant marks the beat.
    [Fact]
    public void Of_PlayedWords_HaveTheVowelOnTheBeatAndLateOnesTheConsonant()
    {
        var song = Song(Words, part: "consonants = true");
        var (plain, late) = (Bars(song)[1], Bars(BackPhrasing.Of(song, Phrasing.Strong).Chart)[1]);
        var (vowel, consonant) = Sounding(plain);
        Assert.Equal(Span.Zero, vowel.Onset);
        Assert.True(consonant.SpreadMicroseconds < 0);

        (vowel, consonant) = Sounding(late);
        Assert.Equal(Span.Of(1, 16), vowel.Onset);
        Assert.Equal((Span.Zero, 0), (consonant.Onset, consonant.SpreadMicroseconds));
        Assert.Equal(OrnamentKind.HeldConsonant, consonant.Written.Ornament?.Kind);

        static (NoteEvent Vowel, NoteEvent Consonant) Sounding(Bar bar) =>
            (bar.Notes.First(note => note.Written is { Ornament: null, Syllable.Syllable.Text: "more" }), bar.Notes.First(note => note.Written.Ornament is not null));
    }

    // Notes 2 (more) and 6 (be) are late. Note 2 holds its consonant, so a rest stands before it; note 5 lasts until 6.
    [Fact]
    public void Of_LiteralWriting_MovesTheNoteAndHoldsTheOneBefore()
    {
        var phrased = BackPhrasing.Of(Song(Words), Phrasing.Light, DelayWriting.Literal);
        Assert.Equal("D4:3 E4:2 | z:1/32 D4:11/32 E4:2 | D4:3 E4:2- | E4:1/32 !scoop!D4:11/32 E4:2 | D4:3 E4:2 | D4:3 E4:2", Notes(phrased.Chart));
        Assert.All(phrased.Late, late => Assert.True(late.IsMoved));
        Assert.Equal(["1/32", "1/32"], phrased.Late.Select(late => late.Delay.ToString()));
        Assert.All(Melody(phrased.Chart).Verses[0], syllable => Assert.Null(syllable?.Late));
    }

    // The nearest sixteenth of a thirty-second is none, of the smaller of two: it stays a mark.
    [Theory]
    [InlineData(Phrasing.Light, "D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2 | !scoop!D4:3 E4:2 | D4:3 E4:2 | D4:3 E4:2")]
    [InlineData(Phrasing.Strong, "D4:3 E4:2 | z:1/16 D4:5/16 E4:2 | z:1/16 D4:5/16 E4:2- | E4:1/16 !scoop!D4:5/16 E4:2 | !slide(!D4:7/16 !slide)!E4:3/16 | D4:3 E4:2")]
    public void Of_RoundedWriting_MovesTheNoteByHalfSteps(Phrasing phrasing, string notes)
    {
        var phrased = BackPhrasing.Of(Song(Words), phrasing, DelayWriting.Rounded);
        Assert.Equal(notes, Notes(phrased.Chart));
        Assert.Equal(phrasing == Phrasing.Strong, phrased.Late.All(late => late.IsMoved));
    }

    [Fact]
    public void Of_VersesOfWhichOneIsLate_KeepTheNoteAndMarkTheSyllable()
    {
        var song = Song(Words, "be to !weak!to to !weak!my be be be be o to be");
        var phrased = BackPhrasing.Of(song, Phrasing.Light, DelayWriting.Literal);
        Assert.Equal("0:2 False, 0:6 True, 1:1 False, 1:6 True", string.Join(", ", phrased.Late.Select(late => $"{late.Verse}:{late.Note} {late.IsMoved}")));
        Assert.Equal([6], Melody(phrased.Chart).Notes.Index().Where(one => one.Item.Marks.Count > 0).Select(one => one.Index));
    }

    private static Chart Song(string words, string? second = null, string part = "", string? notes = null, string pickup = "", string ending = "")
    {
        var bars = notes ?? string.Join(" | ", Enumerable.Repeat("D4:3 E4:2", 6));
        var verses = second is null ? $"\"{words}\"" : $"[\"{words}\", \"{second}\"]";
        return Chart("format = 2\ntitle = \"t\"\nkey = \"D dorian\"\ntempo = \"eighth = 240\"\nmeter = \"5/8 3+2\"\nbar-groups = 2\n"
            + $"[[part]]\nrole = \"tune\"\ninstrument = \"concertina\"\n{part}\n[[section]]\nname = \"a\"\nchords = \"| Dm | Dm | Dm | Dm | Dm | Dm |\"\n"
            + $"[section.tune]\n{pickup}notes = \"| {bars} |\"\nwords = {verses}\n{ending}");
    }

    private static TuneVoice Melody(Chart chart) => chart.Sections[0].Tune!.Melody;

    private static List<Bar> Bars(Chart chart)
    {
        var band = new BarComposer(chart);
        return [.. Enumerable.Range(0, 6).Select(band.BarAt)];
    }

    // As the chart has them, without the columns.
    private static string Notes(Chart chart)
    {
        var lines = ImportedChartText.Write(chart, []).Split('\n').SkipWhile(line => !line.StartsWith("notes", StringComparison.Ordinal)).Skip(1).TakeWhile(line => line.StartsWith('|'));
        return string.Join(" | ", lines.SelectMany(line => line.Split('|', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)));
    }
}
