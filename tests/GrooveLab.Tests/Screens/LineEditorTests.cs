using GrooveLab.Screen;
using Xunit;

namespace GrooveLab.Tests.Screens;

public sealed class LineEditorTests
{
    private static LineEditor Typed(string text, params string[] keys)
    {
        var line = new LineEditor();
        line.Open(text);
        foreach (var key in keys)
        {
            line.Press(key);
        }

        return line;
    }

    // The usual keys of shells' command lines (common practice, no source).
    [Theory]
    [InlineData("left|left|x", "level baxss")]
    [InlineData("ctrl+b|x", "level basxs")]
    [InlineData("home|x", "xlevel bass")]
    [InlineData("ctrl+a|right|ctrl+f|x", "lexvel bass")]
    [InlineData("home|end|x", "level bassx")]
    [InlineData("home|ctrl+e|x", "level bassx")]
    [InlineData("ctrl+left|x", "level xbass")]
    [InlineData("alt+b|alt+b|x", "xlevel bass")]
    [InlineData("home|ctrl+right|x", "levelx bass")]
    [InlineData("home|alt+f|alt+f|x", "level bassx")]
    [InlineData("ctrl+w", "level ")]
    [InlineData("alt+backspace|ctrl+w", "")]
    [InlineData("home|ctrl+delete", " bass")]
    [InlineData("home|alt+d|ctrl+e|ctrl+y", " basslevel")]
    [InlineData("ctrl+left|ctrl+u", "bass")]
    [InlineData("ctrl+left|ctrl+k", "level ")]
    [InlineData("ctrl+left|ctrl+u|end|ctrl+y", "basslevel ")]
    [InlineData("home|delete|ctrl+d", "vel bass")]
    [InlineData("left|backspace", "level bas")]
    [InlineData("home|backspace|left", "level bass")]
    [InlineData("end|delete|right", "level bass")]
    [InlineData("space|x", "level bass x")]
    [InlineData("ctrl+q|pageup|alt+x", "level bass")]
    public void Press_KeyOfAShell_Edits(string keys, string text) => Assert.Equal(text, Typed("level bass", keys.Split('|')).Text);

    [Fact]
    public void Press_UpAndDown_GoThroughTheLinesAndBackToTheUnfinishedOne()
    {
        var line = Typed("undo");
        line.Enter();
        line.Open("tempo 120");
        line.Enter();
        line.Open("tempo 120");
        line.Enter();
        line.Open("mu");

        line.Press("up");
        Assert.Equal("tempo 120", line.Text);
        line.Press("ctrl+p");
        Assert.Equal("undo", line.Text);
        line.Press("up");
        Assert.Equal("undo", line.Text);
        line.Press("down");
        line.Press("ctrl+n");
        Assert.Equal(("mu", 2), (line.Text, line.Caret));
        line.Press("down");
        Assert.Equal("mu", line.Text);
    }

    [Theory]
    [InlineData("esc")]
    [InlineData("ctrl+g")]
    public void Press_Escape_Closes(string key) => Assert.Null(Typed("level", key).Text);

    [Fact]
    public void Press_BackspaceInAnEmptyLine_Closes() => Assert.Null(Typed("x", "backspace", "backspace").Text);
}
