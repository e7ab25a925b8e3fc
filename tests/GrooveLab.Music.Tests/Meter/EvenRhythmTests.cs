using GrooveLab.Music.Meter;
using Xunit;

namespace GrooveLab.Music.Tests.Meter;

public sealed class EvenRhythmTests
{
    // Toussaint 2005, The Euclidean algorithm generates traditional musical rhythms, BRIDGES 2005, 47-56. E(5,16) is printed there with
    // an extra pulse in its row of boxes; its intervals are used. Rotations differ between procedures, so necklaces are compared.
    public static readonly TheoryData<int, int, int[]> Toussaint = new()
    {
        { 2, 3, [2, 1] },
        { 2, 5, [2, 3] },
        { 3, 4, [2, 1, 1] },
        { 3, 5, [2, 2, 1] },
        { 3, 7, [2, 2, 3] },
        { 3, 8, [3, 3, 2] },
        { 4, 7, [2, 2, 2, 1] },
        { 4, 9, [2, 2, 2, 3] },
        { 4, 11, [3, 3, 3, 2] },
        { 5, 6, [2, 1, 1, 1, 1] },
        { 5, 7, [2, 1, 2, 1, 1] },
        { 5, 8, [2, 1, 2, 1, 2] },
        { 5, 9, [2, 2, 2, 2, 1] },
        { 5, 11, [2, 2, 2, 2, 3] },
        { 5, 12, [3, 2, 3, 2, 2] },
        { 5, 13, [3, 2, 3, 2, 3] },
        { 5, 16, [3, 3, 3, 3, 4] },
        { 6, 13, [2, 2, 2, 2, 2, 3] },
        { 7, 8, [2, 1, 1, 1, 1, 1, 1] },
        { 7, 9, [2, 1, 1, 2, 1, 1, 1] },
        { 7, 12, [2, 1, 2, 2, 1, 2, 2] },
        { 7, 16, [3, 2, 2, 3, 2, 2, 2] },
        { 9, 16, [2, 1, 2, 2, 2, 1, 2, 2, 2] },
        { 11, 24, [3, 2, 2, 2, 2, 3, 2, 2, 2, 2, 2] },
        { 13, 24, [2, 1, 2, 2, 2, 2, 2, 1, 2, 2, 2, 2, 2] },
    };

    [Theory]
    [MemberData(nameof(Toussaint))]
    public void Intervals_ToussaintsEuclideanRhythms_AreTheSameNecklaces(int onsets, int pulses, int[] wanted)
    {
        Assert.True(IsRotation(wanted, EvenRhythm.Intervals(onsets, pulses)));
        Assert.True(EvenRhythm.IsMaximallyEven(wanted));
    }

    // London 2004/2012, Hearing in Time: beat patterns that are maximally even, and some that are not. From memory; evenness itself is
    // arithmetic.
    [Theory]
    [InlineData(true, new[] { 2, 3 })]
    [InlineData(true, new[] { 2, 2, 3 })]
    [InlineData(true, new[] { 3, 3, 2 })]
    [InlineData(true, new[] { 2, 2, 2, 3 })]
    [InlineData(true, new[] { 3, 2, 3, 2 })]
    [InlineData(true, new[] { 2, 2, 2, 2, 3 })]
    [InlineData(true, new[] { 3, 3, 3, 2 })]
    [InlineData(true, new[] { 3, 2, 3, 2, 2 })]
    [InlineData(true, new[] { 2, 2, 2, 2, 2, 3 })]
    [InlineData(true, new[] { 3, 2, 3, 2, 3 })]
    [InlineData(false, new[] { 2, 2, 3, 3 })]
    [InlineData(false, new[] { 3, 2, 2, 3 })]
    [InlineData(false, new[] { 2, 2, 2, 3, 3 })]
    [InlineData(false, new[] { 2, 2, 3, 3, 3 })]
    // Toussaint 2013, The Geometry of Musical Rhythm, fig. 37.11: of the six claves only the bossa-nova is maximally even.
    [InlineData(false, new[] { 4, 2, 4, 2, 4 })]
    [InlineData(false, new[] { 3, 3, 4, 2, 4 })]
    [InlineData(false, new[] { 3, 4, 3, 2, 4 })]
    [InlineData(false, new[] { 3, 3, 4, 1, 5 })]
    [InlineData(false, new[] { 3, 3, 4, 4, 2 })]
    [InlineData(true, new[] { 3, 3, 4, 3, 3 })]
    public void IsMaximallyEven_BeatPatterns_TellsEvenFromUneven(bool even, int[] intervals) =>
        Assert.Equal(even, EvenRhythm.IsMaximallyEven(intervals));

