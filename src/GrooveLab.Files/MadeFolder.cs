using System.Text;
using System.Text.Json;

namespace GrooveLab.Files;

/// <summary>
/// A folder of files that a program makes and can make again. A record in the folder says what each file was made from and what it contained, so
/// that a later run leaves what is up to date, replaces what it made itself, and never touches what somebody else put there or changed.
/// </summary>
/// <remarks>
/// <para>
/// A file is written in a working folder inside (<see cref="Stage"/>) and then named (<see cref="Place"/>): first the record gets its content, then
/// the file its place. So a run that is ended at any moment leaves whole files, each in the record. The next run continues.
/// </para>
/// <para>One run at a time uses a folder; a lock ends with its process. For one thread, except <see cref="Stage"/>.</para>
/// </remarks>
public sealed class MadeFolder : IDisposable
{
    private const string Working = ".groovelab-making";
    private const int Format = 1;

    private static readonly TimeSpan Patience = TimeSpan.FromMilliseconds(500);

    private readonly string _record;
    private readonly string _working;
    private readonly FolderLock _lock;
    private readonly bool _isNew;
    private readonly SortedDictionary<string, MadeFile> _files = new(StringComparer.Ordinal);
    private readonly List<string> _keptAside = [];
    private bool _isDamaged;
    private int _staged;

    private MadeFolder(string folder, string recordName, bool isNew, FolderLock held)
    {
        Folder = folder;
        _record = Path.Combine(folder, recordName);
        _working = Path.Combine(folder, Working);
        _isNew = isNew;
        _lock = held;
    }

    /// <summary>Its full path.</summary>
    public string Folder { get; }

    /// <summary>The files that were made and, as far as is known, are in place.</summary>
    public IReadOnlyCollection<MadeFile> Files => _files.Values;

    /// <summary>True if the record could not be read, so that nothing is known about the files.</summary>
    public bool IsDamaged => _isDamaged;

    /// <summary>Files that somebody had changed and that now have another name beside the new ones: their paths in the folder.</summary>
    public IReadOnlyList<string> KeptAside => _keptAside;

    /// <summary>Why a folder cannot be used, before anything is written.</summary>
    /// <param name="folder">The folder.</param>
    /// <param name="recordName">The name of the record.</param>
    /// <returns>A sentence; null if it can be used.</returns>
    public static string? Refusal(string folder, string recordName)
    {
        try
        {
            if (File.Exists(folder))
            {
                return $"{folder} is a file; name a folder";
            }

            return Directory.Exists(folder) && !File.Exists(Path.Combine(folder, recordName))
                && Directory.EnumerateFileSystemEntries(folder).Any(entry => Path.GetFileName(entry) != Working)
                ? $"{folder} contains other files; choose an empty or a new folder"
                : null;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return FileErrors.Of(failure, folder).Message;
        }
    }

    /// <summary>Opens a folder, created if missing, and reads its record.</summary>
    /// <param name="folder">The folder.</param>
    /// <param name="recordName">The name of the record.</param>
    /// <exception cref="FileRefusedException">It contains other files, another run uses it, or it cannot be written.</exception>
    public static MadeFolder Open(string folder, string recordName)
    {
        folder = Path.TrimEndingDirectorySeparator(Path.GetFullPath(folder));
        if (Refusal(folder, recordName) is { } refused)
        {
            throw new FileRefusedException(new FileRefusal(FileProblem.AlreadyExists, folder, refused));
        }

        var isNew = !Directory.Exists(folder);
        var working = Path.Combine(folder, Working);
        try
        {
            Directory.CreateDirectory(working);
            var held = FolderLock.Take(working, working, patience: Patience)
                ?? throw new FileRefusedException(new FileRefusal(FileProblem.Busy, folder, $"{folder}: another program is making these files; wait until it has ended"));
            try
            {
                // The run that held the lock may have removed the working folder at its end.
                Directory.CreateDirectory(working);
                var made = new MadeFolder(folder, recordName, isNew, held);
                made.Sweep();
                made.Read();
                made.Save();
                return made;
            }
            catch
            {
                held.Dispose();
                throw;
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, folder);
        }
    }

    /// <summary>The record of a file; null if it was never made.</summary>
    /// <param name="path">Its path in the folder.</param>
    public MadeFile? Of(string path) => _files.GetValueOrDefault(path);

    /// <summary>Whether a file is in place, unchanged, and made from these inputs.</summary>
    /// <param name="path">Its path in the folder.</param>
    /// <param name="inputs">Identifies all that it is made from.</param>
    public bool IsCurrent(string path, ContentHash inputs) =>
        Of(path) is { } made && made.Inputs == inputs && Bytes(path) == made.Bytes && ContentHash.OfFile(WholePath(path)) == made.Content;

