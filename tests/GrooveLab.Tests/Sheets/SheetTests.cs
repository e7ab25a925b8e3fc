using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Sheets;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Sheets;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Tests.Sheets;

/// <summary>What stands on sheets. The expectations are worked out by hand from the charts.</summary>
public sealed class SheetTests : IDisposable
{
    private readonly Running _program = new();

    [Fact]
    public void Sheet_OfTheDemo_HasFormTempiAndBars()
    {
        var sheet = Maker(DemoChart.Text).Sheet();
        Assert.Equal("Ferry Lanterns", sheet.Title);
        Assert.Equal(["eighth = 260", "bar = 52"], sheet.Tempi);
        Assert.Equal(["A verse", "B refrain", "A verse", "B refrain"], sheet.Form.Select(step => $"{step.Letter} {step.Name}"));
        Assert.Equal("Dm rings", sheet.Ending);
        Assert.Equal([16, 8], sheet.Sections.Select(section => section.Bars.Count));
        Assert.Equal([1, 17], sheet.Sections.Select(section => section.Bars[0].Number));
        Assert.Equal("Dm C F Am", string.Join(' ', sheet.Sections[0].Bars.Take(4).Select(bar => bar.Chords[0].Symbol.Text)));
        Assert.Equal(["bouzouki", "hammered dulcimer", "plucked bass", "cello", "concertina", "clicks"], sheet.Parts.Select(part => part.Name));
    }

    [Fact]
    public void Sheet_OfAPulse_ShowsAStrokeOnEachUnit()
    {
        var pattern = Assert.Single(Maker(DemoChart.Text).Sheet().Parts[0].Patterns);
        // A three is down-up-down, a two down-up; every group begins from above.
        Assert.Equal(["0 down", "1/8 up", "1/4 down", "3/8 down", "1/2 up"], pattern.Notes.Select(note =>
            $"{note.Onset} {(note.Sign is PatternSign.Up or PatternSign.UpDamped ? "up" : "down")}"));
    }

    [Fact]
    public void Sheet_OfAnEventfulChart_HasLettersEndingsKeysAndATag()
    {
        var sheet = Maker(SheetCharts.Eventful).Sheet();
        Assert.Equal(["A A 2 ending 1, 2", "B B 1 ", "C A 1 ending 2", "D C 1 ", "B B 1 "], sheet.Form.Select(step => $"{step.Letter} {step.Name} {step.Times} {step.Endings}"));
        Assert.Equal([false, false, false, false, true], sheet.Form.Select(step => step.IsTag));
        Assert.Equal(2, sheet.Times);
        Assert.Equal([1, 2], sheet.Sections[0].Endings.Select(ending => ending.Number));
        Assert.Equal("G A7", string.Join(' ', sheet.Sections[0].Endings[0].Bars.Select(bar => bar.Chords[0].Symbol.Text)));
        Assert.Equal(4, sheet.Sections[0].Bars.Count);
        // A tone up: E minor seems D minor, in E dorian.
        Assert.Contains("in E dorian", sheet.Sections[2].Facts);
        Assert.Equal("Em", sheet.Sections[2].Bars[0].Chords[0].Symbol.Text);
        Assert.Contains("vamp: again and again until the bandleader goes on", sheet.Sections[1].Facts);
        Assert.Contains("only bouzouki and plucked bass", sheet.Sections[3].Facts);
        Assert.Contains("stop-time: the band strikes the downbeats only", sheet.Sections[3].Facts);
        var bars = sheet.Sections[1].Bars;
        Assert.Equal(["7/8 2+2+3"], bars[1].Marks);
        Assert.Contains("3/8", bars[2].Marks);
        Assert.Contains("slowing down", bars[3].Marks);
        Assert.Contains("hold 3 s", bars[4].Marks);
    }

