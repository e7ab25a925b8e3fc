using CsCheck;
using GrooveLab.Music.Notation;
using Xunit;

namespace GrooveLab.Music.Tests.Notation;

public sealed class UnfoldingTests
{
    // Common practice, no source.
    [Theory]
    [InlineData("no signs", "1 2 3", "", "", "")]
    [InlineData("from the start", "1 2 1 2 3", "", ":|", "")]
    [InlineData("between signs", "1 2 3 2 3 4", "", "|:", ":|", "")]
    [InlineData("one measure", "1 2 2 3", "", "|: :|", "")]
    [InlineData("three times", "1 2 1 2 1 2 3", "", ":|x3", "")]
    [InlineData("once is no repeat", "1 2", "|:", ":|x1")]
    [InlineData("two repeats, the second without its beginning", "1 1 2 3 2 3", ":|", "", ":|")]
    [InlineData("first and second ending", "1 2 1 3 4", "|:", "[1 ] :|", "[2 ]", "")]
    [InlineData("a first ending alone", "1 2 1 3", "|:", "[1 ] :|", "")]
    [InlineData("endings 1,2 and 3", "1 2 1 2 1 3 4", "|:", "[1,2 ] :|", "[3 ]", "")]
    [InlineData("endings of two measures", "1 2 3 1 4 5 6", "|:", "[1", "] :|", "[2", "]", "")]
    [InlineData("three endings", "1 2 1 3 1 4", "|:", "[1 ] :|", "[2 ] :|", "[3 ]")]
    [InlineData("a repeat after endings", "1 2 1 3 4 4 5", "|:", "[1 ] :|", "[2 ]", "|: :|", "")]
    [InlineData("a repeat without beginning after endings", "1 2 1 3 4 5 4 5", "|:", "[1 ] :|", "[2 ]", "", ":|")]
    [InlineData("da capo", "1 2 3 1 2 3", "", "", "dc")]
    [InlineData("da capo al fine", "1 2 3 1 2", "", "fine", "dc")]
    [InlineData("dal segno al fine", "1 2 3 4 2 3", "", "segno", "fine", "ds")]
    [InlineData("dal segno al coda", "1 2 3 4 2 3 5 6", "", "segno", "tocoda", "ds", "coda", "")]
    [InlineData("coda by name", "1 2 3 4 1 2 5", "", "tocoda=b", "coda=a", "dc", "coda=b")]
    [InlineData("repeats are left out after da capo", "1 1 2 3 3 4 1 2 3 4", "|: :|", "", "|: :|", "dc")]
    [InlineData("a repeat that says so is taken again", "1 1 2 1 1 2", "|: :|jump", "dc")]
    [InlineData("the last ending after da capo", "1 2 1 3 4 1 3 4", "|:", "[1 ] :|", "[2 ]", "dc")]
    [InlineData("a jump waits for the last pass", "1 2 1 2 1 2 3", "|:", ":| dc", "")]
    [InlineData("a jump in a pass of its own", "1 2 1 2 3", "|:", ":|x2 dc@1", "")]
    [InlineData("dal segno into a repeat", "1 2 3 2 3 4 2 3 5", "", "|: segno", ":| tocoda", "ds", "coda")]
    [InlineData("a fine at the end says nothing more", "1 2", "", "fine")]
    public void Order_Signs_IsTheOrderThatSounds(string what, string expected, params string[] measures)
    {
        var order = Unfolding.Order(Scores.Signs(measures));
        Assert.True(expected == string.Join(' ', order.Select(played => played.Measure + 1)), $"{what}: {string.Join(' ', order.Select(played => played.Measure + 1))}");
    }

    [Theory]
    [InlineData(UnfoldProblem.EndingMissing, "|:", "[1 ] :|", "[3 ]")]
    [InlineData(UnfoldProblem.EndingTwice, "|:", "[1 ] :|", "[1,2 ]")]
    [InlineData(UnfoldProblem.EndingOpen, "|:", "[1 :|", "")]
    [InlineData(UnfoldProblem.EndingOpen, "|:", "] :|", "")]
    [InlineData(UnfoldProblem.EndingOpen, "[1", "[2 ]", "")]
    [InlineData(UnfoldProblem.SegnoMissing, "", "ds")]
    [InlineData(UnfoldProblem.CodaMissing, "tocoda", "dc")]
    [InlineData(UnfoldProblem.TargetUnclear, "segno", "segno", "ds")]
    [InlineData(UnfoldProblem.JumpMissing, "tocoda", "coda")]
    [InlineData(UnfoldProblem.JumpMissing, "fine", "")]
    [InlineData(UnfoldProblem.RepeatInsideMeasure, "", ":|inside")]
    [InlineData(UnfoldProblem.TooLong, "coda", "tocoda", "dc")]
    public void Order_Contradiction_IsNamed(UnfoldProblem problem, params string[] measures) =>
        Assert.Equal(problem, Assert.Throws<UnfoldException>(() => Unfolding.Order(Scores.Signs(measures))).Problem);

    [Fact]
    public void Order_Endings_CountPassesAndVerses()
    {
        var order = Unfolding.Order(Scores.Signs("|:", "[1 ] :|", "[2 ]", "dc"));
        Assert.Equal([1, 1, 2, 2, 1, 2, 2, 1], order.Select(played => played.Pass));
        Assert.Equal([1, 1, 2, 2, 1, 3, 2, 2], order.Select(played => played.Verse));
    }

    [Fact]
    public void Order_SegnoAtTheEndOfAMeasure_LeadsToTheNext()
    {
        var measures = Scores.Signs("", "", "", "ds").ToList();
        measures[0] = measures[0] with { Marks = [new MeterMark(Music.Time.Span.Zero, Scores.FourFour), new JumpMark(Music.Time.Span.Of(1, 1), JumpKind.Segno)] };
        Assert.Equal([0, 1, 2, 3, 1, 2, 3], Unfolding.Order(measures).Select(played => played.Measure));
    }

    // For any signs, the work is bounded and the result is an order of existing measures or a named contradiction.
    [Fact]
    public void Order_AnySigns_EndsWithinItsBound()
    {
        string[] words = ["|:", ":|", ":|x3", ":|jump", "[1", "[2", "[1,2", "]", "segno", "coda", "tocoda", "dc", "ds", "fine", "dc@2", "tocoda@2", ""];
        var measure = Gen.Int[0, words.Length - 1].Select(i => words[i]).Array[0, 3].Select(signs => string.Join(' ', signs));
        measure.Array[1, 12].Sample(
            measures =>
            {
                try
                {
                    var order = Unfolding.Order(Scores.Signs(measures), 1000);
                    Assert.InRange(order.Count, 0, 1000);
                    Assert.All(order, played => Assert.InRange(played.Measure, 0, measures.Length - 1));
                }
                catch (UnfoldException found)
                {
                    Assert.InRange(found.Measure, 0, measures.Length - 1);
                }
            },
            iter: 20_000);
    }

    // Without jumps, every measure outside endings sounds at least once.
    [Fact]
    public void Order_RepeatsOnly_LeavesNoMeasureOut()
    {
        Gen.Int[0, 4].Select(i => new[] { "", "|:", ":|", ":|x3", "|: :|" }[i]).Array[1, 12].Sample(measures =>
        {
            var order = Unfolding.Order(Scores.Signs(measures));
            Assert.Equal(Enumerable.Range(0, measures.Length), order.Select(played => played.Measure).Distinct());
        });
    }
}
