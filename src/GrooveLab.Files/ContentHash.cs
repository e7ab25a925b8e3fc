using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Files;

/// <summary>Which content a file has: the SHA-256 of its bytes. Equal for equal content only.</summary>
public readonly record struct ContentHash
{
    private readonly string? _hex;

    private ContentHash(string hex)
    {
        _hex = hex;
    }

    /// <summary>Of some bytes.</summary>
    public static ContentHash Of(ReadOnlySpan<byte> content) => new(Convert.ToHexStringLower(SHA256.HashData(content)));

    /// <summary>Of a text as it is written: UTF-8, with a byte order mark only where the text begins with one.</summary>
    public static ContentHash Of(string text) => Of(Encoding.UTF8.GetBytes(text));

    /// <summary>Reads what <see cref="ToString"/> wrote; null for anything else.</summary>
    public static ContentHash? Parse(string hex) =>
        hex.Length == 2 * SHA256.HashSizeInBytes && hex.All(char.IsAsciiHexDigitLower) ? new ContentHash(hex) : null;

    /// <summary>64 digits of base 16, in small letters.</summary>
    public override string ToString() => _hex ?? string.Empty;
}
