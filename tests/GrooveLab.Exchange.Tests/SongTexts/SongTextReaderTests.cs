using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.SongTexts;

/// <summary>Words with chords above them. The layout of such texts is common practice, no source; the songs are our own.</summary>
public sealed class SongTextReaderTests
{
    private const string Song = """
        Net Menders

        Key: D dorian
        Meter: 5/8 3+2
        Tempo: eighth = 250

        Verse 1
        Dm                C
        Mend me the net by the light of the moon,
        F              Am
        Rope for the morning and salt for the tune.

        Refrain:
                Dm       C
        So haul, haul the line,
                Am       Dm
        The tide is a friend of mine.

        Verse 2
        Tar on my fingers and wind in my hair,
        Gulls on the gable and nobody there.

        Refrain
        """;

    [Fact]
    public void Read_ChordsAboveWords_PutsSyllablesUnderThemOnTheirPlaces()
    {
        const string expected = """
            nets.txt:1: rhythm and pitch are not in the text; the syllables fall on the chords above them, on chord tones; write the notes in the chart, or tap the rhythm on the screen (key T)
            1 [Verse 1] Dm@0: 0 F4 Mend, 1/4 F4 me, 1/2 F4 the
            2 : 1/8 F4 net, 3/8 F4 by
            3 C@0: 0 E4 the, 1/4 E4 light, 3/8 E4 of
            4 : 0 E4 the, 1/8 E4 moon,
            5 F@0: 0 F4 Rope, 3/8 F4 for
            6 : 1/4 F4 the
            7 Am@0: 0 E4 mor, 1/8 E4 ning, 1/4 E4 and, 3/8 E4 salt
            8 : 0 E4 for, 1/8 E4 the, 1/4 E4 tune., 3/8 F4 So, 1/2 F4 haul,
            9 [Refrain] Dm@0: 0 F4 haul
            10 : 0 F4 the
            11 C@0: 0 E4 line,
            12 : 3/8 E4 The, 1/2 E4 tide
            13 Am@0: 0 E4 is
            14 : 0 E4 a
            15 Dm@0: 0 F4 friend, 3/8 F4 of
            16 : 0 F4 mine.

            """;
        Assert.StartsWith(expected, Listing(Song, new ScoreOptions { Name = "nets.txt", BarsInLine = 4 }), StringComparison.Ordinal);
    }

    [Fact]
    public void Read_SecondVerseWithoutChords_TakesTheChordsAndNotesOfTheFirst()
    {
        var music = Music(Song, new ScoreOptions { Name = "nets.txt", BarsInLine = 4 });
        string Notes(int measure) => string.Join(' ', music.Parts[0].Measures[measure].Voices[0].Events.Select(step => $"{(step as NotesEvent)?.Notes[0].Pitch}:{step.Length.Wholes}"));
        string Chords(int measure) => string.Join(' ', music.Measures[measure].Chords.Select(chord => chord.Chords[0].Text));
        Assert.Equal(32, music.Measures.Count);
        for (var i = 0; i < 16; i++)
        {
            Assert.Equal(Notes(i), Notes(i + 16));
            Assert.Equal(Chords(i), Chords(i + 16));
        }

        Assert.Equal("Tar on my fing ers and wind in my hair,", Words(music, 16, 20));
        Assert.Equal(Words(music, 8, 16), Words(music, 24, 32));
    }

    [Fact]
    public void Read_BarLinesAmongTheChords_TakesTheBarsAsWritten()
    {
        const string song = """
            | Em      | D     G | Em / / B7 |
            Rain on the slate roof and slow
            | C       |
            go the carts
            """;
        Assert.Equal(
            """
            1 Em@0: 0 E4 Rain, 1/4 E4 on, 1/2 E4 the
            2 D@0 G@1/2: 0 D4 slate, 1/2 D4 roof
            3 Em@0 B7@3/4: 0 E4 and, 1/2 E4 slow
            4 C@0: 0 E4 go, 1/4 E4 the, 1/2 E4 carts

            """,
            Listing(song, new ScoreOptions { Name = "x", Meter = "4/4", Key = "E minor", Tempo = "quarter = 90" }, remarks: false));
    }

    [Fact]
    public void Read_WordsBeforeTheFirstChord_LeadIntoTheBar()
    {
        const string song = """
            Meter: 3/4
                G         C
            And o-ver the wa-ter
            """;
        var music = Music(song, new ScoreOptions { Name = "x", Key = "G", Tempo = "quarter = 90", BarsInLine = 2 });
        Assert.Equal(Span.Of(1, 4), music.Measures[0].ActualLength);
        Assert.Equal("And o ver the wa ter", Words(music, 0, 3));
        Assert.Equal("And", Words(music, 0, 1));
        Assert.Equal("wa ter", Words(music, 2, 3));
    }

    [Fact]
    public void Read_VersesOfDifferentLength_HoldASyllableWhereOneHasFewer()
    {
        const string song = """
            Verse 1
            | Am      | E    |
            Ma-ny a night,
            Verse 2
            | Am      | E    |
            Go         home
            """;
        var music = Music(song, new ScoreOptions { Name = "x", Meter = "4/4", Key = "A minor", Tempo = "quarter = 90" });
        Assert.Equal("Ma ny a night,", Words(music, 0, 2));
        Assert.Equal("Go _ _ home", Words(music, 2, 4));
    }

