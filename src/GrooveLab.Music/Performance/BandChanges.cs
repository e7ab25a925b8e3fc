using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Performance;

/// <summary>A change of one part of the band.</summary>
/// <param name="Part">The part's name.</param>
public abstract record PartChange(string Part) : StateChange
{
    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var index = ChangeWords.IndexOf(Part, state);
        return Apply(state, place, index, state.Chart.Parts[index]);
    }

    private protected abstract ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part);

    internal static PerformanceState With(PerformanceState state, int index, Func<Part, Part> change) => state with
    {
        Chart = state.Chart with { Parts = [.. state.Chart.Parts.Select((part, i) => i == index ? change(part) : part)] },
    };

    /// <summary>The part in an octave in which it can play the tune, resting tunes included, and the octave in words.</summary>
    /// <exception cref="ChangeRefusedException">There is none.</exception>
    internal static (Part Part, string Words) InReach(PerformanceState state, Part part)
    {
        var whole = state.WithRestingTunes();
        var moved = whole.InReach(part);
        foreach (var (section, line) in whole.LinesBeyond(moved))
        {
            throw new ChangeRefusedException(
                $"{TunePlayers.NameOf(section, line)} does not fit the range of the {part.Instrument.Name} in any octave; use another instrument");
        }

        var octaves = (moved.Settings as TuneSettings)?.Octaves - (part.Settings as TuneSettings)?.Octaves ?? 0;
        return (moved, octaves == 0 ? string.Empty : $", {Higher(octaves)}");
    }

    /// <summary>"an octave higher", "2 octaves lower".</summary>
    internal static string Higher(int octaves) =>
        $"{(Math.Abs(octaves) == 1 ? "an octave" : Wording.Words.Count(Math.Abs(octaves), "octave"))} {(octaves > 0 ? "higher" : "lower")}";

    /// <summary>The suggestion for a misspelt role that a change can give.</summary>
    internal static string MeantRole(string word) =>
        Wording.Words.Meant(Wording.Words.Nearest(word, Enum.GetValues<Role>().Where(role => role != Role.Count).Select(role => role.Name())));

    internal static string NoInstrument(string name, Role role, PerformanceState state)
    {
        const int Told = 8;
        var known = state.Instruments.All.Where(other => other.Unpitched == (role == Role.Count) && state.Instruments.Suits(other, role))
            .Select(other => other.Name).ToList();
        var what = name.Length == 0 ? "give an instrument"
            : Wording.Words.Beginning(name, known) is { } begun ? $"unexpected {Wording.Words.Quote(begun.Left)} after {Wording.Words.Quote(begun.Name)}"
            : $"unknown instrument {Wording.Words.Quote(name)}";
        return $"{what}; {Wording.Words.Meant(name.Length == 0 ? null : Wording.Words.Nearest(name, known))}for the {role.Name()}: {string.Join(", ", known.Take(Told))}"
            + (known.Count > Told ? $" and {known.Count - Told} more" : string.Empty);
    }
}

/// <summary>Changes the level of a part.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Decibels">The level, -60 to 6 dB, or the step in dB.</param>
/// <param name="IsStep">True for a step from the current level.</param>
public sealed record SetLevel(string Part, double Decibels, bool IsStep) : PartChange(Part)
{
    private const double Lowest = -60;
    private const double Highest = 6;

    internal static ChangeForm Form { get; } = new("level", "level PART -3 | by 2 | by -2", "louder or softer, in dB", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        var (value, isStep) = ChangeWords.Amount(left, Lowest, Highest, "a level in dB");
        return new SetLevel(part, value, isStep);
    });

    /// <inheritdoc/>
    public override string Words => IsStep ? ChangeWords.Step($"level {Part}", Decibels) : $"level {Part} {ChangeWords.Plain(Decibels)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        var level = Math.Clamp(IsStep ? part.LevelDecibels + Decibels : Decibels, Lowest, Highest);
        return new ChangeResult(
            With(state, index, player => player with { LevelDecibels = level }), $"{part.Name} {ChangeWords.Decibels(level)}", ChangeMoment.Now);
    }
}

