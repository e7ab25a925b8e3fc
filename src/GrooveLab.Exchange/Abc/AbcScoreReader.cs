using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Abc;

/// <summary>Reads a tune of an ABC file as written music. ABC 2.1, the open standard for tunes as text.</summary>
public static class AbcScoreReader
{
    /// <summary>Maximum size of a file, in bytes.</summary>
    public const int LargestFile = 5_000_000;

    /// <summary>Reads a file.</summary>
    /// <param name="bytes">The file, in UTF-8 or, where it is not, in Latin-1.</param>
    /// <param name="options">The file's name, and the number of the tune.</param>
    public static ScoreReading Read(ReadOnlyMemory<byte> bytes, ScoreOptions options)
    {
        if (bytes.Length > LargestFile)
        {
            return Refused(options.Name, 1, "the file is larger than 5 MB", "divide it into several files");
        }

        var zero = bytes.Span.IndexOf((byte)0);
        if (zero >= 0)
        {
            return Refused(options.Name, 1 + bytes.Span[..zero].Count((byte)'\n'), "this is not a text", "give a tune in ABC notation");
        }

        var warnings = new List<ScoreRemark>();
        string text;
        try
        {
            text = new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(bytes.Span).TrimStart('\uFEFF');
        }
        catch (DecoderFallbackException problem)
        {
            text = Encoding.Latin1.GetString(bytes.Span);
            var line = 1 + bytes.Span[..Math.Clamp(problem.Index, 0, bytes.Length)].Count((byte)'\n');
            warnings.Add(new ScoreRemark(new Origin(options.Name, line, null), "this is not UTF-8 text", "it is read as Latin-1"));
        }

        var tunes = AbcTunes.Of(text);
        if (tunes.Count == 0)
        {
            return Refused(options.Name, 1, "there is no tune in this file", "a tune begins with a line X:1 and has a line K: with its key before the notes");
        }

        var list = tunes.Select(tune => (tune.Number, tune.Title)).ToList();
        var chosen = options.Tune is { } number ? tunes.FirstOrDefault(tune => tune.Number == number) ?? tunes.ElementAtOrDefault(number - 1) : tunes[0];
        if (chosen is null)
        {
            return Refused(options.Name, 1, string.Create(CultureInfo.InvariantCulture, $"there is no tune {options.Tune}"),
                "tunes: " + Words.And([.. list.Take(20).Select(tune => string.Create(CultureInfo.InvariantCulture, $"{tune.Number} {tune.Title}").Trim())]));
        }

        var read = new AbcTuneReader(chosen, options.Name).Read();
        return read.IsRead
            ? new ScoreReading(read.Music, [.. warnings, .. read.Warnings], read.NotCarried) { Tunes = list }
            : new ScoreReading(read.Errors, [.. warnings, .. read.Warnings]) { Tunes = list };
    }

    private static ScoreReading Refused(string name, int line, string what, string remedy) =>
        new([new ScoreRemark(new Origin(name, line, null), what, remedy)], []);
}
