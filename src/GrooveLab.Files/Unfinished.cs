using System.Collections.Concurrent;
using GrooveLab.Files.Posix;

namespace GrooveLab.Files;

/// <summary>The files that this program is writing at the moment.</summary>
internal static class Unfinished
{
    // SIGXFSZ; the same number on Linux, macOS and the BSDs.
    private const int FileSizeLimit = 25;

    private static readonly ConcurrentDictionary<UnfinishedFile, bool> Open = new();
    private static volatile bool IsClosed;

    static Unfinished()
    {
        AppDomain.CurrentDomain.ProcessExit += (_, _) => Close();
        if (!OperatingSystem.IsWindows())
        {
            // By default the system ends a program that exceeds its user's limit for file sizes; ignored, the write reports it. Not by the
            // runtime's own handlers: they run later, and at the end of the program no longer.
            const int Ignore = 1;
            _ = PosixCalls.Signal(FileSizeLimit, Ignore);
        }
    }

    /// <summary>Adds a file, before it has any name.</summary>
    /// <returns>False after <see cref="Close"/>: the program is ending, and the file must not be begun.</returns>
    public static bool Add(UnfinishedFile file)
    {
        Open[file] = true;
        // In this order: either Close finds the file in the list, or the file finds the list closed.
        return !IsClosed;
    }

    /// <summary>Removes a file from the list.</summary>
    public static void Remove(UnfinishedFile file) => Open.TryRemove(file, out _);

    /// <summary>Abandons all of them, and refuses every later one: the end of the program.</summary>
    public static void Close()
    {
        IsClosed = true;
        foreach (var file in Open.Keys)
        {
            file.Abandon();
        }
    }
}