    /// <summary>Those of the paths where something is that was not made here and must not be replaced.</summary>
    /// <param name="paths">Paths in the folder.</param>
    public IEnumerable<string> Foreign(IEnumerable<string> paths) => paths.Where(path => IsBlocked(path)
        || (Of(path) is null && !_isDamaged && Path.Exists(WholePath(path))));

    /// <summary>A name for writing a file before it has its place. From any thread.</summary>
    /// <param name="ending">The ending of the file's name, such as <c>.flac</c>.</param>
    public string Stage(string ending) => Path.Combine(_working, Interlocked.Increment(ref _staged).ToString("d6", System.Globalization.CultureInfo.InvariantCulture) + ending);

    /// <summary>Gives staged files their places, replacing the older ones that were made here. One that somebody has changed is kept beside it.</summary>
    /// <param name="files">The files: as staged, the path in the folder, and what identifies the inputs.</param>
    /// <exception cref="FileRefusedException">Something else is at one of the places, or the disk is full.</exception>
    public void Place(IReadOnlyList<(string Staged, string Path, ContentHash Inputs)> files)
    {
        try
        {
            var moves = new List<(string Staged, MadeFile File, ContentHash? There)>();
            foreach (var (staged, path, inputs) in files)
            {
                if (Foreign([path]).Any())
                {
                    throw new FileRefusedException(new FileRefusal(FileProblem.AlreadyExists, WholePath(path), ForeignProblem(path)));
                }

                var content = ContentHash.OfFile(staged) ?? throw new FileNotFoundException(staged);
                var old = Of(path);
                var there = ContentHash.OfFile(WholePath(path));
                var isOurs = there is { } found && (found == content || (old is not null && (found == old.Content || found == old.Before)));
                moves.Add((staged, new MadeFile(path, inputs, new FileInfo(staged).Length, content) { Before = isOurs ? there : null }, isOurs ? null : there));
            }

            foreach (var (_, file, _) in moves)
            {
                _files[file.Path] = file;
            }

            Save();
            foreach (var (staged, file, changed) in moves)
            {
                var whole = WholePath(file.Path);
                Directory.CreateDirectory(Path.GetDirectoryName(whole)!);
                if (changed is not null)
                {
                    KeepAside(file.Path);
                }

                File.Move(staged, whole, overwrite: true);
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, Folder);
        }
    }

