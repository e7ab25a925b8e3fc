using System.CommandLine;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Exchange.Charts;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Commands;

/// <summary><c>demo</c>: the first thing a newcomer runs. It always leads to music: live, or in a file.</summary>
internal static class DemoCommand
{
    private const string FileName = "ferry-lanterns.wav";
    private const int BarsShown = 4;

    public static Command Create()
    {
        var command = new Command("demo", "Show the demo song's bars and play it; without a sound device, render it to a file.");
        var output = new Option<string?>("--output", "-o") { Description = "The WAV file, should there be no device.", HelpName = "FILE" };
        var force = new Option<bool>("--force") { Description = "Replace a file that is there." };
        command.Options.Add(output);
        command.Options.Add(force);
        command.SetAction(parsed => CommandLine.Guard(() =>
        {
            var band = new BarComposer(Chart());
            BarGrid.Write(band, Console.Out, BarsShown);
            Console.Out.WriteLine($"These are the first {BarsShown} of {band.End} bars.");
            Console.Out.WriteLine();
            var bank = Banks.Open(null);
            try
            {
                return LinePlaying.Play(band, bank, new LinePlayingOptions());
            }
            catch (AudioDeviceException problem)
            {
                Console.Out.WriteLine(problem.Message);
                Console.Out.WriteLine("So the song is written to a file:");
                var (path, replace) = Target(parsed.GetValue(output), parsed.GetValue(force));
                Rendering.Tell(Rendering.Mix(band, path, new RenderOptions { Force = replace }, bank, dry: false));
                return ExitCodes.Ok;
            }
        }));
        return command;
    }

    /// <summary>The demo song.</summary>
    public static Chart Chart() =>
        ChartReader.ReadText(DemoChart.Text, DemoChart.Name).Chart
        ?? throw new InvalidOperationException("The demo chart has a problem; a test should have said so.");

    // Beside the caller. What is there is kept: the demo may be run twice, so the next free name is taken.
    private static (string Path, bool Replace) Target(string? asked, bool force)
    {
        if (asked is not null)
        {
            return (Path.GetFullPath(asked), force);
        }

        var path = Path.GetFullPath(FileName);
        for (var number = 2; File.Exists(path) && !force; number++)
        {
            path = Path.GetFullPath($"{Path.GetFileNameWithoutExtension(FileName)}-{number}.wav");
        }

        return (path, force);
    }
}