/// <summary>Changes the pan of a part.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Pan">-100 left to 100 right.</param>
public sealed record SetPan(string Part, int Pan) : PartChange(Part)
{
    // The pan for the words left and right.
    private const int Aside = 60;

    internal static ChangeForm Form { get; } = new("pan", "pan PART -30 | left | right", "left is -100, right 100", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return new SetPan(part, left.ToLowerInvariant() switch
        {
            "left" => -Aside,
            "right" => Aside,
            "middle" => 0,
            _ => ChangeWords.Whole(left, -100, 100, "a pan position"),
        });
    });

    /// <inheritdoc/>
    public override string Words => $"pan {Part} {ChangeWords.Plain(Pan)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) => new(
        With(state, index, player => player with { Pan = Pan }),
        $"{part.Name} " + (Pan == 0 ? "in the middle" : Pan < 0 ? $"{-Pan} to the left" : $"{Pan} to the right"),
        ChangeMoment.Now);
}

/// <summary>Mutes or unmutes a part.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="On">True to mute, false to unmute, null to switch.</param>
public sealed record Mute(string Part, bool? On = null) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("mute", "mute PART | PART off", "mute or unmute a part", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return new Mute(part, ChangeWords.OnOff(left));
    });

    /// <inheritdoc/>
    public override string Words => ChangeWords.Switched($"mute {Part}", On);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        var mute = On ?? !state.Muted.Contains(part.Name);
        return new ChangeResult(
            state with { Muted = mute ? state.Muted.Add(part.Name) : state.Muted.Remove(part.Name) },
            part.Name + (mute ? " muted" : " plays again"),
            ChangeMoment.Now);
    }
}

/// <summary>Plays a part solo, or with the others again.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="On">True for solo, false for all parts, null to switch.</param>
public sealed record Solo(string Part, bool? On = null) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("solo", "solo PART | PART off", "hear a part alone, or all parts again", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return new Solo(part, ChangeWords.OnOff(left));
    });

    /// <inheritdoc/>
    public override string Words => ChangeWords.Switched($"solo {Part}", On);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        var all = On ?? !state.Solo.Contains(part.Name) ? state.Solo.Add(part.Name) : state.Solo.Remove(part.Name);
        return new ChangeResult(
            state with { Solo = all }, all.IsEmpty ? "all parts play" : string.Join(" and ", all) + " alone", ChangeMoment.Now);
    }
}

/// <summary>Gives a part another role.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Role">The role; not the count.</param>
public sealed record SetRole(string Part, Role Role) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("role", "role PART roll", "change its role", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return Roles.TryParse(left, out var role)
            ? new SetRole(part, role)
            : throw new ChangeRefusedException($"{ChangeWords.NotThis(left, "a role")}; {MeantRole(left)}accepted: pulse, roll, bass, sustain and tune");
    });

    /// <inheritdoc/>
    public override string Words => $"role {Part} {Role.Name()}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        if (part.Instrument.Unpitched || Role == Role.Count)
        {
            throw new ChangeRefusedException("only clicks can play the count, and clicks can play nothing else");
        }

        var (lowest, highest) = state.Instruments.Register(part.Instrument, Role);
        var (changed, octave) = InReach(state, part with { Role = Role, Settings = RoleSettings.For(Role), Lowest = lowest, Highest = highest });
        var result = With(state, index, _ => changed);
        if (Role == Role.Tune)
        {
            // The arrangement leaves the tune alone: what sections asked of the part goes.
            result = result with
            {
                Chart = result.Chart with { Sections = [.. result.Chart.Sections.Select(section => section with { Orders = section.Orders?.AskingNothingOf(index) })] },
            };
        }

        return new ChangeResult(result, $"{part.Name} plays the {Role.Name()}{octave}", ChangeMoment.BarLine);
    }
}

/// <summary>Gives a part another instrument.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Instrument">The instrument, by a name in the catalogue.</param>
public sealed record SetInstrument(string Part, string Instrument) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("instrument", "instrument PART fiddle", "change its instrument", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return new SetInstrument(part, left);
    });

    /// <inheritdoc/>
    public override string Words => $"instrument {Part} {Instrument}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        if (!state.Instruments.TryFind(Instrument, out var instrument) || instrument.Unpitched != part.Instrument.Unpitched)
        {
            throw new ChangeRefusedException(NoInstrument(Instrument, part.Role, state));
        }

        var (lowest, highest) = state.Instruments.Register(instrument, part.Role);
        var (changed, octave) = InReach(state, part with { Instrument = instrument, Lowest = lowest, Highest = highest });
        return new ChangeResult(With(state, index, _ => changed), $"{part.Name} part, now {instrument.Name}{octave}", ChangeMoment.BarLine);
    }
}

