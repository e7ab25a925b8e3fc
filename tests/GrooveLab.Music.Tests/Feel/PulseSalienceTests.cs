using GrooveLab.Music.Feel;
using Xunit;

namespace GrooveLab.Music.Tests.Feel;

public sealed class PulseSalienceTests
{
    // Parncutt 1994, A perceptual model of pulse salience and metrical accent, Music Perception 11(4), equation 6 with p0 = 600 ms and
    // sigma = 0.2: values computed from it outside the program.
    [Theory]
    [InlineData(100, .0005)]
    [InlineData(200, .0581)]
    [InlineData(250, .1641)]
    [InlineData(300, .3221)]
    [InlineData(400, .6787)]
    [InlineData(500, .9246)]
    [InlineData(600, 1)]
    [InlineData(700, .9455)]
    [InlineData(800, .8227)]
    [InlineData(1000, .5405)]
    [InlineData(1200, .3221)]
    [InlineData(1500, .1381)]
    [InlineData(1800, .0581)]
    [InlineData(2400, .0108)]
    [InlineData(3000, .0022)]
    public void Parncutt_Period_IsEquationSix(int ms, double salience) =>
        Assert.Equal(salience, PulseSalience.Parncutt(ms / 1000.0), 4);

    // The same, equation 3 with tau = 500 ms and i = 2.
    [Theory]
    [InlineData(100, .0329)]
    [InlineData(200, .1087)]
    [InlineData(250, .1548)]
    [InlineData(300, .2036)]
    [InlineData(400, .3032)]
    [InlineData(500, .3996)]
    [InlineData(600, .4883)]
    [InlineData(800, .6370)]
    [InlineData(1000, .7476)]
    [InlineData(1500, .9029)]
    public void DurationalAccent_Interval_IsEquationThree(int ms, double accent) =>
        Assert.Equal(accent, PulseSalience.DurationalAccent(ms / 1000.0), 4);

    [Fact]
    public void DurationalAccent_GrowingInterval_RisesFromZeroTowardsOne()
    {
        Assert.Equal(0, PulseSalience.DurationalAccent(0));
        for (var ms = 10; ms < 6000; ms += 10)
        {
            var here = PulseSalience.DurationalAccent(ms / 1000.0);
            Assert.InRange(here, PulseSalience.DurationalAccent((ms - 10) / 1000.0), 1);
        }
    }

    // Parncutt 1994, p. 455: salience is almost zero outside 33 to 300 per minute, and symmetric on a logarithmic axis.
    [Fact]
    public void Parncutt_PeriodsAsFarAboveAsBelowSixHundred_AreEquallySalient()
    {
        for (var ratio = 1.0; ratio < 8; ratio += 0.1)
        {
            Assert.Equal(PulseSalience.Parncutt(0.6 * ratio), PulseSalience.Parncutt(0.6 / ratio), 12);
            Assert.True(ratio < 3.001 || PulseSalience.Parncutt(0.6 * ratio) < 0.0582);
            Assert.True(PulseSalience.Parncutt(0.6 * ratio) > PulseSalience.Parncutt(0.6 * (ratio + 0.1)));
        }
    }

    // Gotham 2015, Attractor tempos for metrical structures, J. Math. Music 9(1), as quoted in the tests of an open library.
    [Theory]
    [InlineData(0.06, 0.00386592)]
    [InlineData(6.0, 0.00386592)]
    [InlineData(0.6, 1)]
    [InlineData(0.5, 0.96576814)]
    [InlineData(1, 0.76076784)]
    [InlineData(2, 0.21895238)]
    public void Gotham_Period_IsThePublishedValue(double seconds, double salience) =>
        Assert.Equal(salience, PulseSalience.Gotham(seconds), 7);

    // The same: 4/4 with levels of 4, 2, 1 and half a quarter, in eighths.
    [Theory]
    [InlineData(120, new[] { 2.39342011, 0.44793176, 1.4136999, 0.44793176, 2.17446773, 0.44793176, 1.4136999, 0.44793176 })]
    [InlineData(100, new[] { 2.342383, 0.604448, 1.604448, 0.604448, 2.208897, 0.604448, 1.604448, 0.604448 })]
    public void GothamWeights_CommonTime_AreThePublishedVectors(int quarters, double[] wanted)
    {
        var weights = PulseSalience.GothamWeights(8, [8, 4, 2, 1], 30.0 / quarters);

        Assert.Equal(wanted.Length, weights.Count);
        for (var i = 0; i < wanted.Length; i++)
        {
            Assert.Equal(wanted[i], weights[i], 6);
        }
    }

    // London 2002, Cognitive constraints on metric systems, abstract; Parncutt 1994, p. 455 for the slowest beat.
    [Fact]
    public void Limits_AreLondonsAndParncutts()
    {
        Assert.Equal(0.1, PulseSalience.FastestUnit);
        Assert.InRange(PulseSalience.FastestBeat, 0.2, 0.25);
        Assert.InRange(PulseSalience.SlowestBeat, 1.5, 2.0);
        Assert.Equal(6.0, PulseSalience.LongestCycle);
        Assert.Equal(2 * PulseSalience.FastestUnit, PulseSalience.FastestBeat);
    }
}
