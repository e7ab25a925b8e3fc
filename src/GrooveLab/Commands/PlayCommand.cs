using System.CommandLine;
using GrooveLab.Audio.Devices;
using GrooveLab.Inputs;
using GrooveLab.Screen;

namespace GrooveLab.Commands;

/// <summary><c>play</c>: a chart live.</summary>
internal static class PlayCommand
{
    public static Command Create()
    {
        var command = new Command("play", "Play a chart live; without one, the demo.");
        var chart = new Argument<string?>("CHART") { Description = "The chart's file.", Arity = ArgumentArity.ZeroOrOne };
        var noScreen = new Option<bool>("--no-screen") { Description = "One line of status instead of the screen." };
        var ascii = new Option<bool>("--ascii") { Description = "Draw the screen in plain signs only." };
        var bank = new Option<string?>("--bank") { Description = "A SoundFont bank instead of the built-in sounds.", HelpName = "FILE" };
        var device = new Option<string?>("--device") { Description = "A sound output that 'groovelab devices' lists.", HelpName = "NAME" };
        var buffer = new Option<int>("--buffer")
        {
            Description = "Milliseconds of sound kept ready: less answers quicker, more is safer; 40 if not said.",
            HelpName = "MS",
            DefaultValueFactory = _ => AudioOutputs.DefaultBufferMilliseconds,
        };
        var noCountIn = new Option<bool>("--no-count-in") { Description = "Start on the first bar." };
        OptionRanges.Whole(buffer, 5, 1000);
        command.Arguments.Add(chart);
        var options = new ChartOptions(command);
        foreach (var option in new Option[] { noScreen, ascii, bank, device, buffer, noCountIn })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => CommandLine.Guard(() =>
        {
            var path = parsed.GetValue(chart);
            if (!parsed.GetValue(noScreen) && options.Bars(parsed) is null && LiveProgram.CanShow)
            {
                if (path is not null)
                {
                    // A name mistyped is said without a screen; what is wrong inside the chart is known when the picture stands.
                    ChartFiles.NeedFile(path);
                }

                LiveProgram.Run(
                    new PerformanceOptions
                    {
                        Path = path,
                        Asked = chart => options.Seeded(options.Apply(chart, parsed), parsed),
                        Bank = parsed.GetValue(bank),
                        Device = parsed.GetValue(device),
                        BufferMilliseconds = parsed.GetValue(buffer),
                        CountIn = !parsed.GetValue(noCountIn),
                    },
                    parsed.GetValue(ascii));
                return ExitCodes.Ok;
            }

            var read = path is null ? DemoCommand.Chart() : ChartFiles.Read(path);
            var band = options.Compose(read, parsed, !parsed.GetValue(noCountIn));
            try
            {
                return LinePlaying.Play(band, Banks.Open(parsed.GetValue(bank)), new LinePlayingOptions
                {
                    Device = parsed.GetValue(device),
                    BufferMilliseconds = parsed.GetValue(buffer),
                });
            }
            catch (AudioDeviceException problem)
            {
                Console.Error.WriteLine("groovelab: " + problem.Message);
                Console.Error.WriteLine($"groovelab: 'groovelab render {path ?? "CHART"} -o FILE.wav' writes the music to a file instead");
                return ExitCodes.NoDevice;
            }
        }));
        return command;
    }
}
