using CsCheck;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

public sealed class RampTests
{
    [Theory]
    [InlineData(-1, 2, 100)]
    [InlineData(0, 1, 100)]
    [InlineData(1, 4, 105)]
    [InlineData(1, 1, 120)]
    [InlineData(3, 2, 120)]
    public void At_WayDone_IsOnTheStraightLineAndStaysAtItsEnds(int above, int below, int expected) =>
        Assert.Equal(expected, new Ramp(100, 120).At(new Rational(above, below)));

    [Fact]
    public void HalfUnits_OfABar_TileItAndHaveTheLinesMean() => Gen.Select(Gen.Int[1, 30], Gen.Int[1, 64], Gen.Int[1, 400], Gen.Int[1, 400]).Sample(
        (units, denominator, from, to) =>
        {
            var unit = Span.Of(1, denominator);
            var line = new Ramp(from, to);
            var steps = Ramp.HalfUnits(unit * units, unit).ToList();
            Assert.Equal(Enumerable.Range(0, 2 * units).Select(step => unit * new Rational(step, 2)), steps.Select(step => step.Onset));
            Assert.All(steps, step => Assert.Equal((step.Onset + (unit / 4)) / (unit * units), step.Middle));
            Assert.Equal(new Rational(from + to, 2), steps.Select(step => line.At(step.Middle)).Aggregate((a, b) => a + b) / steps.Count);
        });
}
