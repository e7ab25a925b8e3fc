using System.ComponentModel;
using System.Runtime.InteropServices;
using GrooveLab.Files.Posix;

namespace GrooveLab.Files;

/// <summary>Turns errors of the system into sentences about the requested file.</summary>
internal static class FileErrors
{
    /// <summary>A refusal of a kind.</summary>
    /// <param name="problem">The kind.</param>
    /// <param name="path">The file as the caller named it.</param>
    /// <param name="detail">The system's message; for <see cref="FileProblem.Other"/> and <see cref="FileProblem.DiskError"/>.</param>
    public static FileRefusal Refusal(FileProblem problem, string path, string? detail = null) =>
        new(problem, path, $"{path}: {Sentence(problem, path, detail)}");

    /// <summary>The same as an exception.</summary>
    public static FileRefusedException Refused(FileProblem problem, string path, string? detail = null) => new(Refusal(problem, path, detail));

    /// <summary>The problem that a failed system call means for a file.</summary>
    public static FileRefusedException OfNumber(int error, string path) =>
        Refused(ProblemOfNumber(error), path, Marshal.GetPInvokeErrorMessage(error));

    /// <summary>The problem that an exception of the base library means for a file.</summary>
    public static FileRefusedException Of(Exception failure, string path)
    {
        if (failure is FileRefusedException refused)
        {
            return refused;
        }

        var number = failure.InnerException is IOException inner ? inner.HResult : failure.HResult;
        var problem = failure switch
        {
            ArgumentOutOfRangeException => FileProblem.TooLarge,
            UnauthorizedAccessException when OperatingSystem.IsWindows() => FileProblem.NoPermission,
            _ when OperatingSystem.IsWindows() => ProblemOnWindows(number),
            UnauthorizedAccessException => ProblemOfNumber(number) is var known and not FileProblem.Other ? known : FileProblem.NoPermission,
            DirectoryNotFoundException or FileNotFoundException => FileProblem.FolderMissing,
            PathTooLongException => FileProblem.NameTooLong,
            _ => ProblemOfNumber(number),
        };
        var detail = problem is not (FileProblem.Other or FileProblem.DiskError) ? null
            : OperatingSystem.IsWindows() ? new Win32Exception(number & 0xFFFF).Message
            : number > 0 ? Marshal.GetPInvokeErrorMessage(number)
            : failure.GetType().Name;
        return new FileRefusedException(Refusal(problem, path, detail), failure);
    }

    /// <summary>
    /// True for the exceptions that the base library throws for files; it reports a write beyond the largest size as an argument out of
    /// range.
    /// </summary>
    public static bool IsOfFiles(Exception failure) => failure is IOException or UnauthorizedAccessException or ArgumentOutOfRangeException;

    private static FileProblem ProblemOfNumber(int error) => error switch
    {
        PosixErrors.Exists => FileProblem.AlreadyExists,
        PosixErrors.IsAFolder => FileProblem.IsFolder,
        PosixErrors.NoSuchFile or PosixErrors.NotAFolder => FileProblem.FolderMissing,
        PosixErrors.NoAccess or PosixErrors.NotPermitted => FileProblem.NoPermission,
        PosixErrors.ReadOnlyFileSystem => FileProblem.ReadOnly,
        PosixErrors.NoSpace => FileProblem.DiskFull,
        PosixErrors.FileTooLarge => FileProblem.TooLarge,
        PosixErrors.BrokenPipe => FileProblem.ReaderGone,
        PosixErrors.Busy => FileProblem.Busy,
        PosixErrors.InputOutput => FileProblem.DiskError,
        PosixErrors.NoSuchDevice => FileProblem.NotAFile,
        _ when error == PosixErrors.QuotaFull => FileProblem.DiskFull,
        _ when error == PosixErrors.NameTooLong => FileProblem.NameTooLong,
        _ when error == PosixErrors.TooManyLinks => FileProblem.TooManyLinks,
        _ => FileProblem.Other,
    };

    // System error codes of Windows (winerror.h).
    private static FileProblem ProblemOnWindows(int result) => (result & 0xFFFF) switch
    {
        2 or 3 => FileProblem.FolderMissing,
        5 => FileProblem.NoPermission,
        19 => FileProblem.ReadOnly,
        32 or 33 => FileProblem.Busy,
        39 or 112 => FileProblem.DiskFull,
        80 or 183 => FileProblem.AlreadyExists,
        109 or 232 => FileProblem.ReaderGone,
        123 => FileProblem.InvalidName,
        206 => FileProblem.NameTooLong,
        223 => FileProblem.TooLarge,
        21 or 23 or 29 or 1117 => FileProblem.DiskError,
        _ => FileProblem.Other,
    };

    private static string Sentence(FileProblem problem, string path, string? detail) => problem switch
    {
        FileProblem.AlreadyExists => "already exists; choose another name",
        FileProblem.IsFolder => "is a folder; name a file",
        FileProblem.NotAFile => "is not a file; name a file",
        FileProblem.FolderMissing => $"folder not found: {Folder(path)}; create it, or choose another folder",
        FileProblem.NoPermission => $"no permission to write this file or its folder {Folder(path)}; choose another folder, or change the permissions",
        FileProblem.WriteProtected => "is write-protected; choose another name, or remove the protection",
        FileProblem.ReadOnly => $"the file system of {Folder(path)} is read-only; choose another folder",
        FileProblem.DiskFull => "the disk is full; free some space, or choose another disk",
        FileProblem.TooLarge => "the file is too large for this file system or for this user's limit; make it shorter, or choose another disk",
        FileProblem.NameTooLong => "the name is too long; choose a shorter one",
        FileProblem.InvalidName => "this cannot be the name of a file; choose another name",
        FileProblem.TooManyLinks => "its symbolic links form a loop; choose another name, or fix the links",
        FileProblem.ReaderGone => "the program that reads from it has ended",
        FileProblem.Busy => "another program is using it; try again",
        FileProblem.DiskError => $"the disk reports an error ({detail}); choose another disk",
        FileProblem.Abandoned => "not finished: the program is ending",
        _ => $"cannot be written: {detail}",
    };

    private static string Folder(string path)
    {
        try
        {
            return Path.GetDirectoryName(path) is { Length: > 0 } folder ? folder : Path.GetDirectoryName(Path.GetFullPath(path)) ?? path;
        }
        catch (ArgumentException)
        {
            return path;
        }
    }
}