    [Theory]
    [InlineData("Meter: 5/9 3+3\nAm\nGo", "x:1: the grouping 3+3 adds up to 6")]
    [InlineData("Key: H moll\nAm\nGo", "x:1: 'H moll'")]
    [InlineData("Tempo: fast\nAm\nGo", "x:1: 'fast' is not a tempo")]
    [InlineData("", "x:1: there are no words and no chords")]
    [InlineData("Row me home\nto the quay", "x:1: there are no chords above the words")]
    [InlineData("| C D E F G |\nlate", "x:2: a bar has more chords than the 4 units of 4/4")]
    [InlineData("A\u0000B", "x:1: this is not a text")]
    public void Read_Mistake_NamesLineAndRemedy(string song, string expected)
    {
        var read = SongTextReader.Read(Encoding.UTF8.GetBytes(song), new ScoreOptions { Name = "x" });
        Assert.False(read.IsRead);
        Assert.Contains(read.Errors, error => error.ToString().StartsWith(expected, StringComparison.Ordinal));
    }

    [Fact]
    public void Read_ManyMistakes_NamesAllInOrder()
    {
        var read = SongTextReader.Read("Key: X\nMeter: 4\nTempo: 3\nAm\nGo"u8.ToArray(), new ScoreOptions { Name = "x" });
        Assert.Equal([1, 2, 3], read.Errors.Select(error => error.Place.Line!.Value));
    }

    [Fact]
    public void Read_NotUtf8_NamesTheLine()
    {
        var read = SongTextReader.Read(new byte[] { (byte)'A', (byte)'\n', 0xC3, 0x28 }, new ScoreOptions { Name = "x" });
        Assert.Equal("x:2: this is not UTF-8 text; save words with chords as UTF-8 text; other scores are MusicXML, MIDI and ABC", Assert.Single(read.Errors).ToString());
    }

    [Fact]
    public void Read_AnyMutation_AnswersWithMusicThatFillsItsBars()
    {
        var random = new Random(5);
        var bytes = Encoding.UTF8.GetBytes(Song);
        for (var round = 0; round < 10_000; round++)
        {
            var changed = bytes.ToList();
            for (var change = random.Next(1, 8); change > 0 && changed.Count > 0; change--)
            {
                var at = random.Next(changed.Count);
                switch (random.Next(4))
                {
                    case 0:
                        changed.RemoveRange(at, Math.Min(random.Next(1, 40), changed.Count - at));
                        break;
                    case 1:
                        changed.InsertRange(at, Encoding.UTF8.GetBytes(Pieces[random.Next(Pieces.Length)]));
                        break;
                    case 2:
                        changed[at] = (byte)random.Next(256);
                        break;
                    default:
                        changed.InsertRange(at, changed.GetRange(at, Math.Min(random.Next(1, 60), changed.Count - at)));
                        break;
                }
            }

            var read = SongTextReader.Read(changed.ToArray(), new ScoreOptions { Name = "x" });
            if (read.Music is not { } music)
            {
                Assert.NotEmpty(read.Errors);
                continue;
            }

            for (var measure = 0; measure < music.Measures.Count; measure++)
            {
                Assert.Equal(music.LengthOf(measure), music.Parts[0].Measures[measure].Voices[0].Length);
            }
        }
    }

    private static readonly string[] Pieces =
        ["|", "\n", "\n\n", " x3", "Verse:", "[", "]", "%", "/", "Am", "Meter: 7/8 2+2+3\n", "-", "\t", "\r", "C#m7b5 ", "(x2)", "64x", "Intro\n", "ü", "'", " A "];

    private static WrittenMusic Music(string song, ScoreOptions options)
    {
        var read = SongTextReader.Read(Encoding.UTF8.GetBytes(song), options);
        Assert.True(read.IsRead, string.Join('\n', read.Errors));
        return read.Music;
    }

    private static string Words(WrittenMusic music, int from, int to) => string.Join(' ', Enumerable.Range(from, to - from)
        .SelectMany(measure => music.Parts[0].Measures[measure].Voices[0].Events)
        .SelectMany(step => step.Lyrics)
        .Select(lyric => lyric.Text.Length == 0 ? "_" : lyric.Text));

    private static string Listing(string song, ScoreOptions options, bool remarks = true)
    {
        var read = SongTextReader.Read(Encoding.UTF8.GetBytes(song), options);
        var result = new StringBuilder();
        foreach (var remark in remarks ? read.Errors.Concat(read.Warnings) : read.Errors)
        {
            result.Append(remark).Append('\n');
        }

        if (read.Music is not { } music)
        {
            return result.ToString();
        }

        for (var i = 0; i < music.Measures.Count; i++)
        {
            var at = Span.Zero;
            var words = new List<string>();
            foreach (var step in music.Parts[0].Measures[i].Voices[0].Events)
            {
                if (step is NotesEvent notes && notes.Lyrics.Count > 0)
                {
                    words.Add($"{at.Wholes} {notes.Notes[0].Pitch} {(notes.Lyrics[0].Text is { Length: > 0 } syllable ? syllable : "_")}");
                }

                at += step.Length;
            }

            var marks = music.Measures[i].Marks.Select(mark => mark switch
            {
                ChordMark chord => $"{chord.Chords[0].Text}@{chord.At.Wholes}",
                RehearsalMark rehearsal => $"[{rehearsal.Text}]",
                _ => null,
            }).Where(mark => mark is not null);
            result.Append(CultureInfo.InvariantCulture, $"{music.Measures[i].Number} {string.Join(' ', marks)}: {string.Join(", ", words)}\n");
        }

        return result.ToString();
    }
}
