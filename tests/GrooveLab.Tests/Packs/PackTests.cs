using System.IO.Compression;
using System.Net;
using System.Text.RegularExpressions;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Exchange.Midi;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using GrooveLab.Pack;
using Xunit;

namespace GrooveLab.Tests.Packs;

/// <summary>Rehearsal packs, made in this process with short charts.</summary>
public sealed partial class PackTests : IDisposable
{
    private const string Chart = """
        format = 2
        title = "Two Lamps"
        key = "D dorian"
        tempo = "bar = 120"
        meter = "5/8 3+2"
        ending = false

        [[part]]
        name = "bouzouki"
        role = "pulse"

        [[part]]
        name = "cello"
        role = "sustain"

        [[part]]
        name = "clicks"
        role = "count"
        silent = true

        [[section]]
        name = "all"
        chords = "| Dm | G |"
        """;

    private static readonly Lazy<SoundFontBank> Bank = new(() => Banks.OpenBuiltIn());

    private static readonly PackSettings AtTempo = new() { Tempi = [100], Sound = SoundFormat.Wave };

    private readonly string _folder = Directory.CreateTempSubdirectory("pack").FullName;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string Folder => Path.Combine(_folder, "out");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void Run_OneChart_MakesEveryFileOfThePlan()
    {
        var result = Make(new PackSettings { Tempi = [50, 100] }, false, Song("a", Chart));

        Assert.Equal(6 + Others.Length + 1, result.Made);
        Assert.Empty(result.Remarks);
        Assert.Equal(
            new[]
            {
                "100 percent/Two Lamps, 100 percent, without bouzouki.opus",
                "100 percent/Two Lamps, 100 percent, without cello.opus",
                "100 percent/Two Lamps, 100 percent.opus",
                "50 percent/Two Lamps, 50 percent, without bouzouki.opus",
                "50 percent/Two Lamps, 50 percent, without cello.opus",
                "50 percent/Two Lamps, 50 percent.opus",
                "groovelab-pack.json",
                "index.html",
            }.Concat(Others).Order(StringComparer.Ordinal),
            Files());
        Assert.NotEmpty(MidiFileReader.Read(At("midi/Two Lamps.mid")).Tracks);
    }

    [Fact]
    public void Run_Mixes_AreThoseOfRender()
    {
        Make(AtTempo, false, Song("a", Chart));

        var band = new BarComposer(ChartFiles.Read(Song("a", Chart)));
        var renderer = new Renderer(rate => Banks.Synth(Bank.Value, rate, band.Band, dry: false));
        foreach (var (name, without) in new[] { ("Two Lamps, 100 percent.wav", "clicks"), ("Two Lamps, 100 percent, without cello.wav", "cello") })
        {
            // The chart silences the clicks.
            var alone = WaveFile.Read(renderer.RenderMix(
                band, Path.Combine(_folder, without + ".wav"), new RenderOptions { Without = ["clicks", without] }, cancellation: Cancellation).Path);
            var packed = WaveFile.Read(At("100 percent/" + name));
            Assert.Equal(alone.Frames, packed.Frames);
            Assert.Contains(packed.Samples, sample => Math.Abs(sample) > 0.01);

            // One step of 16 bits: where the rounding falls the other way.
            Assert.All(alone.Samples.Zip(packed.Samples), pair => Assert.InRange(Math.Abs(pair.First - pair.Second), 0, 1.01 / (1 << 15)));
        }
    }

    [Fact]
    public void Run_Again_LeavesEverything()
    {
        var song = Song("a", Chart);
        var made = Make(AtTempo, true, song).Made;
        var before = Contents();

        var again = Make(AtTempo, true, song);

        Assert.Equal(0, again.Made);
        Assert.Equal(made, again.UpToDate);
        Assert.Equal(0, again.SoundSeconds);
        Assert.Equal(before, Contents());
    }

    [Fact]
    public void Run_ChangedChart_MakesItsFilesAgain()
    {
        Make(AtTempo, false, Song("a", Chart), Song("b", Chart));
        var before = Contents();

        var again = Make(AtTempo, false, Song("a", Chart.Replace("| Dm | G |", "| Dm | C |", StringComparison.Ordinal)), Song("b", Chart));

        var after = Contents();
        Assert.Equal(before.Keys, after.Keys);
        Assert.All(
            before.Keys.Where(path => path.StartsWith("01 ", StringComparison.Ordinal) && !path.Contains("without", StringComparison.Ordinal)),
            path => Assert.NotEqual(before[path], after[path]));
        Assert.All(before.Keys.Where(path => path.StartsWith("02 ", StringComparison.Ordinal)), path => Assert.Equal(before[path], after[path]));
        Assert.Equal(3 + Others.Length, again.Made);
        Assert.Equal(0, again.Removed);
    }

