using GrooveLab.Audio.BuiltInSounds;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>What the commands say of a bank's file.</summary>
public sealed class BankCommandTests : IDisposable
{
    private const string RealBank = "/usr/share/sounds/sf3/FluidR3Mono_GM.sf3";
    private readonly Running _program = new();

    public void Dispose() => _program.Dispose();

    [Fact]
    public void Banks_LinkToNothing_NamesItsTarget()
    {
        File.CreateSymbolicLink(_program.Path("default.sf2"), "not-installed.sf2");

        var ran = _program.Run("banks", _program.Path("default.sf2"));

        Assert.Equal(2, ran.ExitCode);
        Assert.Equal("groovelab: default.sf2: it is a link to not-installed.sf2, which does not exist\n", ran.Error);
    }

    [Fact]
    public void Render_AttenuationWithoutABank_IsRefused()
    {
        var ran = _program.Run("render", "song.toml", "-o", _program.Path("song.wav"), "--attenuation", "1");

        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("--attenuation needs --bank", ran.Error, StringComparison.Ordinal);
    }

    private const string Chart = """
        format = 1
        title = "Small"
        key = "D dorian"
        tempo = "bar = 60"
        meter = "5/8 3+2"
        [[part]]
        role = "pulse"
        instrument = "bouzouki"
        [[part]]
        role = "tune"
        instrument = "concertina"
        [[part]]
        role = "count"
        [[section]]
        name = "a"
        chords = "| Dm | G |"
        [section.tune]
        notes = "| D5:3 A4:2 | G4:5 |"
        """;

    [Fact]
    public void Render_ChartAndBankWithoutPitchedSounds_PlaysTheBuiltInOnesAndSaysSo()
    {
        File.WriteAllBytes(_program.Path("kit.sf2"), ChangedBank.WithNumbers((bank, program) => bank == 128 ? (bank, program) : (128, program + 1)));
        _program.Write("a.toml", Chart);

        var ran = _program.Run("render", "a.toml", "-o", "a.wav", "--bank", "kit.sf2", "--only", "tune", "--no-count-in", "--dry");

        Assert.Equal(0, ran.ExitCode);
        Assert.Equal("groovelab: concertina: kit.sf2 has no pitched sounds; played by the built-in concertina\n", ran.Error);
        Assert.Equal(0, _program.Run("render", "a.toml", "-o", "b.wav", "--only", "tune", "--no-count-in", "--dry").ExitCode);
        Assert.Equal(File.ReadAllBytes(_program.Path("b.wav")), File.ReadAllBytes(_program.Path("a.wav")));
    }

    [Fact]
    public void Inspect_ChartAndBankWithoutAKit_SaysThatTheBuiltInOnePlays()
    {
        File.WriteAllBytes(_program.Path("no-kit.sf2"), ChangedBank.WithNumbers((bank, program) => bank == 128 ? (0, 99) : (bank, program)));
        _program.Write("a.toml", Chart);

        var ran = _program.Run("inspect", "a.toml", "--bank", "no-kit.sf2");

        Assert.Equal("groovelab: clicks: no-kit.sf2 has no drum kit; played by the built-in clicks\n", ran.Error);
    }

    [Fact]
    public void Play_ChartAndBankWithoutBankZero_NamesTheSoundsThatPlay()
    {
        File.WriteAllBytes(_program.Path("eight.sf2"), ChangedBank.WithNumbers((bank, program) => bank == 0 ? (8, program) : (bank, program)));
        _program.Write("a.toml", Chart);

        var ran = _program.Run("play", "a.toml", "--bank", "eight.sf2", "--bars", "1");

        Assert.Matches("(?m)^groovelab: concertina: preset 0:[0-9]+ not found in eight.sf2: played by .+ \\(8:[0-9]+\\)$", ran.Error);
    }

