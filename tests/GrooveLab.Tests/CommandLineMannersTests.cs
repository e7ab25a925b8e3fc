using GrooveLab.Audio.SoundFiles;
using GrooveLab.Commands;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Performance;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>Charts without a command, help, standard input and output, completions, and the screen's words on the command line.</summary>
public sealed class CommandLineMannersTests : IDisposable
{
    private const string Chart = """
        format = 1
        title = "Quay"
        key = "D dorian"
        tempo = "bar = 40"
        meter = "7/8"
        grouping = "2+2+3"
        [[part]]
        role = "pulse"
        instrument = "mandolin"
        [[part]]
        role = "bass"
        instrument = "cello"
        [[section]]
        chords = "| Dm | C | Dm | Am |"
        """;

    private readonly Running _program = new();

    public void Dispose() => _program.Dispose();

    // The tests have no sound device.
    [Theory]
    [InlineData("a.toml")]
    [InlineData("five-eight-2-3")]
    [InlineData("--tempo", "80%", "a.toml")]
    [InlineData("./a.toml")]
    public void Run_ChartOrOptionWithoutCommand_IsPlayed(params string[] arguments)
    {
        _program.Write("a.toml", Chart);
        var ran = _program.Run(arguments);
        Assert.Equal(3, ran.ExitCode);
        Assert.Equal(_program.Run(["play", .. arguments]).Error, ran.Error);
    }

