using System.Globalization;
using GrooveLab.Exchange.Midi;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>MIDI files that were performed without a grid.</summary>
public sealed class PerformedMidiTests
{
    private const string Begin = "<!-- measured: begin -->", End = "<!-- measured: end -->";
    private static readonly Role[] All = Enum.GetValues<Role>();
    private static readonly Role[] Tune = [Role.Tune];
    private static readonly Role[] TuneAndBass = [Role.Tune, Role.Bass];
    private static readonly ScoreOptions Options = new() { Name = "played.mid" };

    // The presets in 5/8 and in 7/8, with the meter as it would be given.
    private static readonly (string Name, string Meter)[] FivesAndSevens =
    [
        ("five-eight-2-3", "5/8 2+3"), ("five-eight-3-2", "5/8 3+2"), ("five-eight-undivided", "5/8 none"), ("ferry-lanterns-five", "5/8 3+2"),
        ("seven-eight-2-2-3", "7/8 2+2+3"), ("seven-eight-2-3-2", "7/8 2+3+2"), ("seven-eight-3-2-2", "7/8 3+2+2"),
        ("seven-eight-lament", "7/8 2+2+3"), ("drone-into-seven", "7/8 2+2+3"),
    ];

    private static readonly (string Name, string Meter)[] Others =
    [
        ("five-four", "5/4 none"), ("five-four-2-2-1", "5/4 2+2+1"), ("nine-eight-2-2-2-3", "9/8 2+2+2+3"), ("nine-eight-3-3-3", "9/8"),
        ("thirteen-sixteen", "13/16 2+2+2+3+2+2"), ("fifteen-sixteen", "15/16 2+2+2+2+3+2+2"), ("eleven-eight-3-3-3-2", "11/8 3+3+3+2"), ("reel-free", "4/4"),
        ("waltz-in-one", "3/4"), ("five-eight-seven-eight", "5/8 and 7/8 in turn"), ("crooked-tune", "4/4 with short bars"), ("seam-equal-eighth", "4/4, then 5/8"),
    ];

    [Fact]
    public void Read_PresetsPlayedWithoutAGrid_HaveNotesInTheirTruePlaces()
    {
        var rows = new List<string>
        {
            "| preset | meter | band | tune and bass | tune | meter given: band | tune and bass | tune |",
            "|---|---|---|---|---|---|---|---|",
        };
        var low = new List<string>();
        foreach (var (name, meter) in FivesAndSevens)
        {
            var band = Shares(name, All, null, 2);
            rows.Add($"| {name} | {meter} | {Percent(band)} | {Percent(Shares(name, TuneAndBass, null, 1))} | {Percent(Shares(name, Tune, null, 1))} | {Percent(Shares(name, All, meter, 1))} | {Percent(Shares(name, TuneAndBass, meter, 1))} | {Percent(Shares(name, Tune, meter, 1))} |");
            low.AddRange(band.Where(share => share < 0.95).Select(share => $"{name}: {share:0.000}"));
        }

        foreach (var (name, meter) in Others)
        {
            rows.Add($"| {name} | {meter} | {Percent(Shares(name, All, null, 1))} | {Percent(Shares(name, TuneAndBass, null, 1))} | | | | |");
        }

        TestContext.Current.TestOutputHelper?.WriteLine(string.Join('\n', rows));
        Assert.Empty(low);
        TableIs(rows);
    }

    public static TheoryData<string> AllExports => [.. Exports.All.Select(export => export.Name)];

    [Theory]
    [MemberData(nameof(AllExports))]
    public void HasGrid_ExportedFile_IsTrueWithAndWithoutHumanFeel(string name)
    {
        var export = Exports.Of(name);
        Assert.True(PerformedMidi.HasGrid(export.Exact.File));
        Assert.True(PerformedMidi.HasGrid(export.Felt.File));
    }

    [Fact]
    public void HasGrid_PlayedFile_IsFalse()
    {
        Assert.False(PerformedMidi.HasGrid(MidiFileReader.Parse(Play("five-eight-3-2", new Playing()).Bytes, "played.mid")));
    }

