using GrooveLab.Exchange.Charts;
using GrooveLab.Export;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Tests.Sheets;

/// <summary>Charts for the tests of sheets, and their sheets.</summary>
internal static class SheetCharts
{
    /// <summary>Title, names and words that try to leave their places.</summary>
    public static string Hostile { get; } = """
        format = 2
        title = 'TITLE'
        key = "Bb dorian"
        tempo = "eighth = 260"
        meter = "7/8 2+2+3"

        [[part]]
        role = "tune"
        instrument = "concertina"
        name = "b'& 灯 أض"

        [[section]]
        name = "<img src=x onerror=alert(1)> 波止場の灯り أضواء العبّارة"
        chords = "| Bbm7b5/Ab Ebmaj7 C#7(b9,#11) | Bbm | N.C. | F#m7 |"

        [section.tune]
        notes = "| D4:2 E4:2 F4:3 | D4:1 E4:1 F4:1 G4:1 A4:1 B4:1 A4:1 | G4:4 z:3 | D4:7 |"
        words = "| </text><script>alert(1)</script> 灯り أضواء | \"quoted\" Donaudampfschifffahrtsgesellschaft & 🎻🎻🎻 it's a- b- | c | שלום |"
        """.Replace("TITLE", "<script>alert(1)</script> \"" + string.Concat(Enumerable.Repeat("Ferry lanterns & ", 12)) + "\" \u202Eflow\u202C 灯籠 🏮 قارب " + new string('W', 60), StringComparison.Ordinal);

    /// <summary>Twenty chords in a bar of twenty sixteenths, and 33 sixteenths in one.</summary>
    public static string Crowded { get; } = """
        format = 2
        title = "Crowded Quay"
        key = "C"
        tempo = "sixteenth = 300"
        meter = "20/16 5+5+5+5"

        [[section]]
        name = "twenty"
        chords = "| C Dm Em F G Am Bdim C/E F#m7b5 G7 Am7 Bb Cmaj7 D7 Ebmaj7 F6 G7b9 Ab C#m Bm7 | C Dm Em F |"

        [[section]]
        name = "thirty-three"
        meter = "33/16 (3+3)+(3+2)+(3+3)+(3+2)+(3+3)+(3+2)"
        chords = "| F#m7b5 C#m B/D# E A D | C |"

        [[section]]
        name = "one"
        meter = "1/4"
        chords = "| C | Dm7 | [3/8] Ebmaj7(#11) | F | G | Am | Bb | C |"
        """;

    /// <summary>Four hundred bars of which every one differs from the one before.</summary>
    public static string Long { get; } = $"""
        format = 2
        title = "Long Crossing"
        key = "C"
        tempo = "eighth = 240"
        meter = "5/8 3+2"

        [[section]]
        name = "crossing"
        chords = "{string.Join(' ', Enumerable.Range(0, 400).Select(bar => "| " + "CDEFGAB"[bar * 5 % 7] + (bar / 7 % 2 == 0 ? "" : "m")))} |"
        """;

    /// <summary>Endings, a vamp, a hold, a break, stop-time, another key, changes of tempo and meter, a tag.</summary>
    public static string Eventful { get; } = """
        format = 2
        title = "Pier and Breakwater"
        key = "D dorian"
        tempo = "eighth = 260"
        meter = "7/8 2+2+3"
        form = ["A x2", "B", "A up a tone", "C"]
        tag = ["B"]
        times = 2

        [[section]]
        name = "A"
        chords = "| Dm | C | F | Am |"
        [[section.ending]]
        chords = "| G | A7 |"
        [[section.ending]]
        chords = "| G | Dm |"

        [[section]]
        name = "B"
        meter = ["5/8 3+2", "7/8 2+2+3"]
        vamp = true
        tempo = ["eighth = 220", "to eighth = 180 over the last 2 bars, then a tempo"]
        chords = "| Dm | C | [3/8] F | Am | Dm |"
        hold = 3

        [[section]]
        name = "C"
        stop-time = true
        play = ["bouzouki", "plucked bass"]
        chords = "| Dm | C | Dm | C |"
        """;

    /// <summary>The sheets of a chart: the band's, the singer's, and those of the named parts or of all.</summary>
    public static IEnumerable<BrowserSheet> Sheets(string name, string text, int? parts = null)
    {
        var sheets = Of(text, out var count);
        yield return new BrowserSheet(name + " band", sheets.ForTheBand());
        yield return new BrowserSheet(name + " singer", sheets.ForTheSinger());
        for (var part = 0; part < Math.Min(count, parts ?? count); part++)
        {
            yield return new BrowserSheet($"{name} part {part}", sheets.ForThePlayer(part));
        }
    }

    /// <summary>The sheets of a chart.</summary>
    public static BandSheets Of(string text) => Of(text, out _);

    private static BandSheets Of(string text, out int parts)
    {
        var read = ChartReader.ReadText(text, "chart.toml");
        var chart = read.Chart ?? throw new InvalidOperationException(string.Join('\n', read.Problems));
        parts = chart.Parts.Count;
        return new BandSheets(new BarComposer(chart));
    }
}
