using System.Globalization;
using GrooveLab.Audio.Conducting;
using GrooveLab.Music.Band;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Testing;

/// <summary>A player who tries everything: random changes, all kinds about equally often. For soak tests and checks that must cover each
/// kind. The same random seed and performance give the same changes.</summary>
public sealed class RandomChanges(int seed)
{
    // One change in this many is of a random kind; the others are of the least used kind, so that each occurs often enough.
    private const int Free = 6;

    private const int SmallestBand = 4;
    private const int LargestBand = 9;

    private static readonly string[] Meters =
        ["5/8 3+2", "5/8 2+3", "7/8 2+2+3", "7/8 3+2+2", "4/4", "6/8 3+3", "9/8 2+2+2+3", "5/4 none", "11/8 2+2+3+2+2", "3/4", "13/16 3+3+3+2+2"];

    private static readonly string[] Keys = ["D dorian", "E minor", "G major", "Bb major", "F# minor", "A mixolydian"];
    private static readonly string[] Instruments = ["guitar", "bouzouki", "fiddle", "accordion", "hammered dulcimer", "cello", "concertina", "harp"];

    private readonly Random _chance = new(seed);
    private readonly SortedDictionary<string, int> _made = new(StringComparer.Ordinal);

    /// <summary>The names of the kinds of changes.</summary>
    public static IReadOnlyList<string> Kinds { get; } =
    [
        "nudge", "tempo", "tap", "ramp", "meter", "grouping", "feel", "level", "pan", "mute", "solo", "role", "instrument", "add", "remove",
        "count", "count level", "crossing", "density", "laid-back", "key", "up", "section", "jump", "loop", "seam", "vamp", "go-on", "hold",
        "break", "restart", "count-in", "chords", "master", "undo", "redo", "keep", "hear", "version", "recall", "last-time", "tag",
        "one section", "setting", "rhythm", "recast",
    ];

    /// <summary>The number of changes made of each kind.</summary>
    public IReadOnlyDictionary<string, int> Made => _made;

    /// <summary>The number of refused changes.</summary>
    public int Refused { get; private set; }

    /// <summary>Makes a change; false if it is not possible now.</summary>
    public bool Change(Conductor conductor)
    {
        var kind = _chance.Next(Free) == 0
            ? Kinds[_chance.Next(Kinds.Count)]
            : Kinds.OrderBy(kind => _made.GetValueOrDefault(kind)).ThenBy(_ => _chance.Next()).First();

        // A change that is not possible now (nothing to release) is tried again later, but not for ever.
        return Tried(kind, conductor) || Tried(Kinds[_chance.Next(Kinds.Count)], conductor);
    }

    private bool Tried(string kind, Conductor conductor)
    {
        kind = Possible(kind, conductor);
        if (!conductor.Do(Words(kind, conductor)).Taken)
        {
            Refused++;
            return false;
        }

        _made[kind] = _made.GetValueOrDefault(kind) + 1;
        return true;
    }

    // A requested end is undone so that the music continues; close to the end no end is requested.
    private static string Possible(string kind, Conductor conductor)
    {
        const int Close = 4;
        if (conductor.State.Orders.EndBar is not null && conductor.History.LastChange is not null)
        {
            return "undo";
        }

        var index = Math.Max(0, conductor.Place.Index);
        var bars = conductor.History.Route.Plan.BarsInPass;
        var left = conductor.State.Orders.Loop is { } loop ? loop.End - Math.Max(index, loop.From) : bars - (index % bars);
        var band = conductor.State.Chart.Parts.Count;
        return kind switch
        {
            "last-time" or "tag" when left < Close => "undo",
            "rhythm" when conductor.State.Chart.Sections.All(section => section.Tune is null) && conductor.History.LastChange is not null => "undo",
            "add" when band >= LargestBand => "remove",
            "remove" when band <= SmallestBand => "add",
            _ => kind,
        };
    }

