using System.Globalization;
using GrooveLab.Screen;
using GrooveLab.Store;
using GrooveLab.Tests.Screens;
using Xunit;

namespace GrooveLab.Tests.Store;

public sealed class KeySettingsTests
{
    private const string Song = """
        format = 1
        title = "Two Lamps"
        key = "D dorian"
        tempo = "eighth = 300"
        meter = "5/8 3+2"

        [[section]]
        name = "a"
        chords = "| Dm | C | G | Dm |"
        """;

    [Fact]
    public void Read_Toml_IsReadAsTomlIs()
    {
        var settings = Read("""
            # Mine.
            [keys]
            j = "mute bass"       # a bare key
            'ö' = 'feel bar'      # single quotes
            "\u002a" = "undo"     # an escape
            "Space" = "hold"
            "CTRL+X" = "save  anyway"
            "f" = ""              # nothing

            [pedals]
            CC80 = "solo bass"
            "note007" = "tap"
            "cc64" = ""
            """);

        Assert.Empty(settings.Problems);
        Assert.Equal("mute bass", settings.Does("j"));
        Assert.Equal("feel bar", settings.Does("ö"));
        Assert.Equal("undo", settings.Does("*"));
        Assert.Equal("hold", settings.Does("space"));
        Assert.Equal("save anyway", settings.Does("ctrl+x"));
        Assert.Null(settings.Does("f"));
        Assert.Equal("solo bass", settings.PedalDoes("cc80"));
        Assert.Equal("tap", settings.PedalDoes("note7"));
        Assert.Null(settings.PedalDoes("cc64"));
        Assert.Equal("feel other", settings.PedalDoes("cc67"));
    }

    [Fact]
    public void Read_Nothing_HasTheUsualBindings()
    {
        var settings = Read(string.Empty);
        Assert.Empty(settings.Problems);
        Assert.All(KeySettings.Usual, usual => Assert.Equal(usual.Does, settings.Does(usual.Key)));
        Assert.All(KeySettings.UsualPedals, usual => Assert.Equal(usual.Does, settings.PedalDoes(usual.Pedal)));
    }

    // The settings accept every default binding.
    [Fact]
    public void Usual_Bindings_AreAcceptedInTheFile()
    {
        var settings = Read("[keys]\n" + string.Concat(KeySettings.Usual.Select(usual => $"\"{usual.Key}\" = \"{usual.Does}\"\n"))
            + "[pedals]\n" + string.Concat(KeySettings.UsualPedals.Select(usual => $"{usual.Pedal} = \"{usual.Does}\"\n")));
        Assert.Empty(settings.Problems);
    }

