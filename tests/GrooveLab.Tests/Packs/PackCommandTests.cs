using Xunit;

namespace GrooveLab.Tests.Packs;

/// <summary><c>pack</c> and <c>export</c> as their user runs them.</summary>
public sealed class PackCommandTests : IDisposable
{
    private const string Chart = """
        format = 2
        title = "Two Lamps"
        key = "D dorian"
        tempo = "bar = 120"
        meter = "5/8 3+2"
        [[part]]
        role = "pulse"
        instrument = "bouzouki"
        [[part]]
        role = "bass"
        instrument = "plucked bass"
        [[section]]
        name = "all"
        chords = "| Dm | G |"
        """;

    private readonly Running _program = new();

    public void Dispose() => _program.Dispose();

    [Fact]
    public void Pack_Chart_SaysWhatItMade()
    {
        _program.Write("a.toml", Chart);
        var ran = _program.Run("pack", "a.toml", "-o", "out", "--tempi", "100", "--sound", "wav", "--zip");
        Assert.Equal(0, ran.ExitCode);
        Assert.EndsWith($"1 sound file{Environment.NewLine}", ran.Error.Replace("3 sound files", "1 sound file", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Contains("0 up to date, 0 removed; open ", ran.Out, StringComparison.Ordinal);
        Assert.True(File.Exists(_program.Path("out.zip")));

        ran = _program.Run("pack", "a.toml", "-o", "out", "--tempi", "100", "--sound", "wav", "--zip");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        Assert.Contains(": 0 made, ", ran.Out, StringComparison.Ordinal);
    }

    [Fact]
    public void Pack_SeveralProblems_AreAllNamedAndNothingIsMade()
    {
        _program.Write("a.toml", Chart.Replace("bar = 120", "bar = 0", StringComparison.Ordinal));
        Directory.CreateDirectory(_program.Path("out"));
        File.WriteAllText(_program.Path("out/mine.txt"), "mine");

        var ran = _program.Run("pack", "a.toml", "b.toml", "-o", "out", "--tempi", "fast", "--singer", "Mara");

        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("contains other files", ran.Error, StringComparison.Ordinal);
        Assert.Contains("a.toml:4:", ran.Error, StringComparison.Ordinal);
        Assert.Contains("b.toml: file not found", ran.Error, StringComparison.Ordinal);
        Assert.Contains("--tempi: 'fast'", ran.Error, StringComparison.Ordinal);
        Assert.Contains("--singer Mara", ran.Error, StringComparison.Ordinal);
        Assert.Equal(["mine.txt"], Directory.GetFileSystemEntries(_program.Path("out")).Select(Path.GetFileName));
    }

    [Fact]
    public void Pack_ForeignFileInTheWay_IsNamedAndUntouched()
    {
        _program.Write("a.toml", Chart);
        Assert.Equal(0, _program.Run("pack", "a.toml", "-o", "out", "--tempi", "100", "--sound", "wav").ExitCode);
        Directory.CreateDirectory(_program.Path("out/50 percent"));
        File.WriteAllText(_program.Path("out/50 percent/Two Lamps, 50 percent.wav"), "mine");
        File.WriteAllText(_program.Path("out.zip"), "mine too");

        var ran = _program.Run("pack", "a.toml", "-o", "out", "--tempi", "50,100", "--sound", "wav", "--zip");

        Assert.Equal(2, ran.ExitCode);
        Assert.Contains("Two Lamps, 50 percent.wav was not made here", ran.Error, StringComparison.Ordinal);
        Assert.Contains("out.zip was not made here", ran.Error, StringComparison.Ordinal);
        Assert.Equal("mine", File.ReadAllText(_program.Path("out/50 percent/Two Lamps, 50 percent.wav")));
        Assert.Equal("mine too", File.ReadAllText(_program.Path("out.zip")));
    }

    [Fact]
    public void Export_Sound_IsWhatRenderWrites()
    {
        _program.Write("a.toml", Chart);
        Assert.Equal(0, _program.Run("render", "a.toml", "-o", "rendered.wav", "--without", "bass").ExitCode);
        Assert.Equal(0, _program.Run("render", "a.toml", "-o", "bass.flac", "--only", "bass").ExitCode);

        var ran = _program.Run("export", "a.toml", "-o", "exported.wav", "--without", "bass", "--stems", "parts");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        Assert.Equal(0, _program.Run("export", "a.toml", "-o", "part.flac", "--part", "bass").ExitCode);

        Assert.Equal(File.ReadAllBytes(_program.Path("rendered.wav")), File.ReadAllBytes(_program.Path("exported.wav")));
        Assert.Equal(File.ReadAllBytes(_program.Path("bass.flac")), File.ReadAllBytes(_program.Path("part.flac")));
        Assert.Contains("bouzouki.wav", Directory.GetFiles(_program.Path("parts")).Select(Path.GetFileName));
    }

    [Theory]
    [InlineData("2 problems:", "--exact is for MIDI files", "--key: 'H'", "a.wav", "--exact", "--key", "H")]
    [InlineData("3 problems:", "--stems does not fit a MIDI file", "--bank does not fit a MIDI file", "a.mid", "--stems", "x", "--bank", "built-in", "--part", "bass")]
    [InlineData("2 problems:", "must end in .mid", "No part called 'tuba'", "a.xyz", "--part", "tuba")]
    [InlineData("--part and --without both choose the parts", "use only one", "", "a.wav", "--part", "bass", "--without", "pulse")]
    public void Export_OptionsThatDoNotFit_AreAllNamed(string first, string second, string third, string output, params string[] options)
    {
        _program.Write("a.toml", Chart);
        var ran = _program.Run(["export", "a.toml", "-o", output, .. options]);
        Assert.Equal(2, ran.ExitCode);
        Assert.Contains(first, ran.Error, StringComparison.Ordinal);
        Assert.Contains(second, ran.Error, StringComparison.Ordinal);
        Assert.Contains(third, ran.Error, StringComparison.Ordinal);
        Assert.Equal(["a.toml"], Directory.GetFiles(_program.Folder).Select(Path.GetFileName));
    }
}
