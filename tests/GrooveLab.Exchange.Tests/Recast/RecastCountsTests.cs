using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>The counts and the yardstick, on results written by hand. All expected values are counted by hand, no source.</summary>
public sealed class RecastCountsTests
{
    private const string Words = "!strong!Lan-!weak!terns !strong!swing-!weak!ing";

    // Three eighths and one, two and two.
    private const string Figures = "| D4:3/8 F4:1/8 A4:1/4 G4 |";

    // The middle note is held over beat three.
    private const string Pushed = "| D4:3/8 F4 A4:1/4 |";

    [Theory]
    [InlineData("| D4:3 F4:2 | A4:3 G4:2 |", 2, 0, 0, 0)] // 3 2 3 2
    [InlineData("| D4:2 F4:3 | A4:2 G4:3 |", 2, 2, 0, 2)] // 2 3 2 3
    [InlineData("| D4:5/16 F4 | A4:5/16 G4 |", 2, 0, 2, 0)] // all equal
    [InlineData("| D4:3 F4:2- | F4:1 A4:2 G4 |", 1, 1, 1, 1)] // 3 3 2 2, beat three late
    [InlineData("| D4:3 F4:2 | A4:1 G4:4 |", 2, 1, 0, 2)] // 3 2 1 4
    public void Of_HalfBarsByHand_CountsFigures(string result, int strongBeatsKept, int reversed, int evened, int weakLengthened)
    {
        var counts = RecastCounts.Of(Common(Figures, Words), Five(result, Words), RecastRule.HalfBar);

        var expected = new RecastCounts
        {
            StrongBeats = 2,
            StrongBeatsKept = strongBeatsKept,
            ReversedFigures = reversed,
            EvenedFigures = evened,
            WeakLengthened = weakLengthened,
        };
        Assert.Equal(expected, counts with { StressedOnWeaker = 0 });
    }

    // What was even or had a longer weak syllable before is no loss.
    [Theory]
    [InlineData("| D4:1/4 F4 A4 G4 |", "| D4:5/16 F4 | A4:5/16 G4 |")]
    [InlineData("| D4:1/8 F4:3/8 A4:1/4 G4 |", "| D4:2 F4:3 | A4:5/16 G4 |")]
    public void Of_FiguresThatWereSoBefore_CountsNone(string source, string result)
    {
        var counts = RecastCounts.Of(Common(source, Words), Five(result, Words), RecastRule.HalfBar);

        Assert.Equal((0, 0, 0), (counts.ReversedFigures, counts.EvenedFigures, counts.WeakLengthened));
    }

    [Theory]
    [InlineData("| D4:3 F4:2- | F4:3 A4:2 |", 1)] // still held
    [InlineData("| D4:3 F4:2 | z:3 A4:2 |", 0)] // released too early
    [InlineData("| D4:5 | F4:3 A4:2 |", 1)] // straightened
    [InlineData("| D4:5 | z:1 F4:2 A4 |", 0)] // after the beat
    public void Of_NoteHeldOverBeatThree_MustStillSoundThere(string result, int kept)
    {
        const string words = "Three steps down";

        var counts = RecastCounts.Of(Common(Pushed, words), Five(result, words), RecastRule.HalfBar);

        Assert.Equal((1, kept), (counts.HeldBeats, counts.HeldBeatsKept));
    }

    [Theory]
    [InlineData("!weak!The !strong!lan-!weak!terns", "| D4:3 F4:2- | F4:3 A4:2 |", 1)] // weights 0, -1, -1
    [InlineData("!strong!Wait, !weak!the !strong!tide", "| D4:3 F4:2- | F4:3 A4:2 |", 0)]
    [InlineData("!strong!Wait, !weak!the !strong!tide", "| D4:3 F4:2- | F4:4 A4:1 |", 1)] // weights 0, -1, -2
    [InlineData("Wait, the tide", "| D4:3 F4:2- | F4:4 A4:1 |", 0)] // stress unknown
    public void Of_StressedSyllableOnWeakerPlaceThanNeighbour_IsCounted(string words, string result, int count)
    {
        var counts = RecastCounts.Of(Common(Pushed, words), Five(result, words), RecastRule.HalfBar);

        Assert.Equal(count, counts.StressedOnWeaker);
    }

