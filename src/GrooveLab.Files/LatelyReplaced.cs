using System.Diagnostics;
using System.Runtime.Versioning;
using GrooveLab.Files.Posix;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Files;

/// <summary>
/// Files that were replaced a moment ago and have no name any more. A program that looked up the name just before may still open such a
/// file and write to it; what it writes is copied to <c>NAME~</c>.
/// </summary>
[SupportedOSPlatform("linux")]
internal static class LatelyReplaced
{
    // A program is between the two steps for microseconds, but can be suspended there, on a busy machine for long.
    private static readonly TimeSpan Watched = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(50);
    private const int Most = 256;

    private static readonly Lock Gate = new();
    private static readonly List<Entry> Entries = [];
    private static readonly Timer Looking = new(_ => Look());

    static LatelyReplaced()
    {
        AppDomain.CurrentDomain.ProcessExit += (_, _) => Look();
    }

    /// <summary>Watches a file for five seconds.</summary>
    /// <param name="file">The open file, which this now owns.</param>
    /// <param name="known">Its content.</param>
    /// <param name="target">The file that replaced it.</param>
    public static void Add(SafeFileHandle file, ContentHash known, FileTarget target)
    {
        lock (Gate)
        {
            Entries.Add(new Entry(file, known, target, Stopwatch.GetTimestamp(), Entry.StateOf(file)));
            if (Entries.Count > Most)
            {
                Take(Entries[0]);
            }

            Looking.Change(Pause, Timeout.InfiniteTimeSpan);
        }
    }

    /// <summary>Copies what was written to them, and ends the watch of those that were replaced long enough ago.</summary>
    public static void Look()
    {
        lock (Gate)
        {
            foreach (var entry in Entries.ToList())
            {
                if (entry.IsChanged() || Stopwatch.GetElapsedTime(entry.Since) > Watched)
                {
                    Take(entry);
                }
            }

            if (Entries.Count > 0)
            {
                Looking.Change(Pause, Timeout.InfiniteTimeSpan);
            }
        }
    }

    // One that is still being written stays, unless its time is over.
    private static void Take(Entry entry)
    {
        using (var watch = WriteWatch.Of(entry.Path))
        {
            if (watch.IsWritten && Stopwatch.GetElapsedTime(entry.Since) <= Watched)
            {
                return;
            }
        }

        Entries.Remove(entry);
        using (entry.File)
        {
            // If the replaced file was kept as a copy, that copy has the text already.
            if (entry.Read() is { Length: > 0 } content && ContentHash.Of(content) != entry.Known)
            {
                Copy(entry.Target, content);
            }
        }
    }

    private static void Copy(FileTarget target, byte[] content)
    {
        try
        {
            Backups.Add(target, content);
        }
        catch (FileRefusedException)
        {
            // Nothing else can be done for it: its own program has closed it, and believes that it was saved.
            return;
        }
    }

    private sealed record Entry(SafeFileHandle File, ContentHash Known, FileTarget Target, long Since, (long Length, DateTime Written) State)
    {
        public string Path => $"/proc/self/fd/{File.DangerousGetHandle()}";

        public static (long Length, DateTime Written) StateOf(SafeFileHandle file)
        {
            try
            {
                return (RandomAccess.GetLength(file), System.IO.File.GetLastWriteTimeUtc(file));
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure))
            {
                return default;
            }
        }

        public bool IsChanged() => StateOf(File) != State;

        public byte[]? Read()
        {
            try
            {
                var content = new byte[RandomAccess.GetLength(File)];
                return content[..RandomAccess.Read(File, content, 0)];
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure))
            {
                return null;
            }
        }
    }
}
