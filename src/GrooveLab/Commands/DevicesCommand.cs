using System.CommandLine;
using GrooveLab.Audio.Devices;
using GrooveLab.Inputs;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>devices</c>: lists the system's sound outputs.</summary>
internal static class DevicesCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("devices", "List the sound outputs.", "groovelab devices");
        command.SetAction(_ => Interrupts.Guard(() =>
        {
            try
            {
                var devices = AudioOutputs.List();
                if (devices.Count == 0)
                {
                    Console.Out.WriteLine("No sound output found. 'groovelab render' writes a WAV file instead.");
                    return ExitCodes.NoDevice;
                }

                Report.Table(
                    ["output", "description", string.Empty],
                    [.. devices.Select(device => new[] { device.Name, device.Description, device.IsDefault ? "default" : string.Empty })]);
                return ExitCodes.Ok;
            }
            catch (AudioDeviceException problem)
            {
                Console.Error.WriteLine("groovelab: " + problem.Message);
                return ExitCodes.NoDevice;
            }
        }));
        return command;
    }
}