    /// <summary>Removes a file that no longer belongs here, unless somebody has changed it, and the folders that it leaves empty.</summary>
    /// <param name="path">Its path in the folder.</param>
    /// <exception cref="FileRefusedException">It cannot be removed.</exception>
    public Removal Remove(string path)
    {
        var made = Of(path);
        var whole = WholePath(path);
        try
        {
            if (made is null || IsBlocked(path))
            {
                return Removal.KeptChanged;
            }

            var there = ContentHash.OfFile(whole);
            var answer = there is null ? Removal.Missing : there == made.Content || there == made.Before ? Removal.Removed : Removal.KeptChanged;
            if (answer == Removal.Removed)
            {
                File.Delete(whole);
                RemoveEmptyFolders(whole);
            }

            _files.Remove(path);
            Save();
            return answer;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, whole);
        }
    }

    /// <summary>A sentence about something that is at the place of a file.</summary>
    /// <param name="path">The path in the folder.</param>
    public string ForeignProblem(string path) => $"{WholePath(path)} was not made here and is in the way; move or rename it";

    /// <summary>The full path of a file.</summary>
    /// <param name="path">Its path in the folder, or <c>../</c> and the folder's name with an ending for a file beside it.</param>
    public string WholePath(string path) => Path.GetFullPath(Path.Combine(Folder, path.Replace('/', Path.DirectorySeparatorChar)));

    /// <summary>Says that all files are in place.</summary>
    /// <exception cref="FileRefusedException">The record cannot be written.</exception>
    public void Finish()
    {
        foreach (var file in _files.Values.Where(file => file.Before is not null).ToList())
        {
            _files[file.Path] = file with { Before = null };
        }

        _isDamaged = false;
        Save();
    }

    /// <summary>Removes what is unfinished, and a new folder in which nothing was made. Ends the lock.</summary>
    public void Dispose()
    {
        try
        {
            Sweep();
            if (_isNew && _files.Count == 0)
            {
                File.Delete(_record);
            }

            // Under the lock, so that another run finds the folder whole or not at all.
            if (!OperatingSystem.IsWindows())
            {
                Directory.Delete(_working);
                RemoveNewFolder();
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            // The next run cleans up.
            return;
        }
        finally
        {
            _lock.Dispose();
        }
    }

    private void RemoveNewFolder()
    {
        if (_isNew && !Directory.EnumerateFileSystemEntries(Folder).Any())
        {
            Directory.Delete(Folder);
        }
    }

    private long? Bytes(string path) => new FileInfo(WholePath(path)) is { Exists: true, LinkTarget: null } file ? file.Length : null;

    // A link, or a folder where a file must be, or a file where a folder must be: not made here, and nothing may be written through it.
    private bool IsBlocked(string path)
    {
        var whole = WholePath(path);
        if (Directory.Exists(whole) || new FileInfo(whole).LinkTarget is not null)
        {
            return true;
        }

        for (var folder = Path.GetDirectoryName(whole); folder is not null && folder.Length > Folder.Length; folder = Path.GetDirectoryName(folder))
        {
            if (File.Exists(folder) || new DirectoryInfo(folder).LinkTarget is not null)
            {
                return true;
            }
        }

        return false;
    }

    private void KeepAside(string path)
    {
        var whole = WholePath(path);
        var (stem, ending) = (Path.ChangeExtension(whole, null), Path.GetExtension(whole));
        for (var number = 1; ; number++)
        {
            var aside = $"{stem} (changed{(number == 1 ? string.Empty : " " + number.ToString(System.Globalization.CultureInfo.InvariantCulture))}){ending}";
            if (!Path.Exists(aside))
            {
                File.Move(whole, aside, overwrite: false);
                _keptAside.Add(Path.GetRelativePath(Folder, aside).Replace(Path.DirectorySeparatorChar, '/'));
                return;
            }
        }
    }

    private void RemoveEmptyFolders(string whole)
    {
        for (var folder = Path.GetDirectoryName(whole); folder is not null && folder.Length > Folder.Length && !Directory.EnumerateFileSystemEntries(folder).Any();
            folder = Path.GetDirectoryName(folder))
        {
            Directory.Delete(folder);
        }
    }

    // What an ended run left of unfinished files.
    private void Sweep()
    {
        foreach (var file in Directory.EnumerateFiles(_working))
        {
            File.Delete(file);
        }
    }

    private void Save()
    {
        using var text = new MemoryStream();
        using (var json = new Utf8JsonWriter(text, new JsonWriterOptions { Indented = true, NewLine = "\n" }))
        {
            json.WriteStartObject();
            json.WriteNumber("format", Format);
            json.WriteStartArray("files");
            foreach (var file in _files.Values)
            {
                json.WriteStartObject();
                json.WriteString("path", file.Path);
                json.WriteString("inputs", file.Inputs.ToString());
                json.WriteNumber("bytes", file.Bytes);
                json.WriteString("content", file.Content.ToString());
                if (file.Before is { } before)
                {
                    json.WriteString("before", before.ToString());
                }

                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        text.WriteByte((byte)'\n');
        DurableFile.WriteBytes(_record, text.GetBuffer().AsSpan(0, (int)text.Length), WriteOptions.Replacing).ThrowIfRefused();
    }

    private void Read()
    {
        if (!File.Exists(_record))
        {
            return;
        }

        var bytes = File.ReadAllBytes(_record);
        if (TryParse(bytes) is { } files)
        {
            foreach (var file in files)
            {
                _files[file.Path] = file;
            }

            return;
        }

        _isDamaged = true;
        KeepAside(Path.GetFileName(_record));
    }

    private List<MadeFile>? TryParse(byte[] bytes)
    {
        try
        {
            using var json = JsonDocument.Parse(bytes);
            var files = new List<MadeFile>();
            if (json.RootElement.GetProperty("format").GetInt32() != Format)
            {
                return null;
            }

            foreach (var item in json.RootElement.GetProperty("files").EnumerateArray())
            {
                var path = item.GetProperty("path").GetString();
                if (path is null || !IsInside(path)
                    || ContentHash.Parse(item.GetProperty("inputs").GetString() ?? string.Empty) is not { } inputs
                    || ContentHash.Parse(item.GetProperty("content").GetString() ?? string.Empty) is not { } content)
                {
                    // Of a file beside a folder that has another name now; or nothing that this program writes.
                    if (path is not null && path.StartsWith("../", StringComparison.Ordinal) && path.LastIndexOf('/') == 2)
                    {
                        continue;
                    }

                    return null;
                }

                files.Add(new MadeFile(path, inputs, item.GetProperty("bytes").GetInt64(), content)
                {
                    Before = item.TryGetProperty("before", out var before) ? ContentHash.Parse(before.GetString() ?? string.Empty) : null,
                });
            }

            return files;
        }
        catch (Exception failure) when (failure is JsonException or KeyNotFoundException or InvalidOperationException or FormatException or DecoderFallbackException)
        {
            return null;
        }
    }

    private bool IsInside(string path) =>
        (path.StartsWith("../", StringComparison.Ordinal) && path[3..].StartsWith(Path.GetFileName(Folder) + ".", StringComparison.Ordinal) && !path[3..].Contains('/', StringComparison.Ordinal) && !path.Contains('\\', StringComparison.Ordinal))
        || (!Path.IsPathRooted(path) && !path.Contains('\\', StringComparison.Ordinal) && !path.Contains('\0', StringComparison.Ordinal)
            && path.Split('/').All(part => part.Length > 0 && part is not ("." or "..") && part != Working) && path != Path.GetFileName(_record));
}
