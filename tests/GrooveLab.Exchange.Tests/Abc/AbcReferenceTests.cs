using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using GrooveLab.Exchange.Abc;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.Abc;

/// <summary>ABC tunes against an independent reading: Debian's abcmidi (abc2midi) writes a MIDI file, python3-mido lists its notes and lyrics.</summary>
public sealed class AbcReferenceTests
{
    private const string Script = """
        import json, sys, mido
        file = mido.MidiFile(sys.argv[1])
        result = []
        for track in file.tracks:
            now, open_, notes, words = 0, {}, [], []
            for message in track:
                now += message.time
                if message.type == 'note_on' and message.velocity > 0:
                    open_.setdefault(message.note, []).append(now)
                elif message.type in ('note_off', 'note_on') and open_.get(message.note):
                    notes.append([open_[message.note].pop(0), now, message.note])
                elif message.type in ('lyrics', 'text') and (words or message.text.startswith('/')):
                    words.append([now, message.text])
            result.append({'notes': sorted(notes), 'words': words})
        print(json.dumps({'ticks': file.ticks_per_beat, 'tracks': result}))
        """;

    public static TheoryData<string> OwnTunes => [.. Tunes.Keys];

    // Our own tunes, each for a part of the standard.
    private static readonly Dictionary<string, string> Tunes = new(StringComparer.Ordinal)
    {
        ["five"] = "X:1\nT:Rope Walk\nM:2+3/8\nL:1/8\nQ:1/8=240\nK:D dor\nA2 d2e|f2 e2c|d>e fed|A5|]\n",
        ["repeats"] = "X:1\nT:Round\nM:4/4\nL:1/4\nQ:1/4=100\nK:G\nD|:G A B c|d2 B G|1 A2 D2:|2 G3||\n|:e d c B|A3 D:|\n",
        ["tuplets"] = "X:1\nT:Threes\nM:6/8\nL:1/8\nQ:3/8=90\nK:A\n(2AB (4cdef|(3abc e3|a2 A A<c e|[Ace]3-[Ace]3|\n",
        ["accidentals"] = "X:1\nT:Signs\nM:3/4\nL:1/8\nQ:1/4=100\nK:Eb\n^FGF =BcB|F2 B2 e2|__AGA _A4|A6|\n",
        ["octaves"] = "X:1\nT:High and low\nM:4/4\nL:1/4\nQ:1/4=120\nK:F\nC,, F, C c|c' f' c2|B,/A,/ G,3/2 z/ z|z4|F4|\n",
        ["words"] = "X:1\nT:Words\nM:5/4\nL:1/4\nQ:1/4=140\nK:C\nC D E F G|A2 G3|c B A2 G|C5|\nw: Ferry-man row_ me o-ver the bar-__ slow\n",
        ["meters"] = "X:1\nT:Changing\nM:5/8\nL:1/8\nQ:1/8=200\nK:Em\nE2 B2B|[M:7/8]G2 A2 B2B|[M:3/4][L:1/4]e d B|[K:Am]F G A|\n",
    };

    [Theory]
    [MemberData(nameof(OwnTunes))]
    public void Read_OwnTune_SoundsAsAbcMidiPlaysIt(string name) => Compare(Tunes[name], name + ".abc");

    [Fact]
    public void Read_Hymns_SoundAndAreSungAsAbcMidiPlaysThem()
    {
        foreach (var file in Directory.EnumerateFiles(References.RequireData("open-hymnal"), "*.abc"))
        {
            Compare(File.ReadAllText(file), Path.GetFileName(file));
        }
    }

    private static void Compare(string text, string name)
    {
        var abc2midi = References.RequireTool("abc2midi");
        var folder = Directory.CreateTempSubdirectory("groovelab-abc");
        try
        {
            var abc = Path.Combine(folder.FullName, "tune.abc");
            var midi = Path.Combine(folder.FullName, "tune.mid");
            File.WriteAllText(abc, text);
            Run(abc2midi, abc, "-o", midi);
            var script = Path.Combine(folder.FullName, "list.py");
            File.WriteAllText(script, Script);
            using var list = JsonDocument.Parse(Run("/usr/bin/python3", script, midi));
            var read = AbcScoreReader.Read(File.ReadAllBytes(abc), new ScoreOptions { Name = name });
            Assert.True(read.IsRead, string.Join('\n', read.Errors));
            var ticks = list.RootElement.GetProperty("ticks").GetInt32() * 4L;
            var tracks = list.RootElement.GetProperty("tracks").EnumerateArray().Where(track => track.GetProperty("notes").GetArrayLength() > 0).ToList();
            Assert.Equal(tracks.Count, read.Music.Parts.Count);
            for (var part = 0; part < tracks.Count; part++)
            {
                // abc2midi shortens notes a little and starts every file on whole ticks: onsets are compared, to a 64th of a quarter.
                var theirs = tracks[part].GetProperty("notes").EnumerateArray().Select(note => (Onset: note[0].GetInt64(), Pitch: note[2].GetInt32())).ToList();
                var ours = SoundingNotes.OfPart(read.Music, part, Unfolding.Order([.. read.Music.Measures]))
                    .Select(note => (note.Onset, Pitch: (int)note.Note.Pitch!.Value.Sound.Round()))
                    .OrderBy(note => note.Onset).ThenBy(note => note.Pitch).ToList();
                Assert.Equal(
                    theirs.ConvertAll(note => Written(Math.Round(note.Onset * 256.0 / ticks), note.Pitch)).OrderBy(one => one, StringComparer.Ordinal),
                    ours.ConvertAll(note => Written(Math.Round(note.Onset.Wholes.ToDouble() * 256), note.Pitch)).OrderBy(one => one, StringComparer.Ordinal));

                // It writes the first verse, with / and \\ before the first word of a line, and the number of the verse.
                var theirWords = tracks[part].GetProperty("words").EnumerateArray()
                    .Where(word => word[1].GetString()!.Trim(' ', '/', '\\').Length > 0)
                    .Select(word => $"{Math.Round(word[0].GetInt64() * 256.0 / ticks)} {word[1].GetString()!.Trim(' ', '/', '\\').Replace("1. ", "", StringComparison.Ordinal)}").ToList();
                if (theirWords.Count > 0)
                {
                    Assert.Equal(theirWords, Syllables(read.Music, part));
                }
            }
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static List<string> Syllables(WrittenMusic music, int part) => [.. SoundingNotes.OfPart(music, part, Unfolding.Order([.. music.Measures]))
        .Select(note => (note.Onset, Text: note.Event.Lyrics.FirstOrDefault(lyric => lyric.Number == "1")?.Text ?? ""))
        .Where(note => note.Text.Length > 0)
        .Select(note => $"{Math.Round(note.Onset.Wholes.ToDouble() * 256)} {note.Text}")];

    private static string Written(double onset, int pitch) => string.Create(CultureInfo.InvariantCulture, $"{onset:00000} {pitch}");

    private static string Run(string program, params string[] arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(program, arguments) { RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false })!;
        var errors = process.StandardError.ReadToEndAsync();
        var text = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0 || program.EndsWith("midi", StringComparison.Ordinal), errors.GetAwaiter().GetResult());
        return text;
    }
}
