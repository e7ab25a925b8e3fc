namespace GrooveLab.Tests.Saving;

/// <summary>Ten charts laid out by hand, each in its own way, and what is changed in each of them on the screen.</summary>
internal static class ChartsByHand
{
    public static IReadOnlyList<string> Names { get; } =
    [
        "breakwater", "night-ferry", "gull-rock", "cooper-street", "slack-tide", "net-menders", "lamplighters", "thirteen-steps", "herring-fleet",
        "customs-house",
    ];

    /// <summary>What is changed, and the words for each chart in the order of <see cref="Names"/>; "+" is a key. Several changes are separated by ";".</summary>
    public static IReadOnlyDictionary<string, string[]> Changes { get; } = new Dictionary<string, string[]>(StringComparer.Ordinal)
    {
        ["a tone up"] = Same("up 2"),
        ["a half step down"] = Same("up -1"),
        ["another tempo"] =
        [
            "tempo eighth = 275", "tempo bar = 40", "tempo dotted quarter = 104", "tempo quarter = 96", "tempo quarter = 90", "tempo dotted quarter = 108",
            "tempo eighth = 230", "tempo bar = 38.5", "tempo quarter = 120", "tempo bar group = 13",
        ],
        ["a little faster"] = Same("+;+;+"),
        ["another meter"] =
        [
            "meter 7/8 2+2+3", "meter 8/8 3+3+2", "meter 9/8", "meter 5/4 3+2", "meter 3/4", "meter 12/8", "meter 6/8", "meter 11/16 3+3+3+2", "meter 7/4 4+3",
            "meter 4/4",
        ],
        ["another grouping"] =
        [
            "grouping 2+3", "grouping 3+2+2", "grouping 2+2+2", "grouping 3+1", "grouping none", "grouping none", "grouping 2+3", "grouping 2+3+3+2+3", "grouping 1+3",
            "grouping 2+1",
        ],
        ["a part more"] =
        [
            "add roll banjo", "add sustain", "add roll mandolin", "add roll", "add bass bass guitar", "add sustain viola", "add roll banjo", "add tune whistle", "add bass",
            "add roll banjo",
        ],
        ["a part less"] =
        [
            "remove bass", "remove banjo", "remove bass guitar", "remove the fiddle", "remove sustain", "remove roll", "remove bass", "remove roll", "remove viola", "remove sustain",
        ],
        ["another instrument"] =
        [
            "instrument bouzouki mandolin", "instrument fiddle viola", "instrument whistle fiddle", "instrument the fiddle viola", "instrument fiddle concertina",
            "instrument hammered dulcimer banjo", "instrument bass bass guitar", "instrument pulse guitar", "instrument viola cello", "instrument fiddle concertina",
        ],
        ["softer and to the right"] =
        [
            "level bouzouki -6;pan bouzouki 25", "level banjo -7.5;pan banjo 25", "level whistle -6;pan whistle 25", "level guitar -6;pan guitar 25",
            "level fiddle -6;pan fiddle 25", "level concertina -6;pan concertina 25", "level cello -6.5;pan cello 25", "level cello -6.5;pan cello 25",
            "level viola -6;pan viola 25", "level fiddle -6;pan fiddle 25",
        ],
        ["other chords"] =
        [
            "chords turn | F | C | Gm | A7 |", "chords deck | Em | C D Em |", "chords B | C | Am G | C | D |", "chords hoops | D | A | F#m E | A |",
            "chords flood | F | C | Gm | Bb C |", "chords last line | Em | D A |", "chords square | D | Em | A | D |", "chords A | Cm | Bb | Fm | G7 |",
            "chords away | Gm | Cm7 | F | F7 Bb |", "chords stairs | Am | F F G G | E7 | G / / / / / E7 / / / / / |",
        ],
        ["first and second endings"] =
        [
            "chords turn ending 1 | A7 |;chords turn ending 2 | Dm |", "chords deck ending 1 | D |;chords deck ending 2 | Em |",
            "chords B ending 1 | D |;chords B ending 2 | G |", "chords hoops ending 1 | A |;chords hoops ending 2 | D |",
            "chords flood ending 1 | C |;chords flood ending 2 | F |", "chords last line ending 1 | D |;chords last line ending 2 | Em |",
            "chords square ending 1 | A |;chords square ending 2 | D |", "chords A ending 1 | G7 |;chords A ending 2 | Cm |",
            "chords away ending 1 | F |;chords away ending 2 | Gm |", "chords stairs ending 1 | E7 |;chords stairs ending 2 | Am |",
        ],
        ["felt in one"] = Same("feel bar"),
        ["another ending"] =
        [
            "ending D5", "ending Em9", "ending on", "ending A6", "ending F6", "ending Dadd9", "ending Bm7", "ending off", "ending Bb6", "ending off",
        ],
    };

    /// <summary>The text of a chart as its file has it: some editors write a byte order mark and Windows line breaks.</summary>
    public static string Text(string name)
    {
        var text = File.ReadAllText(Path.Combine(Folder, name + ".toml")).Replace("\r\n", "\n", StringComparison.Ordinal);
        return name switch
        {
            "night-ferry" => text.Replace("\n", "\r\n", StringComparison.Ordinal),
            "customs-house" => '\uFEFF' + text,
            _ => text,
        };
    }

    public static string Words(string name, string change) => Changes[change][Names.ToList().IndexOf(name)];

    public static string Folder { get; } = Path.Combine(Path.GetDirectoryName(Source())!, "ByHand");

    private static string Source([System.Runtime.CompilerServices.CallerFilePath] string path = "") => path;

    private static string[] Same(string words) => [.. Names.Select(_ => words)];
}
