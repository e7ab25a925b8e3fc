using System.Collections.Concurrent;
using System.Runtime.InteropServices;

namespace GrooveLab.Files;

/// <summary>The files that this program is writing at the moment.</summary>
internal static class Unfinished
{
    // SIGXFSZ, of one number on Linux, macOS and the BSDs.
    private const int FileSizeLimit = 25;

    private static readonly ConcurrentDictionary<UnfinishedFile, bool> Open = new();

    // By default the system ends a program that writes beyond its user's limit for a file's size; where the signal is taken, the write reports it.
    private static readonly PosixSignalRegistration? BeyondLimit = OperatingSystem.IsWindows()
        ? null
        : PosixSignalRegistration.Create((PosixSignal)FileSizeLimit, context => context.Cancel = true);

    static Unfinished() => AppDomain.CurrentDomain.ProcessExit += (_, _) =>
    {
        Forget();
        BeyondLimit?.Dispose();
    };

    /// <summary>One more.</summary>
    public static void Add(UnfinishedFile file) => Open[file] = true;

    /// <summary>One less.</summary>
    public static void Remove(UnfinishedFile file) => Open.TryRemove(file, out _);

    /// <summary>Removes all of them.</summary>
    public static void Forget()
    {
        foreach (var file in Open.Keys)
        {
            file.Abandon();
        }
    }
}