/// <summary>Adds a part to the band.</summary>
/// <param name="Role">Its role; not the count.</param>
/// <param name="Instrument">Its instrument, by a name in the catalogue; null for the default.</param>
public sealed record AddPart(Role Role, string? Instrument) : StateChange
{
    private const int MostParts = 16;

    internal static ChangeForm Form { get; } = new("add", "add roll banjo", "add a part", (rest, _) =>
    {
        var words = rest.Split(' ', 2, StringSplitOptions.TrimEntries);
        return Roles.TryParse(words[0], out var role) && role != Role.Count
            ? new AddPart(role, words.Length > 1 ? words[1] : null)
            : throw new ChangeRefusedException($"{Wording.Words.Quote(words[0])} is not a role to add; {PartChange.MeantRole(words[0])}accepted: pulse, roll, bass, sustain and tune");
    });

    /// <inheritdoc/>
    public override string Words => $"add {Role.Name()}" + (Instrument is null ? string.Empty : " " + Instrument);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        if (Role == Role.Count)
        {
            throw new ChangeRefusedException("the count has its own command; write count felt");
        }

        if (state.Chart.Parts.Count >= MostParts)
        {
            throw new ChangeRefusedException($"the band is full: {MostParts} parts");
        }

        var instrument = state.Instruments.Default(Role);
        if (Instrument is not null && (!state.Instruments.TryFind(Instrument, out instrument!) || instrument.Unpitched))
        {
            throw new ChangeRefusedException(PartChange.NoInstrument(Instrument, Role, state));
        }

        // If only some parts play, the new part plays with those of the same role.
        var chart = state.Chart;
        var joins = chart.Sections.Select(section => section.Playing is { } playing && playing.Any(part => chart.Parts[part].Role == Role)
            ? section with { Playing = [.. playing, chart.Parts.Count] }
            : section);
        var joined = state with { Chart = chart with { Sections = [.. joins] } };
        var (player, octave) = PartChange.InReach(joined, New(Role, instrument, state));
        return new ChangeResult(
            joined with { Chart = joined.Chart with { Parts = [.. chart.Parts, player] } },
            $"{player.Name} also plays the {Role.Name()}{octave}",
            ChangeMoment.BarLine);
    }

    /// <summary>A further part of a band, under a name that no other part has.</summary>
    internal static Part New(Role role, Instrument instrument, PerformanceState state)
    {
        var parts = state.Chart.Parts;
        return parts.Count < HouseBand.MostParts
            ? HouseBand.Part(role, instrument, state.Instruments) with
            {
                Name = HouseBand.FreeName(instrument, parts.Select(part => part.Name).ToHashSet(StringComparer.OrdinalIgnoreCase)),
            }
            : throw new ChangeRefusedException($"the band is full: {HouseBand.MostParts} parts");
    }
}

/// <summary>Removes a part from the band.</summary>
/// <param name="Part">The part's name.</param>
public sealed record RemovePart(string Part) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("remove", "remove PART", "remove a part", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return left.Length == 0 ? new RemovePart(part) : throw new ChangeRefusedException($"one part at a time: remove {part}");
    });

    /// <inheritdoc/>
    public override string Words => $"remove {Part}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        var chart = state.Chart;
        if (chart.Parts.Count == 1)
        {
            throw new ChangeRefusedException($"{part.Name} is the only part left; mute it instead");
        }

        var sections = chart.Sections.Select(section => section with
        {
            Playing = section.Playing is not { } playing ? null : [.. playing.Where(other => other != index).Select(other => other > index ? other - 1 : other)],
            Orders = section.Orders?.Without(index),
        });
        return new ChangeResult(
            state with
            {
                Chart = chart with { Parts = [.. chart.Parts.Where((_, other) => other != index)], Sections = [.. sections] },
                Muted = state.Muted.Remove(part.Name),
                Solo = state.Solo.Remove(part.Name),
                MovedParts = state.MovedParts.Remove(part.Name),
            },
            $"{part.Name} removed",
            ChangeMoment.BarLine);
    }
}