    [Fact]
    public void Read_PlayedFileWithTicksOfSeconds_IsPutOnAGrid()
    {
        var played = Play("seven-eight-2-3-2", new Playing());
        var bytes = played.Bytes.ToArray();
        // 24 frames of 40 ticks: 960 ticks a second, as many as in the original.
        (bytes[12], bytes[13]) = (0xE8, 40);
        Assert.InRange(Performances.Share(played, ReadAll(bytes, Options).Music!), 0.95, 1);
    }

    [Fact]
    public void Read_PlayedFile_ReportsTheDistances()
    {
        var read = ReadAll(Play("five-eight-3-2", new Playing()).Bytes, Options);
        var said = read.Warnings.Select(warning => warning.ToString()).ToList();
        Assert.Contains(said, text => text.Contains("performed without a grid", StringComparison.Ordinal) && text.Contains("mostly 5/8 3+2; next best 10/8", StringComparison.Ordinal));
        // The mean distance of a normal distribution of 20 ms is 16 ms; the tempo curve follows the players by a little of it.
        Assert.Contains(said, text => text.Contains("notes are 15 ms from their places on average", StringComparison.Ordinal) || text.Contains("notes are 16 ms", StringComparison.Ordinal));
        Assert.Contains(said, text => text.Contains("tempo between quarter = ", StringComparison.Ordinal));
    }

    [Fact]
    public void Read_PauseOfTwoSeconds_StaysInItsBarAndIsReported()
    {
        var played = Play("seven-eight-2-3-2", new Playing { Clock = (seconds, _) => seconds + (seconds > 20 ? 2 : 0) });
        var read = ReadAll(played.Bytes, Options);
        Assert.InRange(Performances.Share(played, read.Music!), 0.95, 1);
        Assert.Contains(read.Warnings, warning => warning.What.Contains("a pause of", StringComparison.Ordinal));
    }

    [Fact]
    public void Read_RitardandoAtTheEnd_KeepsItsPlaces()
    {
        // Half as fast again at the end of the last six seconds.
        var played = Play("five-eight-3-2", new Playing { Clock = (seconds, length) => seconds + (Math.Pow(Math.Max(0, seconds - length + 6), 2) / 12) });
        Assert.InRange(Performances.Share(played, ReadAll(played.Bytes, Options).Music!), 0.95, 1);
    }

    [Fact]
    public void Read_RubatoOfFifteenPercent_KeepsItsPlaces()
    {
        var played = Play("seven-eight-2-3-2", new Playing { Clock = (seconds, _) => seconds + (0.15 * 10 / (2 * Math.PI) * Math.Sin(2 * Math.PI * seconds / 10)) });
        Assert.InRange(Performances.Share(played, ReadAll(played.Bytes, Options).Music!), 0.9, 1);
    }

    [Fact]
    public void Read_RolledChords_AreChords()
    {
        var played = Play("five-eight-3-2", new Playing { Jitter = 0.008, Touch = (index, from, to) => (from + (0.01 * Math.Min(index, 3)), to) });
        Assert.InRange(Performances.Share(played, ReadAll(played.Bytes, Options).Music!), 0.95, 1);
    }

    [Fact]
    public void Read_MeterGiven_IsTheMeter()
    {
        var played = Play("five-eight-undivided", new Playing());
        var read = ReadAll(played.Bytes, Options with { Meter = "5/8 2+3" });
        Assert.Equal("5/8 2+3", read.Music!.MeterAt(3)!.ToBarMeter()!.ToString());
        Assert.InRange(Performances.Share(played, read.Music), 0.95, 1);
    }

    [Fact]
    public void Read_BarGiven_BeginsThere()
    {
        // Bar lines in the middle of the bars, which the notes alone would never give.
        var played = Play("reel-landing", new Playing { Jitter = 0.005 });
        var half = 60.0 / 132 * 2;
        var given = ReadAll(played.Bytes, Options with { BarAt = played.FirstBar + half, Meter = "4/4" }).Music!;
        var found = ReadAll(played.Bytes, Options).Music!;
        Assert.Equal(Span.Of(1, 1), found.LengthOf(0));
        Assert.Equal(Span.Of(1, 2), given.LengthOf(0));
    }

