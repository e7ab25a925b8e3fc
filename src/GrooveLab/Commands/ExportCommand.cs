using System.CommandLine;
using GrooveLab.Exchange.Midi;
using GrooveLab.Files;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary><c>export</c>: writes what the band plays to a file for other programs.</summary>
internal static class ExportCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("export", "Write what the band plays to a MIDI file.", "groovelab export song.toml -o song.mid --exact");
        var chart = new Argument<string>("CHART") { Description = "Chart file." };
        var output = new Option<string>("--output", "-o") { Description = "MIDI file to write. Required.", HelpName = "FILE.mid", Required = true };
        var exact = new Option<bool>("--exact") { Description = "Put every note exactly on its written time, without human feel." };
        var noCountIn = new Option<bool>("--no-count-in") { Description = "Start at bar 1, without lead-in and pickup." };
        var force = new Option<bool>("--force") { Description = "Replace an existing file." };
        Completion.WithCharts(chart);
        Completion.WithFiles(output.CompletionSources, ".mid");
        command.Arguments.Add(chart);
        command.Options.Add(output);
        var options = new ChartOptions(command);
        foreach (var option in new Option[] { exact, noCountIn, force })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var path = OutputFile.PathOf(parsed.GetValue(output)!);
            OutputFile.NeedEnding(path, ".mid", ".midi");
            var band = options.Compose(ChartFiles.Read(parsed.GetValue(chart)!), parsed, !parsed.GetValue(noCountIn));
            var isForced = parsed.GetValue(force);
            OutputFile.Refuse(path, isForced, parsed.GetValue(chart));
            MidiExportResult result;
            try
            {
                result = MidiExport.Of(band, new MidiExportOptions { HumanFeel = !parsed.GetValue(exact) });
            }
            catch (MidiExportException problem)
            {
                throw CommandFailure.BadInput(problem.Message);
            }

            OutputFile.NeedWritten(DurableFile.WriteBytes(path, MidiFileWriter.ToBytes(result.File), OutputFile.Options(isForced)));
            foreach (var remark in result.Remarks)
            {
                Console.Error.WriteLine("groovelab: " + remark);
            }

            var time = TimeSpan.FromSeconds(new MidiTimeline(result.File).SecondsAt(result.File.Tracks.Max(track => track.EndTick)));
            OutputFile.Remarks(path).WriteLine(
                $"{OutputFile.NameOf(path)}: {(int)time.TotalMinutes}:{time.Seconds:00}.{time.Milliseconds:000}, {result.File.Tracks.Count} tracks, "
                + $"{result.File.Division.Ticks} ticks a quarter");
            return ExitCodes.Ok;
        }));
        return command;
    }
}
