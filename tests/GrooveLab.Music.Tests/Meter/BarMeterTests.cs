using CsCheck;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Meter;

public sealed class BarMeterTests
{
    // Onsets of the six claves in sixteenths of 4/4. Toussaint 2004; Gomez, Melvin, Rappaport and Toussaint 2005.
    public static readonly TheoryData<string, int[], int> Claves = new()
    {
        { "shiko", [0, 4, 6, 10, 12], 2 },
        { "son", [0, 3, 6, 10, 12], 4 },
        { "rumba", [0, 3, 7, 10, 12], 5 },
        { "soukous", [0, 3, 6, 10, 11], 6 },
        { "gahu", [0, 3, 6, 10, 14], 5 },
        { "bossa", [0, 3, 6, 10, 13], 6 },
    };

    [Fact]
    public void EveryQuery_EveryMeterFromOneToSixtyFour_Answers()
    {
        for (var above = 1; above <= 64; above++)
        {
            for (var below = 1; below <= 64; below++)
            {
                var signature = new TimeSignature(above, below);
                AnswersEverything(new BarMeter(signature, Grouping.Undivided(above)));
                AnswersEverything(new BarMeter(signature, Grouping.Usual(signature)));
            }
        }
    }

    [Fact]
    public void EveryQuery_AnyGrouping_Answers() => Meters.All.Sample(AnswersEverything, iter: 2000);

    [Fact]
    public void TryParse_WhatToStringWrote_IsTheSameMeter() =>
        Meters.All.Sample(
            meter =>
            {
                Assert.True(BarMeter.TryParse(meter.ToString(), out var read, out var problem), problem);
                Assert.Equal(meter, read);
                Assert.Equal(meter.GetHashCode(), read.GetHashCode());
                Assert.Null(problem);
            },
            iter: 2000);

    [Theory]
    [InlineData("5/8", "5/8 none")]
    [InlineData("5/8 3+2", "5/8 3+2")]
    [InlineData(" 7/8  2 + 2 + 3 ", "7/8 2+2+3")]
    [InlineData("9/8 (2+2)+(2+3)", "9/8 (2+2)+(2+3)")]
    [InlineData("5/8 none", "5/8 none")]
    [InlineData("5/8 UNDIVIDED", "5/8 none")]
    [InlineData("6/8", "6/8 3+3")]
    [InlineData("4/4", "4/4 2+2")]
    [InlineData("7/12 5+2", "7/12 5+2")]
    public void TryParse_WhatPeopleWrite_IsRead(string text, string wanted) => Assert.Equal(wanted, Meters.Read(text).ToString());

    [Theory]
    [InlineData("five eight", "5/8 3+2")]
    [InlineData("0/8", "1 to 64 over 1 to 64")]
    [InlineData("65/8", "1 to 64 over 1 to 64")]
    [InlineData("5/65", "1 to 64 over 1 to 64")]
    [InlineData("5/8/2", "5/8 3+2")]
    [InlineData("-5/8", "1 to 64 over 1 to 64")]
    [InlineData("5/8 3+3", "make the sizes add up to 5")]
    [InlineData("5/8 3", "make the sizes add up to 5")]
    [InlineData("5/8 3+", "write sizes joined by + such as 3+2")]
    [InlineData("5/8 (3+2", "write sizes joined by + such as 3+2")]
    [InlineData("5/8 3+2)", "write sizes joined by + such as 3+2")]
    [InlineData("5/8 3+0+2", "write sizes joined by + such as 3+2")]
    [InlineData("5/8 3 2", "make the sizes add up to 5")]
    [InlineData("5/8 three+two", "or none for an undivided bar")]
    [InlineData("5/8 ()", "write sizes joined by + such as 3+2")]
    public void TryParse_Mistake_NamesTheRemedy(string text, string remedy)
    {
        Assert.False(BarMeter.TryParse(text, out var meter, out var problem));
        Assert.Null(meter);
        Assert.Contains(remedy, problem, StringComparison.Ordinal);
    }

