using GrooveLab.Screen;
using Xunit;

namespace GrooveLab.Tests.Screens;

public sealed class CellsTests
{
    // Widths: Unicode Standard Annex 11, East Asian Width (from memory).
    [Theory]
    [InlineData("Two Lamps", "Two Lamps")]
    [InlineData("\u00d6l", "\u00d6l")]
    [InlineData("e\u0301tude", "etude")]
    [InlineData("\u6c34 a", "\u6c34\0 a")]
    [InlineData("\U0001f3bb a", "? a")]
    [InlineData("a\tb\u001bc", "a?b?c")]
    [InlineData("a\u200db", "ab")]
    public void Of_AnyText_HasOneCharacterForEachColumn(string text, string cells) => Assert.Equal(cells, Cells.Of(text));

    [Fact]
    public void Of_HalfASign_HasAQuestionMark() => Assert.Equal(1, Cells.Of("a" + '\ud83c').Length - 1);

    [Fact]
    public void Write_WideSignCutInHalf_IsLeftOut()
    {
        var canvas = new Canvas();
        canvas.Begin(6, 1);
        canvas.Write(0, 0, Cells.Of("abcd\u6c34\u6c34"), Ink.Plain, 6);
        Assert.Equal("abcd ~", canvas.ToString().TrimEnd());
    }
}
