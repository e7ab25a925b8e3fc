namespace GrooveLab.Files.Posix;

/// <summary>The numbers of errors. Where Linux and macOS differ, this system's.</summary>
internal static class PosixErrors
{
    public const int NotPermitted = 1;
    public const int NoSuchFile = 2;
    public const int InputOutput = 5;
    public const int NoSuchDevice = 6;
    public const int BadDescriptor = 9;
    public const int NoAccess = 13;
    public const int Busy = 16;
    public const int Exists = 17;
    public const int NotAFolder = 20;
    public const int IsAFolder = 21;
    public const int Invalid = 22;
    public const int FileTooLarge = 27;
    public const int NoSpace = 28;
    public const int ReadOnlyFileSystem = 30;
    public const int TooManyHardLinks = 31;
    public const int BrokenPipe = 32;

    /// <summary>Interrupted by a signal: to be repeated.</summary>
    public const int Interrupted = 4;

    /// <summary>Somebody else holds the lock.</summary>
    public static int WouldBlock => OperatingSystem.IsMacOS() ? 35 : 11;

    /// <summary>The name is too long.</summary>
    public static int NameTooLong => OperatingSystem.IsMacOS() ? 63 : 36;

    /// <summary>Too many symbolic links.</summary>
    public static int TooManyLinks => OperatingSystem.IsMacOS() ? 62 : 40;

    /// <summary>The user's share of the disk is full.</summary>
    public static int QuotaFull => OperatingSystem.IsMacOS() ? 69 : 122;

    /// <summary>The system has no such call.</summary>
    public static int NoSuchCall => OperatingSystem.IsMacOS() ? 78 : 38;

    /// <summary>The file system does not support it.</summary>
    public static int NotSupported => OperatingSystem.IsMacOS() ? 45 : 95;
}