    [Fact]
    public void TryParse_AnyText_NeverThrows() =>
        Gen.Char["0123456789/+() none"].Array[0, 24].Select(letters => new string(letters)).Sample(
            text => BarMeter.TryParse(text, out var meter, out var problem) == (problem is null) && (meter is null) != (problem is null),
            iter: 20_000);

    [Fact]
    public void TryParse_BracketsWithoutEnd_IsRefusedWithoutThrowing() =>
        Assert.False(BarMeter.TryParse("5/8 " + new string('(', 100_000), out _, out _));

    [Fact]
    public void Equality_OtherOrderOfGroups_IsAnotherMeter()
    {
        Assert.NotEqual(Meters.Read("5/8 3+2"), Meters.Read("5/8 2+3"));
        Assert.NotEqual(Meters.Read("5/8 3+2"), Meters.Read("5/8 none"));
        Assert.NotEqual(Meters.Read("9/8 (2+2)+(2+3)"), Meters.Read("9/8 2+2+2+3"));
        Assert.NotEqual(Meters.Read("6/8 3+3"), Meters.Read("6/4 3+3"));
        Assert.Equal(Meters.Read("9/8 (2+2)+(2+3)"), Meters.Read("9/8 (2+2) + (2+3)"));
    }

    [Fact]
    public void Constructor_GroupingOfOtherSum_Throws() =>
        Assert.Throws<ArgumentException>(() => new BarMeter(new TimeSignature(7, 8), Grouping.Of(3, 2)));

