namespace GrooveLab.Files;

/// <summary>A file of a <see cref="MadeFolder"/>, as its record has it.</summary>
/// <param name="Path">Its path in the folder, with <c>/</c> between folders.</param>
/// <param name="Inputs">Identifies all that it was made from.</param>
/// <param name="Bytes">Its size.</param>
/// <param name="Content">Its content.</param>
public sealed record MadeFile(string Path, ContentHash Inputs, long Bytes, ContentHash Content)
{
    /// <summary>The content that it replaces, until it is known to be in place; null for none.</summary>
    internal ContentHash? Before { get; init; }
}

/// <summary>What became of a file that no longer belongs to a folder.</summary>
public enum Removal
{
    /// <summary>It was removed.</summary>
    Removed,

    /// <summary>Somebody had removed it before.</summary>
    Missing,

    /// <summary>It stays, because somebody changed it after it was made.</summary>
    KeptChanged,
}
