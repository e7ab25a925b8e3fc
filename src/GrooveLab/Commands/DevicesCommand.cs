using System.CommandLine;
using GrooveLab.Audio.Devices;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary><c>devices</c>: which sound outputs the system offers.</summary>
internal static class DevicesCommand
{
    public static Command Create()
    {
        var command = new Command("devices", "List the sound outputs.");
        command.SetAction(_ => CommandLine.Guard(() =>
        {
            try
            {
                var devices = AudioOutputs.List();
                if (devices.Count == 0)
                {
                    Console.Out.WriteLine("No sound output was found. 'groovelab render' writes a WAV file instead.");
                    return ExitCodes.NoDevice;
                }

                Report.Table(
                    ["output", "what it is", string.Empty],
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
