using System.CommandLine;
using GrooveLab.Exchange.Toml;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Wording;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>check</c>: lists every problem that prevents charts, and the charts of set lists, from being read and played.</summary>
internal static class CheckCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("check", "List every problem in charts and set lists, with its line.", "groovelab check song.toml");
        var charts = new Argument<string[]>("CHART") { Description = "Charts, or set lists (.set, .txt): each of their charts is checked.", Arity = ArgumentArity.OneOrMore };
        Completion.WithCharts(charts, SetList.Endings);
        command.Arguments.Add(charts);
        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var bad = 0;
            foreach (var path in parsed.GetValue(charts)!)
            {
                bad += (SetList.IsListFile(path) ? CheckList(path) : Check(path, string.Empty)) ? 0 : 1;
            }

            return bad == 0 ? ExitCodes.Ok : ExitCodes.BadInput;
        }));
        return command;
    }

    private static bool CheckList(string path)
    {
        var (songs, bad) = (0, 0);
        foreach (var line in SetList.Lines(path))
        {
            songs++;
            if (line.Problem is { } problem)
            {
                Console.Error.WriteLine(problem);
                if (line.Where.Length == 0)
                {
                    return false;
                }
            }

            bad += line.Problem is null && Check(line.Path, line.Where) ? 0 : 1;
        }

        if (songs == 0)
        {
            Console.Error.WriteLine($"{path}: the list names no chart; write one chart on each line");
            return false;
        }

        if (bad > 0)
        {
            Console.Error.WriteLine($"{path}: {bad} of {Words.Count(songs, "song")} cannot be played");
            return false;
        }

        Console.Out.WriteLine($"{path}: ok, {Words.Count(songs, "song")}");
        return true;
    }

    /// <summary>Checks a chart.</summary>
    /// <param name="given">The chart.</param>
    /// <param name="where">Its line in a set list, before each message; empty for none.</param>
    private static bool Check(string given, string where)
    {
        var path = StandardInput.NameOf(given);
        try
        {
            var read = ChartFiles.ReadFile(given);
            foreach (var remark in read.Remarks)
            {
                Console.Out.WriteLine(where + remark);
            }

            if (!read.IsChart)
            {
                foreach (var problem in read.Problems)
                {
                    Console.Error.WriteLine(where + problem);
                }

                return false;
            }

            var band = new BarComposer(read.Chart);
            foreach (var remark in Remarks(band).Append(ChartFiles.FastLearnerTempo(read.Chart)).OfType<string>())
            {
                Console.Out.WriteLine($"{where}{path}: {remark}");
            }

            Console.Out.WriteLine($"{where}{path}: ok, {Summary(band)}");
            return true;
        }
        catch (CommandFailure failure)
        {
            Console.Error.WriteLine(where + failure.Message);
            return false;
        }
        catch (ChartProblemException problem)
        {
            Console.Error.WriteLine($"{where}{path}: {problem.Message}");
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
