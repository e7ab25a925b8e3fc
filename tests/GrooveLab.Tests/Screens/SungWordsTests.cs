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

    [Fact]
    public void Press_EndInTheList_GoesToItsEnd()
    {
        var screen = new TestScreen(Voices);
        screen.Press("?", "end");
        Assert.Equal(screen.State().Over!.Count - 5, screen.State().OverFrom);
        screen.Press("home");
        Assert.Equal(0, screen.State().OverFrom);
    }
}