    // The syllable on two notes is as long as both.
    [Theory]
    [InlineData("| D4:1 F4:4 | A4:3 G4:2 |", 0)] // swing 5, ing 3
    [InlineData("| D4:1 F4 A4:3- | A4:1 G4:4 |", 1)] // swing 2, ing 4
    public void Of_Melisma_IsAsLongAsItsNotes(string result, int lengthened)
    {
        const string words = "!strong!swing_-!weak!ing low";

        var counts = RecastCounts.Of(Common("| D4:1/4 F4 A4 G4 |", words), Five(result, words), RecastRule.HalfBar);

        Assert.Equal(lengthened, counts.WeakLengthened);
    }

    [Fact]
    public void Of_NotesAndSyllablesOtherThanInTheSource_AreLost()
    {
        var source = Common(Figures, Words);

        Assert.Equal((1, 2), Lost("| D4:3 F4:2 | A4:5 |", "Lan-terns swing"));
        Assert.Equal((1, 0), Lost("| D4:3 F4:2 | A4:3 F4:2 |", Words));
        Assert.Equal((0, 2), Lost("| D4:3 F4:2 | A4:3 G4:2 |", "Lan-terns * swing-"));
        Assert.Equal((0, 1), Lost("| D4:3 F4:2 | A4:3 G4:2 |", "Lan-terns ring-ing"));

        (int Notes, int Syllables) Lost(string notes, string words)
        {
            var counts = RecastCounts.Of(source, Five(notes, words), RecastRule.HalfBar);
            return (counts.NotesLost, counts.SyllablesLost);
        }
    }

    [Theory]
    [InlineData("2+2+3", 4, "| D4:3 F4:1 A4:2 G4:1 |", 2)]
    [InlineData("3+2+2", 3, "| D4:2 F4:1 A4:2 G4:2 |", 2)]
    [InlineData("3+2+2", 3, "| D4:3 F4:1 A4:2 G4:1 |", 1)]
    public void Of_BarToBar_BeatThreeIsOnItsPlace(string grouping, int unit, string result, int kept)
    {
        var counts = RecastCounts.Of(Common(Figures, Words), One($"7/8 {grouping}", result, Words), new RecastRule(Span.Of(unit, 8)));

        Assert.Equal((2, kept), (counts.StrongBeats, counts.StrongBeatsKept));
    }

    [Fact]
    public void Of_Pickup_BelongsToTheBarBeforeTheFirst()
    {
        var source = Common(Figures, "!weak!The " + Words, "pickup = \"A4:1/4\"\n");
        var result = Five("| D4:3 F4:2 | A4:3 G4:2 |", "!weak!The " + Words, "pickup = \"A4:2\"\n");

        var counts = RecastCounts.Of(source, result, RecastRule.HalfBar);

        Assert.Equal((2, 2, 0), (counts.StrongBeats, counts.StrongBeatsKept, counts.ReversedFigures));
        Assert.Equal(-1, new RecastLayout(source.Sections[0], result.Sections[0], RecastRule.HalfBar).WeightAt(-Span.Of(2, 8)));
    }

    [Fact]
    public void Of_AnotherNumberOfBars_Throws()
    {
        var source = Common(Figures, Words);

        Assert.Throws<ArgumentException>(() => RecastCounts.Of(source, One("5/8 3+2", "| D4:3 F4:2 |", "Lan-terns"), RecastRule.HalfBar));
        Assert.Throws<ArgumentException>(() => RecastCounts.Of(Five("| D4:3 F4:2 | A4:3 G4:2 |", Words), Five("| D4:3 F4:2 | A4:3 G4:2 |", Words), RecastRule.HalfBar));
    }

    // Eighths of half a bar in five places; the strong onset is first.
    [Theory]
    [InlineData("0 1", new[] { 0, 1 })] // 1.25
    [InlineData("0 2", new[] { 0, 2 })] // 2.5, earlier
    [InlineData("0 3", new[] { 0, 4 })] // 3.75
    [InlineData("0 1 2 3", new[] { 0, 1, 2, 4 })]
    [InlineData("0 1/2 1", new[] { 0, 1, 2 })] // 0.625 and 1.25 meet
    [InlineData("0 7/2", new[] { 0, 4 })] // 4.375, not in the next half bar
    [InlineData("0 3 7/2", new[] { 0, 3, 4 })] // 3.75 and 4.375 meet at the end
    [InlineData("0 1/4 1/2 1 3/2", new[] { 0, 1, 2, 3, 4 })]
    [InlineData("0 1/4 1/2 1 3/2 2", null)] // six in five places
    public void NearestPlaces_HalfBarInFive_AreNearestAndInOrder(string eighths, int[]? places)
    {
        var onsets = eighths.Split(' ').Select(text =>
        {
            Assert.True(Rational.TryParse(text, out var eighth));
            return new SourceOnset(0, eighth / 4, 5, eighth == Rational.Zero ? 0 : null);
        });

        Assert.Equal(places, NearestPlaces.Of([.. onsets]));
    }