    [Fact]
    public void Read_FirstBarGivenAgainstTheAccents_HasNoPickupAndNoOtherBars()
    {
        // The bass holds the fifth unit longest, so that the bar seems to begin there: two units and a long three before the rest.
        int[] tune = [0, 2, 4, 5, 6];
        int[] bass = [0, 2, 4];
        var events = new List<MidiEvent>();
        for (var bar = 0; bar < 24; bar++)
        {
            var keys = bar / 2 % 2 == 0 ? (int[])[74, 77, 81, 79, 77] : [72, 76, 79, 77, 76];
            events.AddRange(Notes(bar, tune, keys, 0));
            events.AddRange(Notes(bar, bass, Enumerable.Repeat(bar / 2 % 2 == 0 ? 38 : 36, 3).ToArray(), 1));
        }

        var file = new MidiFile(0, MidiDivision.PerQuarter(480), [new MidiTrack([.. events.OrderBy(item => item.Tick)], events.Max(item => item.Tick))]);
        var bytes = MidiFileWriter.ToBytes(file);
        var found = ReadAll(bytes, Options with { Grid = MidiGrid.Found }).Music!;
        Assert.NotEqual(Span.Of(7, 8), found.LengthOf(0));
        var given = ReadAll(bytes, Options with { Grid = MidiGrid.Found, BarAt = 1.37, Meter = "7/8 2+2+3" }).Music!;
        Assert.All(Enumerable.Range(0, 24), bar => Assert.Equal(Span.Of(7, 8), given.LengthOf(bar)));

        // 0.21 s a unit; the file's own tempo is 120, so that a second has 960 ticks. Five milliseconds to and fro.
        static IEnumerable<MidiEvent> Notes(int bar, int[] units, int[] keys, int channel)
        {
            long TickOf(int unit) => (long)Math.Round((1.37 + (((bar * 7) + unit) * 0.21) + (((bar + unit) % 3 - 1) * 0.005)) * 960);
            for (var i = 0; i < units.Length; i++)
            {
                var (from, to) = (TickOf(units[i]), TickOf(i + 1 < units.Length ? units[i + 1] : 7) - 30);
                yield return MidiEvent.ForChannel(from, 0x90 | channel, keys[i], units[i] == 0 ? 95 : 70);
                yield return MidiEvent.ForChannel(to, 0x80 | channel, keys[i]);
            }
        }
    }