    [Fact]
    public void Run_ChangedOption_MakesOnlyWhatItAffects()
    {
        var song = Song("a", Chart);
        Make(AtTempo, false, song);

        var more = Make(AtTempo with { Tempi = [50, 100] }, false, song);
        Assert.Equal(4, more.Made);
        Assert.Contains("50 percent/Two Lamps, 50 percent.wav", Files());

        var fewer = Make(AtTempo with { Tempi = [50] }, false, song);
        Assert.Equal(1, fewer.Made);
        Assert.Equal(3, fewer.Removed);
        Assert.False(Directory.Exists(At("100 percent")));

        var other = Make(AtTempo with { Tempi = [50], Sound = SoundFormat.Flac }, false, song);
        Assert.Equal((4, 3), (other.Made, other.Removed));
        Assert.DoesNotContain(Files(), path => path.EndsWith(".wav", StringComparison.Ordinal));
    }

    [Fact]
    public void Run_OtherBuildOrSounds_MakesThemAgain()
    {
        var song = Song("a", Chart);
        Make(AtTempo, false, song);
        Assert.Equal(3, Make(AtTempo, false, [song], TextWriter.Null, "another", "build", Cancellation).Made);
        Assert.Equal(3 + Others.Length, Make(AtTempo, false, [song], TextWriter.Null, "another", "newer", Cancellation).Made);
    }

    [Fact]
    public void Run_RemovedChart_RemovesWhatIsUnchangedOnly()
    {
        Make(AtTempo, false, Song("a", Chart), Song("b", Chart), Song("c", Chart));
        File.WriteAllText(At("03 Two Lamps/notes.txt"), "mine");
        File.WriteAllText(At("03 Two Lamps/midi/Two Lamps.mid"), "mine as well");

        var result = Make(AtTempo, false, Song("a", Chart), Song("b", Chart));

        Assert.Equal(3 + Others.Length - 1, result.Removed);
        Assert.Equal(["03 Two Lamps/midi/Two Lamps.mid", "03 Two Lamps/notes.txt"], Files().Where(path => path.StartsWith("03", StringComparison.Ordinal)));
        Assert.Contains(result.Remarks, remark => remark.StartsWith("03 Two Lamps/midi/Two Lamps.mid no longer belongs", StringComparison.Ordinal));
    }

    [Fact]
    public void Run_DamagedOutput_IsMadeAgain()
    {
        var song = Song("a", Chart);
        Make(AtTempo, false, song);
        var path = "100 percent/Two Lamps, 100 percent, without cello.wav";
        var good = File.ReadAllBytes(At(path));
        File.WriteAllBytes(At(path), good[..1000]);

        var result = Make(AtTempo, false, song);

        Assert.Equal(1, result.Made);
        Assert.Equal(good, File.ReadAllBytes(At(path)));
        Assert.Equal(1000, new FileInfo(At("100 percent/Two Lamps, 100 percent, without cello (changed).wav")).Length);
        Assert.Single(result.Remarks);
    }

    [Fact]
    public void Run_DamagedRecord_EndsWithTheSameFiles()
    {
        var song = Song("a", Chart);
        Make(AtTempo, false, song);
        var before = Contents();
        File.WriteAllText(At(PackPlan.Record), "{");

        Make(AtTempo, false, song);

        Assert.Equal(before, Contents().Where(file => file.Key != "groovelab-pack (changed).json"));
    }

    [Fact]
    public void Run_StoppedAndStartedAgain_EndsAsIfItHadNotBeenStopped()
    {
        var settings = AtTempo with { Tempi = [50, 75, 100] };
        var song = Song("a", Chart);
        Make(settings, true, song);
        var undisturbed = Contents();
        Directory.Delete(Folder, recursive: true);
        File.Delete(Folder + ".zip");

        foreach (var step in new[] { Others.Length, 2, 2 })
        {
            using var stop = new CancellationTokenSource();
            Assert.Throws<OperationCanceledException>(() => Make(settings, true, [song], new StopAt(step, stop), "built-in", "build", stop.Token));
            Assert.False(File.Exists(At(PackPlan.Index)));
        }

        var last = Make(settings, true, song);
        Assert.Equal(undisturbed, Contents());

        // Two tempi were finished before.
        Assert.Equal(3 + 2, last.Made);
    }