    // A bar in 7/8 3+2+2: beat three is on the third eighth, and what is before it stays before it.
    [Fact]
    public void NearestPlaces_BeforeAStrongPlace_StayBeforeIt()
    {
        SourceOnset[] onsets = [At(0, 0), At(3, null), At(4, 3), At(5, null), At(7, null)];

        Assert.Equal([0, 2, 3, 4, 6], NearestPlaces.Of(onsets));

        static SourceOnset At(int eighth, int? strong) => new(0, new Rational(eighth, 8), 7, strong);
    }

    [Fact]
    public void NearestPlaces_OfALine_KeepsHeldNotesAndRests()
    {
        var source = Common("| D4:1/4 z:1/8 F4:3/8 A4:1/4 | G4:3/4 z:1/4 |", Words).Sections[0];
        var result = Five("| D4:5 | F4:5 | A4:5 | G4:5 |", Words).Sections[0];

        var notes = NearestPlaces.Of(source.Tune!.Melody, new RecastLayout(source, result, RecastRule.HalfBar));

        PlacedNote[] expected = [Eighths(0, 2), Eighths(4, 7), Eighths(7, 10), Eighths(10, 17)];
        Assert.Equal(expected, notes);

        static PlacedNote Eighths(int onset, int end) => new(Span.Of(onset, 8), Span.Of(end, 8));
    }

    // The third note begins an eighth after beat three, over which the second is held; its nearest eighth in three is the first, on which that note would end.
    [Fact]
    public void NearestPlaces_AfterANoteHeldOverAStrongBeat_LeaveItHeld()
    {
        var source = Common("| D4:3/8 E4:3/16 F4:7/16 |", "Three steps down").Sections[0];
        var result = One("7/8 2+2+3", "| D4:7 |", "Lan").Sections[0];

        var notes = NearestPlaces.Of(source.Tune!.Melody, new RecastLayout(source, result, new RecastRule(Span.Of(4, 8))));

        PlacedNote[] expected = [new(Span.Zero, Span.Of(3, 8)), new(Span.Of(3, 8), Span.Of(5, 8)), new(Span.Of(5, 8), Span.Of(7, 8))];
        Assert.Equal(expected, notes);
    }

    // Beat three of 7/8 3+2+2 is on the third eighth: the halves have three and four places. Five notes in the first half need sixteenths, two in the second do not.
    [Fact]
    public void NearestPlaces_OfAFullHalfBar_AreFinerOnlyThere()
    {
        var source = Common("| D4:1/8 E4:1/16 F4:1/16 G4:1/8 A4 B4:1/8 C5:3/8 |", Words).Sections[0];
        var result = One("7/8 3+2+2", "| D4:7 |", "Lan").Sections[0];

        var notes = NearestPlaces.Of(source.Tune!.Melody, new RecastLayout(source, result, new RecastRule(Span.Of(3, 8))));

        Assert.Equal([0, 1, 2, 3, 4, 6, 8], notes.Select(note => (note.Onset / Span.Of(1, 16)).Numerator));
    }

    private static Chart Common(string notes, string words, string pickup = "") => One("4/4", notes, words, pickup);

    private static Chart Five(string notes, string words, string pickup = "") => One("5/8 3+2", notes, words, pickup);

    private static Chart One(string meter, string notes, string words, string pickup = "")
    {
        var chords = string.Join(' ', Enumerable.Repeat("| Dm", notes.Count(letter => letter == '|') - 1));
        return ChartTexts.Chart(
            $"format = 2\nkey = \"D dorian\"\ntempo = \"eighth = 200\"\nmeter = \"{meter}\"\n[[section]]\nname = \"verse\"\nchords = \"{chords} |\"\n"
            + $"[section.tune]\n{pickup}notes = \"{notes}\"\nwords = \"{words}\"\n");
    }
}