    [Fact]
    public void Render_MidiAndBankWithoutPitchedSounds_PlaysTheBuiltInOnesAndSaysSo()
    {
        File.WriteAllBytes(_program.Path("kit.sf2"), ChangedBank.WithNumbers((bank, program) => bank == 128 ? (bank, program) : (128, program + 1)));
        File.WriteAllBytes(_program.Path("a.mid"), Convert.FromHexString("4D546864000000060000000100604D54726B00000011" + "00C000" + "00903C64" + "60803C00" + "00FF2F00" + "0000"));

        var ran = _program.Run("render", "a.mid", "-o", "a.wav", "--bank", "kit.sf2", "--dry");

        Assert.Equal(0, ran.ExitCode);
        Assert.Contains("kit.sf2 has no pitched sounds; played by the built-in sounds\n", ran.Error, StringComparison.Ordinal);
        Assert.Equal(0, _program.Run("render", "a.mid", "-o", "b.wav", "--dry").ExitCode);
        Assert.Equal(File.ReadAllBytes(_program.Path("b.wav")), File.ReadAllBytes(_program.Path("a.wav")));
    }

    [Fact]
    public void Render_BankWithoutTheNotesOfAPart_SaysThatItIsSilent()
    {
        File.WriteAllBytes(_program.Path("low.sf2"), ChangedBank.WithKeys(0, 20));
        _program.Write("a.toml", Chart);

        var ran = _program.Run("render", "a.toml", "-o", "a.wav", "--bank", "low.sf2", "--only", "tune", "--no-count-in");

        Assert.Contains("has no sound for the notes of the concertina; the part is silent\n", ran.Error, StringComparison.Ordinal);
    }

    // Escape, bell, and the one-byte form of the sequence that starts a terminal command (ECMA-48, CSI).
    [Fact]
    public void Banks_NamesWithControlCharacters_AreListedWithoutThem()
    {
        File.WriteAllBytes(_program.Path("names.sf2"), ChangedBank.WithPresetName([0x1B, (byte)'[', (byte)'3', (byte)'1', (byte)'m', 7, 0x9B, (byte)'A']));
        _program.Write("a.toml", Chart);

        var listed = _program.Run("banks", "names.sf2");
        var rendered = _program.Run("render", "a.toml", "-o", "a.wav", "--bank", "names.sf2");

        Assert.Equal((0, 0), (listed.ExitCode, rendered.ExitCode));
        Assert.Contains("?[31m?", listed.Out, StringComparison.Ordinal);
        Assert.DoesNotContain(listed.Out + rendered.Error, letter => char.IsControl(letter) && letter is not ('\n' or '\t'));
    }

    [Fact]
    public void Render_MidiWithoutNotes_SaysSo()
    {
        File.WriteAllBytes(_program.Path("a.mid"), Convert.FromHexString("4D546864000000060000000100604D54726B00000008" + "00B00764" + "60FF2F00"));

        var ran = _program.Run("render", "a.mid", "-o", "a.wav");

        Assert.Equal(0, ran.ExitCode);
        Assert.Equal($"groovelab: a.mid: the file has no notes\ngroovelab: {_program.Path("a.wav")} is silent: nothing sounds in it\n", ran.Error.Replace("groovelab: a.wav", $"groovelab: {_program.Path("a.wav")}", StringComparison.Ordinal));
    }

