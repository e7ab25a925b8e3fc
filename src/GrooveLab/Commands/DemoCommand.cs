using System.CommandLine;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Exchange.Charts;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>demo</c>: for a first try. It always makes music: live, or in a file.</summary>
internal static class DemoCommand
{
    private const string FileName = "ferry-lanterns.wav";
    private const int BarsShown = 4;

    public static Command Create()
    {
        var command = new ProgramCommand("demo", "Play the demo song; without a sound device, render it.", "groovelab demo -o lanterns.wav");
        var output = new Option<string?>("--output", "-o") { Description = "WAV, FLAC or Opus file to write if there is no sound device.", HelpName = "FILE" };
        var force = new Option<bool>("--force") { Description = "Replace an existing file." };
        Completion.WithSoundFiles(output);
        command.Options.Add(output);
        command.Options.Add(force);
        var sounds = new BankOptions(command);
        command.SetAction(parsed => CommandGuard.Run(() =>
        {
            var bank = sounds.Open(parsed);
            var band = new BarComposer(Chart());
            BarGrid.Write(band, Console.Out, TerminalOutput.Width ?? BarGrid.UsualWidth, BarsShown);
            Console.Out.WriteLine($"Shown: the first {BarsShown} of {band.End} bars.");
            Console.Out.WriteLine();
            try
            {
                return LinePlaying.Play(band, bank, new LinePlayingOptions());
            }
            catch (AudioDeviceException problem)
            {
                Console.Out.WriteLine(problem.Message);
                Console.Out.WriteLine("Writing the song to a file instead:");
                return Interrupts.Guard(() =>
                {
                    var (path, replace) = Target(parsed.GetValue(output), parsed.GetValue(force));
                    OutputFile.RefuseInput(path, sounds.File(parsed));
                    var file = OutputFile.Sound(path, null, replace) with { Title = band.Chart.Title };
                    Rendering.Tell(Rendering.Mix(band, path, new RenderOptions { File = file }, bank, dry: false), path);
                    return ExitCodes.Ok;
                });
            }
        }));
        return command;
    }

    /// <summary>The demo song.</summary>
    public static Chart Chart() =>
        ChartReader.ReadText(DemoChart.Text, DemoChart.Name).Chart
        ?? throw new InvalidOperationException("The demo chart is broken; the tests should have caught this.");

    // In the current folder. An existing file is kept; the demo may run twice, so it takes the next free name.
    private static (string Path, bool Replace) Target(string? asked, bool force)
    {
        if (asked is not null)
        {
            return (OutputFile.PathOf(asked), force);
        }

        var path = Path.GetFullPath(FileName);
        for (var number = 2; File.Exists(path) && !force; number++)
        {
            path = Path.GetFullPath($"{Path.GetFileNameWithoutExtension(FileName)}-{number}.wav");
        }

        return (path, force);
    }
}