    private string Words(string kind, Conductor conductor)
    {
        var chart = conductor.State.Chart;
        string Pick(params string[] from) => from[_chance.Next(from.Length)];
        string Part() => Pick([.. chart.Parts.Select(part => part.Name)]);
        string Player(params Role[] roles) => Pick([.. chart.Parts.Where(part => roles.Contains(part.Role)).Select(part => part.Name).DefaultIfEmpty("nobody")]);
        string Melodic() => Player(Role.Pulse, Role.Roll, Role.Bass, Role.Sustain, Role.Tune);
        string Whole(int from, int to) => _chance.Next(from, to + 1).ToString(CultureInfo.InvariantCulture);
        string Section() => Pick([.. chart.Sections.Select(section => section.Name)]);

        // A section with a tune keeps its number of bars.
        string Chords(string name)
        {
            var marks = Pick("| Dm | C | G | Am |", "| F | G | Dm | Dm |", "| Am | F | C | G | F | Dm |");
            var section = chart.Sections.First(section => section.Name == name);
            var bars = marks.Split('|', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
            return $"chords {name} " + (section.Tune is null ? marks : $"| {string.Join(" | ", section.Bars.Select((_, i) => bars[i % bars.Length]))} |");
        }

        // Something that the part's role has, or that every part has.
        string Setting(Part part) => part.Name is var name && _chance.Next(3) == 0
            ? Pick($"without {name}", $"without {name} off", $"rename {name} to {Pick("mine", "yours", "theirs")} {Whole(1, 999)}")
            : part.Role switch
            {
                Role.Pulse => Pick(
                    $"strokes {name} {Pick("alternate", "heavy", "down")}",
                    $"damped {name} {Pick("on", "off")}",
                    $"voices {name} {Whole(1, 4)}",
                    $"share {name} {Pick("all", "starts", "between")}",
                    $"strum-ms {name} {Whole(0, 14)}"),
                Role.Roll => $"hand-limit-ms {name} {Pick("usual", Whole(40, 400))}",
                Role.Bass => Pick($"approaches {name} {Pick("0", "0.1", "0.3")}", $"ring {name} {Pick("usual", "0.5", "1")}"),
                Role.Sustain => Pick($"voices {name} {Whole(1, 2)}", $"register {name} {Pick("usual", "C3-C4", "G3-G4")}"),
                Role.Tune => Pick($"octaves {name} {Pick("0", "1", "-1")}", $"consonants {name}"),
                _ => "count bars",
            };

        // The notes of a tune short, up to the next one, or each a unit long; its pickup stays.
        string Rhythm()
        {
            var sung = chart.Sections.Where(section => section.Tune is { Notes.Count: > 0 }).ToList();
            if (sung.Count == 0)
            {
                return "rhythm";
            }

            var section = sung[_chance.Next(sung.Count)];
            var notes = section.Tune!.Notes;
            var unit = section.Bars[0].Meter.Unit;
            var ends = notes.Skip(1).Select(note => note.Onset).Append(notes[^1].Onset + notes[^1].Length);
            IEnumerable<(Span Onset, Span Length)> rhythm = _chance.Next(3) switch
            {
                0 => notes.Select(note => (note.Onset, Span.Min(note.Length, unit / 2))),
                1 => notes.Zip(ends, (note, end) => (note.Onset, end - note.Onset)),
                _ => notes.Select((_, i) => (notes[0].Onset + (unit * i), unit)),
            };
            return SetRhythm.Of(section.Name, [.. rhythm]).Words;
        }

        return kind switch
        {
            "nudge" => "tempo by " + Pick("4", "-4", "1", "-1"),
            "tempo" => "tempo " + Pick("eighth = " + Whole(180, 360), "bar = " + Whole(30, 70), Whole(60, 300)),
            "tap" => Taps(conductor),
            "ramp" => $"ramp eighth = {Whole(180, 360)} over {Whole(1, 6)}",
            "meter" => "meter " + Pick(Meters),
            "grouping" => "grouping " + Pick("3+2", "2+3", "2+2+3", "none", "2+2", "3+3"),
            "feel" => "feel " + Pick("unit", "group", "bar", "bar-group", "wider", "narrower", "other"),
            "level" => $"level {Part()} {Pick("by 2", "by -2", Whole(-20, 3))}",
            "pan" => $"pan {Part()} {Whole(-100, 100)}",
            "mute" or "solo" => $"{kind} {Part()}",
            "remove" => $"remove {Melodic()}",
            "role" => $"role {Melodic()} {Pick("pulse", "roll", "bass", "sustain", "tune")}",
            "instrument" => $"instrument {Melodic()} {Pick(Instruments)}",
            "add" => $"add {Pick("pulse", "roll", "bass", "sustain", "tune")}",
            "count" => "count",
            "count level" => "count " + Pick("felt", "units", "groups", "bars"),
            "crossing" => $"crossing {Player(Role.Roll)} {Pick("follow", "free", "land")}",
            "density" => $"density {Player(Role.Roll)} {Pick("full", "half", "quarter")}",
            "laid-back" => $"laid-back {Player(Role.Tune, Role.Sustain)} {Pick("none", "half", "unit")}",
            "key" => "key " + Pick(Keys),
            "up" => "up " + Pick("-3", "-2", "-1", "1", "2", "3"),
            "section" or "jump" => $"{kind} {Section()}",
            "loop" => "loop " + Pick("section", "off", "1 2", "2 4"),
            "seam" => "loop seam",
            "break" => "break " + Whole(1, 2),
            "tag" => "tag " + Whole(1, 4),
            "count-in" => "count-in " + Pick("on", "off"),
            "chords" => Chords(Section()),
            "master" => "master " + Whole(-12, 0),
            "keep" => "keep " + Pick("a", "b"),
            "hear" => "hear " + Pick("a", "b", "other"),
            "one section" when conductor.History.Limitable is not null => "here",
            "one section" => Pick(
                $"tempo {Whole(60, 300)} here",
                $"tempo {Whole(50, 150)}% here",
                $"ramp {Whole(60, 300)} over {Whole(1, 4)} here",
                $"tempo eighth = {Whole(180, 360)} in {Section()}",
                $"meter {Pick(Meters)} here",
                $"meter {Pick(Meters)} in {Section()}",
                "grouping none here",
                $"key {Pick(Keys)} here",
                $"up {Pick("-2", "1", "2")} in {Section()}",
                $"feel {Pick("unit", "group", "bar", "wider")} here"),
            "setting" => Setting(chart.Parts[_chance.Next(chart.Parts.Count)]),
            "rhythm" => Rhythm(),

            // Moved again and again, a bar stays a bar: others would become too short to be played.
            "recast" => "recast " + Pick("5/8", "7/8", "5/4", "3/4", "4/4", "9/8")
                + (conductor.State.Recasts.IsEmpty ? Pick(string.Empty, " by half-bar", " by bar", " add-beat 2", " here", " by bar here") : Pick(" by bar", " by bar here")),
            "version" or "recall" => $"{kind} {Pick("one", "two")}",
            _ => kind,
        };
    }

    // Taps of a player who is off by up to ten milliseconds: units, long and short groups, or bars, a little faster or slower than the
    // tempo.
    private string Taps(Conductor conductor)
    {
        const int Many = 9;
        const double Jitter = 0.010;
        var bar = conductor.State.BarAt(conductor.Place);
        var around = conductor.State.TempoIn(bar, conductor.Place.Ordinal);
        var level = (FeltLevel)_chance.Next(3);
        var pace = 0.9 + (0.2 * _chance.NextDouble());
        var onsets = new List<double>();
        for (var start = 0; onsets.Count < Many; start++)
        {
            onsets.AddRange(level.BeatsIn(bar.Meter, new BarGroupPlace(0, 0, 1)).Select(beat =>
                (around.Seconds(bar.Meter.Length).ToDouble() * start) + around.Seconds(beat).ToDouble()));
        }

        var taps = onsets.Take(Many).Select(onset => (onset * pace) + (Jitter * ((2 * _chance.NextDouble()) - 1))).ToList();
        return TapTempo.Hear(TapTempo.NewestRow(taps), bar.Meter, bar.GroupPlace, around) is { } heard
            ? SetTempo.FromTaps(heard, bar).Words
            : "tempo 0";
    }
}
