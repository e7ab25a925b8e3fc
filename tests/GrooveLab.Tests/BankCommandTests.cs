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
}
