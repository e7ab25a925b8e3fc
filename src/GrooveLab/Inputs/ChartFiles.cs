using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;

namespace GrooveLab.Inputs;

/// <summary>Reads the charts named on the command line or on the screen, with the instruments file beside them.</summary>
internal static class ChartFiles
{
    /// <summary>Reads a chart, or ends the command with all of its problems.</summary>
    public static Chart Read(string path)
    {
        var read = ReadFile(path);
        if (read.IsChart)
        {
            return read.Chart;
        }

        throw CommandFailure.BadInput(Problems(read));
    }

    /// <summary>Reads a chart file; a missing file ends the command.</summary>
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

    /// <summary>Ends the command if a chart file is missing.</summary>
    public static void NeedFile(string path)
    {
        if (Directory.Exists(path))
        {
            throw CommandFailure.BadInput($"{path} is a folder; name a chart file");
        }

        if (!File.Exists(path))
        {
            throw CommandFailure.BadInput($"{path}: file not found");
        }
    }

    public static string Problems(ChartReadResult read) =>
        string.Join(Environment.NewLine, read.Problems.Select(problem => problem.ToString()).Prepend(
            read.Problems.Count == 1 ? "the chart has a problem:" : $"the chart has {read.Problems.Count} problems:"));

    /// <summary>The parts that cannot reach the tune in the chart's key, in words.</summary>
    public static IEnumerable<string> TunesOutOfRange(Chart chart) => chart.Parts.Where(part => !chart.CanPlayTune(part)).Select(part =>
        $"in {chart.Key} the tune is outside the range of the {part.Instrument.Name}; choose another key or another instrument");
}
