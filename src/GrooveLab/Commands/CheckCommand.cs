using System.CommandLine;
using GrooveLab.Exchange.Toml;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Wording;

namespace GrooveLab.Commands;

/// <summary><c>check</c>: lists every problem that prevents charts from being read and played.</summary>
internal static class CheckCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("check", "List every problem in charts, with file, line and column.", "groovelab check song.toml");
        var charts = new Argument<string[]>("CHART") { Description = "Chart files.", Arity = ArgumentArity.OneOrMore };
        Completion.WithCharts(charts);
        command.Arguments.Add(charts);
        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var bad = 0;
            foreach (var path in parsed.GetValue(charts)!)
            {
                bad += Check(path) ? 0 : 1;
            }

            return bad == 0 ? ExitCodes.Ok : ExitCodes.BadInput;
        }));
        return command;
    }

    private static bool Check(string given)
    {
        var path = StandardInput.NameOf(given);
        try
        {
            var read = ChartFiles.ReadFile(given);
            foreach (var remark in read.Remarks)
            {
                Console.Out.WriteLine(remark);
            }

            if (!read.IsChart)
            {
                foreach (var problem in read.Problems)
                {
                    Console.Error.WriteLine(problem);
                }

                return false;
            }

            var band = new BarComposer(read.Chart);
            foreach (var remark in Remarks(band))
            {
                Console.Out.WriteLine($"{path}: {remark}");
            }

            Console.Out.WriteLine($"{path}: ok, {Summary(band)}");
            return true;
        }
        catch (CommandFailure failure)
        {
            Console.Error.WriteLine(failure.Message);
            return false;
        }
        catch (ChartProblemException problem)
        {
            Console.Error.WriteLine($"{path}: {problem.Message}");
            return false;
        }
    }

    private static IEnumerable<string> Remarks(BarComposer band) =>
        Enumerable.Range(0, Math.Min(band.Plan.BarsInPass, band.End ?? 0)).SelectMany(index => band.BarAt(index).Remarks).Distinct();

    private static string Summary(BarComposer band)
    {
        var meters = Enumerable.Range(0, band.Plan.BarsInPass).Select(index => band.Plan.BarAt(index).Meter.Signature.ToString()).Distinct();
        return $"{Words.Count(band.Plan.Bars, "bar")} in {string.Join(", ", meters)}, {Words.Count(band.Chart.Parts.Count, "part")}";
    }
}
