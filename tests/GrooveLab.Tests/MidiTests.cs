using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Text.RegularExpressions;
using GrooveLab.Audio.BuiltInSounds;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Midi;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>MIDI files that the program writes and reads, as a user runs it.</summary>
public sealed partial class MidiTests : IDisposable
{
    private const string SmallBank = "/usr/share/sounds/sf2/TimGM6mb.sf2";

    private const string Chart = """
        format = 1
        title = "Small"
        key = "D dorian"
        tempo = "bar = 60"
        meter = "5/8 3+2"
        [[section]]
        name = "a"
        chords = "| Dm | G |"
        """;

    private readonly Running _program = new();

    [Fact]
    public void Export_Chart_WritesAFileThatIsKeptUnlessForced()
    {
        var chart = _program.Write("a.toml", Chart);
        var ran = _program.Run("export", chart, "-o", "a.mid", "--exact", "--no-count-in");
        Assert.Equal("", ran.Error);
        Assert.Equal(0, ran.ExitCode);
        Assert.Contains("a.mid: 0:04.000, 7 tracks, 20160 ticks a quarter", ran.Out);
        var first = File.ReadAllBytes(_program.Path("a.mid"));
        Assert.Equal(7, MidiFileReader.Read(_program.Path("a.mid")).Tracks.Count);

        ran = _program.Run("export", chart, "-o", "a.mid");
        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("--force", ran.Error);
        Assert.Equal(first, File.ReadAllBytes(_program.Path("a.mid")));

        ran = _program.Run("export", chart, "-o", "a.mid", "--force");
        Assert.Equal(0, ran.ExitCode);
        Assert.NotEqual(first, File.ReadAllBytes(_program.Path("a.mid")));
        Assert.Equal(["a.mid", "a.toml"], Directory.EnumerateFileSystemEntries(_program.Folder).Select(Path.GetFileName).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void Export_UnitThatTimeSignaturesCannotSay_SaysHowItIsWritten()
    {
        var ran = _program.Run("export", _program.Write("a.toml", Chart.Replace("5/8 3+2", "7/12 3+2+2", StringComparison.Ordinal)), "-o", "a.mid");
        Assert.Equal(0, ran.ExitCode);
        Assert.StartsWith("groovelab: bars 1 to 3: 7/12 is written as 7/8", ran.Error);
    }

    [Theory]
    [InlineData("must end in .mid", "export", "a.toml", "-o", "a.xyz")]
    [InlineData("a.toml:4:", "export", "bad.toml", "-o", "a.mid")]
    [InlineData("below MIDI's minimum tempo", "export", "slow.toml", "-o", "a.mid")]
    [InlineData("folder not found", "export", "a.toml", "-o", "nowhere/a.mid")]
    [InlineData("file not found", "render", "missing.mid", "-o", "a.wav")]
    [InlineData("broken.mid: byte 14: the file has no track", "render", "broken.mid", "-o", "a.wav")]
    [InlineData("not a Standard MIDI File", "render", "text.mid", "-o", "a.wav")]
    [InlineData("--bars, --stems need a chart", "render", "broken.mid", "-o", "a.wav", "--bars", "2", "--stems", "parts")]
    public void Run_WhatCannotBeDone_IsSaidAndNothingIsWritten(string said, params string[] arguments)
    {
        _program.Write("a.toml", Chart);
        _program.Write("bad.toml", Chart.Replace("bar = 60", "bar = 0", StringComparison.Ordinal));
        _program.Write("slow.toml", Chart.Replace("bar = 60", "quarter = 3", StringComparison.Ordinal));
        _program.Write("text.mid", "hello");
        File.WriteAllBytes(_program.Path("broken.mid"), Convert.FromHexString("4D54686400000006000000010060"));
        var before = Directory.EnumerateFileSystemEntries(_program.Folder).Order(StringComparer.Ordinal).ToList();
        var ran = _program.Run(arguments);
        Assert.Equal(2, ran.ExitCode);
        Assert.Equal("", ran.Out);
        Assert.Contains(said.Replace("a.toml:4:", "bad.toml:4:", StringComparison.Ordinal), ran.Error);
        Assert.Equal(before, Directory.EnumerateFileSystemEntries(_program.Folder).Order(StringComparer.Ordinal));
    }

    [Theory]
    [InlineData("five-eight-undivided")]
    [InlineData("seam-seven")]
    [InlineData("four-four-short-bar")]
    public void Export_WithoutFeel_HasTheSecondsThatShowSays(string preset)
    {
        var path = Running.Presets.Single(path => Path.GetFileNameWithoutExtension(path) == preset);
        Assert.Equal(0, _program.Run("export", path, "-o", "a.mid", "--exact", "--no-count-in").ExitCode);
        var file = MidiFileReader.Read(_program.Path("a.mid"));
        var timeline = new MidiTimeline(file);
        var ran = _program.Run("show", path, "--json");
        var compared = 0;
        foreach (var part in ShownBars.Read(ran.Out).SelectMany(bar => bar.Events.Select(note => (bar, note))).GroupBy(at => at.note.Part))
        {
            var onsets = file.Tracks.Single(track => track.Name == part.Key).Events.Where(item => item.IsNoteOn)
                .Select(item => timeline.SecondsAt(item.Tick)).ToArray();
            // Bars of these presets keep one tempo.
            foreach (var (bar, note) in part)
            {
                var seconds = bar.Ending ? bar.Start : bar.Start + (note.Onset.ToDouble() / bar.Length.ToDouble() * bar.Seconds);
                var at = Array.BinarySearch(onsets, seconds);
                var near = new[] { at, ~at, ~at - 1 }.Where(i => i >= 0 && i < onsets.Length).Min(i => Math.Abs(onsets[i] - seconds));
                // Grace notes come before their place.
                Assert.True(near < 21e-6 || note.Role == "tune", $"{part.Key}: {seconds} is off by {near}");
                compared++;
            }
        }

        Assert.True(compared > 300);
    }

    [Fact]
    public void Render_MidiFileThroughTheBuiltInBank_HasItsExactLengthAndSaysWhatStandsIn()
    {
        // A quarter of half a second, a tempo twice as fast, and a trumpet and a drum that the bank lacks.
        var track = new MidiTrack(
            [
                MidiEvent.ForChannel(0, 0xC0, 56), MidiEvent.ForChannel(0, 0x90, 60, 100), MidiEvent.ForChannel(0, 0x99, 49, 100),
                MidiEvent.Meta(100, MetaType.Tempo, [0x03, 0xD0, 0x90]), MidiEvent.ForChannel(200, 0x80, 60, 0), MidiEvent.ForChannel(200, 0x91, 60, 90),
            ],
            300);
        File.WriteAllBytes(_program.Path("a.mid"), MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(100), [track])));
        var ran = _program.Run("render", "a.mid", "-o", "a.wav", "--tail", "0.5", "--rate", "44100");
        Assert.Equal(0, ran.ExitCode);
        Assert.Equal(
            [
                "groovelab: Acoustic Grand Piano: played by Hammered dulcimer", "groovelab: Trumpet: played by Reed pair",
                "groovelab: Crash Cymbal 1 (drum): played by Maracas",
            ],
            ran.Error.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries));
        var sound = WaveFile.Read(_program.Path("a.wav"));
        Assert.Equal(44_100 + 22_050, sound.Frames);
        Assert.InRange(sound.Samples.Max(Math.Abs), 0.05, 0.9999);
    }

    [Fact]
    public void Render_FileThatOthersPlay_IsPlayedWithWarnings()
    {
        // RMID, with running status across a meta event and without an end of track.
        const string Track = "4D54726B0000000C" + "00903C40" + "00FF010141" + "603C00";
        File.WriteAllBytes(
            _program.Path("a.rmi"),
            Convert.FromHexString("524946462E000000524D4944" + "6461746122000000" + "4D54686400000006000000010060" + Track));
        var ran = _program.Run("render", "a.rmi", "-o", "a.wav", "--tail", "0.5");
        Assert.Equal(0, ran.ExitCode);
        Assert.Equal(
            [
                "groovelab: a.rmi: byte 0: the MIDI file is wrapped in a RIFF file (RMID); only the MIDI part is read",
                "groovelab: a.rmi: byte 52: an event in track 1 without a status byte follows a meta or system exclusive event; status 90 goes on",
                "groovelab: a.rmi: byte 54: track 1 has no end-of-track event (FF 2F 00); it ends with its last event",
            ],
            ran.Error.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)[..3]);
        Assert.Equal(24_000 + 24_000, WaveFile.Read(_program.Path("a.wav")).Frames);
    }

    [Fact]
    public void Render_ExportedPreset_HasTheOnsetsOfTheReferenceRenderer()
    {
        var command = References.RequireTool("fluidsynth");
        References.Require(File.Exists(SmallBank), $"{SmallBank} is not installed");
        var bank = SoundFontBank.Open(SmallBank);
        foreach (var preset in new[] { "five-eight-3-2", "seven-eight-2-2-3", "crooked-tune" })
        {
            const int Rate = 32_000;
            var chart = ChartReader.Read(Running.Presets.Single(path => Path.GetFileNameWithoutExtension(path) == preset)).Chart!;
            var band = new BarComposer(chart, new ComposerOptions { Bars = 4, CountIn = false });
            var whole = MidiExport.Of(band).File;
            // One part at a time: in the mix the sound of one part hides the onsets of another.
            var lags = new List<int>();
            foreach (var (part, player) in band.Band.Index().Where(part => part.Item.Role is Role.Count or Role.Bass))
            {
                var file = new MidiFile(1, whole.Division, [whole.Tracks[0], whole.Tracks[part + 1]]);
                File.WriteAllBytes(_program.Path("a.mid"), MidiFileWriter.ToBytes(file));
                var theirs = Reference(command, Rate);
                var events = new MidiTimeline(file).ChannelEvents(Rate);
                var ours = Mono(new ChannelEventPlayer(new SoundFontSynth(bank, Rate, new SoundFontSynthOptions { Dry = true }), events), theirs.Length);
                var onsets = events.Where(item => item.Event.Kind == ChannelEventKind.NoteOn).Select(item => (int)item.Frame).Distinct()
                    .Where(frame => frame > 300 && frame < theirs.Length - 3000).ToList();
                var found = onsets.Select(frame => Lag(ours, theirs, frame)).ToList();
                Assert.All(found, lag => Assert.True(lag.Correlation > 0.7, $"{preset}, {player.Name}: {lag}"));
                lags.AddRange(found.Select(lag => lag.Frames));
            }

            lags.Sort();
            TestContext.Current.TestOutputHelper?.WriteLine($"{preset}: {lags.Count} onsets, {lags[0]} to {lags[^1]} frames later there, median {lags[lags.Count / 2]}");
            Assert.True(lags.Count > 10, $"{preset}: {lags.Count}");
            // It starts events on blocks of 64 frames, counts time in whole milliseconds (32 frames here), and is always a block late.
            Assert.InRange(lags[0], 0, 128);
            Assert.InRange(lags[^1] - lags[0], 0, 64 + 32);
        }
    }

    [Fact]
    public void Render_MutatedFiles_PlayWithoutFailing()
    {
        var bank = SoundFontBank.Load(
            BuiltInBank.LoadOrCreate(Path.Combine(Path.GetTempPath(), "groovelab-test-cache", "groovelab")), "built-in");
        var chart = ChartReader.ReadText(Chart, "a.toml").Chart!;
        var original = MidiFileWriter.ToBytes(MidiExport.Of(new BarComposer(chart)).File);
        var left = new float[2 * 4000];
        var played = 0;
        for (var seed = 0; seed < 150; seed++)
        {
            var random = new Random(seed);
            var bytes = (byte[])original.Clone();
            for (var count = random.Next(1, 30); count > 0; count--)
            {
                var at = random.Next(bytes.Length);
                bytes[at] = (byte)(bytes[at] < 128 ? random.Next(128) : 128 + random.Next(128));
            }

            try
            {
                var events = new MidiTimeline(MidiFileReader.Parse(bytes, "mutated.mid")).ChannelEvents(8000);
                // Everything at once, so that it all plays in half a second.
                var player = new ChannelEventPlayer(
                    new SoundFontSynth(bank, 8000, new SoundFontSynthOptions { ChannelCount = 64, MaxVoices = 24, Dry = true }),
                    [.. events.Select(item => item with { Frame = item.Frame % 1024 }).OrderBy(item => item.Frame)]);
                player.Read(left);
                Assert.All(left, sample => Assert.True(float.IsFinite(sample)));
                played++;
            }
            catch (MidiFileException problem)
            {
                Assert.NotEmpty(problem.Reason);
            }
        }

        Assert.InRange(played, 20, 149);
    }

    [Fact]
    public void Page_Commands_DoWhatTheySay()
    {
        var page = File.ReadAllText(Path.Combine(Running.Checkout(), "docs", "midi.md"));
        var lines = Shell().Matches(page).SelectMany(match => match.Groups["body"].Value.Split('\n', StringSplitOptions.RemoveEmptyEntries)).ToList();
        Assert.True(lines.Count >= 5);
        Directory.CreateDirectory(_program.Path("presets"));
        foreach (var preset in Running.Presets)
        {
            File.Copy(preset, Path.Combine(_program.Path("presets"), Path.GetFileName(preset)));
        }

        foreach (var words in lines.Select(line => line.Split(' ', StringSplitOptions.RemoveEmptyEntries)))
        {
            Assert.Equal("groovelab", words[0]);
            // Two bars show as much as the whole song.
            var ran = _program.Run([.. words.Skip(1), .. words[1] == "export" ? new[] { "--bars", "2" } : []]);
            Assert.True(ran.ExitCode == 0, ran.Error);
            Assert.True(File.Exists(_program.Path(words[Array.IndexOf(words, "-o") + 1])));
        }
    }

    public void Dispose() => _program.Dispose();

    [GeneratedRegex("^```sh\n(?<body>.*?)^```$", RegexOptions.Multiline | RegexOptions.Singleline, 2000)]
    private static partial Regex Shell();

    // How much later an onset is in the other sound: the shift of the best match.
    private static (int Frames, double Correlation) Lag(float[] ours, float[] theirs, int onset)
    {
        const int Before = 160;
        const int After = 960;
        const int Most = 160;
        var best = (Frames: 0, Correlation: double.NegativeInfinity);
        for (var lag = -Most; lag <= Most; lag++)
        {
            double product = 0, a = 1e-12, b = 1e-12;
            for (var i = onset - Before; i < onset + After; i++)
            {
                // Differences give less weight to ringing notes and more to the attack.
                double x = ours[i] - ours[i - 1];
                double y = i + lag > 0 && i + lag < theirs.Length ? theirs[i + lag] - theirs[i + lag - 1] : 0;
                product += x * y;
                a += x * x;
                b += y * y;
            }

            var correlation = product / Math.Sqrt(a * b);
            best = correlation > best.Correlation ? (lag, correlation) : best;
        }

        return best;
    }

    private static float[] Mono(ChannelEventPlayer player, int frames)
    {
        var both = new float[2 * frames];
        player.Read(both);
        var sum = new float[frames];
        for (var i = 0; i < frames; i++)
        {
            sum[i] = both[2 * i] + both[(2 * i) + 1];
        }

        return sum;
    }

    private float[] Reference(string command, int rate)
    {
        var wave = _program.Path("reference.wav");
        string[] arguments = ["-ni", "-F", wave, "-r", $"{rate}", "-R", "0", "-C", "0", "-g", "0.5", "-O", "float", "-T", "wav", SmallBank, _program.Path("a.mid")];
        var start = new ProcessStartInfo(command, arguments) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        using var process = Process.Start(start)!;
        var errors = process.StandardError.ReadToEndAsync();
        process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, errors.Result);
        var bytes = File.ReadAllBytes(wave);
        var samples = MemoryMarshal.Cast<byte, float>(bytes.AsSpan(bytes.AsSpan().IndexOf("data"u8) + 8));
        var sum = new float[samples.Length / 2];
        for (var i = 0; i < sum.Length; i++)
        {
            sum[i] = samples[2 * i] + samples[(2 * i) + 1];
        }

        return sum;
    }
}
