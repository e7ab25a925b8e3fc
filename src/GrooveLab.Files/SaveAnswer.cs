namespace GrooveLab.Files;

/// <summary>The result of saving a text: <see cref="Written"/>, <see cref="ChangedOutside"/> or <see cref="Refused"/>.</summary>
public abstract record SaveAnswer
{
    private SaveAnswer()
    {
    }

    /// <summary>The text is in the file, and on the disk.</summary>
    /// <param name="Path">The file, symbolic links followed.</param>
    /// <param name="Content">Its new content; pass it to the next save.</param>
    /// <param name="Backup">The file with the replaced text; null if that was the program's own, or did not exist.</param>
    public sealed record Written(string Path, ContentHash Content, string? Backup) : SaveAnswer
    {
        /// <summary>True when the file had this text already; nothing was written.</summary>
        public bool HadIt { get; init; }
    }

    /// <summary>The file differs from what the caller read. Nothing was changed.</summary>
    /// <param name="Path">The file, symbolic links followed.</param>
    /// <param name="Current">Its current content; null if it was deleted. Pass it to save anyway.</param>
    public sealed record ChangedOutside(string Path, ContentHash? Current) : SaveAnswer;

    /// <summary>It could not be saved. The file is unchanged.</summary>
    /// <param name="Refusal">The reason.</param>
    public sealed record Refused(FileRefusal Refusal) : SaveAnswer;
}