    [Theory]
    [InlineData("5/8 3+2", "eighth = 260", "in two: long-short", "Down 3, Up 2")]
    [InlineData("7/8 2+2+3", "eighth = 260", "in three: short-short-long", "Down 2, Out 2, Up 3")]
    [InlineData("11/8 2+2+3+2+2", "eighth = 260", "in five: short-short-long-short-short", "Down 2, In 2, In 3, Out 2, Up 2")]
    [InlineData("4/4 2+2", "quarter = 100", "in four", "Down 1, In 1, Out 1, Up 1")]
    [InlineData("3/4", "quarter = 100", "in three", "Down 1, Out 1, Up 1")]
    [InlineData("5/8 none", "bar = 60", "in one", "Down 5")]
    [InlineData("1/4", "quarter = 100", "in one", "Down 1")]
    public void Beating_OfAMeter_FollowsItsGroups(string meter, string tempo, string words, string beats)
    {
        var chart = $"format = 2\ntitle = \"x\"\nkey = \"C\"\ntempo = \"{tempo}\"\nmeter = \"{meter}\"\n[[section]]\nname = \"a\"\nchords = \"| C |\"\n";
        var pattern = Assert.Single(Maker(chart).Sheet().Beating);
        Assert.Equal(words, pattern.Words);
        Assert.Equal(beats, string.Join(", ", pattern.Beats.Select(beat => $"{beat.Way} {beat.Units}")));
    }

    [Fact]
    public void Steps_OfAPart_SayWhatItDoesInEachPlaying()
    {
        var band = Band("""
            format = 2
            title = "x"
            key = "C"
            tempo = "eighth = 240"
            meter = "5/8 3+2"
            form = ["quiet", "loud x3", "quiet"]
            [[section]]
            name = "quiet"
            chords = "| C | G |"
            play = ["bouzouki"]
            [[section]]
            name = "loud"
            chords = "| C | G |"
            energy = 4
            tasks = ["cello: plays", "bouzouki: thin"]
            fill = "none"
            """);
        var maker = new SheetMaker(band);
        var cello = band.Chart.Parts.ToList().FindIndex(part => part.Name == "cello");
        Assert.Equal(["A 1-1 bar 1 rests", "B 1-3 bar 3 plays", "A 2-2 bar 9 rests"], maker.StepsOf(cello).Select(step => $"{step.Letter} {step.From}-{step.To} bar {step.FirstBar} {step.Task}"));
        Assert.Equal("plays less", maker.StepsOf(0)[1].Task);
        Assert.Equal(4, maker.StepsOf(0)[1].Energy);
    }

    [Fact]
    public void SingerSheet_OfTheDemo_HasAllVersesInOrderWithCuesAndStresses()
    {
        var sheet = Singer(DemoChart.Text);
        Assert.Equal(["A words 1", "B 5/8 3+2", "A words 2", "B 5/8 3+2"], sheet.Blocks.Select(block => $"{block.Letter} {block.Facts[0]}"));
        Assert.Equal([false, false, false, true], sheet.Blocks.Select(block => block.IsRepeated));
        Assert.Equal("Lanterns are swinging on Hollywell Quay,", sheet.Blocks[0].Lines[0].Sentence);
        Assert.Equal("Rain comes to dance on the netmaker's roof,", sheet.Blocks[2].Lines[0].Sentence);
        var first = sheet.Blocks[0].Lines[0].Bars[0];
        Assert.Equal(["Lan*", "terns", "are"], first.Syllables.Select(syllable => syllable.Text + (syllable.IsStressed ? "*" : "")));
        Assert.Equal([Span.Zero, Span.Of(1, 4), Span.Of(3, 8)], first.Syllables.Select(syllable => syllable.Onset));
        Assert.Equal("D F A", Assert.Single(first.Cues).Names);
        // The rest that ends the verse begins after four of five units.
        Assert.Equal([Span.Of(1, 2)], sheet.Blocks[0].Lines[3].Bars[3].Breaths);
        // "So" is sung before the first bar of the refrain, on A; its phrase goes on to D and ends there.
        var pickup = sheet.Blocks[1].Lines[0].Bars[0];
        Assert.True(pickup.IsPickup);
        Assert.Equal("So", Assert.Single(pickup.Syllables).Text);
        Assert.Equal("A D", Assert.Single(pickup.Cues).Names);
    }

    [Fact]
    public void SingerSheet_WhereASyllableComesLate_SaysHowLate()
    {
        var sheet = Singer("""
            format = 2
            title = "x"
            key = "C"
            tempo = "eighth = 240"
            meter = "5/8 3+2"
            [[section]]
            name = "a"
            chords = "| C | C |"
            [section.tune]
            notes = "| C4:3 D4:2 | !late:0.5!E4:3 D4:2 |"
            words = "| row the | boat home |"
            """);
        var late = Assert.Single(sheet.Blocks[0].Lines[0].Bars.SelectMany(bar => bar.Syllables), syllable => syllable.Late > Span.Zero);
        Assert.Equal("boat", late.Text);
    }

