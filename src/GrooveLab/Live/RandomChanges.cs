using System.Globalization;

namespace GrooveLab.Live;

/// <summary>
/// A player who tries everything: changes drawn by chance, every kind about as often. For soaks and checks that must meet each of them.
/// </summary>
internal static class RandomChanges
{
    private static readonly string[] Meters =
        ["5/8 3+2", "5/8 2+3", "7/8 2+2+3", "7/8 3+2+2", "4/4", "6/8 3+3", "9/8 2+2+2+3", "5/4 none", "11/8 2+2+3+2+2", "3/4", "13/16 3+3+3+2+2"];

    private static readonly string[] Keys = ["D dorian", "E minor", "G major", "Bb major", "F# minor", "A mixolydian"];
    private static readonly string[] Instruments = ["guitar", "bouzouki", "fiddle", "accordion", "hammered dulcimer", "cello", "concertina", "harp"];

    /// <summary>The kinds, each by the first word of its changes.</summary>
    public static IReadOnlyList<string> Kinds { get; } =
    [
        "tempo", "ramp", "meter", "grouping", "feel", "level", "pan", "mute", "solo", "role", "instrument", "count", "crossing", "density", "laid-back",
        "key", "up", "section", "jump", "loop", "vamp", "go-on", "hold", "break", "restart", "count-in", "chords", "master", "undo", "redo", "keep",
        "hear", "version", "recall", "last-time", "tag",
    ];

    /// <summary>The next change. Where the end was asked for it is taken back, so that the music goes on.</summary>
    public static string Next(Random chance, Conductor conductor) => Next(Kinds[chance.Next(Kinds.Count)], chance, conductor);

    /// <summary>The next change, of a kind where that can be.</summary>
    public static string Next(string kind, Random chance, Conductor conductor)
    {
        if (conductor.State.Orders.EndBar is not null && conductor.History.LastChange is not null)
        {
            return "undo";
        }

        // With the end close at hand it could not be taken back in time.
        const int Close = 4;
        var index = Math.Max(0, conductor.Place.Index);
        var bars = conductor.History.Route.Plan.BarsInPass;
        var left = conductor.State.Orders.Loop is { } loop ? loop.End - index : bars - (index % bars);
        return Of(kind is "last-time" or "tag" && left < Close ? "undo" : kind, chance, conductor);
    }

    /// <summary>A change of a kind.</summary>
    public static string Of(string kind, Random chance, Conductor conductor)
    {
        var chart = conductor.State.Chart;
        string Pick(params string[] from) => from[chance.Next(from.Length)];
        string Part() => chart.Parts[chance.Next(chart.Parts.Count)].Name;
        string Whole(int from, int to) => chance.Next(from, to + 1).ToString(CultureInfo.InvariantCulture);
        string Section() => chart.Sections[chance.Next(chart.Sections.Count)].Name;
        return kind switch
        {
            "tempo" => "tempo " + Pick("eighth = " + Whole(180, 360), "+4", "-4", "bar = " + Whole(30, 70)),
            "ramp" => $"ramp eighth = {Whole(180, 360)} over {Whole(1, 6)}",
            "meter" => "meter " + Pick(Meters),
            "grouping" => "grouping " + Pick("3+2", "2+3", "2+2+3", "none", "2+2", "3+3"),
            "feel" => "feel " + Pick("unit", "group", "bar", "bar-group", "wider", "narrower", "other"),
            "level" => $"level {Part()} {Pick("+2", "--2", Whole(-20, 3))}",
            "pan" => $"pan {Part()} {Whole(-100, 100)}",
            "mute" or "solo" => $"{kind} {Part()}",
            "role" => $"role {Part()} {Pick("pulse", "roll", "bass", "sustain")}",
            "instrument" => $"instrument {Part()} {Pick(Instruments)}",
            "count" => "count " + Pick("felt", "units", "groups", "bars", "off"),
            "crossing" => "crossing roll " + Pick("follow", "free", "land"),
            "density" => "density roll " + Pick("full", "half", "quarter"),
            "laid-back" => $"laid-back {Pick("tune", "sustain")} {Pick("none", "half", "unit")}",
            "key" => "key " + Pick(Keys),
            "up" => "up " + Whole(-3, 3),
            "section" or "jump" => $"{kind} {Section()}",
            "loop" => "loop " + Pick("section", "seam", "off", "1 2", "2 4"),
            "break" => "break " + Whole(1, 2),
            "tag" => "tag " + Whole(1, 4),
            "count-in" => "count-in " + Pick("on", "off"),
            "chords" => $"chords {Section()} {Pick("| Dm | C | G | Am |", "| F | G | Dm | Dm |", "| Am | F | C | G | F | Dm |")}",
            "master" => "master " + Whole(-12, 0),
            "keep" => "keep " + Pick("a", "b"),
            "hear" => "hear " + Pick("a", "b", "other"),
            "version" or "recall" => $"{kind} {Pick("one", "two")}",
            _ => kind,
        };
    }
}
