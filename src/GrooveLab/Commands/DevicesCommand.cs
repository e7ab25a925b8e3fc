using System.CommandLine;
using System.Globalization;
using GrooveLab.Audio.Devices;
using GrooveLab.Inputs;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>devices</c>: lists the system's sound outputs and MIDI ports.</summary>
internal static class DevicesCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("devices", "List the sound outputs and MIDI ports.", "groovelab devices");
        command.SetAction(_ => Interrupts.Guard(() =>
        {
            var ports = MidiPorts.List();
            try
            {
                var devices = AudioOutputs.List();
                if (devices.Count == 0)
                {
                    Console.Out.WriteLine("No sound output found. 'groovelab render' writes a WAV file instead.");
                    ShowPorts(ports);
                    return ExitCodes.NoDevice;
                }

                Report.Table(
                    ["output", "description", string.Empty],
                    [.. devices.Select(device => new[] { device.Name, device.Description, device.IsDefault ? "default" : string.Empty })]);
                ShowPorts(ports);
                return ExitCodes.Ok;
            }
            catch (AudioDeviceException problem)
            {
                ShowPorts(ports);
                Console.Error.WriteLine("groovelab: " + problem.Message);
                return ExitCodes.NoDevice;
            }
        }));
        return command;
    }

    private static void ShowPorts(IReadOnlyList<MidiPort> ports)
    {
        Console.Out.WriteLine();
        if (ports.Count == 0)
        {
            Console.Out.WriteLine(MidiPorts.Unsupported is { } why ? char.ToUpperInvariant(why[0]) + why[1..] + "." : "No MIDI port found.");
            return;
        }

        Report.Table(
            ["number", "MIDI port", "device", string.Empty],
            [.. ports.Select(port => new[]
            {
                port.Number.ToString(CultureInfo.InvariantCulture), port.Name, port.Path,
                port is { Sends: true, Receives: true } ? "in and out" : port.Sends ? "out" : "in",
            })]);
    }
}
