using System.CommandLine;
using GrooveLab.Inputs;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>show</c>: prints the bars of a chart, as a grid or as one JSON document.</summary>
internal static class ShowCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("show", "Print what the band plays, bar by bar.", "groovelab show song.toml --bars 4");
        var chart = new Argument<string>("CHART") { Description = "Chart file." };
        var json = new Option<bool>("--json") { Description = "Print one JSON document instead of the grid." };
        var plan = new Option<bool>("--plan") { Description = "Print only the arrangement: what each part does in each section." };
        Completion.WithCharts(chart);
        command.Arguments.Add(chart);
        var options = new ChartOptions(command);
        command.Options.Add(json);
        command.Options.Add(plan);
        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var band = options.Compose(ChartFiles.Read(parsed.GetValue(chart)!), parsed, countIn: true);
            if (parsed.GetValue(json))
            {
                BarsJson.Write(band, Console.OpenStandardOutput());
                return ExitCodes.Ok;
            }

            if (parsed.GetValue(plan))
            {
                ArrangementTable.Write(band, Console.Out);
                return ExitCodes.Ok;
            }

            BarGrid.Write(band, Console.Out, TerminalOutput.Width ?? BarGrid.UsualWidth);
            return ExitCodes.Ok;
        }));
        return command;
    }
}
