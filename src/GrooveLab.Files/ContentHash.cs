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

    /// <summary>The hash of a file, read in pieces.</summary>
    /// <param name="path">The file.</param>
    /// <returns>Null if there is no such file.</returns>
    /// <exception cref="FileRefusedException">It cannot be read.</exception>
    public static ContentHash? OfFile(string path)
    {
        try
        {
            using var file = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete, 1 << 16);
            return new ContentHash(Convert.ToHexStringLower(SHA256.HashData(file)));
        }
        catch (Exception failure) when (failure is FileNotFoundException or DirectoryNotFoundException)
        {
            return null;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, path);
        }
    }

    /// <summary>Reads what <see cref="ToString"/> wrote; null for anything else.</summary>
    public static ContentHash? Parse(string hex) =>
        hex.Length == 2 * SHA256.HashSizeInBytes && hex.All(char.IsAsciiHexDigitLower) ? new ContentHash(hex) : null;

    /// <summary>64 lower-case hexadecimal digits.</summary>
    public override string ToString() => _hex ?? string.Empty;
}
