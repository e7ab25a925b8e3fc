using GrooveLab.Screen;
using Xunit;

namespace GrooveLab.Tests.Screens;

public sealed class CellsTests
{
    // Widths: Unicode Standard Annex 11, East Asian Width (from memory).
    [Theory]
    [InlineData("Two Lamps", "Two Lamps")]
    [InlineData("\u00d6l", "\u00d6l")]
    [InlineData("\u6c34 a", "\u6c34\0 a")]
    [InlineData("\u0301a", "?a")]
    [InlineData("\u2764\ufe0f", "\u2764")]
    [InlineData("\U0001f1e8\U0001f1ff", "CZ")]
    [InlineData("1\ufe0f\u20e3", "1")]
    [InlineData("\ue000a", "?a")]
    [InlineData("a\u00adb", "ab")]
    [InlineData("a\tb\u001bc", "a?b?c")]
    [InlineData("a\u200db", "ab")]
    public void Of_AnyText_HasOneCharacterForEachColumn(string text, string cells) => Assert.Equal(cells, Cells.Of(text));

    [Fact]
    public void Of_HalfASign_HasAQuestionMark() => Assert.Equal(1, Cells.Of("a" + '\ud83c').Length - 1);

    // A sign of several characters has one character for each column too. Czech, Vietnamese, Hebrew and Japanese with their marks as characters
    // of their own; pictures, of which terminals show the joined ones in different widths.
    [Theory]
    [InlineData("c\u030cas", 3, "c\u030cas")]
    [InlineData("Nu\u031bo\u031b\u0301c", 4, "Nu\u031bo\u031b\u0301c")]
    [InlineData("\u05e9\u05b8\u05c1\u05dc", 2, "\u05e9\u05b8\u05c1\u05dc")]
    [InlineData("\u304b\u3099\u304f", 4, "\u304b\u3099\u304f")]
    [InlineData("\u1112\u1161\u11ab", 2, "\u1112\u1161\u11ab")]
    [InlineData("\u0e01\u0e33", 2, "\u0e01\u0e33")]
    [InlineData("\U0001f3bb a", 4, "\U0001f3bb a")]
    [InlineData("\U0001f44d\U0001f3fd", 2, "\U0001f44d")]
    [InlineData("\U0001f468\u200d\U0001f469\u200d\U0001f467!", 3, "\U0001f468!")]
    public void Of_SignsOfSeveralCharacters_KeepTheirColumnsAndText(string text, int columns, string shown)
    {
        var cells = Cells.Of(text);
        Assert.Equal(columns, cells.Length);
        var canvas = new Canvas();
        canvas.Begin(20, 1);
        canvas.Write(0, 0, cells, Ink.Plain);
        Assert.Equal(shown, canvas.ToString().TrimEnd());
    }

    [Theory]
    [InlineData("c\u030cas", "cas")]
    [InlineData("\u010das", "cas")]
    [InlineData("N\u01b0\u1edbc", "Nuoc")]
    [InlineData("\u05e9\u05b8\u05c1", "?")]
    public void Write_MarkedLettersInAscii_AreWithoutTheirMarks(string text, string shown)
    {
        var canvas = new Canvas { Ascii = true };
        canvas.Begin(20, 1);
        canvas.Write(0, 0, Cells.Of(text), Ink.Plain);
        Assert.Equal(shown, canvas.ToString().TrimEnd());
    }

    [Theory]
    [InlineData("c\u030cas", "CAS")]
    [InlineData("\u010das", "CAS")]
    [InlineData("Nu\u031bo\u031b\u0301c", null)]
    [InlineData("N\u01b0\u1edbc", null)]
    public void Capitals_DecomposedLetters_AreAsComposedOnes(string word, string? capitals) => Assert.Equal(capitals, BigText.Capitals(word));

    [Fact]
    public void Spaced_WideSigns_KeepTheirTwoColumns() => Assert.Equal("\u6c34\0 \u6c34\0 a", Cells.Spaced("\u6c34\u6c34a"));

    [Theory]
    [InlineData(5, "\u6c34\0\u6c34\0a")]
    [InlineData(4, "\u6c34\0 ~")]
    [InlineData(3, "\u6c34\0~")]
    [InlineData(0, "")]
    public void Cut_WideSigns_AreNotCutInHalf(int room, string cut) => Assert.Equal(cut, Cells.Cut("\u6c34\0\u6c34\0a", room));

    [Fact]
    public void Write_WideSignCutInHalf_IsLeftOut()
    {
        var canvas = new Canvas();
        canvas.Begin(6, 1);
        canvas.Write(0, 0, Cells.Of("abcd\u6c34\u6c34"), Ink.Plain, 6);
        Assert.Equal("abcd ~", canvas.ToString().TrimEnd());
    }
}
