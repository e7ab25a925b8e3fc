using GrooveLab.Music.Performance;
using GrooveLab.Screen;
using Xunit;

namespace GrooveLab.Tests.Screens;

/// <summary>The view for singers: long words, umlauts, the syllable that sounds, further lines, words that go on in an ending.</summary>
public sealed class SungWordsTests
{
    private const string Long = """
        format = 2
        title = "Long"
        key = "A minor"
        tempo = "eighth = 240"
        meter = "5/8 2+3"

        [[section]]
        name = "verse"
        chords = "| Am | Am | Am | Am |"
        [section.tune]
        notes = "| A4:1 B4 C5 B4 A4 | A4:2 z:1 B4:2 | A4:3 z:2 | A4:5 |"
        words = "Schmet-ter-lings-flü-gel | schön * | WORD | Break-"
        """;

    private const string Ending = """
        format = 2
        title = "Ending"
        key = "A minor"
        tempo = "eighth = 240"
        meter = "5/8 2+3"
        form = ["verse"]

        [[section]]
        name = "verse"
        chords = "| Am |"
        [section.tune]
        notes = "| A4:2 B4:2 C5:1 |"
        words = "Ka-lei-do-"

        [[section.ending]]
        chords = "| E |"
        [section.ending.tune]
        notes = "| E4:3 z:2 |"
        words = "skop."
        """;

    private const string Voices = """
        format = 2
        title = "Two voices"
        key = "G"
        tempo = "quarter = 100"
        meter = "4/4"
        form = ["a", "b"]

        [[section]]
        name = "a"
        chords = "| G | C |"
        [section.tune]
        notes = "| G4:2 B4 | z |"
        words = "First here"
        [[section.line]]
        name = "alto"
        notes = "| z | E4:2 G4 |"
        words = "then you"

        [[section]]
        name = "b"
        chords = "| G | C |"
        [section.tune]
        notes = "| z | z |"
        [[section.line]]
        name = "alto"
        notes = "| z | E4:2 G4 |"
        words = "a-lone"
        """;

    private static void PlayTo(TestScreen screen, double at)
    {
        for (var i = 0; i < 1000 && screen.State().At < at; i++)
        {
            screen.Play(0.02);
        }
    }

    // The columns of the underline.
    private static (int From, int Count) Underlined(Canvas canvas)
    {
        var found = new List<int>();
        for (var row = 0; row < canvas.Height; row++)
        {
            for (var column = 0; column < canvas.Width; column++)
            {
                if (canvas[column, row] is { Sign: '─', Ink: Ink.Strong })
                {
                    found.Add(column);
                }
            }
        }

        return found.Count == 0 ? (-1, 0) : (found[0], found.Count);
    }

    [Theory]
    [InlineData(100, 30)]
    [InlineData(80, 24)]
    [InlineData(40, 12)]
    [InlineData(30, 12)]
    public void Words_WiderThanTheScreen_AreDividedAtTheirSyllables(int width, int height)
    {
        var screen = new TestScreen(Long);
        screen.Type("view words");
        var ends = new List<int>();
        for (var unit = 0; unit < 5; unit++)
        {
            PlayTo(screen, (unit + 0.4) / 5);
            var (from, count) = Underlined(screen.Picture(width, height));
            Assert.InRange(count, 1, width - 2);
            Assert.InRange(from, 1, width - 2);
            ends.Add(from + count);
        }

        // The last syllable is whole.
        Assert.All(ends, end => Assert.InRange(end, 2, width - 1));
        Assert.Equal(BigText.WidthOf("GEL"), Underlined(screen.Picture(width, height)).Count);
    }

    [Fact]
    public void Words_UnderlineInARest_IsNowhere()
    {
        var screen = new TestScreen(Long);
        screen.Type("view words");
        PlayTo(screen, 1.2);
        Assert.Equal(BigText.WidthOf("SCHÖN"), Underlined(screen.Picture(100, 30)).Count);

        PlayTo(screen, 1.5);
        Assert.Equal(0, Underlined(screen.Picture(100, 30)).Count);

        // A note without a syllable.
        PlayTo(screen, 1.8);
        Assert.Equal(0, Underlined(screen.Picture(100, 30)).Count);
    }

