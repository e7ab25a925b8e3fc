using GrooveLab.Exchange.Settings;
using GrooveLab.Music.Wording;

namespace GrooveLab.Store;

/// <summary>A problem with an action in the settings.</summary>
/// <param name="What">The problem.</param>
/// <param name="Accepted">What is accepted instead.</param>
internal readonly record struct ActionProblem(string What, string Accepted);

/// <summary>
/// The action of each key, pedal and controller: the default bindings, overridden by those of the settings file. An action is a change in
/// words or an action of the screen.
/// </summary>
internal sealed class KeySettings
{
    private const string KeysTable = "keys";
    private const string PedalsTable = "pedals";

    private readonly Dictionary<string, string> _keys;
    private readonly Dictionary<string, string> _pedals;

    private KeySettings(Dictionary<string, string> keys, Dictionary<string, string> pedals, IReadOnlyList<string> problems)
    {
        _keys = keys;
        _pedals = pedals;
        Problems = problems;
    }

    /// <summary>The default bindings.</summary>
    public static IReadOnlyList<(string Key, string Does)> Usual { get; } =
    [
        ("space", "go-on"), ("enter", "go-on"), ("pagedown", "go-on"), ("pageup", "go-on"), ("right", "go-on"), ("left", "go-on"),
        ("down", "go-on"), ("up", "go-on"),
        ("f", "feel other"), ("w", "feel wider"), ("n", "feel narrower"),
        ("t", "tap"), ("T", "tap-words"), ("+", "faster"), ("=", "faster"), ("-", "slower"),
        ("u", "undo"), ("r", "redo"), ("a", "hear other"),
        ("c", "count"), ("v", "vamp"), ("l", "loop section"), ("k", "loop seam"), ("e", "last-time"), ("h", "hold"), ("b", "break 1"),
        ("g", "tag 4"), ("0", "restart"), ("home", "restart"),
        ("1", "part 1"), ("2", "part 2"), ("3", "part 3"), ("4", "part 4"), ("5", "part 5"), ("6", "part 6"), ("7", "part 7"), ("8", "part 8"),
        ("9", "part 9"), ("m", "mute"), ("s", "solo"), ("[", "softer"), ("]", "louder"), ("{", "all softer"), ("}", "all louder"),
        ("x", "type"), (":", "type"), ("d", "save"), ("?", "more"), ("esc", "back"), ("y", "recall unsaved"), ("ctrl+l", "redraw"),
        ("q", "quit"),
        ("p", "stop-start"), ("P", "start here no-count-in"), ("i", "again"), ("z", "round"), (".", "next"), (",", "previous"), ("o", "view"),
    ];

    /// <summary>The default pedal bindings: sustain, sostenuto and soft pedal (MIDI 1.0).</summary>
    public static IReadOnlyList<(string Pedal, string Does)> UsualPedals { get; } = [("cc64", "go-on"), ("cc66", "hold"), ("cc67", "feel other")];

    /// <summary>The name of the settings file.</summary>
    public static string File => Path.Combine(UserFolders.Settings, "settings.toml");

    /// <summary>All problems in the file, each with line, column and what is accepted; the rest of the file applies.</summary>
    public IReadOnlyList<string> Problems { get; }

    /// <summary>Reads the settings file if there is one.</summary>
    /// <param name="actionProblem">Says what is wrong with an action; null if the action is accepted.</param>
    public static KeySettings Load(Func<string, ActionProblem?> actionProblem)
    {
        try
        {
            return System.IO.File.Exists(File)
                ? Of(SettingsFile.Open(File, KeysTable, PedalsTable), actionProblem)
                : Read(string.Empty, actionProblem);
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            Survived.Failures.Add("reading the settings", failure);
            return Read(string.Empty, actionProblem);
        }
    }

    /// <summary>
    /// Reads settings: the tables <c>[keys]</c> and <c>[pedals]</c> with lines such as <c>"x" = "mute bass"</c>; an empty text unbinds.
    /// </summary>
    /// <param name="text">The text of the file.</param>
    /// <param name="actionProblem">Says what is wrong with an action; null if the action is accepted.</param>
    public static KeySettings Read(string text, Func<string, ActionProblem?> actionProblem) =>
        Of(SettingsFile.Read(text, File, KeysTable, PedalsTable), actionProblem);

    private static KeySettings Of(SettingsFile file, Func<string, ActionProblem?> actionProblem)
    {
        var keys = Usual.ToDictionary(usual => usual.Key, usual => usual.Does, StringComparer.Ordinal);
        var pedals = UsualPedals.ToDictionary(usual => usual.Pedal, usual => usual.Does, StringComparer.Ordinal);
        Bind(file, KeysTable, keys, KeyNames.Key, actionProblem);
        Bind(file, PedalsTable, pedals, KeyNames.Pedal, actionProblem);
        return new KeySettings(keys, pedals, [.. file.Problems.Select(problem => problem.ToString())]);
    }

    private static void Bind(
        SettingsFile file,
        string table,
        Dictionary<string, string> bindings,
        Func<string, KeyName> nameOf,
        Func<string, ActionProblem?> actionProblem)
    {
        var bound = new HashSet<string>(StringComparer.Ordinal);
        foreach (var setting in file.In(table))
        {
            var key = nameOf(setting.Key);
            var action = string.Join(' ', setting.Text.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries));
            var isUsable = true;
            if (key.Name is null)
            {
                file.AddKeyProblem(setting, key.What, key.Accepted);
                isUsable = false;
            }
            else if (!bound.Add(key.Name))
            {
                file.AddKeyProblem(setting, $"{Words.Quote(setting.Key)} is already bound above", "keep one of the two");
                isUsable = false;
            }

            if (action.Length > 0 && actionProblem(action) is { } problem)
            {
                file.AddTextProblem(setting, problem.What, problem.Accepted);
                isUsable = false;
            }

            if (!isUsable)
            {
                continue;
            }

            if (action.Length == 0)
            {
                bindings.Remove(key.Name!);
            }
            else
            {
                bindings[key.Name!] = action;
            }
        }
    }

    /// <summary>The action of a key; null if it has none.</summary>
    public string? Does(string key) => _keys.GetValueOrDefault(key);

    /// <summary>The action of a pedal or controller ("cc64", "note36", "program3"); null if it has none.</summary>
    public string? PedalDoes(string pedal) => _pedals.GetValueOrDefault(pedal);

    /// <summary>The keys, then the pedals, that the settings bind to something else than usual, as shown, with their actions.</summary>
    public IReadOnlyList<(string Key, string Does)> Own =>
    [
        .. _keys.Where(entry => !Usual.Contains((entry.Key, entry.Value))).Select(entry => (Shown(entry.Key), entry.Value)),
        .. _pedals.Where(entry => !UsualPedals.Contains((entry.Key, entry.Value))).Select(entry => (entry.Key, entry.Value)),
    ];

    /// <summary>The first key bound to an action, as shown; null if none is.</summary>
    public string? KeyFor(string does) => _keys.Where(entry => entry.Value == does).Select(entry => Shown(entry.Key)).FirstOrDefault();

    private static string Shown(string key) => key switch
    {
        "space" => "space",
        "pagedown" => "PgDn",
        "pageup" => "PgUp",
        _ => key,
    };
}
