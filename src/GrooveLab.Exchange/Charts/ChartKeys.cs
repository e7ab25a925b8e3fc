using GrooveLab.Music.Band;

namespace GrooveLab.Exchange.Charts;

/// <summary>The keys of a chart file, in writing order.</summary>
internal static class ChartKeys
{
    public static readonly string[] Chart =
    [
        "format", "title", "trains", "key", "tempo", "learner-tempo", "meter", "grouping", "counted", "bar-groups", "feel", "swing", "looseness", "group-ratio", "arrangement", "seed",
        "drone", "form", "times", "tag", "ending", "recast", "part", "section",
    ];

    public static readonly string[] Part = ["name", "role", "instrument", "register", "level", "pan", "silent"];

    public static readonly string[] Section =
    [
        "name", "repeat", "meter", "grouping", "bar-groups", "tempo", "join", "feel", "counted", "key", "play", "stop-time", "break", "hold", "vamp", "energy", "tasks", "fill", "bars",
        "chords",
        "tune",
        "line",
        "ending",
    ];

    public static readonly string[] Ending = ["chords", "tune", "line"];

    public static readonly string[] Tune = ["pickup", "notes", "words"];

    public static readonly string[] Line = ["name", "pickup", "notes", "words"];

    public static string[] SettingsOf(Role role) => role switch
    {
        Role.Pulse => ["strokes", "damped", "voices", "share", "strum-ms"],
        Role.Roll => ["crossing", "hand-limit-ms"],
        Role.Bass => ["approaches", "ring"],
        Role.Sustain => ["voices", "laid-back"],
        Role.Tune => ["octaves", "consonants", "phrasing", "laid-back"],
        _ => ["on"],
    };

    /// <summary>The right table for a misplaced key; null if there is none.</summary>
    public static string? Home(string key)
    {
        if (RecastKeys.All.Contains(key))
        {
            return $"{key} belongs below [recast]";
        }

        if (Tune.Contains(key))
        {
            return $"{key} belongs below [section.tune]";
        }

        if (Section.Contains(key) && !Chart.Contains(key))
        {
            return $"{key} belongs below a [[section]]";
        }

        if (Chart.Contains(key))
        {
            return $"{key} belongs at the top of the file, before the first [[part]] or [[section]]";
        }

        return Part.Contains(key) || Enum.GetValues<Role>().Any(role => SettingsOf(role).Contains(key))
            ? $"{key} belongs below a [[part]]"
            : null;
    }
}
