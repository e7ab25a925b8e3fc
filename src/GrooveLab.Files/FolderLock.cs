using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Security.Cryptography;
using System.Text;
using GrooveLab.Files.Posix;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Files;

/// <summary>
/// Stops other GrooveLab programs, and other threads of this one, from checking and replacing a file of the same folder at once. Ends with
/// its process, however that ends. Other programs ignore it.
/// </summary>
/// <remarks>
/// On Linux and macOS the folder itself is locked (flock(2)), so that no file is left there and every path to it finds the same lock. Where
/// that is not possible, as on Windows and on some network file systems, a file in the program's own folder is held open instead.
/// </remarks>
internal sealed class FolderLock : IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(5);

    private readonly SafeHandle? _held;

    private FolderLock(SafeHandle? held)
    {
        _held = held;
    }

    /// <summary>Waits for the lock and takes it.</summary>
    /// <param name="folder">The folder, symbolic links followed.</param>
    /// <param name="ownFolder">A folder for the program's own files.</param>
    /// <param name="plain">Whether to lock a file even if the folder can be locked.</param>
    /// <param name="patience">How long to wait; null for 10 s.</param>
    /// <returns>The lock; null if it was held by others all the time.</returns>
    public static FolderLock? Take(string folder, string ownFolder, bool plain = false, TimeSpan? patience = null)
    {
        var start = Stopwatch.GetTimestamp();
        while (true)
        {
            if (Try(folder, ownFolder, plain) is { } taken)
            {
                return taken;
            }

            if (Stopwatch.GetElapsedTime(start) >= (patience ?? Patience))
            {
                return null;
            }

            Thread.Sleep(Pause);
        }
    }

    /// <summary>Releases the lock.</summary>
    public void Dispose() => _held?.Dispose();

    private static FolderLock? Try(string folder, string ownFolder, bool plain)
    {
        if (!plain && !OperatingSystem.IsWindows() && PosixCalls.OpenToRead(folder) is { } handle)
        {
            if (PosixCalls.Lock(handle, PosixCalls.LockExclusiveNow) == 0)
            {
                return new FolderLock(handle);
            }

            var error = Marshal.GetLastPInvokeError();
            handle.Dispose();
            if (error == PosixErrors.WouldBlock || error == PosixErrors.Interrupted)
            {
                return null;
            }
        }

        return ByFile(folder, ownFolder);
    }

    private static FolderLock? ByFile(string folder, string ownFolder)
    {
        var mark = Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(OperatingSystem.IsWindows() ? folder.ToUpperInvariant() : folder)))[..32];
        var locks = Path.Combine(ownFolder, "locks");
        try
        {
            Directory.CreateDirectory(locks);
            return new FolderLock(File.OpenHandle(Path.Combine(locks, mark), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None));
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            // Held by another, or locks are impossible here; then the check before the exchange must suffice.
            return failure is IOException && Directory.Exists(locks) && File.Exists(Path.Combine(locks, mark)) ? null : new FolderLock(null);
        }
    }
}
