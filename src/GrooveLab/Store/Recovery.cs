using System.Globalization;
using GrooveLab.Files;
using GrooveLab.Music.Performance;

namespace GrooveLab.Store;

/// <summary>Unsaved changes of an earlier session.</summary>
/// <param name="Name">The name to recall them by: "unsaved", "unsaved 2" for the ones before, and so on.</param>
/// <param name="Written">When they were kept, local time.</param>
/// <param name="Text">The chart's text with the changes.</param>
/// <param name="File">The path of their file.</param>
/// <param name="Base">The content of the chart's file that they change; null if it is not known.</param>
/// <param name="IsEdited">True if the chart's file has other content now.</param>
internal sealed record UnsavedChanges(string Name, DateTime Written, string Text, string File, ContentHash? Base, bool IsEdited)
{
    /// <summary>When they were kept, in words.</summary>
    public string When => Written.ToString("d MMMM HH:mm", CultureInfo.InvariantCulture);
}

/// <summary>
/// Keeps unsaved changes, as the chart's text with the changes, so that a later start can offer them. Every performance has its own
/// file. Files of ended performances stay until their changes are saved or discarded; those of running programs belong to them.
/// </summary>
internal sealed class Recovery
{
    /// <summary>The name of the newest unsaved changes.</summary>
    public const string Newest = KeepVersion.Unsaved;

    private const string FirstLine = "# changes to the text ";
    private const int MostOffered = 10;
    private static int LastNumber;

    private readonly string _folder;
    private readonly OwnFile _now;
    private readonly OwnFile _aside;
    private readonly HashSet<string> _restored = new(StringComparer.Ordinal);
    private List<UnsavedChanges> _offered;
    private ContentHash _base;

    /// <summary>Looks for unsaved changes.</summary>
    /// <param name="chart">The chart's file, symbolic links followed, or the name of a chart that has none.</param>
    /// <param name="text">The content of that file; changes that lead to the same text are not offered.</param>
    /// <param name="data">The user's data folder.</param>
    public Recovery(string chart, string text, string data)
    {
        _base = ContentHash.Of(text);
        _folder = Path.Combine(data, "recovery");
        var mark = UserFolders.Mark(chart);
        OwnFile New() => new(Path.Combine(_folder, $"{UserFolders.ShortName(chart)}-{mark}-{ProcessMark.Own}-{Interlocked.Increment(ref LastNumber)}.toml"));
        (_now, _aside) = (New(), New());
        _offered = Found(mark, text);
    }

    /// <summary>The offered changes, newest first.</summary>
    public IReadOnlyList<UnsavedChanges> Offered => _offered;

    /// <summary>Keeps a text in this performance's file if it differs from the last one.</summary>
    /// <returns>False if it could not be written; the file then has the last text.</returns>
    public bool Keep(string text)
    {
        // Restored changes are still changes to the text that they were made on.
        var origin = _offered.Find(offer => _restored.Contains(offer.File) && offer.IsEdited)?.Base ?? _base;
        return _now.Keep($"{FirstLine}{origin}\n{text}");
    }

    /// <summary>Keeps the text of the compared side that is not heard, in a file of its own.</summary>
    /// <param name="text">The text; null if there is nothing to keep, which deletes the file.</param>
    /// <returns>False if it could not be written; the file then has the last text.</returns>
    public bool KeepAside(string? text)
    {
        if (text is not null)
        {
            return _aside.Keep($"{FirstLine}{_base}\n{text}");
        }

        _aside.Drop();
        return true;
    }

    /// <summary>Sets which of the offered changes are included in everything kept and saved from now on; null for none.</summary>
    public void Restored(string? name)
    {
        _restored.Clear();
        _restored.UnionWith(_offered.Where(offer => string.Equals(offer.Name, name, StringComparison.OrdinalIgnoreCase)).Select(offer => offer.File));
    }

    /// <summary>Marks the current state as saved, including restored changes. What is kept aside stays.</summary>
    /// <param name="content">The content of the chart's own file now; null if it has not changed.</param>
    public void Saved(ContentHash? content = null)
    {
        _base = content ?? _base;
        Drop();
        ForgetRestored();
    }

    /// <summary>Marks the performance as ended: its own file, which has the newest changes, now replaces the changes restored in it.</summary>
    public void Leave()
    {
        if (_now.IsWritten)
        {
            ForgetRestored();
        }
    }

    /// <summary>Deletes this performance's file, because nothing in the current state is unsaved.</summary>
    public void Drop() => _now.Drop();

    /// <summary>Deletes all offered changes.</summary>
    /// <returns>The number deleted.</returns>
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
            if (UserFolders.TryRead(file.FullName) is not { } whole)
            {
                continue;
            }

            var (origin, kept) = Parts(whole);

            if (kept == text || found.Count == MostOffered || found.Exists(offer => offer.Text == kept))
            {
                superfluous.Add(file);
                continue;
            }

            found.Add(new UnsavedChanges(
                found.Count == 0 ? Newest : $"{Newest} {found.Count + 1}",
                file.LastWriteTime,
                kept,
                file.FullName,
                origin,
                IsEdited: origin is not null && origin != _base));
        }

        superfluous.FindAll(file => IsFree(file.Name, mark)).ForEach(file => UserFolders.TryDelete(file.FullName));
        return found;
    }

    // Files of earlier versions of the program have no first line.
    private static (ContentHash? Origin, string Text) Parts(string whole) =>
        whole.IndexOf('\n', StringComparison.Ordinal) is var end and > 0 && whole.StartsWith(FirstLine, StringComparison.Ordinal)
            ? (ContentHash.Parse(whole[FirstLine.Length..end].TrimEnd()), whole[(end + 1)..].TrimStart('\ufeff'))
            : (null, whole);

    // The performances of a process follow one another: an earlier one has ended.
    private static bool IsFree(string file, string mark) => ProcessOf(file, mark) is var process
        && (process == ProcessMark.Own || ProcessMark.Presence(process) == ProcessPresence.Ended);

    private static bool IsOfAnother(string file, string mark) => ProcessOf(file, mark) is var process
        && process != ProcessMark.Own && ProcessMark.Presence(process) == ProcessPresence.Running;

    private static string ProcessOf(string file, string mark)
    {
        var process = file[(file.LastIndexOf(mark, StringComparison.Ordinal) + mark.Length)..^".toml".Length].TrimStart('-');
        return process[..Math.Max(0, process.LastIndexOf('-'))];
    }

    private sealed class OwnFile(string path)
    {
        private string? _written;

        public bool IsWritten => _written is not null;

        public bool Keep(string whole)
        {
            if (whole == _written)
            {
                return true;
            }

            if (!UserFolders.TryWrite(path, whole))
            {
                return false;
            }

            _written = whole;
            return true;
        }

        public void Drop()
        {
            if (IsWritten)
            {
                UserFolders.TryDelete(path);
                _written = null;
            }
        }
    }
}
