using GrooveLab.Audio.Failures;

namespace GrooveLab.Store;

/// <summary>Where the whole program records failures that it survives: in memory, for the screen, and in a file in the user's data folder.</summary>
internal static class Survived
{
    /// <summary>What was caught so far.</summary>
    public static FailureLog Failures { get; } = new();

    /// <summary>The file.</summary>
    public static FailureFile File { get; } = new(Path.Combine(UserFolders.Data, "failures.log"));

    /// <summary>Brings the file up to date.</summary>
    /// <param name="last">True at the end of the program.</param>
    public static bool Write(bool last = false) => File.Write(Failures, last);
}
