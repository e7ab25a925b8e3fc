using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>Exit codes, refusals and files of the commands.</summary>
public sealed class CommandTests : IDisposable
{
    private const string Score =
        "<score-partwise><part-list><score-part id=\"P1\"><part-name>Voice</part-name></score-part></part-list><part id=\"P1\"><measure number=\"1\">"
        + "<attributes><divisions>1</divisions><time><beats>5</beats><beat-type>4</beat-type></time></attributes>"
        + "<note><pitch><step>G</step><octave>4</octave></pitch><duration>5</duration></note></measure></part></score-partwise>";

    private const string Good = """
        format = 1
        title = "Small"
        key = "D dorian"
        tempo = "bar = 60"
        meter = "5/8 3+2"
        [[section]]
        name = "a"
        chords = "| Dm | G | C | Dm |"
        """;

    private const string Broken = """
        format = 1
        title = "Small"
        key = "H dorian"
        tempo = "bar = 0"
        meter = "5/8 3+3"
        [[section]]
        name = "a"
        chords = "| Dm | Q7 |"
        """;

    private readonly Running _program = new();

    [Fact]
    public void Render_AllWell_SaysNothingOnStandardError()
    {
        var chart = _program.Write("small.toml", Good);
        var ran = _program.Run("render", chart, "-o", _program.Path("small.wav"));
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
    }

    [Fact]
    public void Render_TooLoud_TellsWhatTheLimiterDid()
    {
        var chart = _program.Write("small.toml", Good);
        var ran = _program.Run("render", chart, "-o", _program.Path("small.wav"), "--stems", _program.Path("stems"), "--level", "20");
        Assert.Equal(0, ran.ExitCode);
        var line = Assert.Single(ran.Error.Split('\n', StringSplitOptions.RemoveEmptyEntries));
        Assert.Matches(@"^groovelab: small\.wav: too loud: the limiter reduced the sound by more than 4 dB for \d+\.\d s; lower the level$", line.TrimEnd());
    }

    [Fact]
    public void Render_CacheThatCannotBeKept_GoesOnTellsItAndLogsIt()
    {
        var chart = _program.Write("small.toml", Good);
        _program.Environment["XDG_CACHE_HOME"] = _program.Write("no-folder", "a file");
        var ran = _program.Run("render", chart, "-o", _program.Path("small.wav"), "--bars", "1");
        var log = Path.Combine(_program.Folder, "data", "groovelab", "failures.log");
        Assert.Equal(0, ran.ExitCode);
        Assert.Contains("groovelab: keeping the built-in sounds in their cache: ", ran.Error, StringComparison.Ordinal);
        Assert.EndsWith($"groovelab: details in {log}", ran.Error.TrimEnd(), StringComparison.Ordinal);
        Assert.Contains("keeping the built-in sounds in their cache: ", File.ReadAllText(log), StringComparison.Ordinal);
    }

    [Fact]
    public void Guard_MistakeOfTheProgramsOwn_IsAnExitCodeAndRecorded()
    {
        var code = GrooveLab.Inputs.CommandGuard.Run(() => throw new InvalidOperationException("a mistake"));
        Assert.Equal(1, code);
        Assert.Contains(GrooveLab.Store.Survived.Failures.All, failure => failure.ToString() == "the command failed: a mistake");
    }

    [Fact]
    public void Demo_WithoutADevice_RendersBesideTheCallerAndSaysSo()
    {
        var ran = _program.Run("demo");
        Assert.Equal(0, ran.ExitCode);
        var file = Assert.Single(Directory.GetFiles(_program.Folder, "*.wav"));
        Assert.Contains(Path.GetFileName(file), ran.Out);
        Assert.Contains("Ferry Lanterns", ran.Out);
        Assert.InRange(WaveFile.Read(file).Samples.Max(Math.Abs), 0.1, 0.9999);
    }

    [Fact]
    public void Play_WithoutADevice_NamesRenderAndExitsWithThree()
    {
        var ran = _program.Run("play", _program.Write("a.toml", Good));
        Assert.Equal(3, ran.ExitCode);
        Assert.Contains("render", ran.Error);
    }

    [Fact]
    public void Render_BrokenChart_SaysEverythingAndWritesNothing()
    {
        var ran = _program.Run("render", _program.Write("bad.toml", Broken), "-o", "out.wav", "--stems", "parts");
        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("bad.toml:3:", ran.Error);
        Assert.Contains("bad.toml:4:", ran.Error);
        Assert.Contains("bad.toml:5:", ran.Error);
        Assert.Contains("bad.toml:8:", ran.Error);
        Assert.Equal(["bad.toml"], Directory.EnumerateFileSystemEntries(_program.Folder).Select(Path.GetFileName));
    }

