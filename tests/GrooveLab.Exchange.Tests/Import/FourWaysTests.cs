using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>One song typed in four ways gives one chart, as far as each format carries it: 7/8 with a pickup, two verses, a refrain with its own pickup, a
/// melisma on a triplet, a tie over the bar line, two chords in a bar, first and second ending.</summary>
public sealed class FourWaysTests
{
    // Typed from the song itself, not from an import: onset and length in eighths, the syllable of each verse.
    private static readonly string[] Song =
    [
        "Slack Water in D minor, 65/2 wholes a minute, once: verse refrain verse refrain",
        "verse: 7/8 Dm@0; 7/8 C@0; 7/8 Bb@0; 7/8 A7@0",
        "  notes: -1+1 A4, 0+2 D5, 2+2 C5, 4+3 A4, 7+2 G4, 9+2/3 G4, 29/3+2/3 A4, 31/3+2/3 Bb4, 11+5 C5, 16+2 A4, 18+3 F4, 21+2 E4, 23+2 C#4, 25+2 E4",
        "  words: The lamps are lit a- long__ the quay where tides come in,",
        "  words: And nets are dry, the gulls__ have gone, the boats come in,",
        "refrain: 7/8 F@0; 7/8 C@0 F@4; 7/8 Bb@0",
        "  notes: -1+1 F4, 0+2 A4, 2+2 A4, 4+3 C5, 7+2 G4, 9+2 G4, 11+3 C5, 14+2 D5, 16+2 D5, 18+3 Bb4",
        "  words: So turn with the tide and come home to the",
        "  ending: 7/8 A7@0",
        "  notes: 0+2 A4, 2+2 A4, 4+2 A4",
        "  words: har- bour light;",
        "  ending: 7/8 Dm@0",
        "  notes: 0+7 D5",
        "  words: shore.",
    ];

    [Fact]
    public void Make_MusicXml_IsTheSong() => Assert.Equal(Song, Told(Imported(FourWays.MusicXml, ScoreFormat.MusicXml)));

    [Fact]
    public void Make_Abc_IsTheSongAndTheChartOfMusicXml()
    {
        var abc = Imported(FourWays.Abc, ScoreFormat.Abc);
        Assert.Equal(Song, Told(abc));

        // Of these two formats also the text is the same, tuplet signs, tempo and remarks included.
        Assert.Equal(Imported(FourWays.MusicXml, ScoreFormat.MusicXml).Text, abc.Text);
    }

    [Fact]
    public void Make_Midi_IsTheSong()
    {
        var midi = Imported(FourWays.Midi, ScoreFormat.Midi);
        Assert.Equal(Song, Told(midi));

        // What a MIDI file does not carry: the beat that the tempo counts, and the grouping of the meter.
        Assert.Equal(
            ["tempo = \"quarter = 130\"", "# The grouping 2+2+3 of 7/8 is inferred from the notes."],
            midi.Text!.Split('\n').Except(Imported(FourWays.Abc, ScoreFormat.Abc).Text!.Split('\n')));
    }

    [Fact]
    public void Make_WordsWithChords_IsTheSongWithoutItsNotes()
    {
        // Words carry neither notes nor a melisma: the rest is the same.
        var told = Told(Imported(FourWays.Words, ScoreFormat.Words));
        Assert.Equal(WithoutNotes(Song), WithoutNotes(told));

        static IEnumerable<string> WithoutNotes(IEnumerable<string> lines) =>
            lines.Where(line => !line.StartsWith("  notes", StringComparison.Ordinal)).Select(line => line.Replace("_", "", StringComparison.Ordinal));
    }

    private static ImportedScore Imported(byte[] bytes, ScoreFormat format)
    {
        var imported = ScoreImport.Make(bytes, format, new ScoreOptions { Name = "slack-water" });
        Assert.Empty(imported.Reading.Errors);
        Assert.NotNull(imported.Text);
        return imported;
    }

    private static List<string> Told(ImportedScore imported)
    {
        var chart = imported.Song!.Chart;
        var tempo = chart.Tempo.At(chart.Sections[0].Bars[0].Meter, Span.Of(4, 1)).WholesPerMinute;
        var lines = new List<string>
        {
            $"{chart.Title} in {chart.Key}, {tempo} wholes a minute, {(chart.Times == 1 ? "once" : $"{chart.Times} times")}: {string.Join(' ', chart.Form.SelectMany(step => Enumerable.Repeat(chart.Sections[step.Section].Name, step.Times)))}",
        };
        foreach (var section in chart.Sections)
        {
            Add(lines, section.Name, section.Bars, section.Tune);
            foreach (var ending in section.Endings)
            {
                Add(lines, "  ending", ending.Bars, ending.Tune);
            }
        }

        return lines;
    }

    private static void Add(List<string> lines, string name, IReadOnlyList<ChartBar> bars, Tune? tune)
    {
        lines.Add($"{name}: {string.Join("; ", bars.Select(bar => $"{bar.Meter.Signature} {string.Join(' ', bar.Chords.Select(chord => $"{chord.Symbol}@{Eighths(chord.Onset)}"))}"))}");
        lines.Add("  notes: " + string.Join(", ", tune!.Notes.Select(note => $"{Eighths(note.Onset)}+{Eighths(note.Length)} {note.Pitch}")));
        lines.AddRange(tune.Verses.Select(verse => "  words: " + string.Join(' ', verse.OfType<Syllable>()
            .Select(syllable => syllable.Text + new string('_', syllable.Notes - 1) + (syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? "-" : "")))));
    }

    private static string Eighths(Span span) => (span.Wholes * 8).ToString();
}