/// <summary>Changes where the count clicks, or stops it.</summary>
/// <param name="On">Where it clicks; null to switch between felt beats and off.</param>
public sealed record SetCount(CountOn? On) : StateChange
{
    internal static ChangeForm Form { get; } = new(
        "count",
        "count felt | units | groups | bars | off",
        "where the count clicks",
        (rest, _) => new SetCount(rest.Length == 0 ? null : ChangeWords.Choice<CountOn>(
            rest,
            "something to count",
            ("felt", CountOn.Felt),
            ("units", CountOn.Units),
            ("groups", CountOn.Groups),
            ("bars", CountOn.Bars),
            ("off", CountOn.Nothing),
            ("nothing", CountOn.Nothing),
            ("on", CountOn.Felt),
            ("beats", CountOn.Felt))))
    {
        StandsAlone = true,
    };

    /// <inheritdoc/>
    public override string Words => On switch
    {
        null => "count",
        CountOn.Felt => "count felt",
        CountOn.Units => "count units",
        CountOn.Groups => "count groups",
        CountOn.Bars => "count bars",
        _ => "count off",
    };

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var counter = state.Chart.Parts.FirstOrDefault(part => part.Role == Role.Count);
        var on = On ?? (counter is { Settings: CountSettings { On: not CountOn.Nothing } } ? CountOn.Nothing : CountOn.Felt);
        var says = on switch
        {
            CountOn.Felt => "count the beats you feel",
            CountOn.Units => "count the units",
            CountOn.Groups => "count the groups",
            CountOn.Bars => "count the bars",
            _ => "no count",
        };
        var parts = counter is null
            ? [.. state.Chart.Parts, AddPart.New(Role.Count, state.Instruments.Default(Role.Count), state)]
            : state.Chart.Parts;
        var chart = state.Chart with
        {
            Parts = [.. parts.Select(part => part.Role == Role.Count ? part with { Settings = new CountSettings { On = on } } : part)],
        };
        return new ChangeResult(state with { Chart = chart }, says, ChangeMoment.BarLine);
    }
}

/// <summary>Changes how a roll aligns with the groups.</summary>
/// <param name="Part">The roll's name.</param>
/// <param name="Crossing">The alignment.</param>
public sealed record SetCrossing(string Part, Crossing Crossing) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new(
        "crossing",
        "crossing PART follow | free | land",
        "how the roll aligns with the groups",
        (rest, state) =>
        {
            var (part, left) = ChangeWords.PartIn(rest, state);
            return new SetCrossing(part, ChangeWords.Choice<Crossing>(
                left, "a way to cross the groups", ("follow", Crossing.Follow), ("free", Crossing.Free), ("land", Crossing.Land)));
        });

    /// <inheritdoc/>
    public override string Words => $"crossing {Part} " + Crossing switch
    {
        Crossing.Follow => "follow",
        Crossing.Free => "free",
        _ => "land",
    };

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is RollSettings roll
            ? new ChangeResult(
                With(state, index, player => player with { Settings = roll with { Crossing = Crossing } }),
                $"{part.Name}: " + Crossing switch
                {
                    Crossing.Follow => "with the groups",
                    Crossing.Free => "across the groups",
                    _ => "across the groups, realigns every bar group",
                },
                ChangeMoment.BarLine)
            : throw new ChangeRefusedException($"{part.Name} plays the {part.Role.Name()}; only a roll can cross the groups");
}

/// <summary>The density of a roll.</summary>
public enum RollDensity
{
    /// <summary>All that the hand can play.</summary>
    Full,

    /// <summary>About half.</summary>
    Half,

    /// <summary>About a quarter.</summary>
    Quarter,
}

