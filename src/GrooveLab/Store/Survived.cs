using GrooveLab.Audio.Failures;

namespace GrooveLab.Store;

/// <summary>The failures that the program has survived: in memory for the screen, and in a file in the user's data folder.</summary>
internal static class Survived
{
    /// <summary>The failures so far.</summary>
    public static FailureLog Failures { get; } = new();

    /// <summary>The log file.</summary>
    public static FailureFile File { get; } = new(Path.Combine(UserFolders.Data, "failures.log"));

    /// <summary>Writes what is new to the file.</summary>
    /// <param name="last">True at the end of the program.</param>
    public static bool Write(bool last = false) => File.Write(Failures, last);
}
