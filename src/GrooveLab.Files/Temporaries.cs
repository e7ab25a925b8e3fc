using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Files;

/// <summary>
/// Names of files that are being written, and the removal of those whose program ended without doing so. A name says which process of which
/// machine it belongs to: <c>.groovelab-MACHINE-PROCESS-START-NUMBER.part</c>.
/// </summary>
internal static class Temporaries
{
    private const string Prefix = ".groovelab-";
    private const string Suffix = ".part";

    // Files of another machine, or of a time before this one was started, cannot be asked for: by then no write is still going on.
    private static readonly TimeSpan Forgotten = TimeSpan.FromDays(1);

    private static readonly string Machine = ThisMachine();
    private static readonly string Process = $"{Environment.ProcessId:x}-{StartOf(Environment.ProcessId) ?? "0"}";
    private static int _number;

    /// <summary>A path in a folder that no other write uses. Short, whatever the file's own name is.</summary>
    public static string NewPath(string folder) =>
        Path.Combine(folder, $"{Prefix}{Machine}-{Process}-{Interlocked.Increment(ref _number):x}{Suffix}");

    /// <summary>Whether a name is one of a file that is being written, by whatever process.</summary>
    public static bool IsOne(string name) => Parts(name) is not null;

    /// <summary>Removes what ended programs left in a folder. What cannot be removed stays.</summary>
    public static void Sweep(string folder)
    {
        try
        {
            foreach (var path in Directory.EnumerateFiles(folder, Prefix + "*" + Suffix))
            {
                if (Parts(Path.GetFileName(path)) is { } parts && IsLeftOver(path, parts.Machine, parts.Process, parts.Start))
                {
                    Remove(path);
                }
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            // A folder that may be written to and not listed: nothing is swept there.
            return;
        }
    }

    /// <summary>Removes one; a failure leaves it to a later sweep.</summary>
    public static void Remove(string path)
    {
        try
        {
            File.Delete(path);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return;
        }
    }

    private static bool IsLeftOver(string path, string machine, int process, string start)
    {
        if (machine == Machine)
        {
            return StartOf(process) != start;
        }

        return DateTime.UtcNow - File.GetLastWriteTimeUtc(path) > Forgotten;
    }

    private static (string Machine, int Process, string Start)? Parts(string name)
    {
        if (!name.StartsWith(Prefix, StringComparison.Ordinal) || !name.EndsWith(Suffix, StringComparison.Ordinal))
        {
            return null;
        }

        var parts = name[Prefix.Length..^Suffix.Length].Split('-');
        return parts is [var machine, var process, var start, _]
            && int.TryParse(process, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out var number)
            ? (machine, number, start)
            : null;
    }

    // A number of a process comes back after a while; its start does not. Null when there is no such process.
    private static string? StartOf(int process)
    {
        try
        {
            if (OperatingSystem.IsLinux())
            {
                // Field 22 of proc(5): ticks since the machine started. The name before it may hold anything, brackets too.
                var text = File.ReadAllText($"/proc/{process}/stat");
                return ulong.Parse(text[(text.LastIndexOf(')') + 2)..].Split(' ')[19], CultureInfo.InvariantCulture).ToString("x");
            }

            using var running = System.Diagnostics.Process.GetProcessById(process);
            return ((ulong)running.StartTime.ToUniversalTime().Ticks / TimeSpan.TicksPerSecond).ToString("x");
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure) || failure is ArgumentException or InvalidOperationException)
        {
            return null;
        }
    }

    // Process numbers count within one start of one machine, and in a container within that container.
    private static string ThisMachine()
    {
        var known = new StringBuilder(Environment.MachineName);
        if (OperatingSystem.IsLinux())
        {
            try
            {
                known.Append(File.ReadAllText("/proc/sys/kernel/random/boot_id"));
                known.Append(new FileInfo("/proc/self/ns/pid").LinkTarget);
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure))
            {
                known.Append('?');
            }
        }

        return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(known.ToString())))[..8];
    }
}
