using System.Text;
using GrooveLab.Exchange.Abc;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;
using Xunit;

namespace GrooveLab.Exchange.Tests.Abc;

/// <summary>What people write in ABC although ABC 2.1 has it otherwise, or leaves it open. Common practice, seen in collections of tunes.</summary>
public sealed class AbcHandwritingTests
{
    // ABC 2.1, section 4.18, has the bass as a note in upper case.
    [Theory]
    [InlineData("G/b", "G/B")]
    [InlineData("D/f+", "D/F#")]
    [InlineData("Am7/g", "Am7/G")]
    [InlineData("Gm/bb", "Gm/Bb")]
    [InlineData("D/F#", "D/F#")]
    public void ChordSymbol_BassInLowerCase_IsRead(string written, string read)
    {
        var reading = Read($"X:1\nT:Low\nM:4/4\nL:1/4\nK:G\n\"{written}\"GABc|dcBA|\n");

        Assert.Empty(reading.Warnings);
        Assert.Equal(read, Chords(reading).Single().Chords[0].Symbol!.Text);
    }

    [Fact]
    public void ChordSymbol_BassThatIsNoNote_IsReadWithoutIt()
    {
        var reading = Read("X:1\nT:Low\nM:4/4\nL:1/4\nK:G\n\"Am/x\"GABc|dcBA|\n");

        Assert.Equal("Am", Chords(reading).Single().Chords[0].Symbol!.Text);
        Assert.Contains(reading.Warnings, warning => warning.ToString().Contains("the bass of 'Am/x' is not known", StringComparison.Ordinal));
    }

    [Fact]
    public void ChordSymbols_TwoAtOneNote_TheSecondIsListed()
    {
        var reading = Read("X:1\nT:Two\nM:4/4\nL:1/4\nK:G\n\"C\"\"Em\"GABc|\"D\"dcBA|\n");

        Assert.Equal(["C", "D"], Chords(reading).Select(mark => mark.Chords[0].Symbol!.Text));
        Assert.Contains(reading.NotCarried, one => one.ToString().Contains("Em, a second chord symbol at the same note", StringComparison.Ordinal));
    }

    [Fact]
    public void LineEnd_AfterAFullBarWithoutBarLine_EndsTheBar()
    {
        var reading = Read("X:1\nT:Open\nM:2/4\nL:1/8\nK:G\nG4|A2B2\nc2BA|G4\n");

        Assert.Equal(4, reading.Music!.Measures.Count);
        Assert.All(reading.Music.Measures, measure => Assert.Null(measure.ActualLength));
        Assert.Contains(reading.Warnings, warning => warning.ToString().Contains("ends with a full bar and no bar line", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("G4|A2\nB2|c2BA|G4|")]
    [InlineData("G4|A2B2\n|c2BA|G4|")]
    [InlineData("G4|A2B2|\nc2BA|G4|")]
    [InlineData("G4|A2B2|\\\nc2BA|G4|")]
    public void LineEnd_ElsewhereOrWithItsBarLine_AddsNone(string music)
    {
        var reading = Read("X:1\nT:Shut\nM:2/4\nL:1/8\nK:G\n" + music + "\n");

        Assert.Equal(4, reading.Music!.Measures.Count);
        Assert.Empty(reading.Warnings);
    }

    [Fact]
    public void Pickup_ThatCompletesTheBarBeforeARepeat_IsNoOddBar()
    {
        var reading = Read("X:1\nT:Parts\nM:3/4\nL:1/4\nK:G\nP:A\n|:D|GAB|cBA|G2:|\nP:B\nd|dcB|AGF|G2|]\n");

        Assert.Empty(reading.Warnings);
    }

    [Fact]
    public void Bar_OfAnotherLengthElsewhere_IsNamed()
    {
        var reading = Read("X:1\nT:Odd\nM:3/4\nL:1/4\nK:G\nGAB|cB|GAB||d|dcB|\n");

        Assert.Equal(2, reading.Warnings.Count(warning => warning.ToString().Contains("it is read as a bar of that length", StringComparison.Ordinal)));
    }

    // The second ending is one bar, as the first; the bars after it are repeated.
    [Fact]
    public void SecondEnding_ThatNothingEnds_IsAsLongAsTheFirst()
    {
        var text = Chart(
            """
            X:1
            T:Twice
            M:2/4
            L:1/8
            K:G
            |:"G"G2B2|"C"c2e2|"D"d2A2|"D"d2F2|"Em"E2G2|"C"c2B2|"D"A2F2|[1"G"G2D2:|[2"G"G4|
            "C"e2c2|"G"d2B2|"C"e2g2|"D"f2d2|"C"e2c2|"G"d2B2|"D"A2F2|"G"G4:|
            """);

        Assert.Contains("form = [\"A x2\", \"B x2\"]", text, StringComparison.Ordinal);
        Assert.Equal(2, text.Split("[[section.ending]]").Length - 1);
    }

    // A double bar says where the ending ends, however long it is.
    [Fact]
    public void SecondEnding_WithADoubleBar_IsAsLongAsWritten()
    {
        var reading = Read("X:1\nT:Twice\nM:2/4\nL:1/8\nK:G\n|:G2B2|c2e2|[1G4:|[2G2A2|B2A2|G4||e2c2|d4:|\n");

        var stop = reading.Music!.Measures.Select((measure, i) => (i, Stops: measure.Marks.OfType<EndingMark>().Any(mark => mark.Edge != EndingEdge.Start && mark.Numbers.Contains(2)))).Single(one => one.Stops).i;
        Assert.Equal(5, stop);
    }

    private static ScoreReading Read(string abc) => AbcScoreReader.Read(Encoding.UTF8.GetBytes(abc), new ScoreOptions { Name = "tune.abc" });

    private static IEnumerable<ChordMark> Chords(ScoreReading reading) => reading.Music!.Measures.SelectMany(measure => measure.Marks.OfType<ChordMark>());

    private static string Chart(string abc)
    {
        var imported = ScoreImport.Make(Encoding.UTF8.GetBytes(abc), ScoreFormat.Abc, new ScoreOptions { Name = "tune" });
        Assert.True(imported.Text is not null, imported.Refusal ?? string.Join('\n', imported.Reading.Errors));
        return imported.Text;
    }
}
