using System.Security.Cryptography;
using System.Text;
using GrooveLab.Files;

namespace GrooveLab.Store;

/// <summary>The folders for the user's own data.</summary>
internal static class UserFolders
{
    /// <summary>Settings: keys and pedals.</summary>
    public static string Settings => Path.Combine(
        Environment.GetEnvironmentVariable("XDG_CONFIG_HOME") is { Length: > 0 } config
            ? config
            : Environment.GetFolderPath(Environment.SpecialFolder.ApplicationData, Environment.SpecialFolderOption.DoNotVerify),
        "groovelab");

    /// <summary>Data: recovery, logs, saved versions.</summary>
    public static string Data => Path.Combine(
        Environment.GetEnvironmentVariable("XDG_DATA_HOME") is { Length: > 0 } data
            ? data
            : Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData, Environment.SpecialFolderOption.DoNotVerify),
        "groovelab");

    /// <summary>Expands <c>~/</c> at the start of a typed path to the home folder.</summary>
    public static string Typed(string path) => path.StartsWith("~/", StringComparison.Ordinal)
        ? Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.UserProfile, Environment.SpecialFolderOption.DoNotVerify), path[2..])
        : path;

    /// <summary>The start of a file's name, without extension, short enough for the names of related files.</summary>
    public static string ShortName(string path)
    {
        const int MostLetters = 40;
        var name = Path.GetFileNameWithoutExtension(path);
        return string.Concat(name.Take(MostLetters).Select(letter => char.IsLetterOrDigit(letter) || letter is '-' or ' ' ? letter : '_'));
    }

    /// <summary>A word unique to a name, for the names of related files.</summary>
    public static string Mark(string name) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(name)))[..12];

    /// <summary>Writes a file completely or not at all; returns false and records the failure if it cannot be written.</summary>
    public static bool TryWrite(string path, string text) => WhyNotWritten(path, text) is null;

    /// <summary>Writes a file completely or not at all; returns the reason and records it if it cannot be written, otherwise null.</summary>
    public static string? WhyNotWritten(string path, string text)
    {
        var answer = DurableFile.WriteText(path, text, WriteOptions.Own);
        if (answer.IsWritten)
        {
            Survived.Failures.Settle($"writing {path}");
        }
        else
        {
            Survived.Failures.Add($"writing {path}", answer.Refusal!.Message);
        }

        return answer.Refusal?.Message;
    }

    /// <summary>Reads a file; null if it does not exist, or cannot be read, which is recorded.</summary>
    public static string? TryRead(string path)
    {
        try
        {
            return File.Exists(path) ? File.ReadAllText(path) : null;
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            Survived.Failures.Add($"reading {path}", failure);
            return null;
        }
    }

    /// <summary>Deletes a file; a failure is recorded.</summary>
    public static void TryDelete(string path)
    {
        try
        {
            File.Delete(path);
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            Survived.Failures.Add($"removing {path}", failure);
        }
    }
}
