using GrooveLab.Exchange.Charts;
using Xunit;

namespace GrooveLab.Tests.Sheets;

/// <summary>Sheets as a browser lays them out: on paper and on a phone, in three fonts.</summary>
public sealed class SheetLayoutTests : IDisposable
{
    private readonly BrowserPages _browser = new();

    [Fact]
    public void Sheets_OfEveryPreset_OverlapNowhereAndStayOnThePage()
    {
        List<BrowserSheet> sheets =
        [
            .. Running.Presets.SelectMany(path => SheetCharts.Sheets(Path.GetFileNameWithoutExtension(path), File.ReadAllText(path), parts: 2)),
            .. SheetCharts.Sheets("demo", DemoChart.Text),
        ];
        Assert.True(sheets.Count > 100);
        NoFaults(sheets);
    }

    [Fact]
    public void Sheets_OfHardCharts_OverlapNowhereAndStayOnThePage() => NoFaults(
    [
        .. SheetCharts.Sheets("hostile", SheetCharts.Hostile), .. SheetCharts.Sheets("crowded", SheetCharts.Crowded),
        .. SheetCharts.Sheets("eventful", SheetCharts.Eventful), .. SheetCharts.Sheets("long", SheetCharts.Long, parts: 1),
    ]);

    [Fact]
    public void Faults_OfABrokenSheet_AreFound()
    {
        var sheet = SheetCharts.Sheets("demo", DemoChart.Text, parts: 0).First();
        var moved = sheet with { Html = sheet.Html.Replace("class=\"b cap\" x=\"0\"", "class=\"b cap\" x=\"6\"", StringComparison.Ordinal) };
        Assert.Contains(_browser.Faults([moved]), fault => fault.Contains("overlaps", StringComparison.Ordinal));
        var low = sheet with { Html = sheet.Html.Replace("font-size=\"11\"", "font-size=\"9.9\"", StringComparison.Ordinal) };
        Assert.Contains(_browser.Faults([low]), fault => fault.Contains("mm high", StringComparison.Ordinal));
        var wide = sheet with { Html = sheet.Html.Replace("class=\"gutter\" width=\"10mm\"", "class=\"gutter\" width=\"40mm\" style=\"margin-left:170mm\"", StringComparison.Ordinal) };
        Assert.Contains(_browser.Faults([wide]), fault => fault.Contains("mm wide", StringComparison.Ordinal) || fault.Contains("leaves", StringComparison.Ordinal));
    }

    // Sizes of the papers in points: ISO 216 and ANSI/ASME Y14.1, from memory. The numbers of pages were counted on prints that were looked at.
    [Theory]
    [InlineData("A4", 595.3, 841.9, 6)]
    [InlineData("Letter", 612, 792, 6)]
    public void Print_OfTheDemo_FitsThePaper(string paper, double width, double height, int count)
    {
        var pages = _browser.Print([.. SheetCharts.Sheets("demo", DemoChart.Text, parts: 1)], paper);
        Assert.Equal(count, pages.Count);
        Check(pages, width, height);
    }

    [Theory]
    [InlineData("A4", 595.3, 841.9)]
    [InlineData("Letter", 612, 792)]
    public void Print_OfHardCharts_FitsThePaper(string paper, double width, double height) => Check(
        _browser.Print(
        [
            .. SheetCharts.Sheets("hostile", SheetCharts.Hostile, parts: 1), .. SheetCharts.Sheets("crowded", SheetCharts.Crowded, parts: 1),
            .. SheetCharts.Sheets("long", SheetCharts.Long, parts: 0), .. SheetCharts.Sheets("eventful", SheetCharts.Eventful, parts: 1),
        ],
        paper),
        width,
        height);

    /// <inheritdoc/>
    public void Dispose() => _browser.Dispose();

    private void NoFaults(IReadOnlyList<BrowserSheet> sheets)
    {
        var faults = _browser.Faults(sheets);
        Assert.True(faults.Count == 0, string.Join('\n', faults));
    }

    private static void Check(IReadOnlyList<PrintedPage> pages, double width, double height)
    {
        foreach (var page in pages)
        {
            Assert.Equal(width, page.Width, 1.0);
            Assert.Equal(height, page.Height, 1.0);
            Assert.NotEmpty(page.Words);
            // Inside margins of 12 mm (34 points) to the sides; at the bottom the number of the page stands in the margin.
            Assert.All(page.Words, word =>
            {
                Assert.True(word.Left >= 33 && word.Right <= width - 33, $"'{word.Text}' from {word.Left} to {word.Right}");
                Assert.True(word.Top >= 26 && word.Bottom <= height - 8, $"'{word.Text}' from {word.Top} to {word.Bottom}");
            });
        }
    }
}