    [Theory]
    [InlineData("schön")]
    [InlineData("scho\u0308n")]
    public void Capitals_Umlaut_IsAnotherLetter(string word)
    {
        Assert.Equal("SCHÖN", BigText.Capitals(word));
        var canvas = new Canvas();
        canvas.Begin(4, 3);
        BigText.Draw(canvas, 0, 0, "Ö", Ink.Plain);
        Assert.Equal(["▀  ▀", "▄▀▀▄", "▀▄▄▀"], canvas.ToString().Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => line.TrimEnd()));
    }

    [Fact]
    public void Words_PickupInTheCountIn_IsUnderlinedWhenItIsSung()
    {
        var screen = new TestScreen(
            Long.Replace("notes = \"|", "pickup = \"E4:1\"\nnotes = \"|", StringComparison.Ordinal).Replace("words = \"", "words = \"Du | ", StringComparison.Ordinal),
            countIn: true);
        screen.Type("view words");
        var seen = new HashSet<bool>();
        for (var i = 0; i < 600 && (i == 0 || screen.Heard.Bar is not { Index: >= 0 }); i++)
        {
            if (screen.Heard.Bar is { Index: < 0 } bar && screen.State().Where.StartsWith("count-in", StringComparison.Ordinal))
            {
                var left = (bar.Length.Wholes.ToDouble() - screen.Heard.WholesInBar) * 8;
                Assert.Equal(left <= 1, Underlined(screen.Picture(80, 24)).Count > 0);
                seen.Add(left <= 1);
            }

            screen.Play(0.06);
        }

        Assert.Equal(2, seen.Count);
    }

    [Fact]
    public void Words_ThatGoOnInAnEnding_AreOneWord()
    {
        var screen = new TestScreen(Ending);
        PlayTo(screen, 0.05);
        Assert.Equal("Kaleidoskop.", screen.State().Lines[0].Sentence);
    }

    [Fact]
    public void Words_OfALine_AreShownWhenAskedForAndWhereTheTuneHasNone()
    {
        var screen = new TestScreen(Voices);
        PlayTo(screen, 0.05);
        Assert.Equal(["First here", "alone"], screen.State().Lines.Take(2).Select(line => line.Sentence));

        screen.Type("words alto");
        Assert.Equal(["then you", "alone"], screen.State().Lines.Take(2).Select(line => line.Sentence));
        Assert.Equal((ScreenView.Words, "large words of alto"), (screen.State().View, screen.State().Message));

        screen.Type("words bass");
        Assert.Equal("no words of 'bass'; lines with words: tune, alto", screen.State().Message);
        screen.Type("words tune");
        Assert.Equal("First here", screen.State().Lines[0].Sentence);
    }

    [Theory]
    [InlineData(100, 30)]
    [InlineData(40, 12)]
    public void Words_Looped_HeaderSaysSo(int width, int height)
    {
        var screen = new TestScreen(Voices);
        screen.Type("view words");
        screen.Type("loop section");
        PlayTo(screen, 2.1);
        Assert.Contains("looping a", screen.Picture(width, height).ToString().Split('\n')[0], StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(100, 30)]
    [InlineData(80, 24)]
    [InlineData(40, 12)]
    public void Words_MessageWhileChangesWait_StandsAlone(int width, int height)
    {
        var screen = new TestScreen(Voices);
        screen.Type("view words");
        PlayTo(screen, 0.1);
        var state = screen.State();
        state.Message = "undone: " + new string('x', width - 20);
        state.Awaited.AddRange([new Awaited("in five, eighth = 200", "in 2 bars", false), new Awaited(state.Message, "in 2 bars", false)]);
        var canvas = new Canvas();
        canvas.Begin(width, height);
        ScreenPicture.Draw(canvas, state);
        Assert.Contains(canvas.ToString().Split('\n'), line => line.Trim() == state.Message);
    }

    // Once a bug: a page was ten lines at every size, so that entries of two rows were passed over on a small screen.
    [Theory]
    [InlineData(100, 30)]
    [InlineData(80, 24)]
    [InlineData(40, 12)]
    public void Press_PagesInTheList_ShowEveryLineOnceEachWay(int width, int height)
    {
        var screen = new TestScreen(Voices);
        screen.Press("?");
        var count = screen.State().Over!.Count;
        string[] Rows() => [.. screen.Picture(width, height).ToString().Split('\n').Take(small(width, height) ? height - 2 : height - 1)];
        static bool small(int columns, int rows) => columns < 60 || rows < 20;
        List<string> shown = [.. Rows()];
        for (var from = -1; from != screen.State().OverFrom;)
        {
            from = screen.State().OverFrom;
            screen.Press("pagedown");
            if (screen.State().OverFrom != from)
            {
                shown.AddRange(Rows());
            }
        }

        // Each entry begins with its word.
        Assert.All(ScreenActions.Forms, form => Assert.Contains(shown, row => row.TrimStart().StartsWith(form.Usage[..Math.Min(25, form.Usage.Length)].Trim(), StringComparison.Ordinal)));
        Assert.All(ChangeWords.All, form => Assert.Contains(shown, row => row.TrimStart().StartsWith(form.Usage[..Math.Min(25, form.Usage.Length)].Trim(), StringComparison.Ordinal)));
        Assert.InRange(shown.Count, count, (count * 5 / 2) + height);

        var last = screen.State().OverFrom;
        screen.Press("home", "end");
        Assert.Equal(last, screen.State().OverFrom);
        Assert.NotEqual(string.Empty, Rows()[0]);
        Assert.Contains("leave", Rows().Last(row => row.Length > 0), StringComparison.Ordinal);
        screen.Press("pageup");
        Assert.InRange(screen.State().OverFrom, last - height, last - 1);
        screen.Press("home");
        Assert.Equal(0, screen.State().OverFrom);
    }

    [Fact]
    public void Press_HelpWithOwnBindings_ListsThem()
    {
        var screen = new TestScreen(Voices, "[keys]\n\"j\" = \"mute bass\"\n\"f\" = \"tempo by 4\"\n[pedals]\n\"cc20\" = \"stop-start\"\n");
        screen.Press("?");
        var lines = screen.State().Over!;
        Assert.Contains("  j      mute bass", lines);
        Assert.Contains("  f      tempo by 4", lines);
        Assert.Contains("  cc20   stop-start", lines);
        Assert.DoesNotContain(lines, line => line.StartsWith("  cc64", StringComparison.Ordinal));
    }

    // Once a bug: the answer covered what is pending, and the offer of unsaved changes was not shown at all.
    [Theory]
    [InlineData("words")]
    [InlineData("chords")]
    public void Picture_AnswerInALargeView_LeavesWhatIsPendingAndWhatTheKeysDo(string view)
    {
        const string offer = "unsaved changes from 29 Nov 10:05; press y to restore them";
        var screen = new TestScreen(Voices);
        screen.Type("view " + view);
        PlayTo(screen, 0.1);
        var state = screen.State();
        state.Message = "plucked bass -3 dB";
        state.Awaited.Add(new Awaited("in one, bar = 60", "in 2 bars", false));
        var text = Drawn(state);
        Assert.Contains("plucked bass -3 dB", text, StringComparison.Ordinal);
        Assert.Contains("in 2 bars: in one, bar = 60", text, StringComparison.Ordinal);
        Assert.Contains("p stop", text, StringComparison.Ordinal);

        screen = new TestScreen(Voices) { Waits = true };
        screen.Type("view " + view);
        screen.Keys.Say(offer, warns: false, screen.Seconds);
        text = Drawn(screen.State());
        Assert.Contains("unsaved changes from 29 Nov", text, StringComparison.Ordinal);
        Assert.Contains("y to restore them", text, StringComparison.Ordinal);
        Assert.Contains("space, pedal: start", text, StringComparison.Ordinal);
    }

    private static string Drawn(ScreenState state, int width = 40, int height = 12)
    {
        var canvas = new Canvas();
        canvas.Begin(width, height);
        ScreenPicture.Draw(canvas, state);
        return canvas.ToString();
    }

    // Once a bug: a long offer covered the chords.
    [Fact]
    public void Picture_LongMessageOnASmallScreen_LeavesTheChordsAndIsInTheList()
    {
        var offer = "unsaved changes from 29 Nov 10:05; the chart was edited since, and restoring them undoes that; press y to restore them; "
            + "2 earlier (from before the chart was edited): recall unsaved 2; bouzouki cannot reach the tune";
        var screen = new TestScreen(Voices);
        PlayTo(screen, 0.1);
        var chords = Drawn(screen.State()).Split('\n').Single(line => line.Contains("next bar C", StringComparison.Ordinal));
        screen.Keys.Say(offer, warns: false, screen.Seconds);

        var text = Drawn(screen.State());
        Assert.Contains(chords, text, StringComparison.Ordinal);
        Assert.Contains(" ... ?: all", text, StringComparison.Ordinal);
        screen.Press("?");
        Assert.Contains(offer, screen.State().Over!);
    }

    // Once a bug: a small screen did not say which song is ready, or over.
    [Theory]
    [InlineData("band")]
    [InlineData("words")]
    [InlineData("chords")]
    public void Picture_NothingPlaysOnASmallScreen_HasTheTitle(string view)
    {
        var screen = new TestScreen(Voices, ends: true) { Waits = true };
        screen.Type("view " + view);
        Assert.Contains("Two voices", Drawn(screen.State()).Split('\n')[0], StringComparison.Ordinal);
        screen.Waits = false;
        screen.Play(60);
        Assert.Equal(Standing.Ended, screen.State().Standing);
        Assert.Contains("Two voices", Drawn(screen.State()).Split('\n')[0], StringComparison.Ordinal);
    }

    // Once a bug: the last notes rang for ever.
    [Fact]
    public void Band_AfterTheEnd_HasEnded()
    {
        var screen = new TestScreen(Voices, ends: true);
        var rang = false;
        for (var step = 0; step < 300 && screen.State().Standing != Standing.Ended; step++)
        {
            screen.Play(0.2);
            rang |= screen.State().Band.Any(player => player.Does == "the last notes ring");
        }

        Assert.True(rang);
        Assert.All(screen.State().Band, player => Assert.Equal("has ended", player.Does));
    }
}
