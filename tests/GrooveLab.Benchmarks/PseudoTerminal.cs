using System.ComponentModel;
using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Benchmarks;

/// <summary>
/// A pseudo-terminal with a program on it, on Linux. The program's output is read as it arrives. Nothing answers the program's queries to its
/// terminal unless <see cref="Type"/> does.
/// </summary>
internal sealed partial class PseudoTerminal : IDisposable
{
    private const int ReadWrite = 2;
    private const int NoControllingTerminal = 0x100;
    private const nuint SetWindowSize = 0x5414;
    private const double TicksPerSecond = 100;

    private readonly SafeFileHandle _ours;
    private readonly FileStream _stream;

    private PseudoTerminal(SafeFileHandle ours, Process process, long began)
    {
        _ours = ours;
        _stream = new FileStream(ours, FileAccess.ReadWrite, bufferSize: 0);
        (Process, Began) = (process, began);
        Errors = process.StandardError.ReadToEndAsync();
    }

    /// <summary>The program.</summary>
    public Process Process { get; }

    /// <summary>When it was started, as a stopwatch timestamp.</summary>
    public long Began { get; }

    /// <summary>Its standard error, complete when it has ended.</summary>
    public Task<string> Errors { get; }

    /// <summary>Starts a program on a terminal of the given size.</summary>
    public static PseudoTerminal Start(IReadOnlyList<string> command, int columns, int rows, IReadOnlyDictionary<string, string> environment)
    {
        var ours = OpenTerminal(ReadWrite | NoControllingTerminal);
        var name = new byte[64];
        if (ours.IsInvalid || GrantTerminal(ours) != 0 || UnlockTerminal(ours) != 0 || TerminalName(ours, name, (nuint)name.Length) != 0)
        {
            throw new Win32Exception(Marshal.GetLastPInvokeError(), "cannot open a pseudo-terminal");
        }

        var path = System.Text.Encoding.ASCII.GetString(name, 0, Array.IndexOf(name, (byte)0));
        ushort[] size = [(ushort)rows, (ushort)columns, 0, 0];
        _ = Control(ours, SetWindowSize, size);

        // The shell and setsid replace themselves with the program, which keeps their process number.
        var start = new ProcessStartInfo("/bin/sh", ["-c", "exec setsid -c \"$@\" <\"$0\" >\"$0\"", path, .. command])
        {
            RedirectStandardError = true,
            UseShellExecute = false,
        };
        foreach (var (key, value) in environment)
        {
            start.Environment[key] = value;
        }

        var began = Stopwatch.GetTimestamp();
        return new PseudoTerminal(ours, Process.Start(start)!, began);
    }

    /// <summary>Waits for the next output; empty at the end.</summary>
    public ReadOnlySpan<byte> Read(byte[] into)
    {
        try
        {
            return into.AsSpan(0, _stream.Read(into));
        }
        catch (IOException)
        {
            // The terminal reports that no program is on its other side: not yet, or no longer.
            return [];
        }
    }

    /// <summary>Presses keys.</summary>
    public void Type(ReadOnlySpan<byte> keys) => _stream.Write(keys);

    /// <summary>
    /// CPU time of the program so far, in seconds, in steps of 1/100: its own and the kernel's, for all threads or only the first.
    /// </summary>
    public (double Own, double Kernel) Processor(bool firstThread = false)
    {
        var stat = File.ReadAllText(firstThread ? $"/proc/{Process.Id}/task/{Process.Id}/stat" : $"/proc/{Process.Id}/stat");
        var fields = stat[(stat.LastIndexOf(')') + 2)..].Split(' ');
        double Seconds(int field) => double.Parse(fields[field - 3], CultureInfo.InvariantCulture) / TicksPerSecond;
        return (Seconds(14), Seconds(15));
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        if (!Process.HasExited)
        {
            Process.Kill();
        }

        Process.Dispose();
        _stream.Dispose();
        _ours.Dispose();
    }

    [LibraryImport("libc", EntryPoint = "posix_openpt", SetLastError = true)]
    private static partial SafeFileHandle OpenTerminal(int flags);

    [LibraryImport("libc", EntryPoint = "grantpt", SetLastError = true)]
    private static partial int GrantTerminal(SafeFileHandle terminal);

    [LibraryImport("libc", EntryPoint = "unlockpt", SetLastError = true)]
    private static partial int UnlockTerminal(SafeFileHandle terminal);

    [LibraryImport("libc", EntryPoint = "ptsname_r", SetLastError = true)]
    private static partial int TerminalName(SafeFileHandle terminal, [Out] byte[] name, nuint length);

    [LibraryImport("libc", EntryPoint = "ioctl", SetLastError = true)]
    private static partial int Control(SafeFileHandle terminal, nuint request, ushort[] size);
}
