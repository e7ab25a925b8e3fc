using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Files.Posix;

/// <summary>
/// System calls that the base library does not offer. Names and numbers as in POSIX.1-2017 and in the manual pages of Linux; each returns
/// -1 on an error, with the number of the error in <see cref="Marshal.GetLastPInvokeError"/>.
/// </summary>
[UnsupportedOSPlatform("windows")]
internal static partial class PosixCalls
{
    /// <summary>Paths are relative to the working folder.</summary>
    public const int WorkingFolder = -100;

    /// <summary>Follow a symbolic link, in <see cref="LinkAt"/>.</summary>
    public const int FollowLink = 0x400;

    /// <summary>Do not replace, in <see cref="RenameAt2"/>.</summary>
    public const uint NoReplace = 1;

    /// <summary>Exchange the two names in one step, in <see cref="RenameAt2"/>.</summary>
    public const uint Exchange = 2;

    /// <summary>Lock for one holder, without waiting, in <see cref="Lock"/>.</summary>
    public const int LockExclusiveNow = 2 | 4;

    /// <summary>May be written to, in <see cref="Access"/>.</summary>
    public const int MayWrite = 2;

    private const string Library = "libc";

    /// <summary>Opens for reading and not for child processes.</summary>
    public static int OpenFlags => OperatingSystem.IsMacOS() ? 0x0100_0000 : 0x8_0000;

    /// <summary>
    /// Creates a file without a name in a folder, for writing; null if that is impossible. On Linux the flag for folders depends on the
    /// processor.
    /// </summary>
    public static int? NamelessFlags => !OperatingSystem.IsLinux() ? null : RuntimeInformation.ProcessArchitecture switch
    {
        Architecture.X64 or Architecture.X86 => 0x40_0000 | 0x1_0000 | 0x8_0000 | 1,
        Architecture.Arm64 or Architecture.Arm => 0x40_0000 | 0x4000 | 0x8_0000 | 1,
        _ => null,
    };

    [LibraryImport(Library, EntryPoint = "open", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static partial int Open(string path, int flags, uint mode);

    /// <summary>Sets how the process reacts to a signal; 1 ignores it.</summary>
    [LibraryImport(Library, EntryPoint = "signal", SetLastError = true)]
    public static partial nint Signal(int number, nint reaction);

    [LibraryImport(Library, EntryPoint = "fsync", SetLastError = true)]
    public static partial int Sync(SafeFileHandle file);

    [LibraryImport(Library, EntryPoint = "dup", SetLastError = true)]
    public static partial int Duplicate(int descriptor);

    [LibraryImport(Library, EntryPoint = "write", SetLastError = true)]
    public static unsafe partial nint Write(SafeFileHandle file, byte* bytes, nint count);

    [LibraryImport(Library, EntryPoint = "flock", SetLastError = true)]
    public static partial int Lock(SafeFileHandle file, int operation);

    [LibraryImport(Library, EntryPoint = "fchown", SetLastError = true)]
    public static partial int ChangeOwner(SafeFileHandle file, uint user, uint group);

    [LibraryImport(Library, EntryPoint = "access", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static partial int Access(string path, int mode);

    [LibraryImport(Library, EntryPoint = "link", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static partial int Link(string existing, string name);

    [LibraryImport(Library, EntryPoint = "rename", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static partial int Rename(string from, string to);

    [SupportedOSPlatform("linux")]
    [LibraryImport(Library, EntryPoint = "linkat", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static partial int LinkAt(int fromFolder, string from, int toFolder, string to, int flags);

    [SupportedOSPlatform("linux")]
    [LibraryImport(Library, EntryPoint = "renameat2", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static partial int RenameAt2(int fromFolder, string from, int toFolder, string to, uint flags);

    [SupportedOSPlatform("linux")]
    [LibraryImport(Library, EntryPoint = "statx", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static unsafe partial int StatX(int folder, string path, int flags, uint mask, byte* into);

    [SupportedOSPlatform("macos")]
    [LibraryImport(Library, EntryPoint = "lstat", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static unsafe partial int LinkStat(string path, byte* into);

    // On that processor the plain name is an older call with another layout.
    [SupportedOSPlatform("macos")]
    [LibraryImport(Library, EntryPoint = "lstat$INODE64", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static unsafe partial int LinkStatOnX64(string path, byte* into);

    [SupportedOSPlatform("linux")]
    [LibraryImport(Library, EntryPoint = "listxattr", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static unsafe partial nint ListAttributes(string path, byte* names, nint room);

    [SupportedOSPlatform("linux")]
    [LibraryImport(Library, EntryPoint = "getxattr", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static unsafe partial nint GetAttribute(string path, string name, byte* value, nint room);

    [SupportedOSPlatform("linux")]
    [LibraryImport(Library, EntryPoint = "fsetxattr", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    public static unsafe partial int SetAttribute(SafeFileHandle file, string name, byte* value, nint size, int flags);

    /// <summary>The path of a file with every symbolic link followed; null on an error.</summary>
    public static string? RealPath(string path)
    {
        var found = RealPath(path, 0);
        if (found == 0)
        {
            return null;
        }

        try
        {
            return Marshal.PtrToStringUTF8(found);
        }
        finally
        {
            Free(found);
        }
    }

    /// <summary>Opens a folder to lock it or to sync it, or a file to read it; null on an error.</summary>
    public static SafeFileHandle? OpenToRead(string path)
    {
        var descriptor = Open(path, OpenFlags, 0);
        return descriptor < 0 ? null : new SafeFileHandle(descriptor, ownsHandle: true);
    }

    [SupportedOSPlatform("linux")]
    [LibraryImport(Library, EntryPoint = "fcntl", SetLastError = true)]
    public static partial int Control(SafeFileHandle file, int command, nint argument);

    [LibraryImport(Library, EntryPoint = "realpath", StringMarshalling = StringMarshalling.Utf8, SetLastError = true)]
    private static partial nint RealPath(string path, nint into);

    [LibraryImport(Library, EntryPoint = "free")]
    private static partial void Free(nint memory);
}