    [Fact]
    public void Render_FileThatIsThere_IsKeptUnlessForced()
    {
        var chart = _program.Write("a.toml", Good);
        _program.Write("out.wav", "mine");
        var ran = _program.Run("render", chart, "-o", "out.wav", "--bars", "1");
        Assert.Equal(2, ran.ExitCode);
        Assert.Equal("mine", File.ReadAllText(_program.Path("out.wav")));
        Assert.Contains("--force", ran.Error);

        ran = _program.Run("render", chart, "-o", "out.wav", "--bars", "1", "--force");
        Assert.Equal(0, ran.ExitCode);
        Assert.Equal(48_000, WaveFile.Read(_program.Path("out.wav")).SampleRate);
    }

    [Fact]
    public void Render_ForcedThroughALink_KeepsTheLink()
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "Links need a privilege there.");
        var chart = _program.Write("a.toml", Good);
        _program.Write("real.wav", "mine");
        File.CreateSymbolicLink(_program.Path("out.wav"), "real.wav");

        Assert.Equal(2, _program.Run("render", chart, "-o", "out.wav", "--bars", "1").ExitCode);
        Assert.Equal(0, _program.Run("render", chart, "-o", "out.wav", "--bars", "1", "--force").ExitCode);

        Assert.Equal(48_000, WaveFile.Read(_program.Path("real.wav")).SampleRate);
        Assert.Equal("real.wav", new FileInfo(_program.Path("out.wav")).LinkTarget);
    }

    [Theory]
    [InlineData("render", "out.wav", "/dev/stdout")]
    [InlineData("export", "out.mid", "/dev/stdout")]
    public void Output_IntoAPipe_GivesTheSameBytesAndSaysTheRestOnTheOtherStream(string command, string file, string pipe)
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "There are no such names there.");
        var chart = _program.Write("a.toml", Good);
        Assert.Equal(0, _program.Run(command, chart, "-o", file, "--bars", "1").ExitCode);

        var copied = _program.Shell($"\"$0\" \"$1\" {command} a.toml -o {pipe} --bars 1 | cat > copy");

        Assert.Equal(0, copied.ExitCode);
        Assert.Contains(pipe, copied.Error, StringComparison.Ordinal);
        Assert.Equal(File.ReadAllBytes(_program.Path(file)), File.ReadAllBytes(_program.Path("copy")));
    }

    [Theory]
    [InlineData("render", "/dev/full")]
    [InlineData("export", "/dev/full")]
    public void Output_NoRoom_NamesTheFileAndTheRemedy(string command, string full)
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "A device that is always full is Linux's.");

        var ran = _program.Run(command, _program.Write("a.toml", Good), "-o", full, "--bars", "1");

        Assert.Equal((1, $"groovelab: {full}: the disk is full; free some space, or choose another disk"), (ran.ExitCode, ran.Error.Trim()));
    }

    [Theory]
    [InlineData("TERM")]
    [InlineData("INT")]
    [InlineData("HUP")]
    public void Render_EndedBySignal_LeavesNothing(string signal)
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "What a process has open is read in Linux's way.");
        _program.Write("a.toml", Good);

        // Twenty minutes of music: it is still rendering when the signal comes. The empty file that only tests the folder does not count.
        var ran = _program.Shell(
            $$"""
            set -m
            "$0" "$1" render a.toml -o out.wav --bars 1200 2> said & child=$!
            size() {
              fd=$(ls -l /proc/$child/fd 2>&1 | sed -n "s|.* \([0-9]*\) -> $PWD/.*deleted.*|\1|p" | head -n 1)
              stat -L -c %s /proc/$child/fd/${fd:-none} 2>&1 | grep -E '^[0-9]+$' || echo 0
            }
            until [ "$(size)" -gt 65536 ]; do kill -0 $child && sleep 0.05 || exit 9; done
            kill -s {{signal}} $child
            wait $child
            """);

        Assert.Equal((1, "groovelab: stopped"), (ran.ExitCode, File.ReadAllText(_program.Path("said")).Trim()));
        File.Delete(_program.Path("said"));
        Assert.Equal(["a.toml"], Directory.GetFileSystemEntries(_program.Folder).Select(Path.GetFileName));
    }

    [Fact]
    public void Render_PlainWave_HasFormatTagOne()
    {
        _program.Run("render", _program.Write("a.toml", Good), "-o", "out.wav", "--bars", "1");
        var bytes = File.ReadAllBytes(_program.Path("out.wav"));
        Assert.Equal(1, BitConverter.ToUInt16(bytes, 20));
    }

    [Fact]
    public void Render_PartsAndStems_AreThoseNamed()
    {
        var chart = _program.Write("a.toml", Good);
        var ran = _program.Run("render", chart, "-o", "out.wav", "--bars", "2", "--stems", "parts", "--only", "cello,bouzouki");
        Assert.Equal(0, ran.ExitCode);
        Assert.Equal(
            ["bouzouki.wav", "cello.wav"],
            Directory.GetFiles(_program.Path("parts")).Select(Path.GetFileName).Order(StringComparer.Ordinal));

        ran = _program.Run("render", chart, "-o", "other.wav", "--only", "kazoo");
        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("bouzouki", ran.Error);
        Assert.False(File.Exists(_program.Path("other.wav")));
    }

    [Theory]
    [InlineData("render", "a.toml")]
    [InlineData("render", "a.toml", "-o", "out.mp3")]
    [InlineData("render", "a.toml", "-o", "out.wav", "--rate", "100")]
    [InlineData("render", "a.toml", "-o", "out.wav", "--feel", "sideways")]
    [InlineData("render", "a.toml", "-o", "out.wav", "--bank", "nowhere.sf2")]
    [InlineData("render", "missing.toml", "-o", "out.wav")]
    [InlineData("show", "a.toml", "--bars", "0")]
    [InlineData("show", "a.toml", "--bars", "many")]
    [InlineData("show", "a.toml", "--key", "H")]
    [InlineData("show", "a.toml", "--key", "G", "--up", "2")]
    [InlineData("show", "a.toml", "--seed", "x")]
    [InlineData("show", "a.toml", "--tempo", "fast")]
    [InlineData("show", "a.toml", "--tempo", "900%")]
    [InlineData("show", "a.toml", "--tempo", "learner")]
    [InlineData("show", "a.toml", "--tempo", "bar = 99999")]
    [InlineData("show")]
    [InlineData("polka")]
    public void Run_BadUsage_ExitsWithTwoAndSpeaksOnStandardError(params string[] arguments)
    {
        _program.Write("a.toml", Good);
        var ran = _program.Run(arguments);
        Assert.Equal(2, ran.ExitCode);
        Assert.NotEqual("", ran.Error);
        Assert.Equal("", ran.Out);
        Assert.Equal(["a.toml"], Directory.EnumerateFileSystemEntries(_program.Folder).Select(Path.GetFileName));
    }

    [Theory]
    [InlineData("unknown command 'chek'; did you mean check?", "chek", "a.toml")]
    [InlineData("unknown command 'polka'; commands: demo, play, render, show, check", "polka")]
    [InlineData("missing command; commands: demo, play, render, show, check")]
    [InlineData("unknown option --bar for show; did you mean --bars?", "show", "a.toml", "--bar", "4")]
    [InlineData("unknown option --bar for show; did you mean --bars?", "show", "a.toml", "--bar=4")]
    [InlineData("unknown option --jason for show; did you mean --json?", "show", "--jason", "a.toml")]
    [InlineData("unknown option --bars for check; options: --help", "check", "a.toml", "--bars")]
    [InlineData("unexpected argument 'b.toml'; show takes one chart", "show", "a.toml", "b.toml")]
    [InlineData("--feel must be bar, bar-group, group or unit, not 'beat'", "show", "a.toml", "--feel", "beat")]
    [InlineData("--feel must be bar, bar-group, group or unit, not 'bars'; did you mean bar?", "show", "a.toml", "--feel", "bars")]
    public void Run_WordThatIsNotKnown_SaysWhatWasProbablyMeant(string said, params string[] arguments)
    {
        _program.Write("a.toml", Good);
        var ran = _program.Run(arguments);
        Assert.Equal(2, ran.ExitCode);
        Assert.Equal("", ran.Out);
        var lines = ran.Error.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        Assert.True(lines.Length == 2, ran.Error);
        Assert.StartsWith("groovelab: " + said, lines[0]);
    }

    [Fact]
    public void Check_UnusualBandAndOneBar_IsRemarkedUponAndCountedRightly()
    {
        var text = "format = 1\nkey = \"D\"\ntempo = \"bar = 60\"\nmeter = \"5/8 3+2\"\n[[part]]\nrole = \"sustain\"\ninstrument = \"banjo\"\n[[section]]\nchords = \"D\"\n";
        var ran = _program.Run("check", _program.Write("a.toml", text));
        Assert.Equal(0, ran.ExitCode);
        Assert.Contains("a.toml:7:15: the banjo is unusual in the role sustain", ran.Out);
        Assert.Contains("ok, 1 bar in 5/8, 1 part", ran.Out);
    }

    // Once a bug: nothing said so.
    [Theory]
    [InlineData("bar = 61", true)]
    [InlineData("bar = 60", false)]
    public void Run_LearnersTempo_SaysSoIfItIsFaster(string learner, bool isFaster)
    {
        const string warning = "learner-tempo is faster than the chart's tempo";
        var chart = _program.Write(
            "a.toml", $"format = 1\nkey = \"D\"\ntempo = \"bar = 60\"\nlearner-tempo = \"{learner}\"\nmeter = \"5/8 3+2\"\n[[section]]\nchords = \"D\"\n");

        Assert.Equal(isFaster, _program.Run("check", chart).Out.Contains(warning, StringComparison.Ordinal));
        Assert.Equal(isFaster, _program.Run("show", chart, "--tempo", "learner").Error.Contains(warning, StringComparison.Ordinal));
        Assert.DoesNotContain(warning, _program.Run("show", chart).Error, StringComparison.Ordinal);
    }

    [Fact]
    public void Show_MovedUp_MovesChordsAndPitches()
    {
        var chart = _program.Write("a.toml", Good);
        var here = ShownBars.Read(_program.Run("show", chart, "--json", "--bars", "1").Out)[0];
        var up = ShownBars.Read(_program.Run("show", chart, "--json", "--bars", "1", "--up", "2").Out)[0];
        var named = ShownBars.Read(_program.Run("show", chart, "--json", "--bars", "1", "--key", "E").Out)[0];
        Assert.Equal(["Dm"], here.Chords);
        Assert.Equal(["Em"], up.Chords);
        Assert.Equal(up.Events, named.Events);
        Assert.NotEqual(here.Events, up.Events);
    }

    // Arithmetic: two bars at bar = 60, then a ramp over two bars to twice as fast; all at three quarters of the tempo, or from bar = 45.
    [Theory]
    [InlineData("75%")]
    [InlineData("bar = 45")]
    [InlineData("eighth = 225")]
    [InlineData("learner")]
    public void Show_Tempo_KeepsTheRelationOfAllTempi(string tempo)
    {
        var chart = _program.Write("a.toml", """
            format = 1
            key = "D dorian"
            tempo = "bar = 60"
            learner-tempo = "unit = 225"
            meter = "5/8 3+2"
            [[section]]
            chords = "| Dm | C |"
            [[section]]
            tempo = "to eighth = 600"
            chords = "| Dm | C |"
            [[section]]
            tempo = "bar = 120"
            chords = "| Dm | C |"
            """);
        var here = ShownBars.Read(_program.Run("show", chart, "--json", "--bars", "6").Out);
        var slower = ShownBars.Read(_program.Run("show", chart, "--json", "--bars", "6", "--tempo", tempo).Out);
        Assert.Equal(1, here[0].Seconds, 1e-9);
        Assert.Equal(0.5, here[5].Seconds, 1e-9);
        Assert.All(here.Zip(slower), bars => Assert.Equal(bars.First.Seconds / 0.75, bars.Second.Seconds, 1e-9));
    }

    [Theory]
    [InlineData("unit", 5)]
    [InlineData("group", 2)]
    [InlineData("bar", 1)]
    public void Show_Feel_MovesTheCount(string feel, int clicks)
    {
        var bar = ShownBars.Read(_program.Run("show", _program.Write("a.toml", Good), "--json", "--bars", "1", "--feel", feel).Out)[0];
        Assert.Equal(clicks, bar.Of("count").Count());
    }

    [Fact]
    public void Show_InstrumentsBesideTheChart_CanBeNamed()
    {
        var chart = _program.Write("a.toml", Good.Replace("[[section]]", "[[part]]\nrole = \"pulse\"\ninstrument = \"octave mandolin\"\n[[section]]"));
        var without = _program.Run("check", chart);
        Assert.Equal(2, without.ExitCode);
        Assert.Contains("no instrument called 'octave mandolin'", without.Error);

        const string instrument = "[[instrument]]\nname = \"octave mandolin\"\ntechnique = \"plectrum\"\nrange = \"G2-E5\"\nstrings = [\"G2\", \"D3\", \"A3\", \"E4\"]\nprogram = 25\n";
        _program.Write("instruments.toml", instrument);
        var bar = ShownBars.Read(_program.Run("show", chart, "--json", "--bars", "1").Out)[0];
        Assert.All(bar.Of("pulse"), note => Assert.InRange(note.Pitch!.Value, 43, 76));
        Assert.NotEmpty(bar.Of("pulse"));

        _program.Write("instruments.toml", instrument.Replace("plectrum", "spoon"));
        var broken = _program.Run("check", chart);
        Assert.Equal(2, broken.ExitCode);
        Assert.Contains("instruments.toml:3:14: technique cannot be 'spoon'", broken.Error);
    }

    [Fact]
    public void Banks_AnyMachine_ListsTheBuiltIn()
    {
        var ran = _program.Run("banks");
        Assert.Equal(0, ran.ExitCode);
        Assert.Equal("built-in", ran.Out.Split('\t')[0].TrimEnd());
    }

    /// <summary>
    /// A terminal of 24 lines has 23 above the next prompt. The tests have no sound device, so commands that play exit with 3.
    /// </summary>
    [Theory]
    [InlineData("", 3)]
    [InlineData("demo", 0)]
    [InlineData("play", 3)]
    [InlineData("render", 0)]
    [InlineData("show", 0)]
    [InlineData("check", 0)]
    [InlineData("export", 0)]
    [InlineData("import", 0)]
    [InlineData("inspect", 0)]
    [InlineData("recast", 0)]
    [InlineData("help", 0)]
    [InlineData("completions", 0)]
    [InlineData("banks", 0)]
    [InlineData("devices", 3)]
    public void Help_EveryCommand_FitsOneScreenAndHasAnExampleThatRuns(string command, int exitCode)
    {
        if (command == "import")
        {
            _program.Write("song.musicxml", Score);
        }
        else
        {
            // A bar of five has no half bar to recast.
            _program.Write("song.toml", command == "recast" ? Good.Replace("5/8 3+2", "4/4", StringComparison.Ordinal) : Good);
        }

        var help = _program.Run([.. command.Split(' ', StringSplitOptions.RemoveEmptyEntries), "--help"]);
        Assert.Equal(0, help.ExitCode);
        Assert.Equal("", help.Error);
        var lines = help.Out.TrimEnd().Split('\n');
        Assert.InRange(lines.Length, 4, 23);
        Assert.All(lines, line => Assert.InRange(line.TrimEnd().Length, 0, 80));

        var example = Assert.Single(lines, line => line.StartsWith("Example: groovelab ", StringComparison.Ordinal)).TrimEnd();
        var words = example["Example: groovelab ".Length..].Split(' ');
        Assert.True(command.Length == 0 || words[0] == command, example);
        var ran = _program.Run(words);
        Assert.True(ran.ExitCode == exitCode, ran.Error);
    }

    [Fact]
    public void Help_OfTheProgram_ListsEveryCommandAndOption()
    {
        var all = _program.Run("--help").Out;
        Assert.All(
            ["demo", "play", "render", "show", "check", "export", "import", "inspect", "banks", "devices", "help", "completions", "--help", "--version"],
            name => Assert.Contains($"\n  {(name == "--help" ? "-h, " : string.Empty)}{name} ", all.ReplaceLineEndings("\n")));
    }

    [Theory]
    [InlineData("missing CHART; usage: groovelab show CHART [options]", "show")]
    [InlineData("missing -o; usage: groovelab render CHART -o FILE [options]", "render", "a.toml")]
    [InlineData("--key needs a value: --key KEY", "show", "a.toml", "--key")]
    [InlineData("--up may be given only once", "show", "a.toml", "--up", "1", "--up", "2")]
    [InlineData("--bars must be a whole number from 1 to 20000, not 'many'", "show", "a.toml", "--bars", "many")]
    [InlineData("--tail must be a number from 0 to 60, not '99'", "render", "a.toml", "-o", "a.wav", "--tail", "99")]
    public void Run_ArgumentMissingOrOutOfRange_SaysHowToCallTheCommand(string said, params string[] arguments)
    {
        _program.Write("a.toml", Good);
        var ran = _program.Run(arguments);
        Assert.Equal(2, ran.ExitCode);
        Assert.Equal(
            ["groovelab: " + said, $"groovelab: see 'groovelab {arguments[0]} --help'"],
            ran.Error.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries));
    }

    public void Dispose() => _program.Dispose();
}
