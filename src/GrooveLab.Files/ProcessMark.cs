using System.Diagnostics;
using System.Globalization;
using System.Runtime.CompilerServices;

namespace GrooveLab.Files;

/// <summary>Whether a process still runs.</summary>
public enum ProcessPresence
{
    /// <summary>It is running.</summary>
    Running,

    /// <summary>It has ended, or its machine has been restarted.</summary>
    Ended,

    /// <summary>It ran on another machine, or on this one under another name.</summary>
    Unknown,
}

/// <summary>
/// A word that identifies a process uniquely, even among later ones with the same number: <c>MACHINE-START-PROCESS-START</c>, for names of
/// files.
/// </summary>
public static class ProcessMark
{
    private const int Parts = 4;

    private static readonly string Machine = Hash(Environment.MachineName);
    private static readonly string MachineStart = Hash(StartOfMachine());

    /// <summary>The mark of this process: letters, digits and three hyphens.</summary>
    public static string Own { get; } = Of(Environment.ProcessId) ?? $"{Machine}-{MachineStart}-{Environment.ProcessId:x}-0";

    /// <summary>The mark of another process of this machine; null if no process has that number.</summary>
    public static string? Of(int process) => StartOf(process) is { } start ? $"{Machine}-{MachineStart}-{process:x}-{start}" : null;

    /// <summary>Whether the process of a mark still runs.</summary>
    /// <param name="mark">The mark; any other word counts as an unknown process.</param>
    public static ProcessPresence Presence(string mark)
    {
        if (mark.Split('-') is not { Length: Parts } parts
            || parts[0] != Machine
            || !int.TryParse(parts[2], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out var process))
        {
            return ProcessPresence.Unknown;
        }

        return parts[1] == MachineStart && StartOf(process) == parts[3] ? ProcessPresence.Running : ProcessPresence.Ended;
    }

    // The number of a process is reused after a while; its start time is not. Null if the process does not exist.
    private static string? StartOf(int process)
    {
        try
        {
            if (OperatingSystem.IsLinux())
            {
                // Field 22 of proc(5): ticks since the machine started. The name before it may contain anything, even brackets.
                var text = File.ReadAllText($"/proc/{process}/stat");
                return ulong.Parse(text[(text.LastIndexOf(')') + 2)..].Split(' ')[19], CultureInfo.InvariantCulture).ToString("x");
            }

            return StartElsewhere(process);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure) || failure is ArgumentException or InvalidOperationException)
        {
            return null;
        }
    }

    // A method of its own, so that Linux need not load the library.
    [MethodImpl(MethodImplOptions.NoInlining)]
    private static string StartElsewhere(int process)
    {
        using var running = Process.GetProcessById(process);
        return ((ulong)running.StartTime.ToUniversalTime().Ticks / TimeSpan.TicksPerSecond).ToString("x");
    }

    // Process numbers are unique only until the machine restarts, and only within a container. Outside Linux, the process's own
    // start time tells them apart.
    private static string StartOfMachine()
    {
        try
        {
            return OperatingSystem.IsLinux()
                ? File.ReadAllText("/proc/sys/kernel/random/boot_id") + new FileInfo("/proc/self/ns/pid").LinkTarget
                : string.Empty;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return string.Empty;
        }
    }

    // FNV-1a with 32 bits (from memory). It needs no cryptography, whose library takes longer to load than all other work on a mark.
    private static string Hash(string text)
    {
        var hash = 2166136261;
        foreach (var letter in text)
        {
            hash = unchecked((hash ^ letter) * 16777619);
        }

        return hash.ToString("x8", CultureInfo.InvariantCulture);
    }
}