    [Fact]
    public void SingerSheet_WithoutWords_SaysSo()
    {
        var page = SheetCharts.Of(SheetCharts.Crowded).ForTheSinger();
        Assert.Contains("This chart has no words.", page, StringComparison.Ordinal);
    }

    [Fact]
    public void Sheets_OfHostileText_EscapeItAndNeedNothingFromOutside()
    {
        foreach (var sheet in SheetCharts.Sheets("hostile", SheetCharts.Hostile).Concat(SheetCharts.Sheets("demo", DemoChart.Text, 1)))
        {
            foreach (var foreign in new[] { "<script", "<img", "http", "url(", "@import", "src=", "href", "<b>'", "\u0000" })
            {
                // The section's name has it as text.
                var html = sheet.Html.Replace("&lt;img src=", string.Empty, StringComparison.Ordinal);
                Assert.False(html.Contains(foreign, StringComparison.OrdinalIgnoreCase), $"{sheet.Name}: {foreign}");
            }

            Assert.Single(sheet.Html.Split("</style>")[1..]);
        }

        Assert.Contains("&lt;script&gt;alert(1)&lt;/script&gt;", SheetCharts.Of(SheetCharts.Hostile).ForTheBand(), StringComparison.Ordinal);
    }

    [Fact]
    public void Width_OfATextInATable_IsThatOfThePublishedFont()
    {
        // Advance widths of Liberation Sans 2: D 722, m 833 thousandths; bold m 889.
        Assert.Equal(15.55, TextMeasure.Width("Dm", 10), 2);
        Assert.Equal(16.11, TextMeasure.Width("Dm", 10, bold: true), 2);
        Assert.Equal(TextMeasure.Width("e", 10), TextMeasure.Width("é", 10), 6);
        Assert.Equal(20, TextMeasure.Width("灯籠", 10), 6);
    }

    [Fact]
    public void Fit_OfALongText_PressesToAHalfAndThenShortens()
    {
        // Ten a are 55.6 wide at size 10.
        Assert.Equal(new FittedText("aaaaaaaaaa", 30), TextMeasure.Fit("aaaaaaaaaa", 10, 30));
        var shortened = TextMeasure.Fit("aaaaaaaaaa", 10, 20);
        // The ellipsis is 10 wide, so (40 - 10) / 5.56 = 5 letters remain at half the width.
        Assert.Equal("aaaaa…", shortened.Text);
        Assert.True(shortened.Width <= 20);
        Assert.Equal(string.Empty, TextMeasure.Fit("aaaa", 10, 1).Text);
    }

    [Fact]
    public void Export_OfSheets_WritesEachKind()
    {
        var chart = _program.Write("lanterns.toml", DemoChart.Text);
        Assert.Equal(0, _program.Run("export", chart, "-o", "band.html").ExitCode);
        Assert.Equal(0, _program.Run("export", chart, "-o", "bass.html", "--part", "bass").ExitCode);
        Assert.Equal(0, _program.Run("export", chart, "-o", "words.html", "--singer").ExitCode);
        Assert.Contains("<title>Ferry Lanterns, plucked bass</title>", File.ReadAllText(_program.Path("bass.html")), StringComparison.Ordinal);
        Assert.Contains("Bold syllables are stressed", File.ReadAllText(_program.Path("words.html")), StringComparison.Ordinal);
        var both = _program.Run("export", chart, "-o", "both.html", "--singer", "--part", "bass");
        Assert.Equal(2, both.ExitCode);
        Assert.Contains("--part and --singer each choose a sheet; use only one of them", both.Error, StringComparison.Ordinal);
        var sung = _program.Run("export", chart, "-o", "both.mid", "--singer");
        Assert.Equal(2, sung.ExitCode);
        Assert.Contains("--singer is for sheets, not for a MIDI file", sung.Error, StringComparison.Ordinal);
    }

    /// <inheritdoc/>
    public void Dispose() => _program.Dispose();

    private static BarComposer Band(string text)
    {
        var read = ChartReader.ReadText(text, "chart.toml");
        Assert.Empty(read.Problems);
        return new BarComposer(read.Chart!);
    }

    private static SheetMaker Maker(string text) => new(Band(text));

    private static SingerSheet Singer(string text)
    {
        var band = Band(text);
        return new SingerSheetMaker(band, new SheetMaker(band), EnglishStress.For(SingerSheetMaker.Verses(band.Chart))).Sheet();
    }
}