    [Fact]
    public void Read_CrushedNotes_AreGraceNotesAndNoBeats()
    {
        // Seven eighths of 0.25 s, a bass on the group starts, and a crushed note 50 ms before each downbeat and each second group of the tune.
        int[] tune = [0, 2, 4, 5, 6], bass = [0, 2, 4];
        var events = new List<MidiEvent>();
        for (var bar = 0; bar < 24; bar++)
        {
            double At(int unit) => 1.37 + (((bar * 7) + unit) * 0.25) + ((bar + unit) % 3 - 1) * 0.008;
            for (var i = 0; i < tune.Length; i++)
            {
                var key = new[] { 74, 77, 81, 79, 77 }[i] - (bar / 2 % 2 * 2);
                Add(0, At(tune[i]), (i + 1 < tune.Length ? At(tune[i + 1]) : At(7)) - 0.03, key, tune[i] == 0 ? 95 : 70);
                if (i < 2)
                {
                    Add(0, At(tune[i]) - 0.05, At(tune[i]) - 0.005, key + 2, 60);
                }
            }

            for (var i = 0; i < bass.Length; i++)
            {
                Add(1, At(bass[i]), At(i + 1 < bass.Length ? bass[i + 1] : 7) - 0.03, bar / 2 % 2 == 0 ? 38 : 36, bass[i] == 0 ? 100 : 75);
            }
        }

        var sorted = events.OrderBy(item => item.Tick).ToList();
        var read = ReadAll(MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(480), [new MidiTrack([.. sorted], sorted[^1].Tick)])), Options with { Grid = MidiGrid.Found, BarAt = 1.37, Meter = "7/8 2+2+3" });
        Assert.Contains(read.Warnings, warning => warning.What.StartsWith("48 notes are crushed before another", StringComparison.Ordinal));
        var voice = read.Music!.Parts[0].Measures.Select(measure => measure.Voices.Count == 0 ? [] : measure.Voices[0].Events.OfType<NotesEvent>().ToList()).ToList();
        Assert.Equal(48, voice.Sum(notes => notes.Count(note => note.Grace is not null)));
        Assert.All(Enumerable.Range(1, 22), bar => Assert.Equal("7/8", read.Music.MeterAt(bar)!.ToBarMeter()!.Signature.ToString()));
        Assert.All(voice.Skip(1).Take(22), notes => Assert.Equal(["0 1/4", "0 1/4", "1/8", "1/8", "1/8"], notes.Select(note => note.Grace is not null ? "0" : $"{note.Length}").Aggregate(new List<string>(), Joined)));

        static List<string> Joined(List<string> all, string next)
        {
            if (all.Count > 0 && all[^1] == "0")
            {
                all[^1] += " " + next;
            }
            else
            {
                all.Add(next);
            }

            return all;
        }

        // The file's own tempo is 120: 960 ticks a second.
        void Add(int channel, double from, double to, int key, int level)
        {
            events.Add(MidiEvent.ForChannel((long)Math.Round(from * 960), 0x90 | channel, key, level));
            events.Add(MidiEvent.ForChannel((long)Math.Round(to * 960), 0x80 | channel, key));
        }
    }

    // The work on a performed file has a bound: it is refused before a grid is looked for.
    [Fact]
    public void Read_MillionPlayedNotes_IsRefusedWithItsPlace()
    {
        var bytes = Played(1_000_000);
        var before = GC.GetAllocatedBytesForCurrentThread();
        var read = MidiScoreReader.Read(bytes, Options with { Grid = MidiGrid.Found });
        Assert.StartsWith("played.mid: byte ", read.Errors.Single().ToString(), StringComparison.Ordinal);
        Assert.Contains("more than 500000 events", read.Errors.Single().What, StringComparison.Ordinal);
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 100_000_000);
    }

    // Above the limit of notes but below that of events; and twice the notes cost about twice.
    [Fact]
    public void Read_ManyPlayedNotes_CostsInProportion()
    {
        var (one, two, most) = (Cost(20_000), Cost(40_000), Cost(220_000));
        Assert.InRange(two.Bytes, one.Bytes, one.Bytes * 2.6);
        Assert.True(one.Read.IsRead && two.Read.IsRead);
        Assert.StartsWith("played.mid: tick ", most.Read.Errors.Single().ToString(), StringComparison.Ordinal);
        Assert.InRange(most.Bytes, 0, 200_000_000);

        static (ScoreReading Read, long Bytes) Cost(int notes)
        {
            var bytes = Played(notes);
            var before = GC.GetAllocatedBytesForCurrentThread();
            var read = MidiScoreReader.Read(bytes, Options with { Grid = MidiGrid.Found });
            return (read, GC.GetAllocatedBytesForCurrentThread() - before);
        }
    }

    private static byte[] Played(int notes)
    {
        var random = new Random(5);
        var events = new List<MidiEvent>();
        for (var i = 0; i < notes; i++)
        {
            var on = (long)(960 * (1 + (0.3 * (i / 10)) + (0.02 * random.NextDouble())));
            events.Add(MidiEvent.ForChannel(on, 0x90, 40 + (i % 10), i / 10 % 7 == 0 ? 110 : 70));
            events.Add(MidiEvent.ForChannel(on + 150, 0x80, 40 + (i % 10)));
        }

        MidiEvent[] sorted = [.. events.OrderBy(item => item.Tick)];
        return MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(479), [new MidiTrack(sorted, sorted[^1].Tick)]));
    }

    [Fact]
    public void Read_TempoGiven_NamesThePulse()
    {
        var played = Play("seven-eight-2-3-2", new Playing());
        var read = ReadAll(played.Bytes, Options with { Tempo = "sixteenth = 255" });
        Assert.Equal("7/16", read.Music!.MeterAt(3)!.ToBarMeter()!.Signature.ToString());
    }

    [Fact]
    public void Read_LyricsOfAPlayedFile_StayOnTheirNotes()
    {
        var file = MidiFileReader.Parse(Play("five-eight-3-2", new Playing(), Tune).Bytes, "played.mid");
        var events = file.Tracks[1].Events.SelectMany((item, i) => item.IsNoteOn ? new[] { MidiEvent.Meta(item.Tick, MetaType.Lyric, $"s{i}-"), item } : [item]).ToList();
        var notes = events.Count(item => item.IsNoteOn);
        var read = ReadAll(MidiFileWriter.ToBytes(new MidiFile(1, file.Division, [file.Tracks[0], new MidiTrack(events, events[^1].Tick)])), Options);
        var syllables = read.Music!.Parts[0].Measures.SelectMany(measure => measure.Voices).SelectMany(voice => voice.Events).Count(item => item.Lyrics.Count > 0);
        Assert.InRange(syllables, notes * 95 / 100, notes);
    }

    [Fact]
    public void Read_HundredThousandPlayedNotes_StayWithinTheirMemory()
    {
        // Two hours of eighths, by ten players.
        var random = new Random(5);
        var notes = new List<MidiEvent>();
        for (var i = 0; i < 10_000; i++)
        {
            for (var player = 0; player < 10; player++)
            {
                var on = (long)(960 * (1 + (0.3 * i) + (0.02 * random.NextDouble())));
                notes.Add(MidiEvent.ForChannel(on, 0x90, 40 + player, i % 7 == 0 ? 110 : 70));
                notes.Add(MidiEvent.ForChannel(on + 150, 0x80, 40 + player));
            }
        }

        MidiEvent[] sorted = [.. notes.OrderBy(item => item.Tick)];
        var bytes = MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(479), [new MidiTrack(sorted, sorted[^1].Tick)]));
        var before = GC.GetAllocatedBytesForCurrentThread();
        var read = MidiScoreReader.Read(bytes, Options);
        Assert.True(read.IsRead);
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 1_500_000_000);
        Assert.Equal(7, read.Music.MeterAt(5)!.ToBarMeter()!.Units);
    }

    private static double[] Shares(string name, Role[] roles, string? meter, int seeds)
    {
        var shares = new double[2 * seeds];
        Parallel.For(0, shares.Length, i =>
        {
            var seed = 1 + (i / 2);
            var played = Play(name, new Playing
            {
                Seed = seed,
                Clock = i % 2 == 0 ? (seconds, length) => Performances.Sine(seconds, length, seed) : Performances.Linear,
            }, roles);
            var read = MidiScoreReader.Read(played.Bytes, Options with { Meter = meter, Grid = MidiGrid.Found });
            shares[i] = read.IsRead && played.Truth.Count > 0 ? Performances.Share(played, read.Music) : 0;
        });
        return shares;
    }

    private static Performance Play(string name, Playing playing, Role[]? roles = null)
    {
        var export = Exports.OfText(name, File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), name + ".toml")), countIn: false);
        return Performances.Of(export.Exact.File, playing with { Part = part => roles is null || roles.Contains(export.Band.Band[part].Role) });
    }

    private static ScoreReading ReadAll(byte[] bytes, ScoreOptions options)
    {
        var read = MidiScoreReader.Read(bytes, options);
        Assert.True(read.IsRead, string.Join('\n', read.Errors));
        Assert.Empty(VoiceCheck.Faults(read.Music));
        return read;
    }

    private static string Percent(double[] shares) => string.Create(CultureInfo.InvariantCulture, $"{shares.Average() * 100:0.0}");

    // Mathematical functions differ slightly between machines.
    private static void TableIs(List<string> rows)
    {
        var file = Path.Combine(ChartTexts.Folder("docs"), "midi.md");
        var text = File.ReadAllText(file);
        int from = text.IndexOf(Begin, StringComparison.Ordinal) + Begin.Length, to = text.IndexOf(End, StringComparison.Ordinal);
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_TABLES") == "1")
        {
            File.WriteAllText(file, text[..from] + "\n\n" + string.Join('\n', rows) + "\n\n" + text[to..]);
            return;
        }

        var said = text[from..to].Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        Assert.Equal(rows.Count, said.Length);
        foreach (var (a, b) in said.Zip(rows))
        {
            var (printed, measured) = (a.Split('|', StringSplitOptions.TrimEntries), b.Split('|', StringSplitOptions.TrimEntries));
            Assert.All(printed.Zip(measured), cell => Assert.True(
                cell.First == cell.Second || (double.TryParse(cell.First, CultureInfo.InvariantCulture, out var x) && double.TryParse(cell.Second, CultureInfo.InvariantCulture, out var y) && Math.Abs(x - y) <= 1.5),
                $"printed {cell.First}, measured {cell.Second}: {b}"));
        }
    }
}
