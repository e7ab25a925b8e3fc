namespace GrooveLab.Files;

/// <summary>What became of saving a text: <see cref="Written"/>, <see cref="ChangedOutside"/> or <see cref="Refused"/>.</summary>
public abstract record SaveAnswer
{
    private SaveAnswer()
    {
    }

    /// <summary>The text is in the file, and on the disk.</summary>
    /// <param name="Path">The file, symbolic links followed.</param>
    /// <param name="Content">What it holds now; to be said at the next save.</param>
    /// <param name="Backup">The file that holds the text that was replaced; null when that was the program's own, or there was none.</param>
    public sealed record Written(string Path, ContentHash Content, string? Backup) : SaveAnswer;

    /// <summary>The file does not hold what the caller read. Nothing was touched.</summary>
    /// <param name="Path">The file, symbolic links followed.</param>
    /// <param name="Current">What it holds; null when it is gone. To be said when the user wants to save all the same.</param>
    public sealed record ChangedOutside(string Path, ContentHash? Current) : SaveAnswer;

    /// <summary>It could not be saved. The file is as it was.</summary>
    /// <param name="Refusal">Why.</param>
    public sealed record Refused(FileRefusal Refusal) : SaveAnswer;
}
