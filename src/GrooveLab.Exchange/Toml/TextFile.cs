using System.Buffers;
using System.Text;

namespace GrooveLab.Exchange.Toml;

/// <summary>Reads the bytes of a text file that a musician writes, bounded and checked; not what the text says.</summary>
internal static class TextFile
{
    /// <summary>The largest file that is read, in bytes.</summary>
    public const int LargestFile = 1_000_000;

    /// <summary>The text of a file, its byte order mark too; null with the problem when it is too large or not UTF-8.</summary>
    public static FileProblem? Read(string path, out string? text)
    {
        using var stream = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.Read);
        var bytes = new byte[LargestFile + 1];
        var length = stream.ReadAtLeast(bytes, bytes.Length, throwOnEndOfStream: false);
        return Decode(bytes.AsSpan(0, length), path, out text);
    }

    /// <summary>The text of bytes, which are UTF-8; null with the problem when they are too many or something else.</summary>
    public static FileProblem? Decode(ReadOnlySpan<byte> bytes, string name, out string? text)
    {
        text = null;
        if (bytes.Length > LargestFile)
        {
            return TooLarge(name);
        }

        var line = 1;
        var column = bytes.StartsWith(Encoding.UTF8.Preamble) ? 0 : 1;
        for (var rest = bytes; rest.Length > 0;)
        {
            if (Rune.DecodeFromUtf8(rest, out var rune, out var used) != OperationStatus.Done)
            {
                return new FileProblem(name, line, column, $"the byte 0x{rest[0]:X2} is not UTF-8 text", "save the file as UTF-8");
            }

            (line, column) = rune.Value == '\n' ? (line + 1, 1) : (line, column + 1);
            rest = rest[used..];
        }

        text = Encoding.UTF8.GetString(bytes);
        return null;
    }

    /// <summary>The problem of a file that is too large.</summary>
    public static FileProblem TooLarge(string name) => new(
        name, 1, 1, "the file is larger than 1 MB", "a chart has a few kilobytes; write what repeats with %, bars, repeat, form and times");
}