    [Fact]
    public void Run_Archive_HasTheFilesInOrderAndDoesNotCompressThemTwice()
    {
        Make(new PackSettings { Tempi = [100] }, true, Song("a", Chart));

        using var zip = ZipFile.OpenRead(Folder + ".zip");
        Assert.Equal(
            Files().Where(path => path != PackPlan.Record).Select(path => "out/" + path),
            zip.Entries.Select(entry => entry.FullName));
        Assert.All(zip.Entries, entry =>
        {
            var bytes = new byte[entry.Length];
            using var stream = entry.Open();
            stream.ReadExactly(bytes);
            Assert.Equal(File.ReadAllBytes(At(entry.FullName["out/".Length..])), bytes);
            Assert.Equal(1980, entry.LastWriteTime.Year);
        });
        Assert.All(zip.Entries.Where(entry => entry.Name.EndsWith(".opus", StringComparison.Ordinal)), entry => Assert.Equal(entry.Length, entry.CompressedLength));
        Assert.All(zip.Entries.Where(entry => entry.Name == "index.html"), entry => Assert.True(entry.CompressedLength < entry.Length / 2));

        // No longer asked for, so it would not be what the folder is.
        Assert.Equal(1, Make(new PackSettings { Tempi = [100] }, false, Song("a", Chart)).Removed);
        Assert.False(File.Exists(Folder + ".zip"));
    }

