using System.CommandLine;
using GrooveLab.Audio.Devices;
using GrooveLab.Exchange.Charts;
using GrooveLab.Inputs;
using GrooveLab.Screen;

namespace GrooveLab.Commands;

/// <summary><c>play</c>: plays a chart live.</summary>
internal static class PlayCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("play", "Play a chart live.", "groovelab play song.toml --tempo 80% --feel bar");
        var chart = new Argument<string?>("CHART") { Description = "Chart file or preset. Default: the demo.", Arity = ArgumentArity.ZeroOrOne };
        var noScreen = new Option<bool>("--no-screen") { Description = "Show one status line instead of the screen." };
        var ascii = new Option<bool>("--ascii") { Description = "Draw the screen with ASCII characters only." };
        var device = new Option<string?>("--device") { Description = "Sound output, as listed by 'groovelab devices'.", HelpName = "NAME" };
        var buffer = new Option<int>("--buffer")
        {
            Description = "Buffer in milliseconds: shorter responds faster, longer is safer. Default: 40.",
            HelpName = "MS",
            DefaultValueFactory = _ => AudioOutputs.DefaultBufferMilliseconds,
        };
        var noCountIn = new Option<bool>("--no-count-in") { Description = "Start at bar 1, without lead-in." };
        var without = new Option<string?>("--without") { Description = "Start without these parts or roles.", HelpName = "PART,..." };
        OptionRanges.Whole(buffer, 5, 1000);
        Completion.WithCharts(chart);
        Completion.WithDevices(device);
        command.Arguments.Add(chart);
        var options = new ChartOptions(command);
        var bank = new BankOptions(command);
        foreach (var option in new Option[] { noScreen, ascii, device, buffer, noCountIn, without })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => CommandLine.Guard(() =>
        {
            var path = parsed.GetValue(chart);
            var silent = RenderCommand.Names(parsed.GetValue(without)) ?? [];
            if (!parsed.GetValue(noScreen) && path != StandardInput.Word && LiveProgram.CanShow)
            {
                var preset = path is null ? null : ChartFiles.Preset(path);
                if (path is not null && preset is null)
                {
                    // Report a mistyped name before the screen opens; the screen reports problems inside the chart.
                    ChartFiles.NeedFile(path);
                }

                LiveProgram.Run(
                    new PerformanceOptions
                    {
                        Path = preset is null ? path : null,
                        BuiltIn = preset is null ? null : (PresetCharts.FileName(path!), preset),
                        Start = options.Start(parsed) with { CountIn = !parsed.GetValue(noCountIn), Bars = options.Bars(parsed), Without = [.. silent] },
                        Bank = bank.Name(parsed),
                        AttenuationShare = bank.AttenuationShare(parsed),
                        Device = parsed.GetValue(device),
                        BufferMilliseconds = parsed.GetValue(buffer),
                    },
                    parsed.GetValue(ascii));
                return ExitCodes.Ok;
            }

            var read = path is null ? DemoCommand.Chart() : ChartFiles.Read(path);
            var band = options.Compose(read, parsed, !parsed.GetValue(noCountIn));
            var muted = ChartOptions.Silent(read, silent);
            try
            {
                return LinePlaying.Play(band, bank.Open(parsed), new LinePlayingOptions
                {
                    Device = parsed.GetValue(device),
                    BufferMilliseconds = parsed.GetValue(buffer),
                    Plays = part => !muted.Contains(part.Name),
                });
            }
            catch (AudioDeviceException problem)
            {
                Console.Error.WriteLine("groovelab: " + problem.Message);
                Console.Error.WriteLine($"groovelab: to write the music to a file instead: groovelab render {path ?? "CHART"} -o FILE.wav");
                return ExitCodes.NoDevice;
            }
        }));
        return command;
    }
}
