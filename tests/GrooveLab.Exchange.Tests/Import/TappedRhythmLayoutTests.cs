using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>A rhythm tapped to imported words is saved bar under bar, as the import laid it out.</summary>
public sealed class TappedRhythmLayoutTests
{
    private const string Words = """
        Key: D dorian
        Meter: 5/8 3+2
        Tempo: eighth = 250

        Verse 1
        Dm           C            F        G
        Tar on the   rope and the salt in the air,

        Verse 2
        Dm           C            F        G
        Rust on the  hook and the night in her hair,

        """;

    [Fact]
    public void Write_NewRhythmOfImportedWords_StaysBarUnderBar()
    {
        var text = ScoreImport.Make(Encoding.UTF8.GetBytes(Words), ScoreFormat.Words, new ScoreOptions { Name = "rope.txt" }).Text!;
        var rows = Rows(text);
        Assert.True(rows.Count >= 4, text);
        AreAligned(rows);
        var document = ChartDocument.FromText(text, "rope.toml");
        var chart = document.Read().Chart!;
        var notes = chart.Sections[0].Tune!.Notes.Count;
        var lengths = string.Join(' ', Enumerable.Range(0, notes).Select(i => i % 3 == 0 ? "z1/16 3/16" : "1/16 z1/16"));
        var state = PerformanceState.Opening(chart, InstrumentFile.BuiltIn);
        var changed = new SetRhythm(chart.Sections[0].Name, "| " + lengths).ApplyTo(state, new PerformancePlace(0, 0, 1)).State.Chart;
        var written = ChartDifference.Write(document, chart, changed);
        Assert.False(written.IsReformatted);
        Assert.NotEqual(text, written.Document.Text);
        AreAligned(Rows(written.Document.Text));

        // Back again too.
        var back = ChartDifference.Write(written.Document, changed, chart);
        AreAligned(Rows(back.Document.Text));
    }

    // A user's own layout, with the words not under the notes, is left alone.
    [Fact]
    public void Write_NewRhythmOfWordsInOneLine_LeavesTheWordsAlone()
    {
        const string text = """
            format = 2
            title = "Rope"
            key = "D dorian"
            tempo = "eighth = 250"
            meter = "5/8 3+2"

            [[section]]
            name = "verse"
            chords = "| Dm | C |"
            [section.tune]
            notes = "| D4:3 F4:2 | G4:3 A4:2 |"
            words = "Tar on the rope"

            """;
        var document = ChartDocument.FromText(text, "rope.toml");
        var chart = document.Read().Chart!;
        var state = PerformanceState.Opening(chart, InstrumentFile.BuiltIn);
        var changed = new SetRhythm("verse", "| 1/8 1/8 1/8 z1/4 3/8").ApplyTo(state, new PerformancePlace(0, 0, 1)).State.Chart;
        var written = ChartDifference.Write(document, chart, changed).Document.Text.Split('\n');
        Assert.Single(text.Split('\n').Zip(written), pair => pair.First != pair.Second);
    }

    [Fact]
    public void Write_NoteShorterThanItLaysBack_LaysBackHalfItsLength()
    {
        const string text = """
            format = 2
            title = "Rope"
            key = "D dorian"
            tempo = "eighth = 250"
            meter = "5/8 3+2"

            [[section]]
            name = "verse"
            chords = "| Dm | C |"
            [section.tune]
            notes = "| !late:1/8!D4:3 !late:1/16!F4:2 | G4:3 A4:2 |"

            """;
        var document = ChartDocument.FromText(text, "rope.toml");
        var chart = document.Read().Chart!;
        var state = PerformanceState.Opening(chart, InstrumentFile.BuiltIn);
        var changed = new SetRhythm("verse", "| 1/8 1/8 1/4 1/8").ApplyTo(state, new PerformancePlace(0, 0, 1)).State.Chart;

        var written = ChartDifference.Write(document, chart, changed).Document;

        var notes = written.Read().Chart!.Sections[0].Tune!.Notes;
        Assert.Equal([Span.Of(1, 16), Span.Of(1, 16), Span.Zero, Span.Zero], notes.Select(note => note.Late));
        Assert.Equal([Span.Of(1, 8), Span.Of(1, 8), Span.Of(1, 4), Span.Of(1, 8)], notes.Select(note => note.Length));
    }

    [Theory]
    [InlineData("| 1/8 1/8 3/8 1/2", true)]
    [InlineData("| 1/8 1/8 3/8 5/8", false)]
    public void ApplyTo_RhythmWithoutARestForThePickupOfAnEnding_IsRefused(string rhythm, bool fits)
    {
        const string text = """
            format = 2
            title = "Rope"
            key = "D dorian"
            tempo = "eighth = 250"
            meter = "5/8 3+2"

            [[section]]
            name = "verse"
            chords = "| Dm | C |"
            [section.tune]
            notes = "| D4:3 F4:2 | G4:3 A4:1 z |"
            [[section.ending]]
            chords = "| Dm |"
            [section.ending.tune]
            pickup = "E4:1"
            notes = "| D4:5 |"

            """;
        var document = ChartDocument.FromText(text, "rope.toml");
        var chart = document.Read().Chart!;
        var state = PerformanceState.Opening(chart, InstrumentFile.BuiltIn);
        PerformanceState Changed() => new SetRhythm("verse", rhythm).ApplyTo(state, new PerformancePlace(0, 0, 1)).State;

        if (fits)
        {
            Assert.True(ChartDifference.Write(document, chart, Changed().Chart).Document.Read().IsChart);
        }
        else
        {
            Assert.Contains("pickup of ending 1 of verse", Assert.Throws<ChangeRefusedException>(Changed).Message, StringComparison.Ordinal);
        }
    }

    // The columns of the bar lines of each row.
    private static List<string> Rows(string text) =>
    [
        .. text.Split('\n').Where(line => line.StartsWith('|')).Select(line => string.Join(' ', line.Select((sign, at) => sign == '|' ? at : -1).Where(at => at >= 0))),
    ];

    // Words may end before the last bar.
    private static void AreAligned(List<string> rows) => Assert.All(rows, row => Assert.StartsWith(row, rows.MaxBy(other => other.Length)!, StringComparison.Ordinal));
}
