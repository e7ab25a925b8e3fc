using System.Runtime.CompilerServices;
using System.Text;
using GrooveLab.Screen;
using Terminal.Gui.App;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;
using Terminal.Gui.Time;
using Xunit;

namespace GrooveLab.Tests.Screens;

public sealed class TerminalTests
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

    // The library must not look for a terminal while tests run.
    [ModuleInitializer]
    internal static void NoTerminal() => Environment.SetEnvironmentVariable("DisableRealDriverIO", "1");

    [Fact]
    public void Screen_UnderVirtualTime_ShowsThePictureAndTakesKeys()
    {
        var screen = new TestScreen(Song);
        screen.Play(1.4);
        using var app = Application.Create(new VirtualTimeProvider());
        app.Init(DriverRegistry.Names.ANSI);
        app.Driver!.SetScreenSize(80, 24);
        using var view = new LiveScreen(screen.Keys, () => screen.Seconds, new Palette(Colours.None), ascii: false);
        var names = new List<string>();
        app.Keyboard.KeyDown += (_, key) =>
        {
            names.Add(LiveScreen.NameOf(key)!);
            screen.Press(names[^1]);
            key.Handled = true;
        };
        var token = app.Begin(view);
        app.LayoutAndDraw();
        Assert.Equal(Plain(screen.Picture(80, 24).ToString()), Plain(app.Driver.ToString()!));

        foreach (var key in new[] { Key.F, Key.Space, Key.PageDown, Key.D3, new Key('?'), Key.Esc, Key.CursorUp, new Key('+') })
        {
            app.Keyboard.RaiseKeyDownEvent(key);
        }

        Assert.Equal(["f", "space", "pagedown", "3", "?", "esc", "up", "+"], names);
        screen.Play(1);
        view.SetNeedsDraw();
        app.LayoutAndDraw();
        Assert.Contains("in one, bar = 61", app.Driver.ToString()!, StringComparison.Ordinal);
        Assert.Equal(Plain(screen.Picture(80, 24).ToString()), Plain(app.Driver.ToString()!));
        if (token is not null)
        {
            app.End(token);
        }
    }

    [Theory]
    [InlineData(100, 30, 80, 24)]
    [InlineData(100, 30, 40, 12)]
    [InlineData(40, 12, 100, 30)]
    [InlineData(80, 24, 20, 5)]
    public void Screen_Resized_ShowsTheWholePictureOfTheNewSize(int fromWidth, int fromHeight, int width, int height)
    {
        var screen = new TestScreen(Song);
        screen.Play(1.4);
        using var app = Application.Create(new VirtualTimeProvider());
        app.Init(DriverRegistry.Names.ANSI);
        app.Driver!.SetScreenSize(fromWidth, fromHeight);
        using var view = new LiveScreen(screen.Keys, () => screen.Seconds, new Palette(Colours.None), ascii: false);
        var token = app.Begin(view);
        app.LayoutAndDraw();
        app.Driver.SetScreenSize(width, height);

        // The library draws the new size twice, and clears its cells between the two.
        app.LayoutAndDraw();
        app.LayoutAndDraw();
        Assert.Equal(Plain(screen.Picture(width, height).ToString()), Plain(app.Driver.ToString()!));
        if (token is not null)
        {
            app.End(token);
        }
    }

    [Theory]
    [InlineData(100, 30)]
    [InlineData(40, 12)]
    [InlineData(20, 5)]
    public void Screen_SignsThatNeedMoreThanACell_AreDrawn(int width, int height)
    {
        var screen = new TestScreen(Song.Replace("Two Lamps", "\U0001f3bb \u6c34\u306e\u4e0a e\u0301tude", StringComparison.Ordinal)
            .Replace("\"a\"", "\"\u00e9t\u00e9 \u6c34\"", StringComparison.Ordinal));
        screen.Play(1.4);
        screen.Press("\U0001f3bb");
        using var app = Application.Create(new VirtualTimeProvider());
        app.Init(DriverRegistry.Names.ANSI);
        app.Driver!.SetScreenSize(width, height);
        using var view = new LiveScreen(screen.Keys, () => screen.Seconds, new Palette(Colours.None), ascii: false);
        var token = app.Begin(view);
        app.LayoutAndDraw();
        app.LayoutAndDraw();
        Assert.Equal(Plain(screen.Picture(width, height).ToString()), Plain(app.Driver.ToString()!));
        Assert.Contains("\u00e9t\u00e9 \u6c34, bar 2", app.Driver.ToString()!, StringComparison.Ordinal);
        if (height >= 30)
        {
            Assert.Contains("\U0001f3bb \u6c34\u306e\u4e0a e\u0301tude ", app.Driver.ToString()!, StringComparison.Ordinal);
            Assert.Contains(" \U0001f3bb does nothing", app.Driver.ToString()!, StringComparison.Ordinal);
        }

        if (token is not null)
        {
            app.End(token);
        }
    }

    // Decomposed Czech and Vietnamese, Hebrew with its points, Japanese; beside them words of as many columns.
    public static TheoryData<int, int, string> SizesAndWords { get; } = Matrix();

    [Theory]
    [MemberData(nameof(SizesAndWords))]
    public void Screen_WordsInOtherScripts_StandBelowTheirNotes(int width, int height, string words)
    {
        string[] plain = ["qab", "wcde", "vf", "zgh"];
        var foreign = words.Split(' ');
        Assert.Equal(plain.Select(word => word.Length), foreign.Select(word => Cells.Of(word).Length));
        var (other, latin) = (Worded(foreign), Worded(plain));
        foreach (var view in ScreenActions.Views[..2])
        {
            other.Type("view " + view);
            latin.Type("view " + view);
            other.Keys.Say(string.Empty, warns: false, 0);
            latin.Keys.Say(string.Empty, warns: false, 0);
            var (one, two) = (other.Picture(width, height), latin.Picture(width, height));
            if (view == "band")
            {
                foreach (var (word, substitute) in foreign.Zip(plain))
                {
                    Assert.Equal(PlaceOf(substitute, two), PlaceOf(Cells.Of(word), one));
                }
            }

            using var app = Application.Create(new VirtualTimeProvider());
            app.Init(DriverRegistry.Names.ANSI);
            app.Driver!.SetScreenSize(width, height);
            using var screen = new LiveScreen(other.Keys, () => other.Seconds, new Palette(Colours.None), ascii: false);
            var token = app.Begin(screen);
            app.LayoutAndDraw();
            app.LayoutAndDraw();
            Assert.Equal(Plain(one.ToString()), Plain(app.Driver.ToString()!));
            if (token is not null)
            {
                app.End(token);
            }
        }
    }

    private static TheoryData<int, int, string> Matrix()
    {
        var data = new TheoryData<int, int, string>();
        foreach (var (width, height) in new[] { (100, 30), (80, 24), (40, 12) })
        {
            foreach (var words in new[]
            {
                "c\u030cas ve\u030ctr a\u030a. r\u030cek",
                "No\u031b\u0301i nu\u031bo\u031b\u0301c o\u031b\u0309i tre\u0302\u0301",
                "\u05d0\u05b7\u05dc\u05d9 \u05e9\u05b8\u05c1\u05dc\u05d5\u05b9\u05dd \u05dc\u05b4\u05d9 \u05db\u05bc\u05b9\u05dc\u05d5",
                "\u304b\u3099a \u6c34\u306e \u4e0a \u3066\u3099e",
            })
            {
                data.Add(width, height, words);
            }
        }

        return data;
    }

    private static TestScreen Worded(string[] words)
    {
        var screen = new TestScreen($"""
            format = 1
            title = "{words[0]} {words[1]}"
            key = "D dorian"
            tempo = "eighth = 200"
            meter = "11/8 3+3+3+2"
            looseness = 0

            [[section]]
            name = "a"
            chords = "| Dm | C |"

            [section.tune]
            notes = "| D4:3 F4:3 G4:3 A4:2 | D4:11 |"
            words = "| {string.Join(' ', words)} | la |"
            """);
        screen.Play(0.4);
        return screen;
    }

    private static (int Column, int Row) PlaceOf(string cells, Canvas canvas)
    {
        // Below the title.
        for (var row = 2; row < canvas.Height; row++)
        {
            for (var column = 0; column + cells.Length <= canvas.Width; column++)
            {
                if (Enumerable.Range(0, cells.Length).All(i => canvas[column + i, row].Sign == cells[i]))
                {
                    return (column, row);
                }
            }
        }

        return (-1, -1);
    }

    [Fact]
    public void Screen_TerminalSpoiled_IsWholeAgainAfterRedraw()
    {
        var screen = new TestScreen(Song);
        screen.Play(1.4);
        using var app = Application.Create(new VirtualTimeProvider());
        app.Init(DriverRegistry.Names.ANSI);
        app.Driver!.SetScreenSize(80, 24);
        using var view = new LiveScreen(screen.Keys, () => screen.Seconds, new Palette(Colours.None), ascii: false);
        var token = app.Begin(view);
        app.LayoutAndDraw();
        void Spoil() => app.Driver.FillRect(new System.Drawing.Rectangle(0, 0, 80, 24), new Rune('X'));
        foreach (var again in new Action[] { () => screen.Press("ctrl+l"), () => screen.Type("redraw"), view.DrawAgain })
        {
            Spoil();
            again();
            view.SetNeedsDraw();
            app.LayoutAndDraw();
            Assert.Equal(Plain(screen.Picture(80, 24).ToString()), Plain(app.Driver.ToString()!));
        }

        // Also while a line is typed, which stays as it is.
        screen.Press("x", "t", "e");
        Spoil();
        screen.Press("ctrl+l");
        view.SetNeedsDraw();
        app.LayoutAndDraw();
        Assert.Contains("change: te_", app.Driver.ToString()!, StringComparison.Ordinal);
        Assert.Equal(Plain(screen.Picture(80, 24).ToString()), Plain(app.Driver.ToString()!));
        if (token is not null)
        {
            app.End(token);
        }
    }

    private static string Plain(string screen) =>
        string.Join('\n', screen.Split('\n').Select(line => line.TrimEnd())).TrimEnd('\n');
}
