using System.Runtime.InteropServices;
using System.Text;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>The text of a score file in its encoding: as its byte order mark says, otherwise as its XML declaration says, otherwise
/// UTF-8 (XML 1.0, appendix F).</summary>
internal static class MusicXmlText
{
    private const int HeadLength = 512;
    private const int Utf7 = 65_000;

    /// <summary>Opens a text; it is checked while it is read.</summary>
    /// <param name="open">Opens its bytes; called twice.</param>
    /// <param name="remarks">Takes warnings.</param>
    /// <exception cref="MusicXmlRefusal">Its encoding is not known, or it is empty or no text.</exception>
    public static GuardedText Open(Func<Stream> open, MusicXmlRemarks remarks)
    {
        var head = new byte[HeadLength];
        int length;
        using (var stream = open())
        {
            length = stream.ReadAtLeast(head, HeadLength, throwOnEndOfStream: false);
        }

        var encoding = EncodingOf(head.AsSpan(0, length), remarks);
        return new GuardedText(new StreamReader(open(), encoding, detectEncodingFromByteOrderMarks: HasMark(head.AsSpan(0, length)), bufferSize: 1 << 14));
    }

    public static MemoryStream Stream(ReadOnlyMemory<byte> bytes) => MemoryMarshal.TryGetArray(bytes, out var array)
        ? new MemoryStream(array.Array!, array.Offset, array.Count, writable: false)
        : new MemoryStream(bytes.ToArray(), writable: false);

    private static bool HasMark(ReadOnlySpan<byte> head) =>
        head.StartsWith((ReadOnlySpan<byte>)[0xEF, 0xBB, 0xBF])
        || head.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xFE])
        || head.StartsWith((ReadOnlySpan<byte>)[0xFE, 0xFF])
        || head.StartsWith((ReadOnlySpan<byte>)[0, 0, 0xFE, 0xFF]);

    private static Encoding EncodingOf(ReadOnlySpan<byte> head, MusicXmlRemarks remarks)
    {
        if (head.IsEmpty)
        {
            throw new MusicXmlRefusal(1, "the file is empty");
        }

        if (HasMark(head))
        {
            return Encoding.UTF8;
        }

        if (MusicXmlArchive.IsArchive(head))
        {
            throw new MusicXmlRefusal(1, "the archive contains another archive instead of a score", "unpack it once");
        }

        if (head.StartsWith((ReadOnlySpan<byte>)[(byte)'<', 0]))
        {
            return head is [_, _, 0, 0, ..] ? Encoding.UTF32 : Encoding.Unicode;
        }

        if (head.StartsWith((ReadOnlySpan<byte>)[0, (byte)'<']))
        {
            return Encoding.BigEndianUnicode;
        }

        if (head.Contains((byte)0))
        {
            throw new MusicXmlRefusal(1, "this is not a MusicXML file, which is text or an archive");
        }

        return Declared(head) is { } name ? Named(name, remarks) : Encoding.UTF8;
    }

    private static string? Declared(ReadOnlySpan<byte> head)
    {
        var text = Encoding.Latin1.GetString(head);
        var end = text.IndexOf("?>", StringComparison.Ordinal);
        if (!text.TrimStart().StartsWith("<?xml", StringComparison.Ordinal) || end < 0)
        {
            return null;
        }

        var at = text.IndexOf("encoding", 0, end, StringComparison.Ordinal);
        var open = at < 0 ? -1 : text.IndexOfAny(['"', '\''], at, end - at);
        var close = open < 0 ? -1 : text.IndexOf(text[open], open + 1, end - open - 1);
        return close < 0 ? null : text[(open + 1)..close];
    }

    private static Encoding Named(string name, MusicXmlRemarks remarks)
    {
        Encoding? encoding;
        try
        {
            encoding = CodePagesEncodingProvider.Instance.GetEncoding(name) ?? Encoding.GetEncoding(name);
        }
        catch (Exception found) when (found is ArgumentException or NotSupportedException)
        {
            throw new MusicXmlRefusal(1, $"the encoding '{MusicXmlValues.Short(name)}' is not known", "save the file as UTF-8");
        }

        if (encoding.CodePage == Utf7)
        {
            throw new MusicXmlRefusal(1, "the encoding UTF-7 is not safe to read", "save the file as UTF-8");
        }

        // The declaration could be read byte by byte, so two or four bytes a character cannot be.
        if (encoding is UnicodeEncoding or UTF32Encoding)
        {
            remarks.Warn(1, $"the file declares {MusicXmlValues.Short(name)}, but its bytes are not", "read as UTF-8");
            return Encoding.UTF8;
        }

        return encoding;
    }
}