    // Clough and Douthett 1991, Maximally even sets: for every number of onsets and pulses exactly one such set exists up to rotation.
    [Fact]
    public void IsMaximallyEven_EveryRhythmUpToTwelvePulses_HoldsForOneNecklaceOnly()
    {
        for (var pulses = 1; pulses <= 12; pulses++)
        {
            foreach (var intervals in Compositions(pulses))
            {
                var same = IsRotation([.. intervals], EvenRhythm.Intervals(intervals.Count, pulses));
                Assert.True(same == EvenRhythm.IsMaximallyEven(intervals), string.Join(' ', intervals));
            }
        }
    }

    // Demaine et al. 2009, The distance geometry of music: Euclidean rhythms alone have the greatest sum of distances between onsets
    // drawn on a circle.
    [Fact]
    public void Intervals_EveryRhythmUpToElevenPulses_HaveTheGreatestSumOfDistances()
    {
        for (var pulses = 2; pulses <= 11; pulses++)
        {
            var all = Compositions(pulses).ToArray();
            for (var onsets = 1; onsets <= pulses; onsets++)
            {
                var even = EvenRhythm.Intervals(onsets, pulses);
                var most = Distances(even, pulses);
                foreach (var other in all.Where(intervals => intervals.Count == onsets))
                {
                    if (IsRotation([.. other], even))
                    {
                        Assert.Equal(most, Distances(other, pulses), 9);
                    }
                    else
                    {
                        Assert.True(Distances(other, pulses) < most - 1e-9, string.Join(' ', other));
                    }
                }
            }
        }
    }

    [Fact]
    public void Intervals_EveryPairUpToSixtyFour_AddUpAndDifferByOneAtMost()
    {
        for (var pulses = 1; pulses <= 64; pulses++)
        {
            for (var onsets = 1; onsets <= pulses; onsets++)
            {
                var intervals = EvenRhythm.Intervals(onsets, pulses);
                Assert.Equal(onsets, intervals.Count);
                Assert.Equal(pulses, intervals.Sum());
                Assert.True(intervals.Max() - intervals.Min() <= 1);
                Assert.True(EvenRhythm.IsMaximallyEven(intervals));
            }
        }
    }

    [Theory]
    [InlineData(0, 8)]
    [InlineData(-1, 8)]
    [InlineData(9, 8)]
    public void Intervals_ImpossibleNumbers_Throw(int onsets, int pulses) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => EvenRhythm.Intervals(onsets, pulses));

    private static bool IsRotation(int[] a, IReadOnlyList<int> b) =>
        a.Length == b.Count
        && Enumerable.Range(0, a.Length).Any(turn => Enumerable.Range(0, a.Length).All(i => a[(i + turn) % a.Length] == b[i]));

    private static double Distances(IReadOnlyList<int> intervals, int pulses)
    {
        var places = new int[intervals.Count];
        for (var i = 1; i < places.Length; i++)
        {
            places[i] = places[i - 1] + intervals[i - 1];
        }

        var sum = 0.0;
        for (var i = 0; i < places.Length; i++)
        {
            for (var j = 0; j < i; j++)
            {
                sum += 2 * Math.Sin(Math.PI * (places[i] - places[j]) / pulses);
            }
        }

        return sum;
    }

    private static IEnumerable<List<int>> Compositions(int sum)
    {
        if (sum == 0)
        {
            yield return [];
            yield break;
        }

        for (var first = 1; first <= sum; first++)
        {
            foreach (var rest in Compositions(sum - first))
            {
                rest.Insert(0, first);
                yield return rest;
            }
        }
    }
}
