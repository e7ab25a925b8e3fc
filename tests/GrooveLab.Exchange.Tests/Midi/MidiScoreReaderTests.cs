using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Midi;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.FromScore;
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
    public void Read_ExportWithCountIn_LeavesTheCountInOut()
    {
        var text = File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), "ferry-lanterns-five.toml"));
        var with = MidiScoreReader.Read(MidiFileWriter.ToBytes(Exports.OfText("with", text).Exact.File), Options);
        var without = Read(MidiFileWriter.ToBytes(Exports.OfText("without", text, countIn: false).Exact.File));

        Assert.Equal(Onsets(without), Onsets(with.Music!));
        Assert.Equal(without.Measures.Count, with.Music!.Measures.Count);
        Assert.Equal(["verse", "refrain", "verse", "refrain", "ending"], with.Music.Measures.SelectMany(measure => measure.Marks.OfType<RehearsalMark>()).Select(mark => mark.Text));
        Assert.Contains("count-in of 5 bars", Assert.Single(with.NotCarried).What, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_PickupInsideTheCountIn_IsAPickup()
    {
        // Two bars of 3/4 with a starting note, the pickup in the last quarter, then the verse.
        List<MidiEvent> signs =
        [
            MidiEvent.Meta(0, MetaType.TimeSignature, [3, 2, 24, 8]), MidiEvent.Meta(0, MetaType.Marker, "[lead-in]"), MidiEvent.Meta(576, MetaType.Marker, "[verse]"),
        ];
        var music = Read(OfNotes(signs, [(0, 96, 72), (480, 528, 60), (528, 576, 62), (576, 864, 64), (864, 1152, 65)]));

        Assert.Equal([Span.Of(1, 4), Span.Of(3, 4), Span.Of(3, 4)], music.Measures.Select((_, m) => music.LengthOf(m)!.Value));
        Assert.Equal([60, 62, 64, 65], Onsets(music).Select(note => note.Key));
        Assert.True(music.Measures[0].IsUncounted);
    }

    [Fact]
    public void Read_TripletsAndQuintuplets_HaveWrittenValues()
    {
        var music = Read(OfNotes([MidiEvent.Meta(0, MetaType.TimeSignature, [2, 2, 24, 8])],
            [(0, 40, 60), (40, 80, 62), (80, 120, 64), (120, 144, 65), (144, 168, 67), (168, 192, 69), (192, 216, 71), (216, 240, 72)], 120));

        var events = music.Parts[0].Measures[0].Voices[0].Events;
        Assert.Empty(VoiceCheck.Faults(music));
        Assert.All(events.Take(3), item => Assert.Equal((NoteBase.Eighth, 3, 2), (item.Value!.Unit.Base, item.Value.Tuplets[0].Actual, item.Value.Tuplets[0].Normal)));
        Assert.All(events.Skip(3), item => Assert.Equal((NoteBase.Sixteenth, 5, 4), (item.Value!.Unit.Base, item.Value.Tuplets[0].Actual, item.Value.Tuplets[0].Normal)));
        Assert.Single(events.Take(3).Select(item => item.Value!.Tuplets[0].Id).Distinct());
        Assert.NotEqual(events[0].Value!.Tuplets[0].Id, events[3].Value!.Tuplets[0].Id);
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void Read_RitardandoOfManyTempi_IsARampOfTheChart(bool isBack)
    {
        // Ten bars of 2/4 at quarter = 120; bars 5 and 6 slow down to 90 in four steps.
        static MidiEvent Tempo(long tick, int quarters)
        {
            // Cut, not rounded, as some programs do.
            var microseconds = 60_000_000 / quarters;
            return MidiEvent.Meta(tick, MetaType.Tempo, [(byte)(microseconds >> 16), (byte)((microseconds >> 8) & 0xFF), (byte)(microseconds & 0xFF)]);
        }

        List<MidiEvent> signs =
        [
            MidiEvent.Meta(0, MetaType.TimeSignature, [2, 2, 24, 8]), MidiEvent.Meta(0, MetaType.Marker, "[verse]"), Tempo(0, 120),
            Tempo(768, 115), Tempo(864, 108), Tempo(960, 99), Tempo(1056, 90), .. isBack ? [Tempo(1152, 120)] : Array.Empty<MidiEvent>(),
        ];
        var music = Read(OfNotes(signs, [.. Enumerable.Range(0, 20).Select(i => (i * 96L, (i * 96L) + 96, 60 + (((i * 7) + (i * i)) % 13)))]));
        var song = ChartMaker.Make(music, ImportedChartText.Options());

        var ramp = Assert.Single(song.Chart.Sections.SelectMany(section => section.Ramps));
        Assert.Equal("quarter = 90", ramp.To.ToString());
        Assert.Equal("quarter = 120", song.Chart.Tempo.ToString());
        Assert.Equal(isBack ? new TempoAfter(null) : null, ramp.After);
        Assert.Equal(isBack ? (5, 6) : (0, 2), (ramp.First, ramp.Last));
        Assert.Equal(isBack ? 1 : 2, song.Chart.Sections.Count);
        Assert.Contains(song.NotCarried, one => one.What.Contains("gradual change of tempo", StringComparison.Ordinal) && one.What.Contains("% off", StringComparison.Ordinal));
        // The text of the chart reads as the same chart.
        var text = ImportedChartText.Write(song, "song.mid");
        Assert.Contains(isBack ? "to quarter = 90 over bars 5 to 6, then a tempo" : "to quarter = 90 over the last 2 bars", text, StringComparison.Ordinal);
        Assert.Equal(ramp, Assert.Single(ChartTexts.Chart(text).Sections[0].Ramps));
    }

    [Fact]
    public void Read_FormatTwo_ReadsTheChosenSequence()
    {
        var one = OfNotes([MidiEvent.Meta(0, MetaType.TimeSignature, [3, 2, 24, 8])], [(0, 96, 60)]);
        var two = OfNotes([MidiEvent.Meta(0, MetaType.TimeSignature, [5, 3, 24, 8])], [(0, 96, 72)]);
        byte[] both = [.. one[..8], 0, 2, 0, 2, .. one[12..14], .. one[14..], .. two[14..]];

        var first = MidiScoreReader.Read(both, Options);
        var second = MidiScoreReader.Read(both, Options with { Tune = 2 });
        var third = MidiScoreReader.Read(both, Options with { Tune = 3 });

        Assert.Equal([60], Onsets(first.Music!).Select(note => note.Key));
        Assert.Equal([72], Onsets(second.Music!).Select(note => note.Key));
        Assert.Equal(Span.Of(5, 8), second.Music!.LengthOf(0));
        Assert.Equal([1, 2], first.Tunes.Select(tune => tune.Number));
        Assert.Contains("there is no sequence 3", Assert.Single(third.Errors).What, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_ShortFirstBarUnderItsOwnMeter_IsAPickup()
    {
        var music = Read(OfNotes(
            [MidiEvent.Meta(0, MetaType.TimeSignature, [1, 2, 24, 8]), MidiEvent.Meta(96, MetaType.TimeSignature, [3, 2, 24, 8])], [(0, 96, 60), (96, 384, 62), (384, 672, 64)]));

        Assert.Equal(["0", "1", "2"], music.Measures.Select(measure => measure.Number));
        Assert.True(music.Measures[0].IsUncounted);
        Assert.Equal([Span.Zero, Span.Of(1, 4), Span.Of(1, 1)], Onsets(music).Select(note => note.At));
    }

    [Fact]
    public void Read_ShortFirstBarWithoutFollowingMeter_IsNoPickup()
    {
        var music = Read(OfNotes([MidiEvent.Meta(0, MetaType.TimeSignature, [1, 2, 24, 8])], [(0, 96, 60), (96, 192, 62)]));

        Assert.False(music.Measures[0].IsUncounted);
        Assert.Equal("1", music.Measures[0].Number);
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Read_PresetWithoutKey_FindsItsSignatureOrANeighbour(string preset)
    {
        var file = Exports.OfText(preset, File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), preset + ".toml")), countIn: false).Exact.File;
        var bare = new MidiFile(file.Format, file.Division, [.. file.Tracks.Select(track => new MidiTrack(
            track.Events.Where(item => !item.IsMeta || item.Data1 is not (MetaType.KeySignature or MetaType.Text)).ToList(), track.EndTick))]);
        var known = Read(MidiFileWriter.ToBytes(file)).KeyAt(0)!.Fifths!.Value;
        // A tune may leave out the one tone in which neighbouring signatures differ.
        Assert.InRange(Read(MidiFileWriter.ToBytes(bare)).KeyAt(0)!.Fifths!.Value, known - 1, known + 1);
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
