using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads the band.</summary>
internal sealed class PartsReader(InstrumentCatalogue catalogue, int format, Problems problems, Problems remarks)
{
    // A part may need two of the 64 channels.
    private readonly List<Part> _parts = [];
    private readonly Dictionary<string, int> _places = new(StringComparer.OrdinalIgnoreCase);

    /// <summary>Reads the tables; null if there was a problem, which is then reported.</summary>
    public IReadOnlyList<Part>? Read(IReadOnlyList<TomlTable> tables)
    {
        var well = true;
        if (tables.Count > HouseBand.MostParts)
        {
            problems.Add(tables[HouseBand.MostParts].Start, $"the band has {tables.Count} parts", $"write {HouseBand.MostParts} at most");
            well = false;
        }

        foreach (var table in tables)
        {
            well &= Add(table);
        }

        return well ? NamedApart() : null;
    }

    private bool Add(TomlTable table)
    {
        var before = problems.Count;
        var keys = new TableKeys(table, problems);
        const string accepted = "write role = \"pulse\", \"roll\", \"bass\", \"sustain\", \"tune\" or \"count\"";
        var name = Name(keys);
        var roleText = keys.Text("role", accepted);
        Role? known = Roles.TryParse(roleText?.Value, out var role) ? role : null;
        if (known is null)
        {
            if (roleText is not null)
            {
                var near = Words.Nearest(roleText.Value, Enum.GetValues<Role>().Select(candidate => candidate.Name()));
                problems.Add(
                    roleText.PlaceOf(0),
                    $"{Words.Quote(roleText.Value)} is not a role",
                    near is null ? accepted : $"did you mean \"{near}\"? {accepted}");
            }
            else if (!keys.Has("role") && !table.Damaged)
            {
                problems.Add(table.Start, "this part has no role", accepted);
            }
        }

        TellUnknown(keys, known);
        var instrument = Instrument(keys, known, out var fits);
        var register = Register(keys, instrument);
        var level = keys.Number("level", -60, 6);
        var pan = keys.Integer("pan", -100, 100);
        var silent = keys.Flag("silent") ?? false;
        if (format == 1 && keys.Has("silent"))
        {
            problems.Add(keys.Entry("silent")!.KeyStart, "silent belongs to format 2", "write format = 2 as the first line");
        }

        var settings = known is null ? null : Settings(keys, role);
        if (known is null || instrument is null || !fits)
        {
            return false;
        }

        var part = HouseBand.Part(role, instrument, catalogue);
        _parts.Add(part with
        {
            Name = name ?? string.Empty,
            LevelDecibels = level ?? part.LevelDecibels,
            Pan = pan ?? part.Pan,
            Silent = silent,
            Lowest = register?.Lowest ?? part.Lowest,
            Highest = register?.Highest ?? part.Highest,
            Settings = settings!,
        });
        if (!catalogue.Suits(instrument, role))
        {
            var usual = catalogue.All.Where(other => catalogue.Suits(other, role)).Select(other => other.Name).ToList();
            remarks.Add(
                keys.Entry("instrument")?.Value is TomlString text ? text.PlaceOf(0) : table.Start,
                $"the {instrument.Name} is unusual in the role {role.Name()}",
                $"it plays anyway; usual {(usual.Count == 1 ? "instrument" : "instruments")}: {Words.And(usual)}");
        }

        return problems.Count == before && !problems.Full;
    }

    private string? Name(TableKeys keys)
    {
        if (keys.Text("name", "write a name such as name = \"banjo\", or leave it out") is not { } text)
        {
            return null;
        }

        var name = text.Value.Trim();
        if (name.Length > 0 && !Part.IsName(name))
        {
            problems.Add(
                text.PlaceOf(0),
                $"{Words.Quote(name)} cannot be a part's name",
                "write at most 40 letters, digits, spaces and hyphens, as the part's sound file gets this name");
            return null;
        }

        if (!_places.TryAdd(name, text.Start))
        {
            problems.Add(text.PlaceOf(0), $"two parts are named {Words.Quote(name)}", "give each part a different name");
        }

        return name;
    }

    private void TellUnknown(TableKeys keys, Role? role)
    {
        var settings = role is { } known ? ChartKeys.SettingsOf(known) : [.. Enum.GetValues<Role>().SelectMany(ChartKeys.SettingsOf)];
        keys.TellUnknown("a part", [.. ChartKeys.Part, .. settings], key =>
        {
            foreach (var other in Enum.GetValues<Role>())
            {
                if (role is { } mine && ChartKeys.SettingsOf(other).Contains(key))
                {
                    return $"{key} is a setting of the role {other.Name()}; {mine.Name()} has {Words.And(settings)}";
                }
            }

            return ChartKeys.Home(key);
        });
    }

    // Also returns one that cannot play the role, to check its register.
    private Instrument? Instrument(TableKeys keys, Role? role, out bool fits)
    {
        fits = true;
        var accepted = $"instruments: {Words.And([.. catalogue.All.Select(instrument => instrument.Name)])}";
        if (!keys.Has("instrument"))
        {
            return role is { } known ? catalogue.Default(known) : null;
        }

        if (keys.Text("instrument", accepted) is not { } text)
        {
            return null;
        }

        if (!catalogue.TryFind(text.Value, out var instrument))
        {
            var near = Words.Nearest(text.Value, catalogue.All.Select(candidate => candidate.Name));
            problems.Add(
                text.PlaceOf(0),
                $"no instrument called {Words.Quote(text.Value)}",
                near is null ? accepted : $"did you mean \"{near}\"? {accepted}");
            return null;
        }

        if (role is { } played && instrument.Unpitched != (played == Role.Count))
        {
            problems.Add(
                text.PlaceOf(0),
                $"{instrument.Name} cannot play the role {played.Name()}",
                instrument.Unpitched ? "clicks have no pitch and play the role count only" : "only clicks play the role count");
            fits = false;
        }

        return instrument;
    }

