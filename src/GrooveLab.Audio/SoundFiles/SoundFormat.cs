namespace GrooveLab.Audio.SoundFiles;

/// <summary>The formats of sound files that can be written.</summary>
public enum SoundFormat
{
    /// <summary>WAV: uncompressed.</summary>
    Wave,

    /// <summary>FLAC: compressed without loss.</summary>
    Flac,

    /// <summary>Ogg Opus: compressed with inaudible losses.</summary>
    Opus,
}

/// <summary>The file name endings and words of the formats.</summary>
public static class SoundFormats
{
    private static readonly (SoundFormat Format, string Word, string Ending)[] All =
        [(SoundFormat.Wave, "wav", ".wav"), (SoundFormat.Flac, "flac", ".flac"), (SoundFormat.Opus, "opus", ".opus")];

    /// <summary>The word for each format, such as <c>flac</c>.</summary>
    public static IReadOnlyList<string> Words { get; } = [.. All.Select(one => one.Word)];

    /// <summary>The endings of the file names, such as <c>.flac</c>.</summary>
    public static IReadOnlyList<string> Endings { get; } = [.. All.Select(one => one.Ending)];

    /// <summary>The format of a file with such a name; null if its ending is none of <see cref="Endings"/>.</summary>
    public static SoundFormat? OfName(string path) => Find(one => path.EndsWith(one.Ending, StringComparison.OrdinalIgnoreCase));

    /// <summary>The format that a word names; null if there is none.</summary>
    public static SoundFormat? OfWord(string word) => Find(one => string.Equals(one.Word, word, StringComparison.OrdinalIgnoreCase));

    /// <summary>The ending of the names of files of a format.</summary>
    public static string Ending(this SoundFormat format) => All.First(one => one.Format == format).Ending;

    private static SoundFormat? Find(Func<(SoundFormat Format, string Word, string Ending), bool> isIt)
    {
        foreach (var one in All)
        {
            if (isIt(one))
            {
                return one.Format;
            }
        }

        return null;
    }
}
