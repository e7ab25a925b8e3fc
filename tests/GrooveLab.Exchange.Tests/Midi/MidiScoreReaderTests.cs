using GrooveLab.Exchange.Midi;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Written music read from MIDI files.</summary>
public sealed class MidiScoreReaderTests
{
    private static readonly ScoreOptions Options = new() { Name = "song.mid" };

    public static TheoryData<string> Presets => [.. Exports.Presets];

    [Theory]
    [MemberData(nameof(Presets))]
    public void Read_ExportedPreset_HasTheBarsMetersKeysChordsAndOnsets(string preset)
    {
        // Without a count-in, whose bar may be longer than its meter.
        var export = Exports.OfText(preset, File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), preset + ".toml")), countIn: false);
        var music = Read(MidiFileWriter.ToBytes(export.Exact.File));

        Assert.Empty(VoiceCheck.Faults(music));
        var pitched = export.Band.Band.Select((part, i) => (part, i)).Where(one => one.part.Channel != 9).Select(one => one.i).ToHashSet();
        var from = export.Bars[0].Start;
        var expected = export.Bars.SelectMany(bar => bar.Notes.Where(note => pitched.Contains(note.Part) && !note.IsGrace).Select(note => (At: bar.Start + note.Onset - from, note.Key)))
            .Where(note => note.At >= Span.Zero).Distinct().OrderBy(note => note.At).ThenBy(note => note.Key).ToList();
        var found = Onsets(music).Distinct().OrderBy(note => note.At).ThenBy(note => note.Key).ToList();
        // Grace notes come before their place.
        Assert.Empty(expected.Except(found));
        Assert.InRange(found.Count - expected.Count, 0, export.Bars.Sum(bar => bar.Notes.Count(note => note.IsGrace)));
        // The last notes may ring into bars behind the end.
        Assert.InRange(music.Measures.Count, export.Bars.Count, export.Bars.Count + 2);
        for (var bar = 0; bar < Math.Min(music.Measures.Count, export.Bars.Count); bar++)
        {
            Assert.Equal(export.Bars[bar].Meter, music.MeterAt(bar)!.ToBarMeter());
            Assert.Equal(export.Bars[bar].Key.Fifths, music.KeyAt(bar)!.Fifths);
        }

        var chords = new List<string>();
        foreach (var text in export.Bars.SelectMany(bar => bar.Chords).Select(span => span.Symbol.Text))
        {
            chords.AddRange(chords.Count > 0 && chords[^1] == text ? [] : [text]);
        }

        Assert.Equal(chords, music.Measures.SelectMany(measure => measure.Chords).Select(mark => mark.Chords[0].Text!).Aggregate(new List<string>(), (list, text) =>
        {
            list.AddRange(list.Count > 0 && list[^1] == text ? [] : [text]);
            return list;
        }));
    }

    [Fact]
    public void Read_KaraokeTexts_AreSyllablesWithLines()
    {
        var lyrics = new[] { "@TSong", "\\Sail", "ing ", "home", "/now" };
        var words = lyrics.Select((text, i) => MidiEvent.Meta(Math.Max(0, i - 1) * 96, MetaType.Text, text)).ToList();
        var music = Read(OfNotes(words, [(0, 96, 60), (96, 192, 62), (192, 288, 64), (288, 384, 65)]));

        var read = music.Parts[0].Measures.SelectMany(measure => measure.Voices[0].Events).SelectMany(item => item.Lyrics).ToList();

        Assert.Equal(
            [("Sail", WordPlace.Begin, false), ("ing", WordPlace.End, false), ("home", WordPlace.Single, true), ("now", WordPlace.Single, false)],
            read.Select(lyric => (lyric.Text, lyric.Parts[0].Place!.Value, lyric.EndsLine)));
    }

    [Fact]
    public void Read_OverlappingNotes_AreTwoVoices()
    {
        var music = Read(OfNotes([], [(0, 384, 48), (0, 96, 72), (96, 384, 74)]));

        var voices = music.Parts[0].Measures[0].Voices;
        Assert.Equal(2, voices.Count);
        Assert.Equal([Span.Of(1, 4), Span.Of(3, 4)], voices[0].Events.Select(item => item.Length));
        Assert.Equal([Span.Of(1, 1)], voices[1].Events.Select(item => item.Length));
    }

    [Fact]
    public void Read_NoteFarBehindTheOthers_IsRefusedWithItsPlace()
    {
        var events = new List<MidiEvent> { MidiEvent.ForChannel(0, 0x90, 60, 80), MidiEvent.ForChannel(1L << 32, 0x80, 60) };
        for (var i = 1; i < 32; i++)
        {
            events.Insert(i, MidiEvent.Meta((long)i << 27, MetaType.Text, "-"));
        }

        var read = MidiScoreReader.Read(MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(1), [new MidiTrack(events, 1L << 32)])), Options);

        var error = Assert.Single(read.Errors);
        Assert.Contains("20000 measures", error.What, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_NotesHeldThroughThousandsOfMeasures_AreRefusedBeforeTheyAreWritten()
    {
        var notes = Enumerable.Range(0, 128 * 8).Select(i => ((long)(i / 128), 4L * 15_000, i % 128)).ToList();

        var read = MidiScoreReader.Read(OfNotes([], notes, 1), Options);

        Assert.Contains("pieces", Assert.Single(read.Errors).What, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_TwoHundredThousandNotesAtOnce_IsOneChord()
    {
        var events = new MidiEvent[400_000];
        for (var i = 0; i < events.Length; i++)
        {
            events[i] = i < 200_000 ? MidiEvent.ForChannel(0, 0x90, i % 128, 80) : MidiEvent.ForChannel(96, 0x80, i % 128);
        }

        var music = Read(MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(96), [new MidiTrack(events, 96)])));

        Assert.Equal(128, Assert.IsType<NotesEvent>(Assert.Single(music.Parts[0].Measures[0].Voices).Events[0]).Notes.Count);
    }

    [Fact]
    public void Read_TenThousandMutatedFiles_AreRefusedWithAPlaceOrFillTheirMeasures()
    {
        var words = new[] { "la", "ri-", "fa ", "\rso" }.Select((text, i) => MidiEvent.Meta(i * 96, MetaType.Lyric, text)).ToList();
        words.Insert(0, MidiEvent.Meta(0, MetaType.TimeSignature, [5, 3, 24, 8]));
        words.Insert(1, MidiEvent.Meta(0, MetaType.KeySignature, [0xFD, 1]));
        words.Insert(2, MidiEvent.Meta(0, MetaType.Marker, "A"));
        var original = OfNotes(words, [(0, 96, 60), (96, 200, 62), (192, 288, 64), (288, 700, 65), (300, 310, 40)]);
        var (refused, taken) = (0, 0);
        for (var seed = 0; seed < 10_000; seed++)
        {
            var random = new Random(seed);
            var bytes = original.ToList();
            for (var i = random.Next(1, 6); i > 0; i--)
            {
                var at = random.Next(bytes.Count);
                switch (random.Next(3))
                {
                    case 0:
                        bytes[at] = (byte)random.Next(256);
                        break;
                    case 1:
                        bytes.RemoveAt(at);
                        break;
                    default:
                        bytes.Insert(at, (byte)random.Next(256));
                        break;
                }
            }

            var read = MidiScoreReader.Read(bytes.ToArray(), Options);
            if (read.IsRead)
            {
                taken++;
                Assert.Empty(VoiceCheck.Faults(read.Music));
            }
            else
            {
                refused++;
                Assert.All(read.Errors, error => Assert.NotEmpty(error.What));
            }
        }

        Assert.True(refused > 1000 && taken > 1000, $"{refused} refused, {taken} read");
    }

    internal static WrittenMusic Read(byte[] bytes)
    {
        var read = MidiScoreReader.Read(bytes, Options);
        Assert.True(read.IsRead, string.Join('\n', read.Errors));
        return read.Music;
    }

    private static byte[] OfNotes(List<MidiEvent> others, IReadOnlyList<(long On, long Off, int Key)> notes, int division = 96)
    {
        var events = others.Select(item => (0, item))
            .Concat(notes.Select(note => (2, MidiEvent.ForChannel(note.On, 0x90, note.Key, 80))))
            .Concat(notes.Select(note => (1, MidiEvent.ForChannel(note.Off, 0x80, note.Key))))
            .OrderBy(item => item.Item2.Tick).ThenBy(item => item.Item1).Select(item => item.Item2).ToList();
        return MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(division), [new MidiTrack(events, events[^1].Tick)]));
    }

    private static IEnumerable<(Span At, int Key)> Onsets(WrittenMusic music)
    {
        var at = Span.Zero;
        for (var m = 0; m < music.Measures.Count; m++)
        {
            foreach (var voice in music.Parts.SelectMany(part => part.Measures[m].Voices))
            {
                var inside = Span.Zero;
                foreach (var item in voice.Events)
                {
                    foreach (var note in (item as NotesEvent)?.Notes.Where(note => note is { Pitch: not null, TiedFrom: null }) ?? [])
                    {
                        yield return (at + inside, note.Pitch!.Value.Nearest.Midi);
                    }

                    inside += item.Length;
                }
            }

            at += music.LengthOf(m)!.Value;
        }
    }
}
