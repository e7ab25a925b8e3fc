namespace GrooveLab.Store;

/// <summary>Where the program keeps what is the user's own.</summary>
internal static class UserFolders
{
    /// <summary>Settings: keys and pedals.</summary>
    public static string Settings => Path.Combine(
        Environment.GetEnvironmentVariable("XDG_CONFIG_HOME") is { Length: > 0 } config
            ? config
            : Environment.GetFolderPath(Environment.SpecialFolder.ApplicationData, Environment.SpecialFolderOption.DoNotVerify),
        "groovelab");

    /// <summary>What is kept for later: recovery, logs, versions.</summary>
    public static string Data => Path.Combine(
        Environment.GetEnvironmentVariable("XDG_DATA_HOME") is { Length: > 0 } data
            ? data
            : Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData, Environment.SpecialFolderOption.DoNotVerify),
        "groovelab");

    /// <summary>Writes a file whole or not at all; false where it cannot be written, which is recorded.</summary>
    public static bool TryWrite(string path, string text)
    {
        try
        {
            Directory.CreateDirectory(Path.GetDirectoryName(path)!);
            var beside = path + ".part";
            File.WriteAllText(beside, text);
            File.Move(beside, path, overwrite: true);
            return true;
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            Survived.Failures.Add($"writing {path}", failure);
            return false;
        }
    }

    /// <summary>Reads a file; null where there is none, or where it cannot be read, which is recorded.</summary>
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

    /// <summary>Takes a file away; that it cannot be is recorded.</summary>
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
