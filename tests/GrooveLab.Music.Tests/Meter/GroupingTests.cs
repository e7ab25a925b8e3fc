using CsCheck;
using GrooveLab.Music.Meter;
using Xunit;

namespace GrooveLab.Music.Tests.Meter;

public sealed class GroupingTests
{
    [Fact]
    public void TryParse_WhatToStringWrote_IsTheSameGrouping() =>
        Meters.Groupings.Sample(
            grouping =>
            {
                Assert.True(Grouping.TryParse(grouping.ToString(), grouping.Units, out var read, out var problem), problem);
                Assert.Equal(grouping, read);
                Assert.Equal(grouping.GetHashCode(), read.GetHashCode());
                Assert.Equal(grouping.Groups, read.Groups);
                Assert.Equal(grouping.Depth, read.Depth);
            },
            iter: 2000);

    [Theory]
    [InlineData("3+2", 5, "3+2", 1)]
    [InlineData("( 2+2 ) + (2 + 3)", 9, "(2+2)+(2+3)", 2)]
    [InlineData("(3+2)", 5, "3+2", 1)]
    [InlineData("((3+2))", 5, "3+2", 1)]
    [InlineData("(3)+(2)", 5, "3+2", 1)]
    [InlineData("5", 5, "none", 0)]
    [InlineData("(5)", 5, "none", 0)]
    [InlineData("none", 5, "none", 0)]
    [InlineData("((2+2)+3)+4", 11, "((2+2)+3)+4", 3)]
    [InlineData("1+1+1", 3, "1+1+1", 1)]
    public void TryParse_WaysToWriteIt_AreOneGrouping(string text, int units, string wanted, int depth)
    {
        Assert.True(Grouping.TryParse(text, units, out var grouping, out _));
        Assert.Equal(wanted, grouping.ToString());
        Assert.Equal(depth, grouping.Depth);
        Assert.Equal(units, grouping.Units);
        Assert.Equal(depth > 1, grouping.IsNested);
        Assert.Equal(depth == 0, grouping.IsUndivided);
    }

    [Fact]
    public void Of_TreeWithLonelyChildren_IsTheGroupingWithoutThem()
    {
        var lonely = new GroupNode(5, [new GroupNode(5, [new GroupNode(3, [new GroupNode(3, [])]), new GroupNode(2, [])])]);

        Assert.Equal(Grouping.Of(3, 2), Grouping.Of(lonely));
        Assert.Equal(Grouping.Undivided(5), Grouping.Of(new GroupNode(5, [new GroupNode(5, [])])));
        Assert.Equal(Grouping.Undivided(5), Grouping.Of(5));
    }

    [Fact]
    public void Of_SumsThatDoNotAddUp_Throws()
    {
        Assert.Throws<ArgumentException>(() => Grouping.Of());
        Assert.Throws<ArgumentException>(() => Grouping.Of(3, 0));
        Assert.Throws<ArgumentException>(() => Grouping.Of(new GroupNode(6, [new GroupNode(3, []), new GroupNode(2, [])])));
        Assert.Throws<ArgumentException>(() => Grouping.Of(40, 40));
        Assert.Throws<ArgumentOutOfRangeException>(() => Grouping.Undivided(0));
    }

    // The usual grouping of a bare time signature. Common practice, no source.
    [Theory]
    [InlineData(2, 4, "none")]
    [InlineData(3, 4, "none")]
    [InlineData(4, 4, "2+2")]
    [InlineData(4, 2, "2+2")]
    [InlineData(4, 8, "none")]
    [InlineData(5, 4, "none")]
    [InlineData(5, 8, "none")]
    [InlineData(7, 8, "none")]
    [InlineData(11, 16, "none")]
    [InlineData(3, 8, "none")]
    [InlineData(6, 4, "3+3")]
    [InlineData(6, 8, "3+3")]
    [InlineData(9, 8, "3+3+3")]
    [InlineData(12, 8, "3+3+3+3")]
    [InlineData(6, 16, "3+3")]
    [InlineData(15, 8, "none")]
    [InlineData(1, 4, "none")]
    public void Usual_BareSignature_IsWhatMusiciansTakeItFor(int above, int below, string wanted) =>
        Assert.Equal(wanted, Grouping.Usual(new TimeSignature(above, below)).ToString());

    [Fact]
    public void GroupStarts_AnyGrouping_AreTheSumsBefore() =>
        Meters.Groupings.Sample(grouping =>
        {
            var starts = grouping.GroupStarts().ToArray();
            Assert.Equal(0, starts[0]);
            for (var i = 1; i < starts.Length; i++)
            {
                Assert.Equal(grouping.Groups.Take(i).Sum(), starts[i]);
            }
        });
}
