namespace GrooveLab.Files;

/// <summary>
/// Names of files that are being written, and the removal of those whose program ended too early:
/// <c>.groovelab-MARK-NUMBER.part</c>, with the mark of the process (<see cref="ProcessMark"/>).
/// </summary>
internal static class Temporaries
{
    private const string Prefix = ".groovelab-";
    private const string Suffix = ".part";

    // The processes of another machine cannot be checked; after this time no write is still in progress.
    private static readonly TimeSpan Forgotten = TimeSpan.FromDays(1);

    private static int LastNumber;

    /// <summary>A path in a folder that no other write uses; short, whatever the file's own name.</summary>
    public static string NewPath(string folder) =>
        Path.Combine(folder, $"{Prefix}{ProcessMark.Own}-{Interlocked.Increment(ref LastNumber):x}{Suffix}");

    /// <summary>Removes the files that ended programs left in a folder, as far as possible.</summary>
    public static void Sweep(string folder)
    {
        try
        {
            foreach (var path in Directory.EnumerateFiles(folder, Prefix + "*-*" + Suffix))
            {
                if (IsLeftOver(path))
                {
                    Remove(path);
                }
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            // A folder that can be written to but not listed is not cleaned.
            return;
        }
    }

    /// <summary>Removes one; after a failure a later call removes it.</summary>
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

    private static bool IsLeftOver(string path)
    {
        var name = Path.GetFileName(path)[Prefix.Length..^Suffix.Length];
        var end = name.LastIndexOf('-');
        return ProcessMark.Presence(name[..end]) switch
        {
            ProcessPresence.Ended => true,
            ProcessPresence.Running => false,
            _ => name.Count(letter => letter == '-') == ProcessMark.Own.Count(letter => letter == '-') + 1
                && DateTime.UtcNow - File.GetLastWriteTimeUtc(path) > Forgotten,
        };
    }
}