    [Fact]
    public void Render_BankWithoutTheNotes_SaysThatTheFileIsSilent()
    {
        File.WriteAllBytes(_program.Path("low.sf2"), ChangedBank.WithKeys(0, 20));
        _program.Write("a.toml", Chart);

        var ran = _program.Run("render", "a.toml", "-o", "a.wav", "--bank", "low.sf2", "--only", "tune", "--no-count-in");

        Assert.Equal(0, ran.ExitCode);
        Assert.EndsWith("a.wav is silent: nothing sounds in it\n", ran.Error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("bank.sf2", "render", "a.toml", "-o", "link.wav", "--bank", "bank.sf2", "--force")]
    [InlineData("bank.sf2", "render", "a.toml", "-o", "other.wav", "--bank", "bank.sf2", "--stems", ".", "--force")]
    [InlineData("a.mid", "render", "a.mid", "-o", "midi.wav", "--force")]
    [InlineData("a.toml", "export", "a.toml", "-o", "link.mid", "--force")]
    [InlineData("a.abc", "import", "a.abc", "-o", "link.toml", "--force")]
    [InlineData("bank.sf2", "demo", "-o", "link.wav", "--bank", "bank.sf2", "--force")]
    public void Run_OutputIsALinkToAFileThatIsRead_IsRefusedAndTheFileStays(string read, params string[] arguments)
    {
        File.WriteAllBytes(_program.Path("bank.sf2"), BuiltInBank.Create());
        File.WriteAllBytes(_program.Path("a.mid"), Convert.FromHexString("4D546864000000060000000100604D54726B0000000C" + "00903C6460803C00" + "00FF2F00"));
        _program.Write("a.toml", Chart);
        _program.Write("a.abc", "X:1\nM:4/4\nL:1/4\nK:C\nCDEF|\n");
        foreach (var (link, target) in new[]
        {
            ("link.wav", "bank.sf2"), ("bouzouki.wav", "bank.sf2"), ("midi.wav", "a.mid"), ("link.mid", "a.toml"), ("link.toml", "a.abc"),
        })
        {
            File.CreateSymbolicLink(_program.Path(link), target);
        }

        var before = File.ReadAllBytes(_program.Path(read));

        var ran = _program.Run(arguments);

        Assert.Equal(2, ran.ExitCode);
        Assert.Contains($"is the file {read} that is being read; choose another name", ran.Error, StringComparison.Ordinal);
        Assert.Equal(before, File.ReadAllBytes(_program.Path(read)));
    }

    // Debian's fluidr3mono-gm-soundfont, as it is shipped.
    [Fact]
    public void Banks_FileWithoutPadding_WarnsAndLists()
    {
        References.Require(File.Exists(RealBank), $"{RealBank} is not installed");

        var ran = _program.Run("banks", RealBank);

        Assert.Equal(0, ran.ExitCode);
        Assert.Equal("groovelab: FluidR3Mono_GM.sf3: The LIST chunk at byte 2292 has no padding byte.\n", ran.Error);
        Assert.Contains("Yamaha Grand Piano", ran.Out);
    }

    [Fact]
    public void Render_BankWithoutPadding_IsNotToldEachTime()
    {
        References.Require(File.Exists(RealBank), $"{RealBank} is not installed");
        File.WriteAllBytes(_program.Path("a.mid"), Convert.FromHexString("4D546864000000060000000100604D54726B0000000C" + "00903C6460803C00" + "00FF2F00"));

        var ran = _program.Run("render", "a.mid", "-o", "a.wav", "--bank", RealBank);

        Assert.Equal((0, ""), (ran.ExitCode, ran.Error));
    }

    [Fact]
    public void Banks_Pipe_IsRefusedAtOnceWithTheReason()
    {
        var ran = _program.Shell("mkfifo bank.sf2 && \"$0\" \"$1\" banks bank.sf2");

        Assert.Equal(2, ran.ExitCode);
        Assert.Equal("groovelab: bank.sf2: it is a pipe or a device; a bank must be a file, because its sounds are read as they are needed\n", ran.Error);
    }

    // The parts of 1,000 minutes do not fit into WAV files.
    [Fact]
    public void Render_PartsThatCannotBeWritten_LeaveNoEmptyFolder()
    {
        _program.Write("a.toml", Chart.Replace("bar = 60", "bar = 1", StringComparison.Ordinal));

        var ran = _program.Run("render", "a.toml", "-o", "a.wav", "--stems", "parts", "--bars", "1000");

        Assert.NotEqual(0, ran.ExitCode);
        Assert.False(Directory.Exists(_program.Path("parts")), ran.Error);
    }

    [Fact]
    public void Render_ManySoundsThatTheBankLacks_AreToldInOneLine()
    {
        File.WriteAllBytes(_program.Path("one.sf2"), ChangedBank.WithNumbers((bank, program) => bank == 128 ? (bank, program) : (0, 0)));
        var programs = string.Concat(Enumerable.Range(0, 20).Select(i => $"00C0{i + 1:X2}00903C6410803C00"));
        File.WriteAllBytes(_program.Path("a.mid"), Convert.FromHexString("4D546864000000060000000100604D54726B" + $"{(20 * 11) + 4:X8}" + programs + "00FF2F00"));

        var ran = _program.Run("render", "a.mid", "-o", "a.wav", "--bank", "one.sf2");

        Assert.Equal(0, ran.ExitCode);
        Assert.Matches("^groovelab: presets 0:1, 0:2, 0:3, 0:4, 0:5, 0:6, 0:7, 0:8 and 12 more not found in one.sf2: played by [^\n]+\n$", ran.Error);
    }
}