    private (int Lowest, int Highest)? Register(TableKeys keys, Instrument? instrument)
    {
        var range = instrument is null ? "G2-D6" : $"{Pitch.FromMidi(instrument.Lowest)}-{Pitch.FromMidi(instrument.Highest)}";
        var accepted = instrument is { Unpitched: true }
            ? "leave it out"
            : $"write two pitches at least an octave apart{(instrument is null ? "" : $" inside the range of the {instrument.Name}")}: register = \"{range}\"";
        string? text;
        int place;
        switch (keys.Entry("register")?.Value)
        {
            case null:
                return null;
            case TomlString one:
                text = one.Value;
                place = one.PlaceOf(0);
                break;
            case TomlList { Items: [TomlString low, TomlString high] } list:
                text = low.Value + "-" + high.Value;
                place = list.Start;
                break;
            case var other:
                problems.Add(other.Start, "register must be two pitches", accepted);
                return null;
        }

        if (instrument is { Unpitched: true })
        {
            problems.Add(place, $"{instrument.Name} have no register", accepted);
        }
        else if (!InstrumentFile.TryRange(text, out var lowest, out var highest))
        {
            problems.Add(place, $"{Words.Quote(text)} is not a register", accepted);
        }
        else if (instrument is not null && (lowest.Midi < instrument.Lowest || highest.Midi > instrument.Highest))
        {
            problems.Add(
                place,
                $"the {instrument.Name} goes from {range.Replace("-", " to ", StringComparison.Ordinal)}, not {lowest} to {highest}",
                accepted);
        }
        else if (highest.Midi - lowest.Midi < 12)
        {
            problems.Add(place, $"{lowest} to {highest} is less than an octave", accepted);
        }
        else
        {
            return (lowest.Midi, highest.Midi);
        }

        return null;
    }

    private static RoleSettings Settings(TableKeys keys, Role role)
    {
        switch (role)
        {
            case Role.Pulse:
                var pulse = new PulseSettings();
                return pulse with
                {
                    Strokes = keys.Choice(
                        "strokes",
                        ("alternate", StrokeOrder.Alternate),
                        ("heavy", StrokeOrder.Heavy),
                        ("down", StrokeOrder.Down)) ?? pulse.Strokes,
                    Damped = keys.Flag("damped") ?? pulse.Damped,
                    Voices = keys.Integer("voices", 1, 6) ?? pulse.Voices,
                    Share = keys.Choice(
                        "share", ("all", PulseShare.All), ("starts", PulseShare.Starts), ("between", PulseShare.Between)) ?? pulse.Share,
                    StrumMs = keys.Integer("strum-ms", 0, 14) ?? pulse.StrumMs,
                };
            case Role.Roll:
                var roll = new RollSettings();
                return roll with
                {
                    Crossing = keys.Choice(
                        "crossing", ("follow", Crossing.Follow), ("free", Crossing.Free), ("land", Crossing.Land)) ?? roll.Crossing,
                    HandLimitMs = keys.Integer("hand-limit-ms", 40, 400),
                };
            case Role.Bass:
                var bass = new BassSettings();
                return bass with { Approaches = keys.Number("approaches", 0, 0.5) ?? bass.Approaches, Ring = keys.Number("ring", 0.2, 1) };
            case Role.Sustain:
                var sustain = new SustainSettings();
                return sustain with
                {
                    Voices = keys.Integer("voices", 1, 2) ?? sustain.Voices,
                    LaidBack = LaidBack(keys) ?? sustain.LaidBack,
                };
            case Role.Tune:
                return new TuneSettings
                {
                    Octaves = keys.Integer("octaves", -3, 3) ?? 0,
                    Consonants = keys.Flag("consonants") ?? false,
                    Phrasing = keys.Flag("phrasing") ?? true,
                    LaidBack = LaidBack(keys) ?? LayBack.None,
                };
            default:
                var count = new CountSettings();
                return count with
                {
                    On = keys.Choice(
                        "on",
                        ("felt", CountOn.Felt),
                        ("units", CountOn.Units),
                        ("groups", CountOn.Groups),
                        ("bars", CountOn.Bars),
                        ("nothing", CountOn.Nothing)) ?? count.On,
                };
        }
    }

    // A part without a name is named after its instrument, with a number if that name is taken.
    private List<Part> NamedApart()
    {
        var taken = new HashSet<string>(_places.Keys, StringComparer.OrdinalIgnoreCase);
        var named = new List<Part>();
        foreach (var part in _parts)
        {
            named.Add(part.Name.Length > 0 ? part : part with { Name = HouseBand.FreeName(part.Instrument, taken) });
        }

        return named;
    }

    private static LayBack? LaidBack(TableKeys keys) =>
        keys.Choice("laid-back", ("none", LayBack.None), ("half", LayBack.Half), ("unit", LayBack.Unit), ("lean", LayBack.Lean));
}
