using CsCheck;
using GrooveLab.Music.Meter;
using Xunit;

namespace GrooveLab.Music.Tests.Meter;

public sealed class BarGroupsTests
{
    [Theory]
    [InlineData(new[] { 4 }, 8, new[] { 4, 4 })]
    [InlineData(new[] { 4 }, 10, new[] { 4, 4, 2 })]
    [InlineData(new[] { 4 }, 3, new[] { 3 })]
    [InlineData(new[] { 4, 4, 2 }, 20, new[] { 4, 4, 2, 4, 4, 2 })]
    [InlineData(new[] { 4, 4, 2 }, 13, new[] { 4, 4, 2, 3 })]
    [InlineData(new[] { 3, 2 }, 4, new[] { 3, 1 })]
    [InlineData(new[] { 1 }, 3, new[] { 1, 1, 1 })]
    public void PlaceOf_BarsOfASection_LeftoversFormAShorterGroup(int[] pattern, int bars, int[] groups)
    {
        var places = Enumerable.Range(0, bars).Select(bar => new BarGroups(pattern).PlaceOf(bar, bars)).ToArray();

        Assert.Equal(groups, places.GroupBy(place => place.Group).Select(group => group.Count()));
        Assert.All(places, place => Assert.Equal(groups[place.Group], place.Size));
    }

    [Fact]
    public void PlaceOf_AnyPattern_GroupsFollowEachOtherAndEveryBarHasItsPlace() =>
        Gen.Select(Gen.Int[1, 9].Array[1, 5], Gen.Int[1, 80]).Sample((pattern, bars) =>
        {
            var groups = new BarGroups(pattern);
            BarGroupPlace? before = null;
            for (var bar = 0; bar < bars; bar++)
            {
                var place = groups.PlaceOf(bar, bars);
                var opens = before is not { } last || last.IsLast;
                Assert.Equal(opens ? (before?.Group + 1) ?? 0 : before!.Value.Group, place.Group);
                Assert.Equal(opens ? 0 : before!.Value.Index + 1, place.Index);
                Assert.True(place.Size <= pattern[place.Group % pattern.Length]);
                Assert.Equal(opens, place.IsFirst);
                before = place;
            }

            Assert.True(before!.Value.IsLast);
        });

    [Fact]
    public void Equality_SamePattern_IsEqual()
    {
        Assert.Equal(new BarGroups(4, 4, 2), new BarGroups(4, 4, 2));
        Assert.Equal(new BarGroups(4, 4, 2).GetHashCode(), new BarGroups(4, 4, 2).GetHashCode());
        Assert.NotEqual(new BarGroups(4, 2, 4), new BarGroups(4, 4, 2));
        Assert.Equal("4+4+2", new BarGroups(4, 4, 2).ToString());
    }

    [Fact]
    public void Constructor_EmptyOrOutOfRange_Throws()
    {
        Assert.Throws<ArgumentException>(() => new BarGroups());
        Assert.Throws<ArgumentException>(() => new BarGroups(4, 0));
        Assert.Throws<ArgumentException>(() => new BarGroups(65));
    }
}
