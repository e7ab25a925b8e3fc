using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

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

    /// <summary>Reads a chart file, a preset or standard input; a missing file ends the command.</summary>
    public static ChartReadResult ReadFile(string path)
    {
        try
        {
            if (path == StandardInput.Word)
            {
                return ChartReader.ReadBytes(StandardInput.Bytes, StandardInput.Name, InstrumentFile.Beside(path));
            }

            if (Preset(path) is { } preset)
            {
                return ChartReader.ReadText(preset, PresetCharts.FileName(path));
            }

            NeedFile(path);
            if (SetList.IsListFile(path))
            {
                throw CommandFailure.BadInput(
                    $"{path} is a set list, not a chart; name one of its charts, or write groovelab check {path}, or groovelab play {path}");
            }

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
            throw CommandFailure.BadInput($"{path}: file not found{(Near(path) is { } near ? $"; did you mean {near}?" : string.Empty)}");
        }
    }

    /// <summary>The text of a preset; null if the word is not the name of one, or names a file as well.</summary>
    public static string? Preset(string word) => Path.Exists(word) ? null : PresetCharts.Text(word);

    /// <summary>The preset, or the chart in the same folder, with the most similar name; null if none is similar.</summary>
    private static string? Near(string path)
    {
        var folder = Path.GetDirectoryName(path) is { Length: > 0 } named ? named : ".";
        var charts = (Directory.Exists(folder) ? Directory.EnumerateFiles(folder, "*.toml") : []).Select(file => Path.GetFileName(file));
        return Words.Nearest(Path.GetFileName(path), charts.Concat(folder == "." ? PresetCharts.Names : []).Order(StringComparer.Ordinal)) is { } near
            ? folder == "." ? near : Path.Combine(folder, near)
            : null;
    }

    public static string Problems(ChartReadResult read) =>
        string.Join(Environment.NewLine, read.Problems.Select(problem => problem.ToString()).Prepend(
            read.Problems.Count == 1 ? "the chart has a problem:" : $"the chart has {read.Problems.Count} problems:"));

    /// <summary>In words that the chart's tempo for learners is faster than its tempo; null if it is not.</summary>
    /// <exception cref="ChartProblemException">The tempo for learners is out of range.</exception>
    public static string? FastLearnerTempo(Chart chart) => chart.LearnerTempo is { } learner && chart.PaceOf(learner) > Rational.One
        ? "learner-tempo is faster than the chart's tempo; make it slower, or leave it out"
        : null;

    /// <summary>The parts that cannot reach the tune in the chart's key, in words.</summary>
    public static IEnumerable<string> TunesOutOfRange(Chart chart) => chart.Parts.SelectMany(part => chart.LinesBeyond(part)
        .Select(beyond => TunePlayers.NameOf(beyond.Section, beyond.Line)).Distinct()
        .Select(line => $"in {chart.Key} {line} is outside the range of the {part.Instrument.Name}; choose another key or another instrument"));
}
