namespace GrooveLab.Store;

/// <summary>
/// Which key, pedal or controller does what: the usual bindings with those of the settings file on top. A binding's right side is a change in
/// words or one of the screen's own actions.
/// </summary>
internal sealed class KeySettings
{
    private readonly Dictionary<string, string> _keys;
    private readonly Dictionary<string, string> _pedals;

    private KeySettings(Dictionary<string, string> keys, Dictionary<string, string> pedals, IReadOnlyList<string> problems)
    {
        _keys = keys;
        _pedals = pedals;
        Problems = problems;
    }

    /// <summary>The bindings that hold when a file says nothing.</summary>
    public static IReadOnlyList<(string Key, string Does)> Usual { get; } =
    [
        ("space", "go-on"), ("enter", "go-on"), ("pagedown", "go-on"), ("pageup", "go-on"), ("right", "go-on"), ("left", "go-on"),
        ("down", "go-on"), ("up", "go-on"),
        ("f", "feel other"), ("w", "feel wider"), ("n", "feel narrower"),
        ("t", "tap"), ("+", "faster"), ("=", "faster"), ("-", "slower"),
        ("u", "undo"), ("r", "redo"), ("a", "hear other"),
        ("c", "count"), ("v", "vamp"), ("l", "loop section"), ("k", "loop seam"), ("e", "last-time"), ("h", "hold"), ("b", "break 1"),
        ("g", "tag 4"), ("0", "restart"), ("home", "restart"),
        ("1", "part 1"), ("2", "part 2"), ("3", "part 3"), ("4", "part 4"), ("5", "part 5"), ("6", "part 6"), ("7", "part 7"), ("8", "part 8"),
        ("9", "part 9"), ("m", "mute"), ("s", "solo"), ("[", "softer"), ("]", "louder"), ("{", "all softer"), ("}", "all louder"),
        ("x", "type"), (":", "type"), ("d", "save"), ("?", "more"), ("esc", "back"), ("y", "recall unsaved"), ("q", "quit"),
    ];

    /// <summary>What the settings file is called.</summary>
    public static string File => Path.Combine(UserFolders.Settings, "settings.toml");

    /// <summary>What is wrong in the file, with its line; the rest of it holds.</summary>
    public IReadOnlyList<string> Problems { get; }

    /// <summary>All bindings of keys.</summary>
    public IReadOnlyDictionary<string, string> Keys => _keys;

    /// <summary>Reads the settings file, where there is one.</summary>
    public static KeySettings Load() => Read(UserFolders.TryRead(File) ?? string.Empty);

    /// <summary>
    /// Reads settings: <c>[keys]</c> and <c>[pedals]</c> with lines such as <c>"x" = "mute bass"</c>; an empty right side unbinds.
    /// </summary>
    public static KeySettings Read(string text)
    {
        var keys = Usual.ToDictionary(usual => usual.Key, usual => usual.Does, StringComparer.Ordinal);
        var pedals = new Dictionary<string, string>(StringComparer.Ordinal)
        {
            ["cc64"] = "go-on",
            ["cc66"] = "hold",
            ["cc67"] = "feel other",
        };
        var problems = new List<string>();
        var into = keys;
        var number = 0;
        foreach (var raw in text.Split('\n'))
        {
            number++;
            var line = raw.Trim();
            if (line.Length == 0 || line[0] == '#')
            {
                continue;
            }

            if (line is "[keys]" or "[pedals]")
            {
                into = line == "[keys]" ? keys : pedals;
            }
            else if (TryBinding(line, out var key, out var does))
            {
                if (does.Length == 0)
                {
                    into.Remove(key);
                }
                else
                {
                    into[key] = does;
                }
            }
            else
            {
                problems.Add($"{File}:{number}: '{line}' is no binding; write \"x\" = \"mute bass\" below [keys] or \"cc64\" = \"go-on\" below [pedals]");
            }
        }

        return new KeySettings(keys, pedals, problems);
    }

    /// <summary>What a key does; null for nothing.</summary>
    public string? Does(string key) => _keys.GetValueOrDefault(key);

    /// <summary>What a pedal or controller does ("cc64", "note36", "program3"); null for nothing.</summary>
    public string? PedalDoes(string pedal) => _pedals.GetValueOrDefault(pedal);

    /// <summary>The first key bound to an action, as it is shown; null when none is.</summary>
    public string? KeyFor(string does) => _keys.Where(entry => entry.Value == does).Select(entry => Shown(entry.Key)).FirstOrDefault();

    private static string Shown(string key) => key switch
    {
        "space" => "space",
        "pagedown" => "PgDn",
        "pageup" => "PgUp",
        _ => key,
    };

    private static bool TryBinding(string line, out string key, out string does)
    {
        key = does = string.Empty;
        if (!TryQuoted(line, 0, out var left, out var after))
        {
            return false;
        }

        var rest = line[after..].TrimStart();
        if (!rest.StartsWith('=') || !TryQuoted(rest[1..].TrimStart(), 0, out var right, out _))
        {
            return false;
        }

        key = left.Length == 1 ? left : left.ToLowerInvariant();
        does = right.Trim();
        return key.Length > 0;
    }

    private static bool TryQuoted(string text, int from, out string value, out int after)
    {
        value = string.Empty;
        after = from;
        if (from >= text.Length || text[from] != '"')
        {
            return false;
        }

        var end = text.IndexOf('"', from + 1);
        if (end < 0)
        {
            return false;
        }

        value = text[(from + 1)..end];
        after = end + 1;
        return true;
    }
}
