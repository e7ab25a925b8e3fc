using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Files.Posix;

/// <summary>
/// Watches whether a program has a file open for writing, from its start to <see cref="Dispose"/>; a program that opens it meanwhile waits
/// for that end. By a read lease, which is granted only while no program writes (fcntl(2)).
/// </summary>
[SupportedOSPlatform("linux")]
internal sealed class WriteWatch : IDisposable
{
    private const int SetLease = 1024;
    private const int GetLease = 1025;
    private const int ForReading = 0;

    private SafeFileHandle? _file;
    private readonly bool _wasWritten;
    private readonly bool _isLeased;

    private WriteWatch(SafeFileHandle? file, bool wasWritten, bool isLeased)
    {
        _file = file;
        _wasWritten = wasWritten;
        _isLeased = isLeased;
    }

    /// <summary>
    /// True if a program had the file open for writing at the start, or has opened it since. False if the system or the file system cannot
    /// tell.
    /// </summary>
    public bool IsWritten => _wasWritten || (_isLeased && PosixCalls.Control(_file!, GetLease, 0) != ForReading);

    /// <summary>Starts to watch a file. One that does not exist is never written.</summary>
    public static WriteWatch Of(string path)
    {
        const int SetSignal = 10;
        const int Urgent = 23;
        var file = PosixCalls.OpenToRead(path);

        // When another program opens the file, the lease's holder gets a signal: one that has no effect by default.
        if (file is null || PosixCalls.Control(file, SetSignal, Urgent) != 0)
        {
            return new WriteWatch(file, wasWritten: false, isLeased: false);
        }

        var isLeased = PosixCalls.Control(file, SetLease, ForReading) == 0;
        return new WriteWatch(file, wasWritten: !isLeased && Marshal.GetLastPInvokeError() == PosixErrors.WouldBlock, isLeased);
    }

    /// <summary>Ends it and hands over the open file; null if there is none. Programs that wait for the file go on.</summary>
    public SafeFileHandle? Release()
    {
        const int NoLease = 2;
        var file = _file;
        _file = null;
        if (file is not null && _isLeased)
        {
            _ = PosixCalls.Control(file, SetLease, NoLease);
        }

        return file;
    }

    /// <summary>Ends it; programs that wait for the file go on.</summary>
    public void Dispose() => _file?.Dispose();
}