    [Theory]
    [InlineData("[keyz]\nx = \"undo\"", 1, 1, "[keyz] is not a table of these settings", "did you mean [keys]?")]
    [InlineData("[colours]\nx = \"undo\"", 1, 1, "[colours] is not a table of these settings", "accepted: [keys] or [pedals]")]
    [InlineData("x = \"undo\"\n[keys]", 1, 1, "'x' is not in a table", "put it below [keys] or [pedals]")]
    [InlineData("[keys]\nx = \"undoo\"", 2, 5, "unknown action 'undoo'", "did you mean undo?")]
    [InlineData("[keys]\nx = \"muet bass\"", 2, 5, "unknown action 'muet'", "did you mean mute?")]
    [InlineData("[keys]\nx = \"slwer\"", 2, 5, "unknown action 'slwer'", "did you mean slower?")]
    [InlineData("[keys]\nx = \"level\"", 2, 5, "'level' is incomplete", "usage: level")]
    [InlineData("[keys]\nx = \"undo twice\"", 2, 5, "'undo' takes no arguments", "write \"undo\"")]
    [InlineData("[keys]\nx = \"tap twice\"", 2, 5, "'tap' takes no arguments", "write \"tap\"")]
    [InlineData("[keys]\nx = \"part one\"", 2, 5, "'part one' does not select a part", "write part with a number from 1: \"part 1\"")]
    [InlineData("[keys]\nx = \"all quieter\"", 2, 5, "'all quieter' is not an action", "write \"all louder\" or \"all softer\"")]
    [InlineData("[keys]\nx = \"open\"", 2, 5, "'open' needs a file", "write \"open FILE\"")]
    [InlineData("[keys]\nx = \"qqqqqqqqqq\"", 2, 5, "unknown action 'qqqqqqqqqq'", "an action is a change in words")]
    [InlineData("[keys]\n\n  \"pagdown\" = \"undo\"", 3, 3, "'pagdown' is not a key", "did you mean pagedown?")]
    [InlineData("[keys]\npage-down = \"undo\"", 2, 1, "'page-down' is not a key", "did you mean pagedown?")]
    [InlineData("[keys]\nF5 = \"undo\"", 2, 1, "'F5' is not a key", "a key is one character, ctrl+ with a character, or space,")]
    [InlineData("[keys]\n\"ctrl+c\" = \"undo\"", 2, 1, "ctrl+c always leaves the program", "bind another key")]
    [InlineData("[keys]\n\"Ctrl+I\" = \"undo\"", 2, 1, "a terminal sends ctrl+i as tab", "bind tab, or another key")]
    [InlineData("[keys]\n\" \" = \"undo\"", 2, 1, "' ' is not a name of a key", "write \"space\"")]
    [InlineData("[keys]\n\"Home\" = \"undo\"\nhome = \"redo\"", 3, 1, "'home' is already bound above", "keep one of the two")]
    [InlineData("[keys]\nx = \"undo\"\nx = \"redo\"", 3, 1, "'x' is already set in line 2", "keep one of the two")]
    [InlineData("[keys]\nx = 5", 2, 5, "the value of 'x' is not a text", "put it in quotes")]
    [InlineData("[keys]\nx = undo", 2, 5, "the value of x is neither a text in quotes", "put it in quotes: x = \"undo\"")]
    [InlineData("[keys]\nx", 2, 1, "'x' is neither a key with its value nor a header", "write key = \"value\"")]
    [InlineData("[keys\nx = \"undo\"", 1, 1, "'[keys' is not a complete header", "write [keys] or [pedals] on a separate line")]
    [InlineData("[[keys]]\nx = \"hold\"", 1, 1, "[[keys]] has double brackets", "write [keys]")]
    [InlineData("[pedals]\ncc200 = \"undo\"", 2, 1, "'cc200' is not a pedal or controller", "write cc with a number from 0 to 127")]
    [InlineData("[pedals]\n\"cc 64\" = \"undo\"", 2, 1, "'cc 64' is not a pedal or controller", "did you mean cc64?")]
    [InlineData("[pedals]\nnotes36 = \"undo\"", 2, 1, "'notes36' is not a pedal or controller", "did you mean note36?")]
    [InlineData("[pedals]\ncontroller64 = \"undo\"", 2, 1, "'controller64' is not a pedal or controller", "did you mean cc64?")]
    [InlineData("[pedals]\nspace = \"undo\"", 2, 1, "'space' is not a pedal or controller", "write cc, note or program with a number from 0 to 127")]
    public void Read_WrongLine_SaysWhereWhatAndWhatIsAccepted(string text, int line, int column, string what, string accepted)
    {
        var header = text.StartsWith("[pedals]", StringComparison.Ordinal) ? string.Empty : "[pedals]\n";
        var settings = Read($"{text}\n{header}cc1 = \"redo\"\n");
        var problem = Assert.Single(settings.Problems);
        Assert.StartsWith(string.Create(CultureInfo.InvariantCulture, $"{KeySettings.File}:{line}:{column}: {what}"), problem, StringComparison.Ordinal);
        Assert.Contains("; " + accepted, problem, StringComparison.Ordinal);

        // The rest of the file applies.
        Assert.Equal("redo", settings.PedalDoes("cc1"));
    }

    [Fact]
    public void Read_ManyWrongLines_TellsAllAtOnceAndKeepsTheRest()
    {
        var settings = Read("""
            [keys]
            this is wrong
            "z" = "hold"
            "pgup" = "undo"
            "u" = "undoo"
            [pedalls]
            "cc80" = "tap"
            """);

        Assert.Equal([2, 4, 5, 6], settings.Problems.Select(LineOf));
        Assert.Equal("hold", settings.Does("z"));

        // An invalid binding leaves the default one.
        Assert.Equal("undo", settings.Does("u"));
        Assert.Null(settings.PedalDoes("cc80"));
    }

    [Fact]
    public void Enter_WithProblemsInTheSettings_ShowsTheFirstAndListsAll()
    {
        var screen = new TestScreen(Song, "[keys]\n\"pgup\" = \"undo\"\n\"j\" = \"muet bass\"\n\"g\" = \"tap\"\n");
        var shown = screen.State();
        Assert.True(shown.MessageWarns);
        Assert.Contains("'pgup' is not a key", shown.Message, StringComparison.Ordinal);
        Assert.EndsWith("; and 1 more: ? lists them", shown.Message, StringComparison.Ordinal);
        screen.Press("?");
        var over = screen.State().Over!;
        Assert.Contains("Problems in the settings", over);
        Assert.Contains(over, line => line.Contains("unknown action 'muet'; did you mean mute?", StringComparison.Ordinal));
    }

    private static KeySettings Read(string text) => KeySettings.Read(text, ScreenActions.Problem);

    private static int LineOf(string problem) =>
        int.Parse(problem[(KeySettings.File.Length + 1)..].Split(':')[0], CultureInfo.InvariantCulture);
}
