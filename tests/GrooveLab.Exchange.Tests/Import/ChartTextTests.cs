using System.Text;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.Tests.MusicXml;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>What stands in the text of a chart made from a score.</summary>
public sealed class ChartTextTests
{
    private const string Quarter = "quarter";

    // Source: MusicXML 4.0, element transpose. A clarinet in B flat sounds a major second lower than written, a tenor saxophone an octave lower still.
    [Theory]
    [InlineData("<diatonic>-1</diatonic><chromatic>-2</chromatic>", "| C4:1 D4 E4 C4 ")]
    [InlineData("<diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change>", "| C3:1 D3 E3 C3 ")]
    public void Make_TransposingPartOfMusicXml_SoundsAtPitch(string transpose, string notes)
    {
        var score = MusicXmlTexts.Score(
            1,
            $"<attributes><key><fifths>2</fifths><mode>major</mode></key><time><beats>4</beats><beat-type>4</beat-type></time><transpose>{transpose}</transpose></attributes>"
            + "<harmony><root><root-step>D</root-step></root><kind>major-seventh</kind></harmony>"
            + MusicXmlTexts.Note("D4", 1, Quarter) + MusicXmlTexts.Note("E4", 1, Quarter) + MusicXmlTexts.Note("F1" + "4", 1, Quarter) + MusicXmlTexts.Note("D4", 1, Quarter));
        var text = Made(score.ToString(), ScoreFormat.MusicXml);
        Assert.Contains("key = \"C major\"", text, StringComparison.Ordinal);
        Assert.Matches(@"\| Cmaj7 +\|", text);
        Assert.Contains(notes, text, StringComparison.Ordinal);
    }

    // Source: ABC 2.1, section 4.6: transpose= counts semitones.
    [Fact]
    public void Make_TransposedAbc_SoundsAtPitch() =>
        Assert.Contains("| C4:1 D4 E4 C4 ", Made("X:1\nT:Moved\nM:4/4\nL:1/4\nK:D transpose=-2\nDEFD|\n", ScoreFormat.Abc), StringComparison.Ordinal);

    [Fact]
    public void Make_ScoreWithoutChords_MarksWhatIsInferredWithOtherReadings()
    {
        // The second bar has no third, so it is major, minor or neither.
        var text = Made("X:1\nT:Bare\nM:4/4\nL:1/1\nK:C\n[C,EGc]|[D,A,D]|[G,B,DG]|[C,EGc]|\n", ScoreFormat.Abc);
        Assert.Contains("# These chords are inferred from the notes. Other readings:\n", text, StringComparison.Ordinal);
        Assert.Matches("(?m)^# bar 2: D[^ ]* or D", text);
    }

    [Fact]
    public void Make_RefrainWithAPickup_TakesItsWordAlong()
    {
        // The last beat of the verse, as long as the pickup into the verse, leads into the refrain.
        var text = Made(
            """
            X:1
            T:Home
            M:4/4
            L:1/4
            K:C
            P:Verse
            G|"C"CDEF|"F"GFED|"G"DEFD|"C"C3G|
            w:The rope and tar and can-vas drawn up to the light we stand, oh
            P:Refrain
            "C"c2GE|"F"A2AG|"G"B2AG|"C"c4|
            w:home, come home, bring the boat and all men in
            """,
            ScoreFormat.Abc);
        var refrain = text[text.LastIndexOf("[[section]]", StringComparison.Ordinal)..];
        Assert.Contains("name = \"refrain\"", refrain, StringComparison.Ordinal);
        Assert.Contains("pickup = \"G4:1\"", refrain, StringComparison.Ordinal);
        Assert.Contains("\noh\n| home,", refrain, StringComparison.Ordinal);
        Assert.DoesNotContain(" oh", text[..^refrain.Length], StringComparison.Ordinal);
    }

    // Common practice, no source: the double bars of a strophe's lines are no sections.
    [Fact]
    public void Make_DoubleBarAfterEachLine_MakesSectionsOfTwoLines()
    {
        var text = Made(
            """
            X:1
            T:Lines
            M:3/4
            L:1/4
            K:G
            "G"GAB|"C"cBA|"D"d2c|"G"B3||
            "Em"BAG|"Am"A2B|"D"AGF|"G"G3||
            "C"efg|"G"d2B|"C"ecA|"D"A3||
            "G"B2A|"Em"GFE|"D"D2F|"G"G3|]
            """,
            ScoreFormat.Abc);

        Assert.Equal(["A", "B"], Sections(text));
    }

    // The strain returns twice with another end, and leads into its first and last playing with different notes.
    [Fact]
    public void Make_StrainThatReturnsWithOtherEnds_LeavesNoTailOfTwoBars()
    {
        var text = Made(
            """
            X:1
            T:Tails
            M:3/4
            L:1/4
            K:D
            A|"D"d2c|"G"Bcd|"A7"A2G|"D"FED|"A7"G2E|"D"FGA|"A"C2D|"A7"E2A|
            "D"d2c|"G"Bcd|"A7"A2G|"D"FED|"A7"G2E|"D"FGA|"A7"D2C|"D"D2A|
            "D"d2d|"D"dcd|"Em"e2e|"A7"ecA|"D"f2f|"A"e2d|"E7"dcB|"A7"ABc|
            "D"d2c|"G"Bcd|"A7"A2G|"D"FED|"A7"G2E|"D"FGA|"A7"D2C|"D"D3|]
            """,
            ScoreFormat.Abc);

        Assert.True(Sections(text).Count() <= 3, text);
    }

    private static IEnumerable<string> Sections(string text) =>
        text.Split('\n').SkipWhile(line => line != "[[section]]").Where(line => line.StartsWith("name = ", StringComparison.Ordinal)).Select(line => line[8..^1]);

    private static string Made(string score, ScoreFormat format)
    {
        var imported = ScoreImport.Make(Encoding.UTF8.GetBytes(score), format, new ScoreOptions { Name = "own" });
        Assert.True(imported.Text is not null, imported.Refusal ?? string.Join('\n', imported.Reading.Errors));
        return imported.Text;
    }
}
