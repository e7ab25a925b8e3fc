namespace GrooveLab.Files;

/// <summary>Why a file could not be written.</summary>
public enum FileProblem
{
    /// <summary>None of the others; the sentence beside it says what the system reported.</summary>
    Other,

    /// <summary>A file of that name exists and was not to be replaced.</summary>
    AlreadyExists,

    /// <summary>The name is a folder's.</summary>
    IsFolder,

    /// <summary>The name belongs to a disk, a socket or another thing that no file can replace.</summary>
    NotAFile,

    /// <summary>The folder of the file does not exist.</summary>
    FolderMissing,

    /// <summary>The system does not let this user write there.</summary>
    NoPermission,

    /// <summary>The file itself is protected against writing.</summary>
    WriteProtected,

    /// <summary>The file system can only be read.</summary>
    ReadOnly,

    /// <summary>The disk, or the user's share of it, is full.</summary>
    DiskFull,

    /// <summary>The file would be larger than the system or the file system permits.</summary>
    TooLarge,

    /// <summary>The name or the path is longer than the file system permits.</summary>
    NameTooLong,

    /// <summary>The name is empty or holds a character that no name may hold.</summary>
    InvalidName,

    /// <summary>Symbolic links lead to each other in a circle, or there are too many of them.</summary>
    TooManyLinks,

    /// <summary>The program that read from the pipe has ended.</summary>
    ReaderGone,

    /// <summary>Another program holds the file, or writes in its folder at this moment and does not finish.</summary>
    Busy,

    /// <summary>The disk reported an error.</summary>
    DiskError,

    /// <summary>The program is ending and gave the file up.</summary>
    Abandoned,
}
