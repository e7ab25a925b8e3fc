using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Performance;
using GrooveLab.Screen;
using GrooveLab.Store;
using Xunit;

namespace GrooveLab.Tests.Screens;

public sealed class ScreenKeysTests
{
    // The table of keys in the documentation has every key, and no other.
    [Fact]
    public void Keys_OfTheDocumentation_AreThoseOfTheProgram()
    {
        var text = File.ReadAllText(Path.Combine(Path.GetDirectoryName(Running.Presets[0])!, "..", "docs", "screen.md"));
        var table = text.Split("## Keys", 2)[1].Split("\n## ", 2)[0];
        var first = string.Join('\n', table.Split('\n').Where(line => line.StartsWith('|')).Select(line => line.Split('|')[1]));
        var told = System.Text.RegularExpressions.Regex.Matches(first, "`(?<key>[^`]+)`", System.Text.RegularExpressions.RegexOptions.NonBacktracking).Select(match => match.Groups["key"].Value)
            .Append("?").ToHashSet(StringComparer.Ordinal);
        if (told.Contains("1") && told.Contains("9"))
        {
            told.UnionWith(Enumerable.Range(1, 9).Select(part => part.ToString(System.Globalization.CultureInfo.InvariantCulture)));
        }

        var keys = KeySettings.Read(string.Empty, ScreenActions.Problem);
        var known = Enumerable.Range('!', '~' - '!' + 1).Select(letter => ((char)letter).ToString()).Where(key => keys.Does(key) is not null);
        Assert.Equal(known.Order(StringComparer.Ordinal), told.Order(StringComparer.Ordinal));
    }

    private const string Song = """
        format = 1
        title = "Two Lamps"
        key = "D dorian"
        tempo = "eighth = 300"
        meter = "5/8 3+2"
        bar-groups = 4
        form = ["a", "b"]
        arrangement = "none"
        looseness = 0

        [[section]]
        name = "a"
        chords = "| Dm | C | G | Dm |"

        [section.tune]
        notes = "| D4:2 F4:1 A4:2 | G4:5 | A4:3 G4:2 | D4:5 |"
        words = ["| Two lamps a- | lone, | light me | home. |"]

        [[section]]
        name = "b"
        chords = "| F | C G | G | Am |"
        """;

    public static TheoryData<int, int> Sizes { get; } = new() { { 100, 30 }, { 80, 24 }, { 40, 12 } };

