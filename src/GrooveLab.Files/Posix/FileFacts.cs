using System.Buffers.Binary;
using System.Runtime.InteropServices;
using System.Runtime.Versioning;

namespace GrooveLab.Files.Posix;

/// <summary>What exists under a name.</summary>
internal enum FileKind
{
    /// <summary>Nothing.</summary>
    Absent,

    /// <summary>A file with content.</summary>
    Regular,

    /// <summary>A folder.</summary>
    Folder,

    /// <summary>A symbolic link.</summary>
    Link,

    /// <summary>A named pipe.</summary>
    Pipe,

    /// <summary>A device that accepts a stream of bytes: a terminal, the null device.</summary>
    CharacterDevice,

    /// <summary>A disk, a socket, anything else.</summary>
    Other,
}

/// <summary>The system's information about a name; symbolic links are not followed.</summary>
/// <param name="Kind">What it is.</param>
/// <param name="Mode">Its permissions; null if the system has other rules.</param>
/// <param name="User">Number of the owner; null if unknown.</param>
/// <param name="Group">Number of the group; null if unknown.</param>
internal readonly record struct FileFacts(FileKind Kind, UnixFileMode? Mode, uint? User, uint? Group)
{
    private const int ModeMask = 0xFFF;

    /// <summary>Nothing with that name.</summary>
    public static FileFacts Absent { get; } = new(FileKind.Absent, null, null, null);

    /// <summary>Queries the system.</summary>
    /// <param name="path">Any path.</param>
    /// <param name="error">Number of the error if the query failed; 0 otherwise. "No such file" is a valid result.</param>
    public static FileFacts Of(string path, out int error)
    {
        error = 0;
        try
        {
            if (OperatingSystem.IsLinux())
            {
                return OnLinux(path, out error);
            }

            if (OperatingSystem.IsMacOS())
            {
                return OnMac(path, out error);
            }
        }
        catch (EntryPointNotFoundException)
        {
            // A C library without that call: use the base library.
            error = 0;
        }

        return Elsewhere(path);
    }

    [SupportedOSPlatform("linux")]
    private static unsafe FileFacts OnLinux(string path, out int error)
    {
        // struct statx: fixed on every processor (linux/stat.h).
        const int Size = 256;
        const int DoNotFollow = 0x100;
        const uint BasicFacts = 0x7FF;
        var facts = stackalloc byte[Size];
        var answer = PosixCalls.StatX(PosixCalls.WorkingFolder, path, DoNotFollow, BasicFacts, facts);
        error = answer == 0 ? 0 : Marshal.GetLastPInvokeError();
        if (answer != 0)
        {
            error = error == PosixErrors.NoSuchFile ? 0 : error;
            return Absent;
        }

        var bytes = new ReadOnlySpan<byte>(facts, Size);
        return From(
            BinaryPrimitives.ReadUInt16LittleEndian(bytes[28..]),
            BinaryPrimitives.ReadUInt32LittleEndian(bytes[20..]),
            BinaryPrimitives.ReadUInt32LittleEndian(bytes[24..]));
    }

    [SupportedOSPlatform("macos")]
    private static unsafe FileFacts OnMac(string path, out int error)
    {
        // struct stat with 64-bit inodes (sys/stat.h).
        const int Size = 256;
        var facts = stackalloc byte[Size];
        var answer = RuntimeInformation.ProcessArchitecture == Architecture.X64
            ? PosixCalls.LinkStatOnX64(path, facts)
            : PosixCalls.LinkStat(path, facts);
        error = answer == 0 ? 0 : Marshal.GetLastPInvokeError();
        if (answer != 0)
        {
            error = error == PosixErrors.NoSuchFile ? 0 : error;
            return Absent;
        }

        var bytes = new ReadOnlySpan<byte>(facts, Size);
        return From(
            BinaryPrimitives.ReadUInt16LittleEndian(bytes[4..]),
            BinaryPrimitives.ReadUInt32LittleEndian(bytes[16..]),
            BinaryPrimitives.ReadUInt32LittleEndian(bytes[20..]));
    }

    private static FileFacts From(ushort mode, uint user, uint group)
    {
        var kind = (mode & 0xF000) switch
        {
            0x8000 => FileKind.Regular,
            0x4000 => FileKind.Folder,
            0xA000 => FileKind.Link,
            0x1000 => FileKind.Pipe,
            0x2000 => FileKind.CharacterDevice,
            _ => FileKind.Other,
        };
        return new FileFacts(kind, (UnixFileMode)(mode & ModeMask), user, group);
    }

    private static FileFacts Elsewhere(string path)
    {
        var file = new FileInfo(path);
        var kind = file.LinkTarget is not null ? FileKind.Link
            : Directory.Exists(path) ? FileKind.Folder
            : file.Exists ? FileKind.Regular
            : FileKind.Absent;
        UnixFileMode? mode = kind == FileKind.Regular && !OperatingSystem.IsWindows() ? File.GetUnixFileMode(path) : null;
        return new FileFacts(kind, mode, null, null);
    }
}
