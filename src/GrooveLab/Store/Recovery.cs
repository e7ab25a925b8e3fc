using System.Globalization;
using GrooveLab.Files;

namespace GrooveLab.Store;

/// <summary>Changes of an earlier time that were not saved.</summary>
/// <param name="Name">What they are recalled by: "unsaved", "unsaved 2" for those before, and so on.</param>
/// <param name="Written">When they were kept, local time.</param>
/// <param name="Text">The chart's text with the changes.</param>
/// <param name="File">Where they are.</param>
internal sealed record UnsavedChanges(string Name, DateTime Written, string Text, string File)
{
    /// <summary>When they were kept, in words.</summary>
    public string When => Written.ToString("d MMMM HH:mm", CultureInfo.InvariantCulture);
}

/// <summary>
/// Keeps changes that are not saved, so that a later start can offer them: the chart's text with the changes. Every performance has a file of its
/// own; those of performances that have ended stay until their changes are saved or discarded, and those of programs that still run belong to them.
/// </summary>
internal sealed class Recovery
{
    /// <summary>The name of the newest changes that were not saved.</summary>
    public const string Newest = "unsaved";

    private const int MostOffered = 10;
    private static int LastNumber;

    private readonly string _folder;
    private readonly string _file;
    private readonly HashSet<string> _restored = new(StringComparer.Ordinal);
    private List<UnsavedChanges> _offered;
    private string? _written;

    /// <summary>Looks for changes that were not saved.</summary>
    /// <param name="chart">The chart's file, symbolic links followed, or the name of a chart that has none.</param>
    /// <param name="text">What that file holds: changes that led to the same are not offered.</param>
    /// <param name="data">The user's data folder.</param>
    public Recovery(string chart, string text, string data)
    {
        _folder = Path.Combine(data, "recovery");
        var mark = UserFolders.Mark(chart);
        _file = Path.Combine(_folder, $"{UserFolders.ShortName(chart)}-{mark}-{ProcessMark.Own}-{Interlocked.Increment(ref LastNumber)}.toml");
        _offered = Found(mark, text);
    }

    /// <summary>What is offered, the newest first.</summary>
    public IReadOnlyList<UnsavedChanges> Offered => _offered;

    /// <summary>Keeps a text in this performance's file, if it is another than the last.</summary>
    public void Keep(string text)
    {
        if (text != _written && UserFolders.TryWrite(_file, text))
        {
            _written = text;
        }
    }

    /// <summary>Says which changes are in what is kept and saved from now on; null for none of those that are offered.</summary>
    public void Restored(string? name)
    {
        _restored.Clear();
        _restored.UnionWith(_offered.Where(offer => string.Equals(offer.Name, name, StringComparison.OrdinalIgnoreCase)).Select(offer => offer.File));
    }

    /// <summary>Says that everything is saved, with the changes that were restored.</summary>
    public void Saved()
    {
        Drop();
        ForgetRestored();
    }

    /// <summary>Says that the performance is over: its own file now stands for the changes that were restored in it.</summary>
    public void Leave()
    {
        if (_written is not null)
        {
            ForgetRestored();
        }
    }

    /// <summary>Removes this performance's file: there is nothing that is not saved.</summary>
    public void Drop()
    {
        if (_written is not null)
        {
            UserFolders.TryDelete(_file);
            _written = null;
        }
    }

    /// <summary>Removes all that is offered.</summary>
    /// <returns>How many there were.</returns>
    public int Discard()
    {
        var count = _offered.Count;
        Forget(_ => true);
        return count;
    }

    private void ForgetRestored()
    {
        Forget(offer => _restored.Contains(offer.File));
        _restored.Clear();
    }

    private void Forget(Predicate<UnsavedChanges> which)
    {
        _offered.FindAll(which).ForEach(offer => UserFolders.TryDelete(offer.File));
        _offered = _offered.FindAll(offer => !which(offer));
    }

    private List<UnsavedChanges> Found(string mark, string text)
    {
        List<FileInfo> files;
        try
        {
            files =
            [
                .. new DirectoryInfo(_folder).EnumerateFiles($"*-{mark}*.toml")
                    .Where(file => !IsOfAnother(file.Name, mark)).OrderByDescending(file => file.LastWriteTimeUtc),
            ];
        }
        catch (DirectoryNotFoundException)
        {
            return [];
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            Survived.Failures.Add("looking for unsaved changes", failure);
            return [];
        }

        var found = new List<UnsavedChanges>();
        var superfluous = new List<FileInfo>();
        foreach (var file in files)
        {
            if (UserFolders.TryRead(file.FullName) is not { } kept)
            {
                continue;
            }

            if (kept == text || found.Count == MostOffered || found.Exists(offer => offer.Text == kept))
            {
                superfluous.Add(file);
                continue;
            }

            found.Add(new UnsavedChanges(found.Count == 0 ? Newest : $"{Newest} {found.Count + 1}", file.LastWriteTime, kept, file.FullName));
        }

        superfluous.FindAll(file => IsFree(file.Name, mark)).ForEach(file => UserFolders.TryDelete(file.FullName));
        return found;
    }

    // The performances of this process come after one another: an earlier one has ended.
    private static bool IsFree(string file, string mark) => ProcessOf(file, mark) is var process
        && (process == ProcessMark.Own || ProcessMark.Presence(process) == ProcessPresence.Ended);

    private static bool IsOfAnother(string file, string mark) => ProcessOf(file, mark) is var process
        && process != ProcessMark.Own && ProcessMark.Presence(process) == ProcessPresence.Running;

    private static string ProcessOf(string file, string mark)
    {
        var process = file[(file.LastIndexOf(mark, StringComparison.Ordinal) + mark.Length)..^".toml".Length].TrimStart('-');
        return process[..Math.Max(0, process.LastIndexOf('-'))];
    }
}