/// <summary>Changes the density of a roll.</summary>
/// <param name="Part">The roll's name.</param>
/// <param name="Density">The density.</param>
public sealed record SetDensity(string Part, RollDensity Density) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new(
        "density",
        "density PART full | half | quarter",
        "how many notes the roll plays",
        (rest, state) =>
        {
            var (part, left) = ChangeWords.PartIn(rest, state);
            return new SetDensity(part, ChangeWords.Choice<RollDensity>(
                left, "a density", ("full", RollDensity.Full), ("half", RollDensity.Half), ("quarter", RollDensity.Quarter)));
        });

    /// <inheritdoc/>
    public override string Words => $"density {Part} " + Density switch
    {
        RollDensity.Full => "full",
        RollDensity.Half => "half",
        _ => "quarter",
    };

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        if (part.Settings is not RollSettings roll)
        {
            throw new ChangeRefusedException($"{part.Name} plays the {part.Role.Name()}; only a roll has a density");
        }

        // A longer hand limit thins the roll to that density.
        var bar = state.BarAt(place);
        var halfUnit = state.TempoIn(bar, place.Ordinal).Seconds(bar.Meter.Unit / 2).ToDouble() * 1000;
        int? limit = Density switch
        {
            RollDensity.Full => null,
            RollDensity.Half => (int)Math.Clamp((halfUnit * 1.1) + 1, 40, 400),
            _ => (int)Math.Clamp((halfUnit * 2.2) + 1, 40, 400),
        };
        return new ChangeResult(
            With(state, index, player => player with { Settings = roll with { HandLimitMs = limit } }),
            $"{part.Name}: " + Density switch
            {
                RollDensity.Full => "every note",
                RollDensity.Half => "half the notes",
                _ => "a quarter of the notes",
            },
            ChangeMoment.BarLine);
    }
}

/// <summary>Changes how far the tune or the sustain lays back.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="By">The delay.</param>
public sealed record SetLaidBack(string Part, LayBack By) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new(
        "laid-back",
        "laid-back PART none | half | unit | lean",
        "how far behind the beat",
        (rest, state) =>
        {
            var (part, left) = ChangeWords.PartIn(rest, state);
            return new SetLaidBack(part, ChangeWords.Choice<LayBack>(
                left, "a way to lay back", ("none", LayBack.None), ("half", LayBack.Half), ("unit", LayBack.Unit), ("lean", LayBack.Lean), ("off", LayBack.None)));
        });

    /// <inheritdoc/>
    public override string Words => $"laid-back {Part} " + By switch
    {
        LayBack.None => "none",
        LayBack.Half => "half",
        LayBack.Lean => "lean",
        _ => "unit",
    };

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        RoleSettings settings = part.Settings switch
        {
            SustainSettings sustain => sustain with { LaidBack = By },
            TuneSettings tune => tune with { LaidBack = By },
            _ => throw new ChangeRefusedException("only the tune and the sustain can lay back; the others keep time"),
        };
        return new ChangeResult(
            With(state, index, player => player with { Settings = settings }),
            $"{part.Name} " + By switch
            {
                LayBack.None => "in time",
                LayBack.Half => "half a unit behind",
                LayBack.Lean => "leaning behind the beat",
                _ => "a unit behind",
            },
            ChangeMoment.BarLine);
    }
}

/// <summary>Changes the overall level.</summary>
/// <param name="Decibels">The level, -80 to 12 dB, or the step in dB.</param>
/// <param name="IsStep">True for a step from the current level.</param>
public sealed record SetMaster(double Decibels, bool IsStep) : StateChange
{
    private const double Lowest = -80;
    private const double Highest = 12;

    internal static ChangeForm Form { get; } = new("master", "master -3 | by 2 | by -2", "the overall level, in dB", (rest, _) =>
    {
        var (value, isStep) = ChangeWords.Amount(rest, Lowest, Highest, "a level in dB");
        return new SetMaster(value, isStep);
    });

    /// <inheritdoc/>
    public override string Words => IsStep ? ChangeWords.Step("master", Decibels) : $"master {ChangeWords.Plain(Decibels)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var level = Math.Clamp(IsStep ? state.MasterDecibels + Decibels : Decibels, Lowest, Highest);
        return new ChangeResult(state with { MasterDecibels = level }, $"overall level {ChangeWords.Decibels(level)}", ChangeMoment.Now);
    }
}
