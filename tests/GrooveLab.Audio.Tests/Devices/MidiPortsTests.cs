using System.Runtime.Versioning;
using GrooveLab.Audio.Devices;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

public sealed class MidiPortsTests : IDisposable
{
    private static readonly MidiPort[] Ports =
    [
        new(1, "Harbour Keys", "/dev/snd/midiC1D0", Sends: true, Receives: true),
        new(2, "Lantern Box", "/dev/snd/midiC2D0", Sends: true, Receives: false),
        new(3, "Lantern Pads", "/dev/snd/midiC3D0", Sends: false, Receives: true),
    ];

    private readonly string _folder = Directory.CreateTempSubdirectory("groovelab-test-").FullName;

    public static bool IsLinux => OperatingSystem.IsLinux();

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData("2", true, 2)]
    [InlineData("keys", false, 1)]
    [InlineData("lantern", true, 2)]
    [InlineData("lantern", false, 3)]
    [InlineData("/dev/snd/midiC3D0", false, 3)]
    public void Find_NumberPartOfANameOrPath_FindsThePort(string named, bool sends, int number)
    {
        Assert.SkipUnless(IsLinux, "paths of devices are those of Linux");
        Assert.Equal(number, MidiPorts.Find(named, sends, Ports).Number);
    }

    [Theory]
    [InlineData("4", "no MIDI port to send to is called '4'; ports: 1 Harbour Keys, 2 Lantern Box")]
    [InlineData("pads", "no MIDI port to send to is called 'pads'; ports: 1 Harbour Keys, 2 Lantern Box")]
    [InlineData("a", "'a' names more than one MIDI port to send to; ports: 1 Harbour Keys, 2 Lantern Box")]
    public void Find_NoneOrSeveral_SaysWhichThereAre(string named, string said)
    {
        Assert.SkipUnless(IsLinux, "the ports are those of Linux");
        Assert.Equal(said, Assert.Throws<MidiPortException>(() => MidiPorts.Find(named, sends: true, Ports)).Message);
    }

    [Fact]
    public void RawPorts_FoldersOfASystem_AreNamedAndHaveTheirDirections()
    {
        // As the ALSA drivers describe a port in /proc/asound: from memory.
        var devices = Directory.CreateDirectory(Path.Combine(_folder, "snd")).FullName;
        var card = Directory.CreateDirectory(Path.Combine(_folder, "asound", "card1")).FullName;
        File.WriteAllText(Path.Combine(devices, "midiC1D0"), string.Empty);
        File.WriteAllText(Path.Combine(devices, "midiC2D0"), string.Empty);
        File.WriteAllText(Path.Combine(card, "midi0"), "Harbour Keys\n\nOutput 0\n  Tx bytes     : 0\n");

        var ports = MidiPorts.RawPorts(devices, Path.Combine(_folder, "asound"));

        Assert.Equal(
            [(1, "Harbour Keys", true, false), (2, "midiC2D0", true, true)], ports.Select(port => (port.Number, port.Name, port.Sends, port.Receives)));
    }

    [Fact]
    [SupportedOSPlatform("linux")]
    public void OpenOut_PseudoTerminal_PassesEveryByteUnchangedAndTellsThatItIsGone()
    {
        Assert.SkipUnless(IsLinux, "raw MIDI is on Linux only");
        using var terminal = new PseudoTerminal();
        using var port = RawMidi.OpenOut(terminal.Path);

        // 10 is a new line, to which a terminal would add a carriage return, and 3 and 4 would end a program or a stream.
        byte[] bytes = [0xB0, 10, 64, 0xB0, 3, 4, 0xF8];
        Assert.Equal(bytes.Length, port.Write(bytes));
        Assert.Equal(bytes, terminal.Read());

        terminal.Dispose();
        Assert.Contains(terminal.Path, Assert.Throws<IOException>(() => port.Write(bytes)).Message, StringComparison.Ordinal);
    }

    [Fact]
    [SupportedOSPlatform("linux")]
    public void OpenIn_PseudoTerminal_ReadsBytesAndTellsThatItIsGone()
    {
        Assert.SkipUnless(IsLinux, "raw MIDI is on Linux only");
        using var terminal = new PseudoTerminal();
        using var port = RawMidi.OpenIn(terminal.Path);
        var bytes = new byte[16];
        Assert.Equal(0, port.Read(bytes, TimeSpan.Zero));

        terminal.Write(0xFA, 0xF8, 13);
        Assert.Equal(3, port.Read(bytes, TimeSpan.FromSeconds(5)));
        Assert.Equal([0xFA, 0xF8, 13], bytes[..3]);

        terminal.Dispose();
        Assert.Throws<IOException>(() => port.Read(bytes, TimeSpan.FromSeconds(5)));
    }

    [Fact]
    [SupportedOSPlatform("linux")]
    public void Write_PseudoTerminalThatNobodyReads_TakesWhatFitsAndDoesNotWait()
    {
        Assert.SkipUnless(IsLinux, "raw MIDI is on Linux only");
        using var terminal = new PseudoTerminal();
        using var port = RawMidi.OpenOut(terminal.Path);
        var bytes = new byte[4096];
        var taken = 1;
        for (var i = 0; i < 1000 && taken > 0; i++)
        {
            taken = port.Write(bytes);
        }

        Assert.Equal(0, taken);
    }

    [Fact]
    [SupportedOSPlatform("linux")]
    public void OpenOut_FileOrNothing_SaysWhy()
    {
        Assert.SkipUnless(IsLinux, "raw MIDI is on Linux only");
        var file = Path.Combine(_folder, "song.mid");
        File.WriteAllText(file, "kept");
        Assert.Equal($"{file} is a file, not a MIDI port; 'groovelab devices' lists the ports", Assert.Throws<MidiPortException>(() => RawMidi.OpenOut(file)).Message);
        Assert.Equal("kept", File.ReadAllText(file));

        var nothing = Path.Combine(_folder, "nothing");
        Assert.Equal($"there is no MIDI port {nothing}; 'groovelab devices' lists them", Assert.Throws<MidiPortException>(() => RawMidi.OpenOut(nothing)).Message);
    }
}
