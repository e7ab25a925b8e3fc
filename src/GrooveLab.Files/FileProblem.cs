namespace GrooveLab.Files;

/// <summary>Why a file could not be written.</summary>
public enum FileProblem
{
    /// <summary>None of the others; the message has the system's error.</summary>
    Other,

    /// <summary>A file of that name exists and must not be replaced.</summary>
    AlreadyExists,

    /// <summary>The name is that of a folder.</summary>
    IsFolder,

    /// <summary>The name is that of a disk, a socket or something else that a file cannot replace.</summary>
    NotAFile,

    /// <summary>The folder of the file does not exist.</summary>
    FolderMissing,

    /// <summary>The system does not let this user write there.</summary>
    NoPermission,

    /// <summary>The file itself is write-protected.</summary>
    WriteProtected,

    /// <summary>The file system is read-only.</summary>
    ReadOnly,

    /// <summary>The disk, or the user's share of it, is full.</summary>
    DiskFull,

    /// <summary>The file would be larger than the system or the file system permits.</summary>
    TooLarge,

    /// <summary>The name or the path is longer than the file system permits.</summary>
    NameTooLong,

    /// <summary>The name is empty or contains an invalid character.</summary>
    InvalidName,

    /// <summary>Symbolic links form a loop, or there are too many.</summary>
    TooManyLinks,

    /// <summary>The program that read from the pipe has ended.</summary>
    ReaderGone,

    /// <summary>Another program has locked the file, or is writing in its folder and does not finish.</summary>
    Busy,

    /// <summary>The disk reported an error.</summary>
    DiskError,

    /// <summary>The program is ending and abandoned the file.</summary>
    Abandoned,
}