    private static TestScreen InBar(double bars, string settings = "")
    {
        var screen = new TestScreen(Song, settings);
        screen.Play(0.2 + bars);
        return screen;
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_FeltInBeats_IsAsDrawn(int width, int height) => Golden.Equal(
        string.Create(CultureInfo.InvariantCulture, $"beats-{width}x{height}"), InBar(1.5).Picture(width, height).ToString());

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_ChangesPending_StandAtTheirBarLine(int width, int height)
    {
        var screen = InBar(1.5);
        screen.Press("f", "3", "m", "e");
        screen.Play(0.05);
        Golden.Equal(string.Create(CultureInfo.InvariantCulture, $"pending-{width}x{height}"), screen.Picture(width, height).ToString());
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_FeltInOne_IsAsDrawn(int width, int height)
    {
        var screen = InBar(1.5);
        screen.Press("f");
        screen.Play(1);
        Golden.Equal(string.Create(CultureInfo.InvariantCulture, $"in-one-{width}x{height}"), screen.Picture(width, height).ToString());
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_InAscii_HasNothingElse(int width, int height)
    {
        var screen = InBar(1.3);
        screen.Type("feel group");
        screen.Play(1);
        var text = screen.Picture(width, height, ascii: true).ToString();
        Assert.All(text, letter => Assert.True(letter is '\n' or (>= ' ' and <= '~'), letter.ToString()));
        Golden.Equal(string.Create(CultureInfo.InvariantCulture, $"ascii-{width}x{height}"), text);
    }

    [Fact]
    public void Picture_FeltInBarGroups_ShowsTheGroupsBars()
    {
        var screen = InBar(1.5);
        screen.Type("feel bar-group");
        screen.Play(1);
        Golden.Equal("bar-group-80x24", screen.Picture(80, 24).ToString());
    }

    [Fact]
    public void Picture_AllKeys_ListsThem()
    {
        var screen = InBar(0.5);
        screen.Press("?");
        Golden.Equal("keys-80x24", screen.Picture(80, 24).ToString());
        screen.Press("esc");
        Assert.Null(screen.State().Over);
    }

    [Theory]
    [InlineData("f", "in one")]
    [InlineData("q", "press again")]
    [InlineData("Z", "does nothing")]
    public void Press_KeyOfTheList_IsDoneAndSeen(string key, string says)
    {
        var screen = InBar(0.5);
        screen.Press("?");
        screen.Press("down");
        Assert.NotNull(screen.State().Over);
        screen.Press(key);
        Assert.Null(screen.State().Over);
        Assert.Contains(says, screen.State().Message, StringComparison.Ordinal);
        screen.Press("?");
        screen.Press("?");
        Assert.Null(screen.State().Over);
    }

    [Theory]
    [InlineData(1, 1)]
    [InlineData(20, 5)]
    [InlineData(29, 30)]
    [InlineData(300, 100)]
    public void Picture_AnySize_IsDrawn(int width, int height) => Assert.NotEmpty(InBar(1.5).Picture(width, height).ToString());

    [Fact]
    public void Picture_Twice_AllocatesLittle()
    {
        var screen = InBar(1.5);
        var canvas = new Canvas();
        for (var i = 0; i < 20; i++)
        {
            canvas.Begin(100, 30);
            ScreenPicture.Draw(canvas, screen.State());
        }

        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var i = 0; i < 30; i++)
        {
            canvas.Begin(100, 30);
            ScreenPicture.Draw(canvas, screen.State());
        }

        // Thirty pictures are a second; the screen's library needs most of the 5 MB a second.
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 1_000_000);
    }

    [Fact]
    public void FirstWords_BeforeTheFirstSound_AreNoTheory()
    {
        var screen = new TestScreen(Song);
        var text = screen.Picture(80, 24).ToString();
        Assert.DoesNotContain("5/8", text, StringComparison.Ordinal);
        Assert.Contains("Two Lamps", text, StringComparison.Ordinal);
        Assert.Equal(6, screen.State().Keys.Count);
    }

    [Fact]
    public void Feel_PressedTwice_ComesBackToTheBeatsThatWereFelt()
    {
        var screen = InBar(1.5);
        Assert.Contains("in five, eighth = 300", screen.State().Tempo, StringComparison.Ordinal);
        screen.Press("f");
        screen.Play(1);
        Assert.Contains("in one, bar = 60", screen.State().Tempo, StringComparison.Ordinal);
        screen.Press("f");
        screen.Play(1);
        Assert.Contains("in five, eighth = 300", screen.State().Tempo, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(0.25, 8, "eighths")]
    [InlineData(1.2, 4, "bars")]
    public void Tap_EvenTaps_SetTheTempoAndSayWhatWasHeard(double interval, int taps, string heard)
    {
        var screen = InBar(1.5);
        for (var tap = 0; tap < taps; tap++)
        {
            screen.Press("t");
            screen.Play(interval);
        }

        var shown = screen.State();
        Assert.Contains($"you tap {heard}", shown.Message, StringComparison.Ordinal);
        var expected = heard == "bars" ? 60 / 1.2 : 60 / 0.25 / 5;
        Assert.Equal(expected * 5 / 8, (double)screen.Heard.Tempo!.Value.WholesPerMinute.ToDouble(), 0.1);
        screen.Press("u");
        screen.Play(0.1);
        Assert.Equal(37.5, screen.Heard.Tempo!.Value.WholesPerMinute.ToDouble(), 3);
    }

    [Theory]
    [InlineData("space")]
    [InlineData("pagedown")]
    [InlineData("pageup")]
    [InlineData("right")]
    [InlineData("left")]
    [InlineData("down")]
    [InlineData("up")]
    public void FootPedal_WhileVamping_GoesOn(string key)
    {
        var screen = InBar(1.5);
        screen.Press("v");
        Assert.NotNull(screen.Conductor.State.Orders.Loop);
        screen.Press(key);
        Assert.Null(screen.Conductor.State.Orders.Loop);
    }

    [Fact]
    public void Pedal_OfAController_DoesWhatTheSettingsSay()
    {
        var screen = InBar(1.5, "[pedals]\n\"cc80\" = \"mute bass\"\n[keys]\n\"j\" = \"feel bar\"\n\"f\" = \"\"\n");
        screen.Keys.Pedal("cc80", screen.Seconds);
        Assert.Contains("plucked bass", screen.Conductor.State.Muted);
        screen.Press("j");
        Assert.Equal(FeltLevel.Bar, screen.Conductor.State.Chart.Feel);
        screen.Press("f");
        Assert.Contains("f does nothing", screen.State().Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Quit_Once_AsksOnceMore()
    {
        var screen = InBar(1);
        screen.Press("q");
        Assert.Equal(ScreenRequest.None, screen.Keys.Request);
        screen.Press("q");
        Assert.Equal(ScreenRequest.Quit, screen.Keys.Request);
    }

    [Fact]
    public void Picture_SilentPartsOnASmallScreen_AreNamed()
    {
        var screen = InBar(1.5);
        var names = screen.State().Band.Select(player => player.Name).ToList();
        Assert.DoesNotContain("silent", screen.Picture(40, 12).ToString(), StringComparison.Ordinal);
        screen.Type("mute bass");
        screen.Play(9);
        Assert.Contains("silent: " + names[2], screen.Picture(40, 12).ToString(), StringComparison.Ordinal);
        screen.Type("solo tune");
        screen.Play(9);
        Assert.Contains("only " + names[4], screen.Picture(40, 12).ToString(), StringComparison.Ordinal);

        // Also where a pending change has the row.
        screen.Type("last-time");
        screen.Play(0.01);
        screen.Press("esc");
        Assert.Contains("only " + names[4], screen.Picture(40, 12).ToString(), StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_CrowdedWords_StandBelowTheirNotes(int width, int height)
    {
        var screen = new TestScreen("""
            format = 1
            title = "Crowded"
            key = "G major"
            tempo = "eighth = 200"
            meter = "7/8 2+2+3"

            [[section]]
            name = "a"
            chords = "| G | G |"

            [section.tune]
            notes = "| G4 A4 B4 A4 G4 A4 B4 | G4 A4 B4 A4 G4 A4 B4 |"
            words = ["| straight through streets I brought bread strength- | ened straight through streets I brought bread |"]
            """);
        foreach (var later in new[] { 0.3, 1.0, 0.9 })
        {
            screen.Play(later);
            var state = screen.State();
            var picture = screen.Picture(width, height);
            var lines = picture.ToString().Split('\n');
            Assert.DoesNotContain('~', picture.ToString());
            var now = state.Words.FindLastIndex(word => state.InBar >= word.At);
            var shown = 0;
            for (var i = 0; i < state.Words.Count; i++)
            {
                var (at, text) = state.Words[i];
                var column = Math.Min(2 + (int)Math.Round((width - 5) * at), width - 1 - text.Length);
                var isThere = lines.Any(line => line.Length >= column + text.Length && line.Substring(column, text.Length) == text);
                Assert.True(isThere || i < now || width < 80 && i > now, $"{text} is not at {column}\n{picture}");
                shown += isThere ? 1 : 0;
            }

            Assert.True(shown >= (width < 80 ? 4 : 7), picture.ToString());
        }
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_LongNames_LeaveTheBarReadable(int width, int height)
    {
        var screen = new TestScreen(Song
            .Replace("Two Lamps", "The Rope Walker's Long Way Home over the Frozen Estuary, in Two Lights and a Half", StringComparison.Ordinal)
            .Replace("\"a\"", "\"outward bound along the rope, as far as the light\"", StringComparison.Ordinal));
        screen.Play(1.7);
        var line = screen.Picture(width, height).ToString().Split('\n')[0];
        Assert.EndsWith(", bar 2 of 4", line, StringComparison.Ordinal);
        Assert.Contains("outward bound", line, StringComparison.Ordinal);
        if (width >= 80)
        {
            Assert.StartsWith(" The Rope Walker's", line, StringComparison.Ordinal);
            Assert.Contains("~   outward", line, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Band_InABreak_RestsAfterOneStroke()
    {
        var screen = InBar(1.5);
        screen.Type("break 2");
        screen.Play(1);
        string[] Lines() => [.. screen.State().Band.Select(player => player.Does)];
        Assert.Equal("one stroke, then rests", Lines()[0]);
        Assert.Equal("one stroke, then rests", Lines()[1]);
        Assert.StartsWith("the tune", Lines()[4], StringComparison.Ordinal);
        Assert.Equal("break", screen.State().Holding);
        screen.Play(1);
        Assert.Equal("rests in this bar", Lines()[0]);
        Assert.Equal("rests in this bar", Lines()[3]);
        screen.Play(1);
        Assert.Equal("all eighths", Lines()[0]);
        Assert.Equal(string.Empty, screen.State().Holding);
    }

    [Fact]
    public void Band_Arranged_SaysWhatEachPartDoes()
    {
        var screen = new TestScreen(Song.Replace("arrangement = \"none\"\n", string.Empty, StringComparison.Ordinal));
        screen.Play(2.6);
        string[] Lines() => [.. screen.State().Band.Select(player => player.Does)];
        Assert.Equal("all eighths, damped", Lines()[0]);
        Assert.Equal("between the beats only", Lines()[1]);
        Assert.Equal("rests in this section", Lines()[3]);

        // A break is told before the task, because nobody does the task then.
        screen.Type("break 2");
        screen.Play(1);
        Assert.Equal("one stroke, then rests", Lines()[0]);
        screen.Play(1);
        Assert.Equal("rests in this bar", Lines()[0]);
    }

    [Fact]
    public void Band_Held_SaysSo()
    {
        var screen = InBar(1.5);
        screen.Press("h");
        screen.Play(1);
        Assert.All(screen.State().Band, player => Assert.Equal("held until go on", player.Does));
        screen.Press("space");
        screen.Play(1.5);
        Assert.DoesNotContain(screen.State().Band, player => player.Does == "held until go on");
    }

    [Fact]
    public void Band_HoldInTheChart_SaysWhatEachPartDoes()
    {
        var screen = new TestScreen(Song.Replace("name = \"a\"", "name = \"a\"\nhold = 2", StringComparison.Ordinal));
        screen.Play(3.6);
        var band = screen.State().Band;
        Assert.Equal("holds the chord", band[0].Does);
        Assert.Equal("holds the chord", band[2].Does);
    }

    [Fact]
    public void Band_ThinnedRoll_SaysWhatItPlays()
    {
        // At 300 eighths a minute sixteenths come every 100 ms.
        var screen = InBar(1.5);
        string Roll() => screen.State().Band[1].Does;
        Assert.Equal("sixteenths without a gap, with the groups", Roll());
        screen.Type("density roll half");
        screen.Play(5);
        Assert.Equal("eighths, thinned, with the groups", Roll());
        screen.Type("density roll full");
        screen.Play(5);
        Assert.Equal("sixteenths without a gap, with the groups", Roll());

        // Nobody asked for fewer notes, but no hand plays sixteenths this fast.
        screen.Type("tempo eighth = 700");
        screen.Play(5);
        Assert.StartsWith("eighths, thinned", Roll(), StringComparison.Ordinal);
    }

    [Fact]
    public void Band_PartWithAnotherInstrument_SaysWhich()
    {
        var screen = InBar(1.5);
        string Line(int width) => screen.Picture(width, width == 100 ? 30 : 24).ToString().Split('\n').Single(line => line.Contains(" 4 cello ", StringComparison.Ordinal));
        Assert.Contains(" 4 cello               two long notes ", Line(100), StringComparison.Ordinal);
        screen.Type("instrument cello concertina");
        screen.Type("laid-back cello half");
        screen.Play(2);
        Assert.Contains(" 4 cello               concertina: two long notes, half a unit behind the beat ", Line(100), StringComparison.Ordinal);
        Assert.Contains(" 4 cello               concertina: two long notes  ", Line(80), StringComparison.Ordinal);
        screen.Type("instrument cello cello");
        screen.Play(1);
        Assert.Contains(" 4 cello               two long notes, half a unit behind the beat ", Line(100), StringComparison.Ordinal);
    }

    [Fact]
    public void Band_AtTheEnd_Rings()
    {
        var screen = InBar(1.5);
        screen.Type("last-time");
        screen.Play(8);
        Assert.True(screen.State().Band.Count(player => player.Does == "the last notes ring") >= 4);
    }

    [Fact]
    public void EveryBinding_Pressed_DoesSomething()
    {
        foreach (var (key, does) in KeySettings.Usual)
        {
            var screen = InBar(1.5);
            screen.Press(key);
            var shown = screen.State();
            Assert.DoesNotContain("is no change", shown.Message, StringComparison.Ordinal);
            Assert.True(
                shown.Message.Length > 0 || shown.Typed is not null || shown.Over is not null || screen.Keys.TakeDrawAgain() || does is "back",
                $"{key} ({does}) shows nothing");
        }
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_WhateverIsSet_CutsNothingOff(int width, int height)
    {
        string[] changes =
        [
            "density roll quarter", "crossing roll land", "mute bass", "feel group", "feel unit", "feel bar", "feel bar-group", "loop seam", "section b",
            "hold", "go-on", "meter 13/16 3+3+3+2+2", "tempo 5000", "level trombone 3", "instrument bass oboe", "hear other", "tempo 222.2", "hear other",
            "ramp 200 over 8", "last-time", "tag 4", "remove cello", "add roll hammered dulcimer", "sing", "key Bb dorian", "undo", "restart", "undo",
        ];
        var screen = InBar(1.5);
        foreach (var words in changes)
        {
            screen.Type(words);
            foreach (var later in new[] { 0.05, 1.1 })
            {
                screen.Play(later);
                var picture = screen.Picture(width, height).ToString();
                Assert.False(picture.Contains('~', StringComparison.Ordinal), words + "\n" + picture);
            }
        }
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_OfAllKeysAndChanges_CutsNothingOff(int width, int height)
    {
        var screen = InBar(1.5);
        screen.Press("?");
        for (var page = 0; page < 40; page++)
        {
            Assert.DoesNotContain("~", screen.Picture(width, height).ToString(), StringComparison.Ordinal);
            screen.Press("pagedown");
        }

        Assert.Contains("quit", screen.Picture(width, height).ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Drone_BeforeTheCount_ShowsNoBeats()
    {
        var screen = new TestScreen(Song.Replace("looseness = 0", "looseness = 0\ndrone = 3", StringComparison.Ordinal), countIn: true);
        screen.Play(2);
        Assert.Equal(("a drone to tune to, then the count", null), (screen.State().Where, screen.State().Meter));
        screen.Play(2.5);
        Assert.StartsWith("count-in", screen.State().Where, StringComparison.Ordinal);
        Assert.NotNull(screen.State().Meter);
    }

    [Fact]
    public void Tempo_NudgedInsideABar_IsReadAtOnce()
    {
        var screen = InBar(1.5);
        screen.Press("+");
        screen.Play(0.1);
        Assert.Contains("306", screen.State().Tempo, StringComparison.Ordinal);
        screen.Press("u");
        screen.Play(0.1);
        Assert.Contains("300", screen.State().Tempo, StringComparison.Ordinal);
        Assert.EndsWith("now eighth = 300", screen.State().Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Band_AMeterStillAwaited_IsToldAsItSounds()
    {
        var screen = InBar(1.5);
        screen.Type("meter 7/8 2+2+3");
        Assert.DoesNotContain(screen.State().Band, player => player.Does == "no tune here");
        screen.Type("jump b");
        Assert.Equal(("F", "next bar"), (screen.State().NextChord, screen.State().NextIn));
        screen.Play(1.5);
        Assert.Contains(screen.State().Band, player => player.Does == "no tune here");
    }

    [Theory]
    [InlineData("TERM=screen", Colours.Sixteen)]
    [InlineData("TERM=screen-256color", Colours.Sixteen)]
    [InlineData("TERM=xterm-256color COLORTERM=truecolor", Colours.Full)]
    [InlineData("TERM=xterm COLORTERM=24bit", Colours.Full)]
    [InlineData("TERM=xterm COLORTERM=truecolor NO_COLOR=1", Colours.None)]
    [InlineData("TERM=vt100", Colours.None)]
    [InlineData("TERM=xterm-mono", Colours.None)]
    [InlineData("", Colours.Sixteen)]
    internal void Colours_OfAnEnvironment_AreWhatItHas(string environment, Colours expected) => Assert.Equal(expected, Palette.From(Variable(environment)));

    // The order of the three: POSIX.1-2017, base definitions, 8.2.
    [Theory]
    [InlineData("LANG=C.UTF-8", false)]
    [InlineData("LANG=de_DE.utf8", false)]
    [InlineData("LANG=C", true)]
    [InlineData("LANG=de_DE.ISO-8859-1", true)]
    [InlineData("LANG=C.UTF-8 LC_ALL=C", true)]
    [InlineData("LANG=C LC_CTYPE=en_US.UTF-8", false)]
    [InlineData("LANG=C.UTF-8 LC_ALL=", false)]
    [InlineData("", true)]
    public void Signs_OfAnEnvironment_ArePlainWithoutUtf8(string environment, bool ascii) => Assert.Equal(ascii, Palette.IsAscii(Variable(environment)));

    private static Func<string, string?> Variable(string environment)
    {
        var set = environment.Split(' ', StringSplitOptions.RemoveEmptyEntries).Select(pair => pair.Split('=')).ToDictionary(pair => pair[0], pair => pair[1]);
        return name => set.GetValueOrDefault(name);
    }

    [Fact]
    public void Type_Words_MakesTheChangeAndUpBringsThemBack()
    {
        var screen = InBar(1.5);
        screen.Type("met");
        Assert.True(screen.State().MessageWarns);
        screen.Press("x", "up");
        Assert.Equal("met", screen.State().Typed);
        screen.Press("tab");
        Assert.Equal("meter ", screen.State().Typed);
        screen.Press("esc");
        screen.Type("save other.toml");
        Assert.Equal("other.toml", screen.Saved);
        screen.Type("save anyway");
        Assert.Equal("over what was there", screen.Saved);
        screen.Type("discard");
        Assert.Equal("discarded", screen.State().Message);
        screen.Type("open there.toml");
        Assert.Equal((ScreenRequest.Open, "there.toml"), (screen.Keys.Request, screen.Keys.ChartToOpen));
    }

    [Fact]
    public void Quit_ChangesThatCannotBeKept_SaysThatLeavingLosesThem()
    {
        var screen = new TestScreen(Song) { IsUnsaved = true, CanKeep = false };
        screen.Press("q");

        Assert.Equal(
            "unsaved changes: d saves; press again to leave and lose them: they could not be kept for the next start", screen.State().Message);
        Assert.True(screen.State().MessageWarns);
    }

    [Fact]
    public void Quit_AChangeThatCannotBeKept_SaysThatTheOthersAre()
    {
        var screen = new TestScreen(Song) { IsUnsaved = true, CanKeep = false, NotKept = ["in C dorian"] };
        screen.Press("q");

        Assert.Equal(
            "unsaved changes: d saves; press again to leave; the next start offers them without 'in C dorian', which cannot be written", screen.State().Message);
    }

    // Once a bug: a key held down answered the question whether to remove a tune.
    [Fact]
    public void Save_KeyHeldDown_SavesOnce()
    {
        var screen = new TestScreen(Song);
        for (var repeat = 0; repeat < 70; repeat++)
        {
            screen.Keys.Press("d", repeat == 0 ? 10 : 10.5 + (repeat * 0.03));
        }

        Assert.Equal(1, screen.Saves);
        screen.Keys.Press("d", 10.5 + (69 * 0.03) + 0.71);
        Assert.Equal(2, screen.Saves);

        // Something was changed: this is another save.
        screen.Type("tempo 270");
        screen.Keys.Press("d", 10.5 + (69 * 0.03) + 0.72);
        Assert.Equal(3, screen.Saves);
    }

    [Fact]
    public void Version_ThatCannotBeWritten_SaysSoInItsAnswer()
    {
        var screen = new TestScreen(Song) { RefusedVersion = "the disk is full" };
        screen.Type("version slow");
        Assert.Equal("not saved: the disk is full; 'recall slow' restores it until you leave", screen.State().Message);
        Assert.True(screen.State().MessageWarns);

        screen.RefusedVersion = null;
        screen.Type("version slow");
        Assert.Equal("saved as version 'slow'", screen.State().Message);
    }

    [Fact]
    public void Quit_SideThatIsNotHeardIsNotSaved_NamesIt()
    {
        var screen = new TestScreen(Song) { IsUnsaved = true, UnsavedSide = ComparedSide.B };
        screen.Press("q");

        Assert.Equal("B is not saved: a plays it, d saves; press again to leave; the next start offers it", screen.State().Message);
    }

    [Theory]
    [InlineData("q")]
    [InlineData("quit")]
    public void Quit_SomethingIsNotSaved_SaysSoAndLeavesTheSecondTime(string how)
    {
        var screen = InBar(1.5);
        screen.IsUnsaved = true;
        void Quit()
        {
            if (how == "q")
            {
                screen.Press("q");
            }
            else
            {
                screen.Type(how);
            }
        }

        Quit();
        Assert.Equal("unsaved changes: d saves; press again to leave; the next start offers them", screen.State().Message);
        Assert.True(screen.State().MessageWarns);
        Assert.Equal(ScreenRequest.None, screen.Keys.Request);
        screen.Play(0.8);
        Quit();
        Assert.Equal(ScreenRequest.Quit, screen.Keys.Request);
    }

    // Once a bug: the second press of the key repeat answered the question of the first.
    [Fact]
    public void Quit_KeyHeldDownWhileSomethingIsUnsaved_AsksAndStays()
    {
        var screen = new TestScreen(Song) { IsUnsaved = true };
        for (var repeat = 0; repeat < 300; repeat++)
        {
            screen.Keys.Press("q", repeat == 0 ? 10 : 10.5 + (repeat * 0.03));
        }

        Assert.Equal(ScreenRequest.None, screen.Keys.Request);
        Assert.StartsWith("unsaved changes: ", screen.Keys.StateAt(10.5 + (299 * 0.03)).Message, StringComparison.Ordinal);
        screen.Keys.Press("q", 10.5 + (299 * 0.03) + 0.71);
        Assert.Equal(ScreenRequest.Quit, screen.Keys.Request);
    }

    [Fact]
    public void Quit_AllIsSaved_LeavesAsBefore()
    {
        var screen = InBar(1.5);
        screen.Press("q");
        Assert.Equal("press again to leave", screen.State().Message);
        Assert.False(screen.State().MessageWarns);
        screen.Type("quit");
        Assert.Equal(ScreenRequest.Quit, screen.Keys.Request);
    }

    [Fact]
    public void Restore_NothingIsUnsaved_SaysSo()
    {
        var screen = InBar(1.5);
        screen.Press("y");
        Assert.Equal("no unsaved changes to restore", screen.State().Message);
    }

    [Fact]
    public void Open_HomeFolder_IsTheUsers()
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "There it is written in another way.");
        var screen = InBar(1.5);
        screen.Type("open ~/song.toml");
        Assert.Equal(Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.UserProfile), "song.toml"), screen.Keys.ChartToOpen);
    }

    [Fact]
    public void Saver_AfterChanges_KeepsRemarksAndPlaysTheSame()
    {
        var text = Song.Replace("tempo = \"eighth = 300\"", "tempo = \"eighth = 300\"  # brisk", StringComparison.Ordinal);
        var screen = new TestScreen(text);
        screen.Play(1);
        var opened = PerformanceState.Opening(ChartReader.ReadText(text, "song").Chart!, InstrumentFile.BuiltIn);
        var document = ChartDocument.FromText(text, "song");
        foreach (var words in new[] { "tempo 270", "feel group", "level bass -7", "instrument bouzouki guitar", "chords b | F | C G | Am | Am |", "key E dorian" })
        {
            screen.Type(words);
        }

        var written = ChartSaver.Written(document, opened, screen.Conductor.State);
        Assert.False(written.IsReformatted);
        Assert.Contains("tempo = \"eighth = 270\"  # brisk", written.Document.Text, StringComparison.Ordinal);
        Assert.Contains("E dorian", written.Document.Text, StringComparison.Ordinal);
        Assert.Contains("guitar", written.Document.Text, StringComparison.Ordinal);
        Assert.True(written.Document.Read().IsChart);
    }

    [Theory]
    [InlineData("remove plucked bass", "bouzouki,banjo")]
    [InlineData("add sustain|level pulse -3", "bouzouki,plucked bass,banjo,cello")]
    [InlineData("remove plucked bass|add bass", "bouzouki,banjo,plucked bass")]
    [InlineData("remove roll|remove bass|add roll fiddle|instrument pulse guitar", "bouzouki,fiddle")]
    [InlineData("remove roll|remove bass|undo|undo", "bouzouki,plucked bass,banjo")]
    public void Saver_PlayersComeAndGo_KeepsTheOthersAndEveryRemark(string changes, string names)
    {
        const string band = """

            # The band.
            [[part]]
            role = "pulse"   # strums

            [[part]]
            role = "bass"    # low
            [[part]]
            instrument = "banjo"   # bright
            role = "roll"

            [[section]]
            name = "a"   # the first
            play = ["plucked bass", "roll"]   # thin
            """;
        var text = Song.Replace("\n[[section]]\nname = \"a\"", band, StringComparison.Ordinal);
        var opened = PerformanceState.Opening(ChartReader.ReadText(text, "song").Chart!, InstrumentFile.BuiltIn);
        var history = new PerformanceHistory(opened);
        foreach (var words in changes.Split('|'))
        {
            history.Do(words, new PerformancePlace(1, 0, 2));
        }

        var written = ChartSaver.Written(ChartDocument.FromText(text, "song"), opened, history.State);
        var read = written.Document.Read().Chart!;
        var remarks = new[] { "# The band.", "# strums", "# low", "# bright", "# the first", "# thin" };

        Assert.False(written.IsReformatted);
        Assert.Equal(names.Split(','), read.Parts.Select(part => part.Name));
        Assert.All(remarks, remark => Assert.Contains(remark, written.Document.Text, StringComparison.Ordinal));
        Assert.Equal(history.State.Chart.Sections[0].Playing, read.Sections[0].Playing);
        Assert.True(!changes.EndsWith("undo", StringComparison.Ordinal) || written.Document.Text == text);
    }

    [Fact]
    public void Saver_NothingChanged_WritesTheTextAsItWas()
    {
        var document = ChartDocument.FromText(Song, "song");
        var opened = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn);
        Assert.Same(document, ChartSaver.Written(document, opened, opened).Document);
    }
}
