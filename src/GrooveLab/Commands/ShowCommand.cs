using System.CommandLine;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary><c>show</c>: the bars of a chart, as a grid to read or as one JSON document.</summary>
internal static class ShowCommand
{
    public static Command Create()
    {
        var command = new Command("show", "Show what the band plays, bar by bar.");
        var chart = new Argument<string>("CHART") { Description = "The chart's file." };
        var json = new Option<bool>("--json") { Description = "One JSON document instead of the grid." };
        command.Arguments.Add(chart);
        var options = new ChartOptions(command);
        command.Options.Add(json);
        command.SetAction(parsed => CommandLine.Guard(() =>
        {
            var band = options.Compose(ChartFiles.Read(parsed.GetValue(chart)!), parsed, countIn: true);
            if (parsed.GetValue(json))
            {
                BarsJson.Write(band, Console.OpenStandardOutput());
                return ExitCodes.Ok;
            }

            BarGrid.Write(band, Console.Out);
            return ExitCodes.Ok;
        }));
        return command;
    }
}
