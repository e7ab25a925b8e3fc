using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Charts;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Import;

/// <summary>What became of a score file.</summary>
/// <param name="Reading">What its reader said.</param>
public sealed record ImportedScore(ScoreReading Reading)
{
    /// <summary>The chart; null if none can be made.</summary>
    public SongChart? Song { get; init; }

    /// <summary>The chart's text; null if there is no chart.</summary>
    public string? Text { get; init; }

    /// <summary>Why no chart can be made from music that was read; null if one was made, or if the reader refused the file.</summary>
    public string? Refusal { get; init; }
}

/// <summary>From the bytes of a score to the text of its chart: read, make, write.</summary>
public static class ScoreImport
{
    /// <summary>Imports a score; a bad one is refused with its reasons, never by an exception.</summary>
    /// <param name="bytes">The file.</param>
    /// <param name="format">Its format.</param>
    /// <param name="options">Its name and what else is known.</param>
    /// <param name="part">The part with the tune: its id, name or number; null for the one with words.</param>
    public static ImportedScore Make(ReadOnlyMemory<byte> bytes, ScoreFormat format, ScoreOptions options, string? part = null)
    {
        var imported = new ImportedScore(ScoreFiles.Read(bytes, format, options));
        if (!imported.Reading.IsRead)
        {
            return imported;
        }

        try
        {
            var made = ImportedChartText.Options() with { Part = part, Title = Path.GetFileNameWithoutExtension(options.Name), AddChords = ChordInference.AddTo };
            var song = ChartMaker.Make(imported.Reading.Music, made);
            var text = ImportedChartText.Write(song, Path.GetFileName(options.Name));
            return Encoding.UTF8.GetByteCount(text) > ChartReader.LargestFile
                ? imported with { Refusal = $"{options.Name}: the chart would be larger than {ChartReader.LargestFile / 1_000_000} MB, the maximum; divide the score" }
                : imported with { Song = song, Text = text };
        }
        catch (ChartProblemException problem)
        {
            return imported with { Refusal = new ScoreRemark((problem.Place ?? new Origin(null, null, null)) with { File = options.Name }, problem.Message, string.Empty).ToString() };
        }
    }
}
