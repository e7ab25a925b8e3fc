using GrooveLab.Exchange.Import;
using GrooveLab.Inputs;
using GrooveLab.Music.Wording;

namespace GrooveLab.Commands;

/// <summary>Reads the file of a score.</summary>
internal static class ScoreBytes
{
    /// <summary>The bytes of a score.</summary>
    /// <param name="given">Its path, or <c>-</c> for standard input.</param>
    /// <exception cref="CommandFailure">There is no such file, or it is too large.</exception>
    public static byte[] Read(string given)
    {
        if (given == StandardInput.Word)
        {
            return StandardInput.Bytes;
        }

        if (Directory.Exists(given))
        {
            throw CommandFailure.BadInput($"{given} is a folder; name a score");
        }

        if (!File.Exists(given))
        {
            var folder = Path.GetDirectoryName(given) is { Length: > 0 } named ? named : ".";
            var scores = Directory.Exists(folder) ? Directory.EnumerateFiles(folder).Where(file => ScoreFiles.Endings.Contains(Path.GetExtension(file).ToLowerInvariant())).Select(file => Path.GetFileName(file)) : [];
            throw CommandFailure.BadInput($"{given}: file not found{(Words.Nearest(Path.GetFileName(given), scores.Order(StringComparer.Ordinal)) is { } near ? $"; did you mean {near}?" : string.Empty)}");
        }

        using var stream = new FileStream(given, FileMode.Open, FileAccess.Read, FileShare.Read);
        var bytes = new MemoryStream();
        var piece = new byte[1 << 16];
        for (int count; (count = stream.Read(piece)) > 0;)
        {
            bytes.Write(piece, 0, count);
            if (bytes.Length > ScoreFiles.LargestFile)
            {
                throw CommandFailure.BadInput($"{given} is larger than {ScoreFiles.LargestFile / 1_000_000} MB; a score has some kilobytes");
            }
        }

        return bytes.ToArray();
    }
}
