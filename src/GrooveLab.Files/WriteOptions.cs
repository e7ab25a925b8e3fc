namespace GrooveLab.Files;

/// <summary>The options for writing a file.</summary>
public sealed record WriteOptions
{
    /// <summary>Never replaces a file; the folder must exist.</summary>
    public static WriteOptions New { get; } = new();

    /// <summary>Replaces a file of that name.</summary>
    public static WriteOptions Replacing { get; } = new() { Replace = true };

    /// <summary>Replaces a file of that name and creates its folder: for the program's own files.</summary>
    public static WriteOptions Own { get; } = new() { Replace = true, MakeFolder = true };

    /// <summary>Whether a file of that name is replaced. Default: no. Pipes and devices are always written to.</summary>
    public bool Replace { get; init; }

    /// <summary>Whether missing folders are created. Default: no.</summary>
    public bool MakeFolder { get; init; }

    /// <summary>
    /// Whether to avoid features that only some systems have (files without a name, the exchange of two names). For tests.
    /// </summary>
    internal bool IsPlain { get; init; }
}

/// <summary>The result of a write.</summary>
/// <param name="Path">The file as the caller named it.</param>
/// <param name="Refusal">Why nothing was written; null if the file was written.</param>
public sealed record WriteResult(string Path, FileRefusal? Refusal)
{
    /// <summary>True if the whole content is in the file, and on the disk if the system can confirm it.</summary>
    public bool IsWritten => Refusal is null;

    /// <summary>Throws if nothing was written, for callers that use exceptions.</summary>
    /// <exception cref="FileRefusedException">Nothing was written.</exception>
    public void ThrowIfRefused()
    {
        if (Refusal is not null)
        {
            throw new FileRefusedException(Refusal);
        }
    }
}
