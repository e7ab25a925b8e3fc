using System.Buffers;
using System.Text;

namespace GrooveLab.Exchange.Toml;

/// <summary>Reads the bytes of a user's text file, with size and encoding checks; does not interpret the text.</summary>
internal static class TextFile
{
    /// <summary>Maximum file size, in bytes.</summary>
    public const int LargestFile = 1_000_000;

    /// <summary>The text of a file, including its byte order mark; null with the problem when it is too large or not UTF-8.</summary>
    public static FileProblem? Read(string path, out string? text)
    {
        using var stream = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.Read);
        var bytes = new byte[LargestFile + 1];
        var length = stream.ReadAtLeast(bytes, bytes.Length, throwOnEndOfStream: false);
        return Decode(bytes.AsSpan(0, length), path, out text);
    }

    /// <summary>The text of UTF-8 bytes; null with the problem when they are too many or not UTF-8.</summary>
    public static FileProblem? Decode(ReadOnlySpan<byte> bytes, string name, out string? text)
    {
        text = null;
        if (KindOf(bytes) is { } kind)
        {
            return new FileProblem(name, 1, 1, $"this is {kind}", "give a text file, such as a chart (.toml)");
        }

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

    // The first bytes of files that are easily given instead of a text: the MIDI file (RP-001), RIFF and its two forms, ZIP (APPNOTE),
    // gzip (RFC 1952), Ogg (RFC 3533), FLAC (RFC 9639) and PDF (ISO 32000).
    private static string? KindOf(ReadOnlySpan<byte> bytes) =>
        bytes.StartsWith("MThd"u8) ? "a MIDI file, not a text file"
        : bytes.StartsWith("RIFF"u8) && bytes.Length >= 12 && bytes[8..12].SequenceEqual("sfbk"u8) ? "a SoundFont bank, not a text file"
        : bytes.StartsWith("RIFF"u8) && bytes.Length >= 12 && bytes[8..12].SequenceEqual("WAVE"u8) ? "a WAV file, not a text file"
        : bytes.StartsWith("OggS"u8) || bytes.StartsWith("fLaC"u8) ? "a sound file, not a text file"
        : bytes.StartsWith("PK\u0003\u0004"u8) || bytes.StartsWith((ReadOnlySpan<byte>)[0x1F, 0x8B]) ? "a compressed file, not a text file"
        : bytes.StartsWith("%PDF-"u8) ? "a PDF file, not a text file"
        : null;

    /// <summary>The problem of a file that is too large.</summary>
    public static FileProblem TooLarge(string name) => new(
        name, 1, 1, "the file is larger than 1 MB", "a chart has a few kilobytes; write repetitions with %, bars, repeat, form and times");
}
