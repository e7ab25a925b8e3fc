using GrooveLab.Commands;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;

using Xunit;

namespace GrooveLab.Tests;

/// <summary>The program is interrupted, runs out of disk, or replaces what a link names. Random moments are attacked by <c>.ci/interrupt</c>.</summary>
public sealed class InterruptTests : IDisposable
{
    private readonly Running _program = new();

    public void Dispose() => _program.Dispose();

    [Theory]
    [InlineData("INT", 2)]
    [InlineData("TERM", 15)]
    [InlineData("HUP", 1)]
    public void Render_SignalAfterSignal_EndsWhereItsWorkCannotStop(string signal, int number)
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "Needs bash and coreutils.");
        // Nobody reads on after the first byte, so the renderer waits in a write and cannot notice that it is cancelled; a slow one may still.
        var ran = _program.Shell(
            $$"""
            exec 3< <(exec env --default-signal={{signal}} "$0" "$1" render '{{Running.Presets[0]}}' -o /dev/stdout --bars 400 2> said)
            program=$!
            head -c 1 <&3 > first
            while kill -{{signal}} $program 2> /dev/null; do true; done
            wait $program
            echo $?
            """);

        Assert.Contains(ran.Out.Trim(), new[] { $"{128 + number}", "1" });
        Assert.Equal(1, new FileInfo(_program.Path("first")).Length);
    }

    [Theory]
    [InlineData("render", "a.wav")]
    [InlineData("export", "a.mid")]
    public void Force_ThroughALink_ReplacesTheFileThatItNames(string verb, string name)
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "Needs links.");
        Directory.CreateDirectory(_program.Path("kept"));
        _program.Write("kept/real", "old");
        File.CreateSymbolicLink(_program.Path(name), "kept/real");

        var ran = _program.Run(verb, Running.Presets[0], "-o", name, "--bars", "1", "--force");

        Assert.True(ran.ExitCode == 0, ran.Error);
        Assert.Equal("kept/real", new FileInfo(_program.Path(name)).LinkTarget);
        Assert.NotEqual("old", File.ReadAllText(_program.Path("kept/real")));
        Assert.Single(Directory.GetFileSystemEntries(_program.Path("kept")));
    }

    [Fact]
    public void Render_BeyondTheLimitOfFileSizes_NamesTheTargetAndLeavesNothing()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "Needs bash.");
        // The built-in bank may be larger than the limit.
        Assert.Equal(0, _program.Run("render", Running.Presets[0], "-o", "first.wav", "--bars", "1").ExitCode);
        Directory.CreateDirectory(_program.Path("out"));

        // Otherwise the limit would apply to the runtime's own memory.
        var ran = _program.Shell($"ulimit -f 64; export DOTNET_EnableWriteXorExecute=0; \"$0\" \"$1\" render '{Running.Presets[0]}' -o out/a.wav --bars 8");

        Assert.Equal(1, ran.ExitCode);
        Assert.StartsWith("groovelab: out/a.wav: the file is too large", ran.Error);
        Assert.Empty(Directory.GetFileSystemEntries(_program.Path("out")));
    }

    [Fact]
    public void Prepare_Stopped_EndsBeforeItsNextSound()
    {
        var bank = Banks.OpenSilently(null);
        TimedChannelEvent[] note = [new(0, new ChannelEvent(ChannelEventKind.NoteOn, 0, 60, 90))];
        MidiSounds.Prepare(bank, note, CancellationToken.None);

        Assert.Throws<OperationCanceledException>(() => MidiSounds.Prepare(bank, note, new CancellationToken(canceled: true)));
    }
}