    [Theory]
    [InlineData("groovelab: nothing.toml: file not found", "nothing.toml")]
    [InlineData("groovelab: quai.toml: file not found; did you mean quay.toml?", "show", "quai.toml")]
    [InlineData("groovelab: five-eight-23: file not found; did you mean five-eight-2-3?", "show", "five-eight-23")]
    [InlineData("groovelab: unknown command 'five-eight-23'; did you mean the preset five-eight-2-3?", "five-eight-23")]
    [InlineData("groovelab: unknown command 'rendr'; did you mean render?", "help", "rendr")]
    [InlineData("groovelab: unknown shell 'fisch'; did you mean fish?", "completions", "fisch")]
    [InlineData("groovelab: No part called 'mandoline' (did you mean mandolin?); parts and their roles: mandolin (pulse), ", "render", "quay.toml", "-o", "a.wav", "--only", "mandoline")]
    public void Run_WrongWord_SuggestsTheRightOne(string said, params string[] arguments)
    {
        _program.Write("quay.toml", Chart);
        var ran = _program.Run(arguments);
        Assert.Equal(2, ran.ExitCode);
        Assert.StartsWith(said, ran.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void Check_Preset_IsThatChart()
    {
        var ran = _program.Run("check", "five-eight-2-3");
        Assert.Equal(0, ran.ExitCode);
        Assert.StartsWith("five-eight-2-3: ok", ran.Out, StringComparison.Ordinal);
    }

    // Once a bug: a set list was read as a chart, with an error of TOML in its first line.
    [Fact]
    public void Check_SetList_ListsEveryProblemOfEverySongWithItsLines()
    {
        _program.Write("quay.toml", Chart);
        _program.Write("bad.toml", Chart.Replace("tempo =", "tmepo =", StringComparison.Ordinal).Replace("cello", "chello", StringComparison.Ordinal));
        _program.Write("sat.set", "quay.toml # capo 2\n\nbad.toml\nquai.toml\nfive-eight-2-3\nsun.set\n");

        var ran = _program.Run("check", "sat.set");

        Assert.Equal(2, ran.ExitCode);
        var said = ran.Error.Split(Environment.NewLine, StringSplitOptions.RemoveEmptyEntries);
        Assert.All(said[..^3], line => Assert.StartsWith("sat.set:3: bad.toml:", line, StringComparison.Ordinal));
        Assert.Contains(said, line => line.StartsWith("sat.set:3: bad.toml:4:1: ", StringComparison.Ordinal));
        Assert.Contains(said, line => line.StartsWith("sat.set:3: bad.toml:12:15: ", StringComparison.Ordinal));
        Assert.Equal(
            [
                "sat.set:4: quai.toml: file not found; did you mean quay.toml?",
                "sat.set:6: 'sun.set' is another list; name its charts here",
                "sat.set: 3 of 5 songs cannot be played",
            ],
            said[^3..]);
        Assert.Equal(["sat.set:1: quay.toml: ok", "sat.set:5: five-eight-2-3: ok"], ran.Out.Split(Environment.NewLine, StringSplitOptions.RemoveEmptyEntries).Select(line => line.Split(',')[0]));
    }

    [Theory]
    [InlineData("sat.set")]
    [InlineData("sat.txt")]
    public void Check_SetListWithoutProblems_SaysSo(string list)
    {
        _program.Write("quay.toml", Chart);
        _program.Write(list, "quay.toml\nquay.toml\n");

        var ran = _program.Run("check", list);

        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        Assert.EndsWith($"{list}: ok, 2 songs{Environment.NewLine}", ran.Out, StringComparison.Ordinal);
    }

    [Fact]
    public void Check_EmptySetList_IsAProblem()
    {
        _program.Write("sat.set", "# nothing yet\n");
        var ran = _program.Run("check", "sat.set");
        Assert.Equal((2, $"sat.set: the list names no chart; write one chart on each line{Environment.NewLine}"), (ran.ExitCode, ran.Error));
    }

    [Theory]
    [InlineData("show", "sat.set")]
    [InlineData("show", "sat.txt")]
    [InlineData("inspect", "sat.set")]
    [InlineData("render", "sat.set", "-o", "a.wav")]
    [InlineData("export", "sat.set", "-o", "a.mid")]
    public void Run_SetListForOneChart_IsRefusedWithWhatToDo(params string[] arguments)
    {
        _program.Write("quay.toml", Chart);
        _program.Write(arguments[1], "quay.toml\nquay.toml\n");

        var ran = _program.Run(arguments);

        var name = arguments[1];
        Assert.Equal(
            (2, $"groovelab: {name} is a set list, not a chart; name one of its charts, or write groovelab check {name}, or groovelab play {name}{Environment.NewLine}"),
            (ran.ExitCode, ran.Error));
    }

    // A chart may be kept in a text file.
    [Theory]
    [InlineData("check")]
    [InlineData("show")]
    public void Run_ChartInATextFile_IsTheChart(string command)
    {
        _program.Write("quay.txt", Chart);
        Assert.Equal(0, _program.Run(command, "quay.txt").ExitCode);
    }

    [Fact]
    public void Presets_InTheProgram_AreThoseOfTheFolder() =>
        Assert.Equal(Running.Presets.Select(Path.GetFileNameWithoutExtension).Order(StringComparer.Ordinal), PresetCharts.Names);

    [Fact]
    public void Preset_FileOfThatName_IsTheFile()
    {
        _program.Write("five-eight-2-3", Chart);
        Assert.Contains("7/8", _program.Run("check", "five-eight-2-3").Out, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("render")]
    [InlineData("play")]
    [InlineData("completions")]
    public void Help_OfACommand_IsThatOfItsOption(string command)
    {
        var help = _program.Run("help", command);
        Assert.Equal((0, _program.Run(command, "--help").Out), (help.ExitCode, help.Out));
    }

    [Fact]
    public void Help_Alone_IsThatOfTheProgram() => Assert.Equal(_program.Run("--help").Out, _program.Run("help").Out);

    [Theory]
    [InlineData("show - --bars 2", "show a.toml --bars 2")]
    [InlineData("show --json -", "show --json a.toml")]
    [InlineData("inspect - --bars-only", "inspect a.toml --bars-only")]
    [InlineData("export - -o -", "export a.toml -o -")]
    [InlineData("render - -o - --bars 1", "render a.toml -o - --bars 1")]
    public void Run_StandardInput_IsReadAsTheFile(string piped, string named)
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "The shell of the tests is not there.");
        _program.Write("a.toml", Chart);
        var read = _program.Shell($"\"$0\" \"$1\" {piped} < a.toml > piped");
        Assert.Equal(_program.Shell($"\"$0\" \"$1\" {named} > named").ExitCode, read.ExitCode);
        Assert.Equal(File.ReadAllBytes(_program.Path("named")), File.ReadAllBytes(_program.Path("piped")));
        Assert.NotEqual(0, new FileInfo(_program.Path("piped")).Length);
    }

    [Fact]
    public void Check_StandardInputWithAProblem_NamesIt()
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "The shell of the tests is not there.");
        _program.Write("a.toml", Chart.Replace("D dorian", "H dorian", StringComparison.Ordinal));
        var ran = _program.Shell("\"$0\" \"$1\" check - < a.toml");
        Assert.Equal(2, ran.ExitCode);
        Assert.StartsWith("standard input:3:", ran.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void Render_MidiFileThroughPipes_IsThatOfTheFile()
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "The shell of the tests is not there.");
        _program.Write("a.toml", Chart);
        var ran = _program.Shell(
            "\"$0\" \"$1\" export - -o - < a.toml | \"$0\" \"$1\" render - -o - > piped.wav && \"$0\" \"$1\" export a.toml -o a.mid && \"$0\" \"$1\" render a.mid -o a.wav");
        Assert.True(ran.ExitCode == 0, ran.Error);
        Assert.Equal(File.ReadAllBytes(_program.Path("a.wav")), File.ReadAllBytes(_program.Path("piped.wav")));
    }

    [Theory]
    [InlineData("render a.toml -o -")]
    [InlineData("export a.toml -o -")]
    [InlineData("render a.toml -o /dev/stdout --format opus")]
    public void Output_ToATerminal_IsRefused(string command)
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "The tool that makes a terminal is Linux's.");
        References.RequireTool("script");
        _program.Write("a.toml", Chart);
        var ran = _program.Shell($"script -qefc \"$0 $1 {command}\" /dev/null");
        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("the terminal cannot show such a file", ran.Out, StringComparison.Ordinal);
        Assert.InRange(ran.Out.Length, 0, 200);
    }

    [Theory]
    [InlineData("out.wav", "wav24", "RIFF")]
    [InlineData("out.flac", null, "fLaC")]
    [InlineData("out.FLAC", "flac24", "fLaC")]
    [InlineData("out.opus", null, "OggS")]
    public void Render_FormatByNameOrWord_IsWrittenWithItsStems(string file, string? format, string sign)
    {
        _program.Write("a.toml", Chart);
        string[] word = format is null ? [] : ["--format", format];
        var ran = _program.Run(["render", "a.toml", "-o", file, "--bars", "1", "--stems", "parts", .. word]);
        Assert.True(ran.ExitCode == 0, ran.Error);
        var ending = Path.GetExtension(file).ToLowerInvariant();
        string[] files = [file, "parts/mandolin" + ending, "parts/cello" + ending];
        Assert.All(files, one => Assert.Equal(sign, System.Text.Encoding.ASCII.GetString(File.ReadAllBytes(_program.Path(one)), 0, 4)));
        Assert.All(Directory.GetFiles(_program.Path("parts")), one => Assert.EndsWith(ending, one, StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("wav", "flac")]
    [InlineData("wav24", "flac24")]
    public void Render_Flac_HasTheSamplesOfTheWavFileInAFileAndThroughAPipe(string wave, string flac)
    {
        References.RequireTool("flac");
        _program.Write("a.toml", Chart);
        var ran = _program.Shell(
            $"\"$0\" \"$1\" render a.toml -o a.wav --format {wave} --bars 2 && \"$0\" \"$1\" render a.toml -o a.flac --format {flac} --bars 2 "
            + $"&& \"$0\" \"$1\" render a.toml -o - --format {flac} --bars 2 > pipe && flac -s -w -d -o b.wav a.flac && flac -s -d -o c.wav pipe");
        Assert.True(ran.ExitCode == 0, ran.Error);
        var samples = WaveFile.Read(_program.Path("a.wav")).Samples;
        Assert.Contains(samples, sample => MathF.Abs(sample) > 0.05f);
        Assert.Equal(samples, WaveFile.Read(_program.Path("b.wav")).Samples);
        Assert.Equal(samples, WaveFile.Read(_program.Path("c.wav")).Samples);
    }

    [Fact]
    public void Render_Opus_IsAsLongAsTheWavFileAndHasItsTitle()
    {
        References.RequireTool("opusdec");
        _program.Write("a.toml", Chart);
        var ran = _program.Shell(
            "\"$0\" \"$1\" render a.toml -o a.wav --bars 2 && \"$0\" \"$1\" render a.toml -o a.opus --bars 2 && opusdec --quiet --rate 48000 a.opus b.wav && opusinfo a.opus");
        Assert.True(ran.ExitCode == 0, ran.Error);
        Assert.Equal(WaveFile.Read(_program.Path("a.wav")).Frames, WaveFile.Read(_program.Path("b.wav")).Frames);
        Assert.Contains("TITLE=Quay\n", ran.Out, StringComparison.Ordinal);
        Assert.Contains("DESCRIPTION=D dorian, 7/8 2+2+3, ", ran.Out, StringComparison.Ordinal);
        Assert.DoesNotContain("WARNING", ran.Out + ran.Error, StringComparison.OrdinalIgnoreCase);
    }

    [Theory]
    [InlineData("-o out.mp3: the file name must end in .wav, .flac or .opus", "out.mp3")]
    [InlineData("-o out: the file name must end in .wav, .flac or .opus", "out")]
    [InlineData("-o out.wav: the file name must end in .flac", "out.wav", "--format", "flac")]
    [InlineData("--format must be flac, flac24, opus, wav or wav24, not 'flak'; did you mean flac?", "out.flac", "--format", "flak")]
    public void Render_WrongFormat_NamesThePossibleOnes(string said, params string[] output)
    {
        _program.Write("a.toml", Chart);
        var ran = _program.Run(["render", "a.toml", "-o", .. output]);
        Assert.Equal((2, "groovelab: " + said), (ran.ExitCode, ran.Error.Split('\n')[0].TrimEnd()));
    }

    [Theory]
    [InlineData("tempo 80%", "--tempo", "80%")]
    [InlineData("tempo 120", "--tempo", "120")]
    [InlineData("tempo by -4", "--tempo", "by -4")]
    [InlineData("tempo bar = 45", "--tempo", "bar = 45")]
    [InlineData("key E dorian tempo 80%", "--key", "E dorian", "--tempo", "80%")]
    [InlineData("up -2 feel bar", "--up", "-2", "--feel", "bar")]
    public void Run_WordsOfTheScreen_AreThoseOptions(string words, params string[] options)
    {
        _program.Write("a.toml", Chart);
        var shown = _program.Run(["show", "a.toml", "--json", .. words.Split(' ')]);
        Assert.Equal(0, shown.ExitCode);
        Assert.Equal(_program.Run(["show", "a.toml", "--json", .. options]).Out, shown.Out);
        Assert.NotEqual(_program.Run("show", "a.toml", "--json").Out, shown.Out);
    }

    [Theory]
    [InlineData("tempo 80%", "4/5")]
    [InlineData("tempo learner", "3/4")]
    public void Tempo_OnTheScreen_IsAShareOfTheChartsTempo(string words, string speed)
    {
        var read = ChartReader.ReadText(Chart.Replace("meter =", "learner-tempo = \"bar = 30\"\nmeter =", StringComparison.Ordinal), "a.toml").Chart!;
        var state = PerformanceState.Opening(read, InstrumentFile.BuiltIn);
        foreach (var change in new[] { "tempo 120", words })
        {
            state = ((StateChange)ChangeWords.Read(change, state)).ApplyTo(state, new PerformancePlace(0, 0, 1)).State;
        }

        Assert.Equal(speed, state.Speed.ToString());
        Assert.Equal(words, ChangeWords.Read(words, state).Words);
    }

    [Theory]
    [InlineData(3)]
    [InlineData(6)]
    public void StartOptions_Bars_EndTheRouteThere(int bars)
    {
        var read = ChartReader.ReadText(Chart, "a.toml").Chart!;
        var start = StartOptions.None.With($"bars {bars}");
        Assert.Equal([$"bars {bars}"], start.Words);

        // The last chord rings for one bar more.
        Assert.Equal(bars + 1, new PerformanceRoute(start.Opening(read, InstrumentFile.BuiltIn), 0).Source.End);
        Assert.Null(new PerformanceRoute(StartOptions.None.Opening(read, InstrumentFile.BuiltIn), 0).Source.End);
    }

    [Fact]
    public void Run_Learner_IsTheTempoForLearners()
    {
        _program.Write("a.toml", Chart.Replace("meter =", "learner-tempo = \"bar = 30\"\nmeter =", StringComparison.Ordinal));
        Assert.Equal(_program.Run("show", "a.toml", "--tempo", "bar = 30").Out, _program.Run("show", "a.toml", "learner").Out);
    }

    // Felt beats, as on the screen: here the bar is felt.
    [Fact]
    public void Tempo_PlainNumber_CountsFeltBeats()
    {
        _program.Write("a.toml", Chart);
        var felt = _program.Run("show", "a.toml", "--json", "--feel", "bar", "--tempo", "45").Out;
        Assert.Equal(_program.Run("show", "a.toml", "--json", "--feel", "bar", "--tempo", "bar = 45").Out, felt);
    }

    [Theory]
    [InlineData("render", "", "rend")]
    [InlineData("help", "", "he")]
    [InlineData("five-four-swing", "", "five-four-s")]
    [InlineData("bar-group", "show a.toml --feel", "bar-")]
    [InlineData("--feel=bar-group", "show a.toml", "--feel=bar-")]
    [InlineData("bar-group", "show a.toml feel", "bar-")]
    [InlineData("learner", "play --tempo", "l")]
    [InlineData("tempo", "play a.toml", "tem")]
    [InlineData("tempo", "a.toml", "tem")]
    [InlineData("key", "show a.toml", "k")]
    [InlineData("up", "show a.toml key E", "u")]
    [InlineData("learner", "show a.toml", "l")]
    [InlineData("learner", "show a.toml tempo", "l")]
    [InlineData("Ebm", "show a.toml key", "Ebm")]
    [InlineData("--stems", "render a.toml", "--st")]
    [InlineData("pulse,bouzouki", "render --only", "pulse,bou")]
    [InlineData("powershell", "completions", "p")]
    [InlineData("flac24", "render a.toml --format", "flac2")]
    public void Complete_BeginningOfAWord_GivesIt(string expected, string before, string typed) =>
        Assert.Equal([expected], Completed(before, typed).Where(word => word.Value.Length > 0).Select(word => word.Value));

    [Theory]
    [InlineData("", "", ".toml .set .txt")]
    [InlineData("play", "so", ".toml .set .txt")]
    [InlineData("render", "", ".toml .mid .midi")]
    [InlineData("render a.toml -o", "", ".wav .flac .opus")]
    [InlineData("inspect --bank", "", ".sf2 .sf3")]
    [InlineData("check a.toml", "", ".toml .set .txt")]
    public void Complete_File_GivesItsEndings(string before, string typed, string endings) =>
        Assert.Equal([endings], Completed(before, typed).Where(word => word.Value.Length == 0).Select(word => word.Help));

    [Theory]
    [InlineData("show a.toml tempo 80%", "tem")]
    [InlineData("show a.toml learner", "tem")]
    [InlineData("show a.toml --tempo 80%", "tem")]
    [InlineData("show", "tem")]
    [InlineData("check a.toml", "tem")]
    public void Complete_WordThatCannotStandThere_IsNotOffered(string before, string typed) =>
        Assert.DoesNotContain("tempo", Completed(before, typed).Select(word => word.Value));

    [Theory]
    [InlineData("key E up 2", "key and up both transpose the chart; use only one of them")]
    [InlineData("--key E up 2", "--key and up both transpose the chart; use only one of them")]
    [InlineData("--key E --up 2", "--key and --up both transpose the chart; use only one of them")]
    [InlineData("key H", "key: 'H'")]
    [InlineData("up x", "up must be a whole number from -24 to 24, a tone or a semitone, not 'x'")]
    [InlineData("up 2 --upward", "unknown option --upward for show")]
    [InlineData("tempo --tempo=x", "--tempo: 'x' is not a tempo")]
    [InlineData("up", "up needs a value: up N")]
    [InlineData("learner", "learner: the chart has no learner-tempo")]
    [InlineData("tempo foo", "tempo: 'foo' is not a tempo")]
    public void Run_WrongWords_AreNamedAsTyped(string words, string says)
    {
        _program.Write("a.toml", Chart);
        Assert.StartsWith("groovelab: " + says, _program.Run(["show", "a.toml", .. words.Split(' ')]).Error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("up a tone", "E dorian")]
    [InlineData("up a semitone", "Eb dorian")]
    [InlineData("up -2", "C dorian")]
    public void Run_UpInWords_Transposes(string words, string key)
    {
        _program.Write("a.toml", Chart.Replace("key = \"D\"", "key = \"D dorian\"", StringComparison.Ordinal));
        var ran = _program.Run(["show", "a.toml", "--json", "--bars", "1", .. words.Split(' ')]);
        Assert.Contains($"\"key\": \"{key}\"", ran.Out, StringComparison.Ordinal);
        Assert.Equal(ran.Out, _program.Run("show", "a.toml", "--json", "--bars", "1", "--up", words["up ".Length..]).Out);
    }

    [Theory]
    [InlineData("export")]
    [InlineData("render")]
    public void Run_ToStandardOutput_SaysSo(string command)
    {
        _program.Write("a.toml", Chart);
        var ran = _program.Run(command, "a.toml", "--bars", "1", "-o", "-");
        Assert.StartsWith("standard output: 0:", ran.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void Complete_PartsOfAChart_AreItsOwn()
    {
        var chart = _program.Write("a.toml", Chart);
        Assert.Equal(["mandolin", "pulse", "cello", "bass"], Completion.Of(["render", chart, "--only", ""]).Select(word => word.Value));
    }

    [Fact]
    public void Complete_OptionThatIsGiven_IsNotOfferedAgain()
    {
        var words = Completed("show a.toml --json", "--").Select(word => word.Value).ToList();
        Assert.Contains("--bars", words);
        Assert.DoesNotContain("--json", words);
    }

    [Fact]
    public void Complete_EveryOption_SaysWhatItDoes() =>
        Assert.All(Completed("render a.toml", "--"), word => Assert.NotEqual(string.Empty, word.Help));

    [Theory]
    [InlineData("bash", "source <(groovelab completions bash)")]
    [InlineData("zsh", "source <(groovelab completions zsh)")]
    [InlineData("fish", "groovelab completions fish | source")]
    [InlineData("powershell", "groovelab completions powershell | Out-String | Invoke-Expression")]
    public void Completions_EveryShell_SayHowToLoadThem(string shell, string load)
    {
        var ran = _program.Run("completions", shell);
        Assert.Equal(0, ran.ExitCode);
        Assert.Contains(load, string.Concat(ran.Out.Split('\n').Take(3)), StringComparison.Ordinal);
    }

    private static IReadOnlyList<CompletedWord> Completed(string before, string typed) =>
        Completion.Of([.. before.Split(' ', StringSplitOptions.RemoveEmptyEntries), typed]);
}
