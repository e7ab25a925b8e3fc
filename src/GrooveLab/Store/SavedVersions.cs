namespace GrooveLab.Store;

/// <summary>The saved versions of one chart: a file for each, with its name in the first line.</summary>
/// <param name="chart">The chart's file, symbolic links followed, or the name of a chart that has none.</param>
/// <param name="data">The user's data folder.</param>
internal sealed class SavedVersions(string chart, string data)
{
    private const string FirstLine = "# saved version: ";

    private readonly string _folder = Path.Combine(
        data, "versions", $"{UserFolders.ShortName(chart)}-{UserFolders.Mark(chart)}");

    // The place of saved versions before each chart had its own folder; the file name is the version's name.
    private readonly string _earlier = Path.Combine(data, "versions", Path.GetFileNameWithoutExtension(chart));

    /// <summary>All of them, by name.</summary>
    public IEnumerable<(string Name, string Text)> All()
    {
        var names = new HashSet<string>(StringComparer.OrdinalIgnoreCase);
        foreach (var (name, text) in Read(_folder).Concat(Read(_earlier)))
        {
            if (names.Add(name))
            {
                yield return (name, text);
            }
        }
    }

    /// <summary>Keeps a version, replacing any other of that name.</summary>
    /// <returns>Why it could not be written, which is also recorded; null if it was.</returns>
    public string? Keep(string name, string text) => UserFolders.WhyNotWritten(FileOf(name), FirstLine + OneLine(name) + "\n" + text);

    /// <summary>Deletes a version.</summary>
    public void Remove(string name) => UserFolders.TryDelete(FileOf(name));

    // Readable, and different for every name that the screen distinguishes; it ignores case.
    private string FileOf(string name) => Path.Combine(_folder, $"{UserFolders.ShortName(name.ToLowerInvariant() + ".")}-{UserFolders.Mark(name.ToUpperInvariant())}.toml");

    private static IEnumerable<(string Name, string Text)> Read(string folder)
    {
        foreach (var file in Files(folder))
        {
            if (UserFolders.TryRead(file) is { } text)
            {
                var end = text.IndexOf('\n', StringComparison.Ordinal);
                yield return text.StartsWith(FirstLine, StringComparison.Ordinal) && end > 0
                    ? (text[FirstLine.Length..end], text[(end + 1)..])
                    : (Path.GetFileNameWithoutExtension(file), text);
            }
        }
    }

    private static IReadOnlyList<string> Files(string folder)
    {
        try
        {
            return [.. Directory.EnumerateFiles(folder, "*.toml").Order(StringComparer.Ordinal)];
        }
        catch (DirectoryNotFoundException)
        {
            return [];
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            Survived.Failures.Add("looking for saved versions", failure);
            return [];
        }
    }

    private static string OneLine(string name) => string.Concat(name.Select(letter => char.IsControl(letter) ? ' ' : letter));
}
