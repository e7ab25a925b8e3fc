namespace GrooveLab.Exchange.Charts;

/// <summary>The presets, which are also in the program: charts that are named instead of a file.</summary>
public static class PresetCharts
{
    private const string Folder = "presets/";
    private const string Ending = ".toml";

    /// <summary>Their names, in alphabetical order, such as <c>five-eight-2-3</c>.</summary>
    public static IReadOnlyList<string> Names { get; } =
    [
        .. typeof(PresetCharts).Assembly.GetManifestResourceNames()
            .Where(name => name.StartsWith(Folder, StringComparison.Ordinal))
            .Select(name => name[Folder.Length..^Ending.Length])
            .Order(StringComparer.Ordinal),
    ];

    /// <summary>The file name of a preset.</summary>
    public static string FileName(string name) => name + Ending;

    /// <summary>The text of a preset; null if there is none of that name.</summary>
    public static string? Text(string name) => Names.Contains(name, StringComparer.Ordinal) ? Resource.Text(Folder + FileName(name)) : null;
}
