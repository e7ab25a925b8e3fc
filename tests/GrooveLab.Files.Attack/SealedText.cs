using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Files.Attack;

/// <summary>Texts that show whether they are complete: the last line is the hash of all lines before it.</summary>
internal static class SealedText
{
    private const string Seal = "# seal ";

    /// <summary>Creates one.</summary>
    /// <param name="who">The writer.</param>
    /// <param name="number">The number among the writer's texts, from 1.</param>
    /// <param name="bytes">The approximate length.</param>
    public static string Make(string who, int number, int bytes)
    {
        var text = new StringBuilder();
        for (var line = 0; text.Length < bytes; line++)
        {
            text.Append("# ").Append(who).Append(' ').Append(number).Append(", line ").Append(line).Append(", with an ä and a é\n");
        }

        return text + Seal + HashOf(text.ToString()) + "\n";
    }

    /// <summary>Whether a text is complete.</summary>
    public static bool IsWhole(string text)
    {
        var at = text.LastIndexOf(Seal, StringComparison.Ordinal);
        return at > 0 && text[at..] == Seal + HashOf(text[..at]) + "\n";
    }

    private static string HashOf(string text) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text)));
}
