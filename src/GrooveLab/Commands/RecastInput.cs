using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;

namespace GrooveLab.Commands;

/// <summary>The song to recast: a chart, a built-in one, or a score that is imported first.</summary>
internal static class RecastInput
{
    /// <summary>Reads the song.</summary>
    /// <param name="given">A chart, a preset, a score, or <c>-</c> for standard input.</param>
    /// <param name="part">The part of a score with the tune; null to choose it.</param>
    /// <param name="remarks">Remarks about the score.</param>
    /// <exception cref="CommandFailure">It cannot be read; the message has all reasons.</exception>
    public static Chart Read(string given, string? part, out IReadOnlyList<string> remarks)
    {
        remarks = [];
        if (!IsScore(given))
        {
            return part is null ? ChartFiles.Read(given) : throw CommandFailure.BadInput($"--part is for scores; {given} is a chart");
        }

        var bytes = ScoreBytes.Read(given);
        var made = ScoreImport.Make(bytes, ScoreFiles.FormatOf(bytes, given), new ScoreOptions { Name = StandardInput.NameOf(given) }, part);
        var report = new ImportReport(ScoreFiles.FormatOf(bytes, given), made.Reading) { Song = made.Song, Text = made.Text, Refusal = made.Refusal };
        if (made.Song is null)
        {
            throw CommandFailure.BadInput(string.Join("\n", report.Errors));
        }

        remarks = [.. made.Reading.Warnings.Select(warning => warning.ToString()), .. report.NotCarriedOver];
        return made.Song.Chart;
    }

    private static bool IsScore(string given)
    {
        if (given == StandardInput.Word)
        {
            // A chart is text that names its format; words without it are no chart either, and the chart reader says what is missing.
            var bytes = StandardInput.Bytes;
            return ScoreFiles.FormatOf(bytes, string.Empty) is not ScoreFormat.Words;
        }

        return ScoreFiles.Endings.Contains(Path.GetExtension(given).ToLowerInvariant());
    }
}
