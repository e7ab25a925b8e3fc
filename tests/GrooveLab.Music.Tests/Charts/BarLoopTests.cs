using GrooveLab.Music.Charts;
using Xunit;

namespace GrooveLab.Music.Tests.Charts;

public sealed class BarLoopTests
{
    [Theory]
    [InlineData(4, 5)]
    [InlineData(6, 4)]
    [InlineData(3, 4)]
    [InlineData(-1, 4)]
    [InlineData(20, 4)]
    public void After_Bar_GoesRoundAndComesInAtTheFirst(int bar, int expected) => Assert.Equal(expected, new BarLoop(4, 7).After(bar));

    [Fact]
    public void After_LoopOfOneBar_IsThatBar() => Assert.Equal(2, new BarLoop(2, 3).After(2));

    [Theory]
    [InlineData(3, false)]
    [InlineData(4, true)]
    [InlineData(6, true)]
    [InlineData(7, false)]
    public void Contains_Bar_IsTrueFromTheFirstToTheLast(int bar, bool expected) => Assert.Equal(expected, new BarLoop(4, 7).Contains(bar));

    [Theory]
    [InlineData(4, 4)]
    [InlineData(4, 3)]
    [InlineData(-1, 3)]
    public void New_WithoutBarsOrBeforeTheFirst_IsRefused(int from, int end) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new BarLoop(from, end));
}
