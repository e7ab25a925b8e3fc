using GrooveLab.Music.Band;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

public sealed class LeadInTests
{
    // 300 eighths a minute last 200 ms each. Common practice, no source: what comes faster is not counted one by one.
    [Theory]
    [InlineData("7/8 2+2+3", 300, FeltLevel.Group, "0 1 2 3 4 5 6")]
    [InlineData("7/8 2+2+3", 301, FeltLevel.Group, "0 2 4")]
    [InlineData("7/8 2+2+3", 301, FeltLevel.Unit, "0 2 4")]
    [InlineData("11/8 3+3+3+2", 619, FeltLevel.Group, "0 3 6 9")]
    [InlineData("11/8 3+3+3+2", 619, FeltLevel.Bar, "0")]
    [InlineData("11/8 3+3+3+2", 290, FeltLevel.Bar, "0 1 2 3 4 5 6 7 8 9 10")]
    [InlineData("5/8 none", 400, FeltLevel.Group, "0")]
    [InlineData("6/8 3+3", 330, FeltLevel.BarGroup, "0")]
    public void LastBarOfTheCount_OfQuickUnits_ClicksTheFeltBeats(string meter, int eighths, FeltLevel felt, string units)
    {
        var eighth = Span.Of(1, 8);
        var sheet = Sheet.Bars(meter, "Am", "Am", "Am", "Am");
        var chart = Sheet.Chart(Sheet.Section("A", sheet)) with { Feel = felt, Tempo = new(Music.Charts.TempoLevel.Note, eighth, eighths), Parts = [Players.Pulse(), Players.Clicks()] };
        var lead = new BarComposer(chart).BarAt(-1);
        var clicks = lead.Notes.Where(note => note.Role == Role.Count).Select(note => note.Onset).ToList();
        var last = lead.Length - sheet[0].Meter.Length;

        Assert.Equal(units, string.Join(' ', clicks.Where(onset => onset >= last).Select(onset => (onset - last) / eighth)));
        Assert.True(clicks.Count >= 4, $"{clicks.Count}");
    }
}
