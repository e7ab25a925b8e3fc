using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;

namespace GrooveLab.Inputs;

/// <summary>Charts that are named on the command line or on the screen, with the instruments beside them.</summary>
internal static class ChartFiles
{
    /// <summary>Reads a chart, or ends the command with all that is wrong with it.</summary>
    public static Chart Read(string path)
    {
        var read = ReadFile(path);
        if (read.IsChart)
        {
            return read.Chart;
        }

        throw CommandFailure.BadInput(Problems(read));
    }

    /// <summary>Reads a chart's file; a file that is not there ends the command.</summary>
    public static ChartReadResult ReadFile(string path)
    {
        NeedFile(path);
        try
        {
            return ChartReader.Read(path, InstrumentFile.Beside(path));
        }
        catch (FormatException problems)
        {
            throw CommandFailure.BadInput(problems.Message);
        }
    }

    /// <summary>Ends the command where a chart's file is not there.</summary>
    public static void NeedFile(string path)
    {
        if (Directory.Exists(path))
        {
            throw CommandFailure.BadInput($"{path}: is a folder; name a chart's file");
        }

        if (!File.Exists(path))
        {
            throw CommandFailure.BadInput($"{path}: there is no such file");
        }
    }

    public static string Problems(ChartReadResult read) =>
        string.Join(Environment.NewLine, read.Problems.Select(problem => problem.ToString()).Prepend(
            read.Problems.Count == 1 ? "the chart has a problem:" : $"the chart has {read.Problems.Count} problems:"));
}
