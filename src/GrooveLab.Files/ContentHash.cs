using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Files;

/// <summary>Identifies the content of a file by the SHA-256 of its bytes.</summary>
public readonly record struct ContentHash
{
    private readonly string? _hex;

    private ContentHash(string hex)
    {
        _hex = hex;
    }

    /// <summary>The hash of bytes.</summary>
    public static ContentHash Of(ReadOnlySpan<byte> content) => new(Convert.ToHexStringLower(SHA256.HashData(content)));

    /// <summary>The hash of a text as written: UTF-8, with a byte order mark only if the text starts with one.</summary>
    public static ContentHash Of(string text) => Of(Encoding.UTF8.GetBytes(text));

    /// <summary>Reads what <see cref="ToString"/> wrote; null for anything else.</summary>
    public static ContentHash? Parse(string hex) =>
        hex.Length == 2 * SHA256.HashSizeInBytes && hex.All(char.IsAsciiHexDigitLower) ? new ContentHash(hex) : null;

    /// <summary>64 lower-case hexadecimal digits.</summary>
    public override string ToString() => _hex ?? string.Empty;
}
