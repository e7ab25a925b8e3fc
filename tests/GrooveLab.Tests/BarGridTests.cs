using GrooveLab.Commands;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Ensemble;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The bars that <c>show</c> prints.</summary>
public sealed class BarGridTests
{
    private const string Triplets = """
        format = 2
        title = "Three Gulls"
        key = "D dorian"
        tempo = "eighth = 260"
        meter = "5/8 3+2"
        [[part]]
        role = "tune"
        [[part]]
        role = "count"
        on = "units"
        [[section]]
        chords = "| Dm | C |"
        [section.tune]
        notes = "| D4:3 {3:2 F4:1/8 G4 A4} | {5:4 C4:1/16 D4 E4 F4 G4} E4:1 C4:2 |"
        """;

    private const string Nineteen = """
        format = 2
        title = "The Long Pier"
        key = "G"
        tempo = "eighth = 320"
        meter = "19/8 (3+2+2)+(3+2)+(3+2+2)"
        [[section]]
        chords = "| G | C |"
        """;

    // Once a bug: three sixteenths.
    [Fact]
    public void Write_Triplet_StandsAtItsThirds()
    {
        var bars = Bars(Shown(Triplets, 120), "bar 1");

        Assert.Equal(["1", ".", "2", ".", "3", ".", "|4", "2/3", "5", "1/3"], Cells(bars[1]));
        Assert.Equal(["4", "2/3", "1/3"], new[] { "F4", "G4", "A4" }.Select(note => Above(bars, note)));
        Assert.Equal(["1", "2", "3", "4", "5"], Clicks(bars));
    }

    [Fact]
    public void Write_Quintuplet_StandsAtItsFifths()
    {
        var bars = Bars(Shown(Triplets, 120), "bar 2");

        Assert.Equal(["1", "2/5", "4/5", "1/5", "3/5"], new[] { "C4", "D4", "E4", "F4", "G4" }.Select(note => Above(bars, note)));
    }

    // Once a bug: 400 columns, with words.
    [Theory]
    [InlineData(80)]
    [InlineData(120)]
    public void Write_LongBar_GoesOnBelowFromAGroup(int width)
    {
        var text = Shown(Nineteen, width);
        var lines = text.Split('\n').TakeWhile(line => !line.StartsWith("DOWN", StringComparison.Ordinal)).ToList();

        Assert.All(lines.Where(line => line.StartsWith("  ", StringComparison.Ordinal)), line => Assert.InRange(line.Length, 0, width));
        var rulers = Bars(text, "bar 1").Where(line => line.TrimStart() is ['1', ' ', ..] or ['|', ..]).ToList();
        Assert.InRange(rulers.Count, 2, 4);
        Assert.All(rulers.Skip(1), ruler => Assert.StartsWith("|", ruler.TrimStart(), StringComparison.Ordinal));
        Assert.Equal(
            Enumerable.Range(1, 19).Select(unit => unit.ToString(System.Globalization.CultureInfo.InvariantCulture)),
            rulers.SelectMany(Cells).Where(cell => cell != ".").Select(cell => cell.TrimStart('|')));
    }

    [Fact]
    public void Write_BarThatFits_IsOneLine() =>
        Assert.Single(Bars(Shown(Triplets, 120), "bar 1"), line => line.Contains("concertina", StringComparison.Ordinal));

    private static string Shown(string chart, int width)
    {
        var output = new StringWriter { NewLine = "\n" };
        BarGrid.Write(new BarComposer(ChartReader.ReadText(chart, "song.toml").Chart!), output, width);
        return output.ToString();
    }

    private static List<string> Bars(string text, string head)
    {
        var lines = text.Split('\n').SkipWhile(line => !line.StartsWith(head + " ", StringComparison.Ordinal)).ToList();
        return [.. lines.Take(1), .. lines.Skip(1).TakeWhile(line => line.Length == 0 || line[0] == ' ').Where(line => line.Length > 0)];
    }

    private static string[] Cells(string ruler) => ruler.Split(' ', StringSplitOptions.RemoveEmptyEntries);

    // What the ruler says above a note, without the stroke before a group.
    private static string Above(List<string> bar, string note)
    {
        var row = bar.First(line => line.Contains("concertina", StringComparison.Ordinal));
        return At(bar[1], row.IndexOf(note, StringComparison.Ordinal));
    }

    private static IEnumerable<string> Clicks(List<string> bar)
    {
        var row = bar.First(line => line.Contains("clicks", StringComparison.Ordinal));
        var name = row.IndexOf("clicks", StringComparison.Ordinal) + "clicks".Length;
        return Enumerable.Range(name, row.Length - name).Where(at => row[at] != ' ').Select(at => At(bar[1], at));
    }

    private static string At(string ruler, int column) => ruler[column..].Split(' ')[0].TrimStart('|');

    // Once a bug: the terminal broke its words.
    [Theory]
    [InlineData(40)]
    [InlineData(80)]
    public void Write_Narrow_BreaksTheLegendBetweenWords(int width)
    {
        using var text = new StringWriter();
        BarGrid.Write(new BarComposer(DemoCommand.Chart()), text, width, 1);
        var legend = text.ToString().Split(Environment.NewLine).SkipWhile(line => !line.StartsWith("DOWN, UP: ", StringComparison.Ordinal)).ToList();
        Assert.NotEmpty(legend);
        Assert.All(legend, line => Assert.InRange(line.Length, 0, width));
        Assert.Contains(
            "strokes that ring; down, up: damped strokes; then the strings of the fullest stroke if they change.", string.Join(' ', legend), StringComparison.Ordinal);
    }
}
