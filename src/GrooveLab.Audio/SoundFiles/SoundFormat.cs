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

/// <summary>The file name endings of the formats, and the words for a format with its depth.</summary>
public static class SoundFormats
{
    private static readonly (string Word, SoundFormat Format, WaveDepth Depth)[] All =
    [
        ("wav", SoundFormat.Wave, WaveDepth.Sixteen), ("wav24", SoundFormat.Wave, WaveDepth.TwentyFour),
        ("flac", SoundFormat.Flac, WaveDepth.Sixteen), ("flac24", SoundFormat.Flac, WaveDepth.TwentyFour),
        ("opus", SoundFormat.Opus, WaveDepth.Sixteen),
    ];

    /// <summary>The words, such as <c>flac24</c>.</summary>
    public static IReadOnlyList<string> Words { get; } = [.. All.Select(one => one.Word)];

    /// <summary>The endings of the file names, such as <c>.flac</c>.</summary>
    public static IReadOnlyList<string> Endings { get; } = [.. Enum.GetValues<SoundFormat>().Select(Ending)];

    /// <summary>The format of a file with such a name; null if its ending is none of <see cref="Endings"/>.</summary>
    public static SoundFormat? OfName(string path) => Enum.GetValues<SoundFormat>()
        .Where(format => path.EndsWith(format.Ending(), StringComparison.OrdinalIgnoreCase))
        .Select(format => (SoundFormat?)format)
        .FirstOrDefault();

    /// <summary>The format and the depth that one of <see cref="Words"/> names; Opus has no depth.</summary>
    /// <exception cref="ArgumentException">It is none of them.</exception>
    public static (SoundFormat Format, WaveDepth Depth) OfWord(string word)
    {
        foreach (var (known, format, depth) in All)
        {
            if (known == word)
            {
                return (format, depth);
            }
        }

        throw new ArgumentException($"'{word}' is none of {string.Join(", ", Words)}.", nameof(word));
    }

    /// <summary>The ending of the names of files of a format.</summary>
    public static string Ending(this SoundFormat format) => format switch
    {
        SoundFormat.Flac => ".flac",
        SoundFormat.Opus => ".opus",
        _ => ".wav",
    };
}
