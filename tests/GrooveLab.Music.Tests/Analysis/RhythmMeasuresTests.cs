using GrooveLab.Music.Analysis;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Analysis;

public sealed class RhythmMeasuresTests
{
    // Five onsets in 16 pulses. Toussaint 2004; Gómez, Melvin, Rappaport and Toussaint 2005.
    private static readonly int[][] Claves = [[0, 4, 6, 10, 12], [0, 3, 6, 10, 12], [0, 3, 7, 10, 12], [0, 3, 6, 10, 11], [0, 3, 6, 10, 14], [0, 3, 6, 10, 13]];

    // Gómez, Melvin, Rappaport and Toussaint 2005, Mathematical measures of syncopation, BRIDGES 2005, 73-84, fig. 8: shiko, son, rumba, soukous, gahu, bossa-nova.
    // The index of variability: Toussaint 2013, The Geometry of Musical Rhythm, fig. 17.13, from the five intervals.
    [Theory]
    [InlineData(0, 6, 1, 0, 66.7)]
    [InlineData(1, 14, 2, 1, 40.5)]
    [InlineData(2, 18, 2, 2, 41.0)]
    [InlineData(3, 18, 3, 2, 70.5)]
    [InlineData(4, 18, 3, 1, 23.8)]
    [InlineData(5, 20, 3, 2, 14.3)]
    public void Measures_OfTheClaves_AreThePublishedOnes(int clave, int noteToBeatFifths, int keith, int offBeatness, double npvi)
    {
        var onsets = Claves[clave];

        Assert.Equal(new Rational(noteToBeatFifths, 5), RhythmMeasures.WeightedNoteToBeat(onsets, [0, 4, 8, 12], 16));
        Assert.Equal(keith, RhythmMeasures.Keith(onsets, 16));
        Assert.Equal(offBeatness, RhythmMeasures.OffBeatness(onsets, 16));
        Assert.Equal(npvi, RhythmMeasures.Npvi([.. onsets.Skip(1).Append(16).Zip(onsets, (next, own) => (double)(next - own))]), 1);
    }

    // The same paper, fig. 11: seven onsets in twelve pulses, beats of three.
    [Theory]
    [InlineData("101010101101", 1, 15)]
    [InlineData("101010110101", 2, 15)]
    [InlineData("101011010101", 3, 21)]
    [InlineData("110101101010", 2, 15)]
    [InlineData("101011010110", 2, 21)]
    [InlineData("101101101010", 1, 15)]
    [InlineData("101010110110", 1, 15)]
    [InlineData("111010101010", 1, 21)]
    [InlineData("101101010110", 2, 15)]
    [InlineData("101101011010", 2, 21)]
    public void Measures_OfTheBells_AreThePublishedOnes(string bell, int offBeatness, int noteToBeatSevenths)
    {
        int[] onsets = [.. Enumerable.Range(0, bell.Length).Where(i => bell[i] == '1')];

        Assert.Equal(offBeatness, RhythmMeasures.OffBeatness(onsets, 12));
        Assert.Equal(new Rational(noteToBeatSevenths, 7), RhythmMeasures.WeightedNoteToBeat(onsets, [0, 3, 6, 9], 12));
    }

    // Condit-Schultz 2019, Music Perception 36(3), 300-313, figures 1 and 3.
    [Theory]
    [InlineData(0, new double[] { 1, 1, 1, 1 })]
    [InlineData(40, new double[] { 1, 0.5, 0.5, 1, 0.5, 0.5 })]
    [InlineData(66.7, new double[] { 1, 0.5, 1, 0.5 })]
    [InlineData(100, new double[] { 1.5, 0.5, 1.5, 0.5 })]
    [InlineData(150, new double[] { 0.4375, 0.0625, 0.4375, 0.0625 })]
    [InlineData(175, new double[] { 1, 15 })]
    [InlineData(133.3, new double[] { 1, 5 })]
    [InlineData(40, new double[] { 2, 3 })]
    public void Npvi_OfPublishedExamples_IsTheirs(double wanted, double[] lengths) => Assert.Equal(wanted, RhythmMeasures.Npvi(lengths), 1);

    // The definition of Toussaint 2004, A comparison of rhythmic similarity measures, ISMIR 2004, worked out outside the project; that the son is nearest to all
    // others is published there.
    [Fact]
    public void Swap_OfTheClaves_IsTheirTable() => AssertTable(
        (a, b) => RhythmMeasures.Swap(a, b),
        [0, 1, 2, 2, 3, 2],
        [1, 0, 1, 1, 2, 1],
        [2, 1, 0, 2, 3, 2],
        [2, 1, 2, 0, 3, 2],
        [3, 2, 3, 3, 0, 1],
        [2, 1, 2, 2, 1, 0]);

    [Fact]
    public void Chronotonic_OfTheClaves_IsTheirTable() => AssertTable(
        (a, b) => RhythmMeasures.Chronotonic(a, b, 16),
        [0, 6, 10, 14, 14, 12],
        [6, 0, 6, 8, 8, 6],
        [10, 6, 0, 14, 14, 12],
        [14, 8, 14, 0, 12, 12],
        [14, 8, 14, 12, 0, 6],
        [12, 6, 12, 12, 6, 0]);

    // Each onset of the larger rhythm goes to one of the smaller and all are reached; every way is tried.
    [Fact]
    public void Swap_OfUnequalNumbers_IsTheLeastOfEveryWay()
    {
        var random = new Random(5);
        for (var i = 0; i < 500; i++)
        {
            int[] more = [.. Enumerable.Range(0, 12).OrderBy(_ => random.Next()).Take(5).Order()];
            int[] fewer = [.. Enumerable.Range(0, 12).OrderBy(_ => random.Next()).Take(1 + random.Next(4)).Order()];

            var ways = Enumerable.Range(0, (int)Math.Pow(fewer.Length, more.Length))
                .Select(way => more.Select((_, onset) => way / (int)Math.Pow(fewer.Length, onset) % fewer.Length).ToArray())
                .Where(way => way.Distinct().Count() == fewer.Length);
            Assert.Equal(ways.Min(way => more.Select((onset, at) => Math.Abs(onset - fewer[way[at]])).Sum()), RhythmMeasures.Swap(fewer, more));
        }
    }

    [Fact]
    public void Measures_WithoutOnsetsOrOutsideTheCycle_AreRefused()
    {
        Assert.Throws<ArgumentException>(() => RhythmMeasures.Swap([], [1]));
        Assert.Throws<ArgumentException>(() => RhythmMeasures.Chronotonic([0, 16], [0], 16));
        Assert.Throws<ArgumentException>(() => RhythmMeasures.Keith([4, 0], 16));
        Assert.Throws<ArgumentException>(() => RhythmMeasures.OffBeatness([], 16));
        Assert.Throws<ArgumentException>(() => RhythmMeasures.WeightedNoteToBeat([0], [], 16));
        Assert.Throws<ArgumentException>(() => RhythmMeasures.Npvi([1, 0]));
        Assert.Throws<ArgumentException>(() => RhythmMeasures.Npvi([1]));
    }

    private static void AssertTable(Func<int[], int[], long> distance, params int[][] table)
    {
        for (var row = 0; row < Claves.Length; row++)
        {
            Assert.Equal(table[row], Claves.Select(clave => (int)distance(Claves[row], clave)));
        }
    }
}
