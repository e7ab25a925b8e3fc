using GrooveLab.Screen;
using Terminal.Gui.Drivers;
using Xunit;

namespace GrooveLab.Tests.Screens;

public sealed class LibraryFailuresTests
{
    [Fact]
    public void IsUnknownKey_KeysThatTheLibraryDoesNotKnow_AreTold()
    {
        // F13 and Menu, as a terminal sends them (from memory of xterm's control sequences).
        foreach (var sent in new[] { "\u001b[25~", "\u001b[29~", "\u001b[99;99~" })
        {
            var failure = Record.Exception(() => new CsiKeyPattern().GetKey(sent));

            // If the library learns them, its failure needs no handling any more.
            Assert.NotNull(failure);
            Assert.True(LibraryFailures.IsUnknownKey(failure), failure.ToString());
        }

        Assert.False(LibraryFailures.IsUnknownKey(new InvalidOperationException()));
    }

    [Fact]
    public void IsSurvived_FailureOfTheLibrary_IsSurvivedUntilItRecursWithoutAPicture()
    {
        var failures = new LibraryFailures();
        Assert.Equal(1, failures.Own(() => 1));
        for (var pictures = 0; pictures < 1000; pictures++)
        {
            Assert.True(failures.IsSurvived(pictures));
        }

        var survived = Enumerable.Range(0, 1000).TakeWhile(_ => failures.IsSurvived(2000)).Count();
        Assert.Equal(100, survived);
    }

    [Fact]
    public void IsSurvived_FailureOfThisProgram_EndsTheScreen()
    {
        var failures = new LibraryFailures();
        Assert.Throws<InvalidOperationException>(() => failures.Own<bool>(() => throw new InvalidOperationException()));
        Assert.False(failures.IsSurvived(1));
    }
}