    [Theory]
    [InlineData(0, 8)]
    [InlineData(65, 8)]
    [InlineData(5, 0)]
    [InlineData(5, 65)]
    public void TimeSignature_OutsideOneToSixtyFour_Throws(int above, int below) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new TimeSignature(above, below));

    // Longuet-Higgins and Lee 1984, The rhythmic interpretation of monophonic music: a level down is one less. 4/4 from two halves.
    [Theory]
    [InlineData("4/4 2+2", 16, new[] { 0, -4, -3, -4, -2, -4, -3, -4, -1, -4, -3, -4, -2, -4, -3, -4 })]
    [InlineData("3/4 none", 8, new[] { 0, -2, -1, -2, -1, -2 })]
    [InlineData("6/8 3+3", 8, new[] { 0, -2, -2, -1, -2, -2 })]
    [InlineData("9/8 3+3+3", 8, new[] { 0, -2, -2, -1, -2, -2, -1, -2, -2 })]
    public void WeightAt_DivisiveMeters_AreThoseOfLonguetHigginsAndLee(string meter, int grid, int[] weights) =>
        AssertWeights(meter, grid, weights);

    // The project's own, unpublished rule: each group has its own subtree.
    [Theory]
    [InlineData("5/8 3+2", 8, new[] { 0, -2, -2, -1, -2 })]
    [InlineData("5/8 2+3", 16, new[] { 0, -3, -2, -3, -1, -3, -2, -3, -2, -3 })]
    [InlineData("5/8 none", 8, new[] { 0, -1, -1, -1, -1 })]
    [InlineData("7/8 2+2+3", 8, new[] { 0, -2, -1, -2, -1, -2, -2 })]
    [InlineData("9/8 (2+2)+(2+3)", 8, new[] { 0, -3, -2, -3, -1, -3, -2, -3, -3 })]
    [InlineData("9/8 4+(2+3)", 8, new[] { 0, -3, -3, -3, -1, -3, -2, -3, -3 })]
    [InlineData("1/4 none", 16, new[] { 0, -3, -2, -3 })]
    public void WeightAt_AdditiveMeters_CountLevelsDownThroughTheGroups(string meter, int grid, int[] weights) =>
        AssertWeights(meter, grid, weights);

    [Fact]
    public void WeightAt_ThirdsOfAUnit_CountOneLevelLikeHalves()
    {
        var meter = Meters.Read("3/4 none");
        Assert.Equal(-2, meter.WeightAt(Span.Of(1, 12)));
        Assert.Equal(-3, meter.WeightAt(Span.Of(1, 24)));
        Assert.Equal(-3, meter.WeightAt(Span.Of(1, 36)));
    }

    [Fact]
    public void WeightAt_OutsideTheBar_Throws()
    {
        var meter = Meters.Read("5/8 3+2");
        Assert.Throws<ArgumentOutOfRangeException>(() => meter.WeightAt(Span.Of(5, 8)));
        Assert.Throws<ArgumentOutOfRangeException>(() => meter.WeightAt(Span.Of(-1, 8)));
    }

    // Syncopation after Longuet-Higgins and Lee 1984, summed as Fitch and Rosenfeld 2007 do, the highest rest after each note, cyclic:
    // values computed from that definition outside the program.
    [Theory]
    [MemberData(nameof(Claves))]
    public void WeightAt_SumOverTheClaves_GivesTheirSyncopation(string name, int[] onsets, int wanted)
    {
        var meter = Meters.Read("4/4 2+2");
        var sum = 0;
        for (var i = 0; i < onsets.Length; i++)
        {
            var next = i + 1 < onsets.Length ? onsets[i + 1] : onsets[0] + 16;
            var note = Weight(onsets[i]);
            sum += Enumerable.Range(onsets[i] + 1, next - onsets[i] - 1).Select(at => Weight(at % 16) - note)
                .Append(0).Max();
        }

        Assert.True(wanted == sum, $"{name}: {sum} instead of {wanted}");

        int Weight(int sixteenth) => meter.WeightAt(Span.Of(sixteenth, 16));
    }

    private static void AssertWeights(string text, int grid, int[] weights)
    {
        var meter = Meters.Read(text);
        Assert.Equal(weights, Enumerable.Range(0, weights.Length).Select(at => meter.WeightAt(Span.Of(at, grid))));
        Assert.Equal(meter.Length, Span.Of(weights.Length, grid));
    }

    private static void AnswersEverything(BarMeter meter)
    {
        var units = meter.Signature.Numerator;
        Assert.Equal(units, meter.Units);
        Assert.Equal(Span.Of(units, meter.Signature.Denominator), meter.Length);
        Assert.Equal(meter.Length, meter.Unit * units);
        Assert.Equal(units, meter.GroupSizes.Sum());
        Assert.Equal(meter.GroupSizes.Count, meter.GroupStartUnits.Count);
        Assert.Equal(units, meter.UnitDepths.Count);
        Assert.Equal(0, meter.UnitDepths[0]);
        Assert.Equal(meter.Grouping.IsUndivided, meter.GroupSizes.Count == 1);
        var group = 0;
        var next = meter.GroupSizes[0];
        for (var unit = 0; unit < units; unit++)
        {
            if (unit == next)
            {
                next += meter.GroupSizes[++group];
            }

            Assert.Equal(group, meter.GroupOf(unit));
            var starts = meter.GroupStartUnits[group] == unit;
            var depth = meter.UnitDepths[unit];
            // The first unit of a group is at a group level, any other below all of them.
            Assert.Equal(starts, depth <= meter.Grouping.Depth);
            Assert.True(unit == 0 || depth >= 1);
            Assert.Equal(-depth, meter.WeightAt(meter.Unit * unit));
            Assert.True(meter.WeightAt((meter.Unit * unit) + (meter.Unit / 2)) < -meter.Grouping.Depth - 1);
        }

        foreach (var level in Enum.GetValues<FeltLevel>())
        {
            var beats = level.BeatsIn(meter, new BarGroupPlace(0, 0, 4));
            Assert.Equal(Span.Zero, beats[0]);
            Assert.Equal(beats.Order().Distinct(), beats);
            Assert.All(beats, beat => Assert.True(beat < meter.Length));
        }
    }
}
