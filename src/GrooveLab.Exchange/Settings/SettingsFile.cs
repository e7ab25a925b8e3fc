using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Settings;

/// <summary>A setting: a key and its text.</summary>
/// <param name="Key">The key as written, without quotes.</param>
/// <param name="Text">The text; may be empty.</param>
public sealed record Setting(string Key, string Text)
{
    internal int KeyStart { get; init; }

    internal int TextStart { get; init; }
}

/// <summary>
/// A settings file: TOML with tables of keys and texts. It reads everything that can be read and collects all problems with their places; the
/// caller, who knows which keys and texts are accepted, adds its own problems.
/// </summary>
public sealed class SettingsFile
{
    private static readonly HashSet<string> NoRepeatedTables = [];

    private readonly Problems _problems;
    private readonly Dictionary<string, List<Setting>> _tables = new(StringComparer.Ordinal);
    private readonly FileProblem? _unreadable;

    private SettingsFile(Problems problems, FileProblem? unreadable)
    {
        _problems = problems;
        _unreadable = unreadable;
    }

    /// <summary>All problems found so far, in the order of the file.</summary>
    public IReadOnlyList<FileProblem> Problems => _unreadable is null ? _problems.Sorted() : [_unreadable];

    /// <summary>Reads a settings file from the disk.</summary>
    /// <param name="path">The file.</param>
    /// <param name="tables">The names of the tables it may contain.</param>
    /// <exception cref="IOException">The file cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">The user may not read the file.</exception>
    public static SettingsFile Open(string path, params IReadOnlyList<string> tables)
    {
        var unreadable = TextFile.Read(path, out var text);
        return text is null
            ? new SettingsFile(new Problems(new SourceText(string.Empty), path), unreadable)
            : Read(text.TrimStart('\uFEFF'), path, tables);
    }

    /// <summary>Reads settings from text.</summary>
    /// <param name="text">The text of the file.</param>
    /// <param name="name">The name of the file, for its problems.</param>
    /// <param name="tables">The names of the tables it may contain.</param>
    public static SettingsFile Read(string text, string name, params IReadOnlyList<string> tables)
    {
        var source = new SourceText(text);
        var problems = new Problems(source, name) { Headers = Words.Or([.. tables.Select(table => $"[{table}]")]) };
        var file = new SettingsFile(problems, null);
        if (TomlTreeReader.Read(source, problems, NoRepeatedTables) is { } root)
        {
            foreach (var entry in root.Entries)
            {
                file.Add(entry, tables);
            }
        }

        return file;
    }

    /// <summary>The settings of a table in the order of the file; none if the table is missing.</summary>
    public IReadOnlyList<Setting> In(string table) => _tables.TryGetValue(table, out var settings) ? settings : [];

    /// <summary>Adds a problem at the key of a setting.</summary>
    /// <param name="setting">The setting.</param>
    /// <param name="what">What is wrong.</param>
    /// <param name="accepted">What is accepted instead.</param>
    public void AddKeyProblem(Setting setting, string what, string accepted) => _problems.Add(setting.KeyStart, what, accepted);

    /// <summary>Adds a problem at the text of a setting.</summary>
    /// <param name="setting">The setting.</param>
    /// <param name="what">What is wrong.</param>
    /// <param name="accepted">What is accepted instead.</param>
    public void AddTextProblem(Setting setting, string what, string accepted) => _problems.Add(setting.TextStart, what, accepted);

    private void Add(TomlEntry entry, IReadOnlyList<string> tables)
    {
        var isKnown = tables.Contains(entry.Key, StringComparer.Ordinal);
        switch (entry.Value)
        {
            case TomlTable table when isKnown:
                AddSettings(entry.Key, table);
                break;
            case TomlList { OfTables: true } list when isKnown:
                _problems.Add(entry.KeyStart, $"[[{entry.Key}]] has double brackets", $"write [{entry.Key}]");
                foreach (var table in list.Items.OfType<TomlTable>())
                {
                    AddSettings(entry.Key, table);
                }

                break;
            case TomlTable or TomlList { OfTables: true }:
                _problems.Add(
                    entry.KeyStart,
                    $"[{entry.Key}] is not a table of these settings",
                    Words.Nearest(entry.Key, tables) is { } near ? $"did you mean [{near}]?" : $"accepted: {_problems.Headers}");
                break;
            default:
                _problems.Add(entry.KeyStart, $"{Words.Quote(entry.Key)} is not in a table", $"put it below {_problems.Headers}");
                break;
        }
    }

    private void AddSettings(string name, TomlTable table)
    {
        if (!_tables.TryGetValue(name, out var settings))
        {
            _tables.Add(name, settings = []);
        }

        foreach (var entry in table.Entries)
        {
            if (entry.Value is TomlString text)
            {
                settings.Add(new Setting(entry.Key, text.Value) { KeyStart = entry.KeyStart, TextStart = text.Start });
            }
            else
            {
                _problems.Add(entry.Value.Start, $"the value of {Words.Quote(entry.Key)} is not a text", "put it in quotes");
            }
        }
    }
}