    [Fact]
    public void Run_SetList_HasNumberedFoldersAndOneIndex()
    {
        var list = Path.Combine(_folder, "saturday.set");
        Song("a", Chart);
        Song("b", Chart.Replace("Two Lamps", "con/../<b>&\\\"Lanterns\\\" #1 50%?", StringComparison.Ordinal));
        Song("c", Chart.Replace("Two Lamps", new string('ß', 300), StringComparison.Ordinal));
        File.WriteAllText(list, "a.toml\nb.toml\nc.toml\n");

        Make(AtTempo, false, list);

        Assert.Equal(["01 Two Lamps", "02 con-..-b&Lanterns #1 50%", "03 " + new string('ß', 23)], Directory.GetDirectories(Folder).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        var page = File.ReadAllText(At(PackPlan.Index));
        Assert.DoesNotContain("<b>", page, StringComparison.Ordinal);
        Assert.Contains("2. con/../&lt;b&gt;&amp;&quot;Lanterns&quot; #1 50%?</h2>", page, StringComparison.Ordinal);
        var linked = Links().EnumerateMatches(page);
        var paths = new List<string>();
        foreach (var match in linked)
        {
            var link = WebUtility.HtmlDecode(page.Substring(match.Index, match.Length))["href=\"".Length..^1];
            if (!link.StartsWith('#'))
            {
                Assert.DoesNotContain('#', link);
                paths.Add(Uri.UnescapeDataString(link));
            }
        }

        Assert.Equal(Files().Where(path => path is not (PackPlan.Index or PackPlan.Record)), paths.Order(StringComparer.Ordinal));
        Assert.Contains("<audio controls", page, StringComparison.Ordinal);
        Assert.Contains("start with the volume down", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<script", page, StringComparison.Ordinal);
        Assert.DoesNotContain("http", page, StringComparison.Ordinal);
    }

    [Fact]
    public void Run_Singers_GetTheirKeys()
    {
        var sung = Chart + """

            [section.tune]
            notes = "| D4:3 E4:2 | A4:5 |"
            words = "low lights shine"
            """;
        var settings = AtTempo with
        {
            Singers = [PackSinger.Read("Mara=E"), PackSinger.Read("Tom=D dorian"), PackSinger.Read("Ida=E4-B4")],
        };

        Make(settings, false, Song("a", sung));

        // Ida: the tune goes from D4 to A4, so it must go up by two half steps to begin on E4: E dorian, Mara's key.
        Assert.Contains("in E dorian (Mara, Ida)/100 percent/Two Lamps, 100 percent.wav", Files());
        Assert.Contains("in E dorian (Mara, Ida)/midi/Two Lamps.mid", Files());
        Assert.Contains("in E dorian (Mara, Ida)/sheets/Two Lamps, singer.html", Files());
        Assert.Contains("<fifths>2</fifths>", File.ReadAllText(At("in E dorian (Mara, Ida)/score/Two Lamps.musicxml")), StringComparison.Ordinal);
        Assert.Contains("<fifths>0</fifths>", File.ReadAllText(At("score/Two Lamps.musicxml")), StringComparison.Ordinal);
        Assert.Contains("100 percent/Two Lamps, 100 percent.wav", Files());
        var page = File.ReadAllText(At(PackPlan.Index));
        Assert.Contains("<h3>in E dorian (Mara, Ida)</h3>", page, StringComparison.Ordinal);
        Assert.Contains("Tom sings in this key.", page, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_ProblemsOfSeveralSongs_AreAllNamed()
    {
        var problems = new ProblemList();
        var songs = PackSongs.Read(
            [Song("a", Chart), Song("b", Chart.Replace("bar = 120", "bar = 0", StringComparison.Ordinal)), Path.Combine(_folder, "missing.toml")],
            AtTempo with { Singers = [PackSinger.Read("Mara=A3-D5")] },
            problems,
            []);

        var failure = Assert.Throws<CommandFailure>(problems.NeedNone);
        Assert.Contains("b.toml:4:", failure.Message, StringComparison.Ordinal);
        Assert.Contains("missing.toml: file not found", failure.Message, StringComparison.Ordinal);
        Assert.Contains("a.toml: there is no tune", failure.Message, StringComparison.Ordinal);
        Assert.Empty(songs);
    }

    [Theory]
    [InlineData("70,85,100", "70 percent, 85 percent, 100 percent")]
    [InlineData("100%, 67.5,100", "100 percent, 67.5 percent")]
    public void ReadTempi_Percentages_AreRead(string text, string words) =>
        Assert.Equal(words, string.Join(", ", PackSettings.ReadTempi(text).Select(PackSettings.InWords)));

    [Theory]
    [InlineData("")]
    [InlineData("0")]
    [InlineData("4")]
    [InlineData("501")]
    [InlineData("slow")]
    [InlineData("10,20,30,40,50,60,70,80,90")]
    public void ReadTempi_NoPercentages_AreRefused(string text) => Assert.Throws<CommandFailure>(() => PackSettings.ReadTempi(text));

    [Theory]
    [InlineData("Mara")]
    [InlineData("=E")]
    [InlineData("Mara=")]
    [InlineData("Mara=H")]
    [InlineData("Mara=D5-A3")]
    public void ReadSinger_NoKeyOrRange_IsRefused(string text) =>
        Assert.Contains("Mara=", Assert.Throws<CommandFailure>(() => PackSinger.Read(text)).Message, StringComparison.Ordinal);

    // What the kinds of export add.
    private static string[] Others { get; } =
    [
        "midi/Two Lamps.mid", "score/Two Lamps.musicxml", "sheets/Two Lamps, band.html", "sheets/Two Lamps, bouzouki.html", "sheets/Two Lamps, cello.html",
    ];

    private string Song(string name, string text)
    {
        var path = Path.Combine(_folder, name + ".toml");
        File.WriteAllText(path, text);
        return path;
    }

    private string At(string path) => Path.Combine(Folder, path);

    private string[] Files() => [.. Directory.EnumerateFiles(Folder, "*", SearchOption.AllDirectories).Select(path => Path.GetRelativePath(Folder, path)).Order(StringComparer.Ordinal)];

    private SortedDictionary<string, string> Contents() => new(
        Files().ToDictionary(path => path, path => ContentHash.OfFile(At(path)).ToString()!, StringComparer.Ordinal), StringComparer.Ordinal);

    private PackResult Make(PackSettings settings, bool zip, params string[] charts) => Make(settings, zip, charts, TextWriter.Null, "built-in", "build", Cancellation);

    private PackResult Make(
        PackSettings settings, bool zip, string[] charts, TextWriter told, string bank, string build, CancellationToken stop)
    {
        var problems = new ProblemList();
        var songs = PackSongs.Read(charts, settings, problems, []);
        problems.NeedNone();
        var plan = PackPlan.Of(songs, settings, bank, build, zip ? "out" : null);
        using var folder = MadeFolder.Open(Folder, PackPlan.Record);
        Assert.Empty(folder.Foreign(plan.Paths));
        return new Packer(
            folder, plan, settings, "Saturday", () => Bank.Value, (weight, steps) => new PackProgress(told, false, TimeProvider.System, weight, steps)).Run(stop);
    }

    [GeneratedRegex("href=\"[^\"]*\"", RegexOptions.NonBacktracking)]
    private static partial Regex Links();

    private sealed class StopAt(int step, CancellationTokenSource stop) : StringWriter
    {
        public override void WriteLine(string? value)
        {
            if (value!.StartsWith($"{step} of ", StringComparison.Ordinal))
            {
                stop.Cancel();
            }
        }
    }
}
