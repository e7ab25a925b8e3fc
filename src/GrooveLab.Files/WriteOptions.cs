namespace GrooveLab.Files;

/// <summary>How a file is written.</summary>
public sealed record WriteOptions
{
    /// <summary>Never replaces, and needs the folder to exist.</summary>
    public static WriteOptions New { get; } = new();

    /// <summary>Replaces a file of that name.</summary>
    public static WriteOptions Replacing { get; } = new() { Replace = true };

    /// <summary>Replaces a file of that name, and makes its folder: for what the program keeps for itself.</summary>
    public static WriteOptions Own { get; } = new() { Replace = true, MakeFolder = true };

    /// <summary>Whether a file of that name is replaced. Default: no. Pipes and devices are written to in both cases.</summary>
    public bool Replace { get; init; }

    /// <summary>Whether a missing folder is made, with those above it. Default: no.</summary>
    public bool MakeFolder { get; init; }

    /// <summary>Whether it does without what only some systems have, as on the others: files without a name, the exchange of two names. For tests.</summary>
    internal bool IsPlain { get; init; }
}

/// <summary>What became of a write.</summary>
/// <param name="Path">The file as the caller named it.</param>
/// <param name="Refusal">Why nothing was written; null when the file is written.</param>
public sealed record WriteResult(string Path, FileRefusal? Refusal)
{
    /// <summary>True when the whole content is in the file, and on the disk where the system can say so.</summary>
    public bool IsWritten => Refusal is null;

    /// <summary>For callers that report by exceptions.</summary>
    /// <exception cref="FileRefusedException">Nothing was written.</exception>
    public void ThrowIfRefused()
    {
        if (Refusal is not null)
        {
            throw new FileRefusedException(Refusal);
        }
    }
}
