using System.Text;
using Xunit;

namespace GrooveLab.Files.Tests;

// The reserved names and characters: Microsoft, "Naming Files, Paths, and Namespaces". The rest is common practice, no source.
public sealed class FileNamesTests
{
    [Theory]
    [InlineData("Ferry Lanterns", "Ferry Lanterns")]
    [InlineData("Фонари, 灯籠", "Фонари, 灯籠")]
    [InlineData("Up/Down: where?", "Up-Down- where")]
    [InlineData(@"..\..\etc", "etc")]
    [InlineData("..hidden", "hidden")]
    [InlineData("The end. . ", "The end")]
    [InlineData("-rf", "rf")]
    [InlineData("<a href=\"x\">", "a href=x")]
    [InlineData("tab\tand\r\nline", "tab and line")]
    [InlineData("\u202Elanterns\u0007", "lanterns")]
    [InlineData("con", "con_")]
    [InlineData("Con.text", "Con_.text")]
    [InlineData("NUL .x", "NUL_.x")]
    [InlineData("COM\u00B9", "COM\u00B9_")]
    [InlineData("com10", "com10")]
    [InlineData("console", "console")]
    [InlineData("", "song")]
    [InlineData("???", "song")]
    [InlineData("/ / /", "song")]
    [InlineData(" . - ", "song")]
    public void Safe_AnyText_IsANameThatEverySystemAccepts(string text, string expected) => Assert.Equal(expected, FileNames.Safe(text, "song"));

    [Fact]
    public void Safe_HalfASurrogate_IsLeftOut() => Assert.Equal("ab", FileNames.Safe("a\uD800b", "song"));

    [Theory]
    [InlineData("é", 39)]
    [InlineData("e\u0301", 26)]
    [InlineData("灯", 26)]
    public void Safe_LongText_IsCutBetweenLetters(string letter, int letters)
    {
        // 80 bytes, one of them kept free: 39 of two bytes, 26 of three.
        var name = FileNames.Safe(string.Concat(Enumerable.Repeat(letter, 200)), "song");
        Assert.Equal(string.Concat(Enumerable.Repeat(letter, letters)), name);
        Assert.InRange(Encoding.UTF8.GetByteCount(name), 1, 80);
    }

    [Fact]
    public void Safe_CutAtADot_LeavesNoDotAtTheEnd() => Assert.Equal("abcdef", FileNames.Safe("abcdef.g", "song", 8));

    [Fact]
    public void Take_NamesThatDifferInCaseOnly_GetNumbers()
    {
        var names = new UniqueNames();
        Assert.Equal("Song.mid", names.Take("Song", ".mid"));
        Assert.Equal("song 2.mid", names.Take("song", ".mid"));
        Assert.Equal("SONG 2 2.mid", names.Take("SONG 2", ".mid"));
        Assert.Equal("Song.wav", names.Take("Song", ".wav"));
        Assert.Equal("SONG 3.mid", names.Take("SONG", ".mid"));
    }
}
