using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Practice;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Live;

/// <summary>What came of a change in words.</summary>
/// <param name="State">The state after it.</param>
/// <param name="Says">What it was, for the player.</param>
/// <param name="Moment">When it takes effect.</param>
/// <param name="At">The ordinal of the bar at whose line it does, when that is further on; else null.</param>
/// <param name="JumpTo">The bar at which playing goes on from the next bar line; null to go on where it is.</param>
internal sealed record LiveChanged(LiveState State, string Says, LiveMoment Moment, int? At = null, int? JumpTo = null);

/// <summary>
/// The changes in words that a player can make while a chart plays: "meter 7/8 2+2+3", "level bass -3", "go-on". Keys, pedals, the line for
/// typing and the log all use these words. A pure function of words, state and place.
/// </summary>
internal static class LiveChanges
{
    /// <summary>Every change: its words, and what it does.</summary>
    public static IReadOnlyList<(string Words, string Does)> All { get; } =
    [
        ("tempo 120 | bar = 60 | +4 | -4", "the beat you feel, so many a minute"),
        ("ramp 140 over 8", "to that tempo, little by little"),
        ("meter 7/8 2+2+3", "bars like this one get another meter"),
        ("grouping 3+2", "the same bar, grouped otherwise"),
        ("feel unit | group | bar | bar-group", "what you feel as the beat (also: wider, narrower)"),
        ("level PART -3 | +2", "louder, softer, in dB"),
        ("pan PART -30 | left | right", "left is -100, right 100"),
        ("mute PART", "silent, or heard again"),
        ("solo PART", "alone, or with the others again"),
        ("role PART roll", "another task in the band"),
        ("instrument PART oud", "another instrument"),
        ("add roll banjo", "one more player"),
        ("remove PART", "that player leaves"),
        ("count felt | units | groups | bars | off", "what the clicks mark"),
        ("crossing PART follow | free | land", "how the roll lies against the groups"),
        ("density PART full | half | quarter", "how many notes the roll plays"),
        ("laid-back PART none | half | unit", "how far behind the beat"),
        ("key D dorian", "move to that key, the nearer way"),
        ("up 2", "move up, or down with a minus"),
        ("section NAME", "go there when this section ends"),
        ("jump NAME", "go there at the next bar line"),
        ("loop 5 8 | section | seam | off", "bars that go round"),
        ("vamp", "this section goes round until go-on"),
        ("go-on", "out of a vamp, a loop, a hold, a break"),
        ("last-time", "finish at the end of this round"),
        ("hold", "everybody holds the next downbeat until go-on"),
        ("tag 4", "the last bars twice more, then the end"),
        ("break 1", "the band stops for so many bars"),
        ("restart", "from the top"),
        ("count-in on | off", "whether a restart counts in"),
        ("chords NAME | Am | G |", "the chords of a section"),
        ("master -3 | +2", "the whole, in dB"),
    ];

    // Those that mean something without more words, though they may have some.
    private static readonly string[] Alone = ["count", "loop", "tag", "break", "count-in"];

    /// <summary>Makes a change.</summary>
    /// <exception cref="LiveRefusal">It cannot be made; the message says why and what is accepted.</exception>
    public static LiveChanged Make(string words, LiveState state, LivePlace place)
    {
        var body = words.Trim();
        var gap = body.IndexOf(' ');
        var (verb, rest) = gap < 0 ? (body, string.Empty) : (body[..gap], body[(gap + 1)..].Trim());
        if (rest.Length == 0 && !Alone.Contains(verb.ToLowerInvariant())
            && All.FirstOrDefault(change => change.Words.StartsWith(verb.ToLowerInvariant() + " ", StringComparison.Ordinal)).Words is { } usage)
        {
            throw new LiveRefusal($"say more: {usage}");
        }

        try
        {
            return verb.ToLowerInvariant() switch
            {
                "tempo" => Tempo(rest, state, place),
                "ramp" => Ramp(rest, state, place),
                "meter" => Meter(rest, state, place),
                "grouping" => Meter($"{BarNow(state, place).Meter.Signature} {rest}", state, place),
                "feel" => Feel(rest, state, place),
                "level" => Level(rest, state),
                "pan" => Pan(rest, state),
                "mute" => Mute(rest, state),
                "solo" => Solo(rest, state),
                "role" => OtherRole(rest, state),
                "instrument" => OtherInstrument(rest, state),
                "add" => Add(rest, state),
                "remove" => Removed(rest, state),
                "count" => Count(rest, state),
                "crossing" => WithSettings<RollSettings>(rest, state, CrossingWords, (roll, word) => roll with { Crossing = Crossing(word) }),
                "density" => Density(rest, state, place),
                "laid-back" => LaidBack(rest, state),
                "key" => OtherKey(rest, state),
                "up" => Up(rest, state),
                "section" => ToSection(rest, state, place),
                "jump" => Jump(rest, state, place),
                "loop" => Loop(rest, state, place),
                "vamp" => Vamp(state, place),
                "go-on" => GoOn(state, place),
                "last-time" => LastTime(state, place),
                "hold" => new LiveChanged(
                    With(state, orders => orders with { HoldFrom = place.Next, Break = null }), "hold the downbeat", LiveMoment.Later, place.Next),
                "tag" => Tag(rest, state, place),
                "break" => Break(rest, state, place),
                "restart" => new LiveChanged(With(state, Plain), "from the top", LiveMoment.BarLine, JumpTo: state.CountIn ? -1 : 0),
                "count-in" => new LiveChanged(
                    state with { CountIn = OnOff(rest, !state.CountIn) },
                    OnOff(rest, !state.CountIn) ? "a restart counts in" : "a restart begins at once",
                    LiveMoment.Kept),
                "chords" => Chords(rest, state),
                "master" => Master(rest, state),
                _ => throw new LiveRefusal($"'{verb}' is no change; press ? to see them all"),
            };
        }
        catch (ChartProblemException problem)
        {
            throw new LiveRefusal(problem.Message);
        }
        catch (OverflowException)
        {
            throw new LiveRefusal("that makes fractions that cannot be counted exactly");
        }
    }

    /// <summary>The bar that a change refers to: the one that plays, or the first.</summary>
    public static BarPlace BarNow(LiveState state, LivePlace place)
    {
        var bar = Plan(state).BarAt(Math.Max(0, place.Index));

        // The bar groups are those that sound; the section is the whole one.
        return state.Orders.Loop is { } loop
            ? bar with { GroupPlace = new FormPlan(state.Chart with { Tag = [] }, loop: loop).BarAt(bar.Index).GroupPlace }
            : bar;
    }

    /// <summary>The form as it goes round: a tag belongs to its end only.</summary>
    public static FormPlan Plan(LiveState state) => new(state.Chart with { Tag = [] });

    /// <summary>The factor between the tempo as written and as it sounds in a bar of the performance.</summary>
    public static Rational Pace(LiveState state, int ordinal) =>
        state.Speed * (state.Orders.Ramp?.At(ordinal, Rational.Zero) ?? Rational.One);

    /// <summary>The tempo that sounds at the start of a bar.</summary>
    public static Tempo Sounding(LiveState state, BarPlace bar, int ordinal) => new(Written(bar).WholesPerMinute * Pace(state, ordinal));

    // A bar that is held begins out of time; its tempo is that of the count that leads on.
    private static Tempo Written(BarPlace bar) => bar.Stop == BandStop.Hold ? bar.Tempi[^1].Tempo : bar.Tempo;

    /// <summary>The change in words that taps ask for: bars as bars, whatever is shorter in units.</summary>
    public static string TempoOf(TappedTempo heard, BarPlace bar)
    {
        var (name, length) = heard.Level is FeltLevel.Bar or FeltLevel.BarGroup
            ? ("bar", bar.Length)
            : (NoteValue.NameOf(bar.Meter.Unit), bar.Meter.Unit);
        var perMinute = Math.Round(heard.WholesPerMinute / length.Wholes.ToDouble(), 1);
        return string.Create(CultureInfo.InvariantCulture, $"tempo {name} = {perMinute:0.0}");
    }

    /// <summary>The part that is meant by a name, the start of one, or a role, and what follows it.</summary>
    /// <exception cref="LiveRefusal">None is.</exception>
    public static (int Part, string Left) FindPart(Chart chart, string words)
    {
        var at = -1;
        var length = 0;
        for (var i = 0; i < chart.Parts.Count; i++)
        {
            foreach (var name in new[] { chart.Parts[i].Name, chart.Parts[i].Role.Name() })
            {
                var whole = words.Length == name.Length || (words.Length > name.Length && words[name.Length] == ' ');
                if (whole && words.StartsWith(name, StringComparison.OrdinalIgnoreCase) && name.Length > length)
                {
                    (at, length) = (i, name.Length);
                }
            }
        }

        return at >= 0
            ? (at, words[length..].Trim())
            : throw new LiveRefusal($"nobody is called '{words}'; there are {string.Join(", ", chart.Parts.Select(part => part.Name))}");
    }

    private static LiveState With(LiveState state, Func<FormOrders, FormOrders> change) => state with { Orders = change(state.Orders) };

    private static FormOrders Plain(FormOrders orders) => FormOrders.None with { Ramp = orders.Ramp };

    private static double Number(string text, double lowest, double highest, string what)
    {
        var plain = text.EndsWith("db", StringComparison.OrdinalIgnoreCase) ? text[..^2].Trim() : text;
        return double.TryParse(plain, NumberStyles.Float, CultureInfo.InvariantCulture, out var value) && value >= lowest && value <= highest
            ? value
            : throw new LiveRefusal(string.Create(CultureInfo.InvariantCulture, $"'{text}' is not {what}; {lowest} to {highest} are accepted"));
    }

    private static int Whole(string text, int lowest, int highest, string what) =>
        int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var value) && value >= lowest && value <= highest
            ? value
            : throw new LiveRefusal(string.Create(CultureInfo.InvariantCulture, $"'{text}' is not {what}; {lowest} to {highest} are accepted"));

    private static bool OnOff(string text, bool otherwise) => text.ToLowerInvariant() switch
    {
        "" => otherwise,
        "on" => true,
        "off" => false,
        _ => throw new LiveRefusal($"'{text}' is neither on nor off"),
    };

    private static bool IsStep(string text) => text.Length > 1 && text[0] is '+' or '-';

    // ---- tempo ----

    private static LiveChanged Tempo(string rest, LiveState state, LivePlace place)
    {
        var bar = BarNow(state, place);
        var now = Sounding(state, bar, place.Ordinal);
        var wanted = Wanted(rest, bar, now);
        var next = state with { Speed = Usable(state.Speed * (wanted.WholesPerMinute / now.WholesPerMinute)) };
        if (state.Orders.Ramp is { } ramp)
        {
            // The ramp is over: what it has reached by now stands.
            var reached = ramp.At(place.Ordinal, Rational.Zero);
            next = With(next, orders => orders with { Ramp = new TempoRamp(place.Ordinal, 0, reached, reached) });
        }

        return new LiveChanged(next, FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace.Size).ToString(), LiveMoment.Now);
    }

    private static LiveChanged Ramp(string rest, LiveState state, LivePlace place)
    {
        var words = rest.Split(" over ", StringSplitOptions.TrimEntries);
        if (words.Length != 2)
        {
            throw new LiveRefusal("say where to and over how many bars: ramp 140 over 8");
        }

        var bar = BarNow(state, place);
        var wanted = Wanted(words[0], bar, Sounding(state, bar, place.Ordinal));
        var bars = Whole(words[1].Split(' ')[0], 1, 64, "a number of bars");
        var from = state.Orders.Ramp?.At(place.Next, Rational.Zero) ?? Rational.One;
        var to = Usable(wanted.WholesPerMinute / Written(bar).WholesPerMinute / state.Speed);
        var next = With(state, orders => orders with { Ramp = new TempoRamp(place.Next, bars, Usable(from), to) });
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, wanted, bar.GroupPlace.Size);
        return new LiveChanged(next, $"to {felt.BeatName} = {felt.Figure} over {bars} bars", LiveMoment.Later, place.Next);
    }

    private static Tempo Wanted(string text, BarPlace bar, Tempo now)
    {
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, now, bar.GroupPlace.Size);
        var beat = felt.Beat;
        var number = text;
        if (text.Contains('='))
        {
            var sides = text.Split('=', 2, StringSplitOptions.TrimEntries);
            number = sides[1];
            beat = sides[0].ToLowerInvariant() switch
            {
                "bar" => bar.Length,
                "unit" => bar.Meter.Unit,
                "bar group" or "bar-group" => bar.Length * bar.GroupPlace.Size,
                var name => NoteValue.TryParse(name, out var note)
                    ? note
                    : throw new LiveRefusal($"'{sides[0]}' is no beat; say a note such as eighth, or bar"),
            };
        }

        if (IsStep(text))
        {
            // To the next whole number, so that nudging counts on in whole numbers.
            var step = Whole(text, -200, 200, "a step");
            var value = felt.PerMinute;
            number = (step > 0 ? (value.Floor() + step) : (value.Ceiling() + step)).ToString(CultureInfo.InvariantCulture);
        }

        if (!Rational.TryParse(number, out var perMinute) || perMinute <= Rational.Zero || perMinute.Denominator > 1000 || perMinute > 5000)
        {
            throw new LiveRefusal($"'{number}' is no tempo; say how many beats a minute, such as 120 or 62.5");
        }

        var wholes = beat.Wholes * perMinute;
        return wholes >= TempoMark.Slowest && wholes <= TempoMark.Fastest
            ? new Tempo(wholes)
            : throw new LiveRefusal("that is slower or faster than any band can play");
    }

    // The engine's speeds are of small numbers; the nearest of those is off by less than a ten-thousandth.
    private static Rational Usable(Rational speed)
    {
        const long Largest = 16_384;
        if (speed < new Rational(1, 16) || speed > 16)
        {
            throw new LiveRefusal("that is more than sixteen times the chart's tempo, or less than a sixteenth");
        }

        if (speed.Numerator <= Largest && speed.Denominator <= Largest)
        {
            return speed;
        }

        var part = Largest;
        while (speed * part > Largest)
        {
            part /= 2;
        }

        return new Rational((speed * part).Round(), part);
    }

    // ---- meter and feel ----

    private static LiveChanged Meter(string rest, LiveState state, LivePlace place)
    {
        if (!BarMeter.TryParse(rest, out var meter, out var problem))
        {
            throw new LiveRefusal(problem);
        }

        var old = BarNow(state, place).Meter;
        var resting = new List<string>();
        var sections = state.Chart.Sections.Select(section =>
        {
            if (section.Bars.All(bar => bar.Meter != old))
            {
                return section;
            }

            var keepsTune = meter.Length == old.Length || section.Tune is null;
            if (!keepsTune)
            {
                resting.Add(section.Name);
            }

            return section with
            {
                Bars = [.. section.Bars.Select(bar => bar.Meter == old ? bar with { Meter = meter, Chords = Fitted(bar.Chords, old, meter) } : bar)],
                Tune = keepsTune ? section.Tune : null,
            };
        });
        var chart = state.Chart with { Sections = [.. sections], Tempo = Rescaled(state.Chart.Tempo, state, meter) };
        var says = meter.ToString() + (resting.Count > 0 ? $"; the tune, written in {old.Signature}, rests" : string.Empty);
        return new LiveChanged(state with { Chart = chart }, says, LiveMoment.BarLine);
    }

    // The unit keeps its speed, whatever the tempo was said of.
    private static TempoMark Rescaled(TempoMark mark, LiveState state, BarMeter meter)
    {
        if (mark.Level is TempoLevel.Note)
        {
            return mark;
        }

        var first = Plan(state).BarAt(0);
        _ = meter;
        return new TempoMark(TempoLevel.Note, first.Meter.Unit, first.Tempo.PerMinute(first.Meter.Unit));
    }

    // A chord keeps its share of the bar, to the nearest unit; two that would meet are told apart by one unit while there are enough.
    private static List<ChordSpan> Fitted(IReadOnlyList<ChordSpan> chords, BarMeter old, BarMeter meter)
    {
        var onsets = new List<int>();
        foreach (var chord in chords)
        {
            var groupAt = old.GroupStartUnits.ToList().FindIndex(unit => old.Unit * unit == chord.Onset);
            var unit = groupAt >= 0 && old.GroupSizes.Count == meter.GroupSizes.Count
                ? meter.GroupStartUnits[groupAt]
                : (int)(chord.Onset / old.Length * meter.Units).Round();
            unit = Math.Max(unit, onsets.Count == 0 ? 0 : onsets[^1] + 1);
            if (unit >= meter.Units)
            {
                break;
            }

            onsets.Add(unit);
        }

        return
        [
            .. onsets.Select((unit, i) => new ChordSpan(
                meter.Unit * unit, meter.Unit * ((i + 1 < onsets.Count ? onsets[i + 1] : meter.Units) - unit), chords[i].Symbol)),
        ];
    }

    private static LiveChanged Feel(string rest, LiveState state, LivePlace place)
    {
        var bar = BarNow(state, place);
        var levels = LevelFit.Of(bar.Meter, bar.Tempo, bar.GroupPlace.Size).Select(fit => fit.Level).ToList();
        var at = Math.Max(0, levels.IndexOf(bar.Felt));
        var level = rest.ToLowerInvariant() switch
        {
            "wider" => levels[(at + 1) % levels.Count],
            "narrower" => levels[(at + levels.Count - 1) % levels.Count],
            "other" => bar.Felt < FeltLevel.Bar ? FeltLevel.Bar : state.Beats ?? levels[bar.Meter.Grouping.IsUndivided ? 0 : 1],
            _ => FeltLevels.TryParse(rest, out var named)
                ? named
                : throw new LiveRefusal($"'{rest}' cannot be felt; unit, group, bar and bar-group can"),
        };
        var felt = FeltTempo.Of(level, bar.Meter, Sounding(state, bar, place.Ordinal), bar.GroupPlace.Size);
        return new LiveChanged(
            state with { Chart = state.Chart.FeltAs(level), Beats = bar.Felt < FeltLevel.Bar ? bar.Felt : state.Beats },
            "feel it " + felt.In,
            LiveMoment.BarLine);
    }

    // ---- the band ----

    private static LiveState WithPart(LiveState state, int index, Func<Part, Part> change) => state with
    {
        Chart = state.Chart with { Parts = [.. state.Chart.Parts.Select((part, i) => i == index ? change(part) : part)] },
    };

    private static LiveChanged Level(string rest, LiveState state)
    {
        var (index, value) = FindPart(state.Chart, rest);
        var part = state.Chart.Parts[index];
        var level = value.StartsWith('+') || value.StartsWith("-+", StringComparison.Ordinal)
            ? part.LevelDecibels + Number(value.TrimStart('+'), 0, 66, "a step in dB")
            : value.StartsWith("--", StringComparison.Ordinal)
                ? part.LevelDecibels - Number(value[2..], 0, 66, "a step in dB")
                : Number(value, -60, 6, "a level in dB");
        level = Math.Clamp(level, -60, 6);
        return new LiveChanged(
            WithPart(state, index, player => player with { LevelDecibels = level }),
            string.Create(CultureInfo.InvariantCulture, $"{part.Name} {level:+0.#;-0.#;0} dB"),
            LiveMoment.Now);
    }

    private static LiveChanged Pan(string rest, LiveState state)
    {
        var (index, value) = FindPart(state.Chart, rest);
        const int Aside = 60;
        var pan = value.ToLowerInvariant() switch
        {
            "left" => -Aside,
            "right" => Aside,
            "middle" => 0,
            _ => Whole(value, -100, 100, "a place from left to right"),
        };
        return new LiveChanged(
            WithPart(state, index, player => player with { Pan = pan }),
            $"{state.Chart.Parts[index].Name} " + (pan == 0 ? "in the middle" : pan < 0 ? $"{-pan} to the left" : $"{pan} to the right"),
            LiveMoment.Now);
    }

    private static LiveChanged Mute(string rest, LiveState state)
    {
        var (index, value) = FindPart(state.Chart, rest);
        var name = state.Chart.Parts[index].Name;
        var mute = OnOff(value, !state.Muted.Contains(name));
        return new LiveChanged(
            state with { Muted = mute ? state.Muted.Add(name) : state.Muted.Remove(name) },
            name + (mute ? " is silent" : " plays again"),
            LiveMoment.Now);
    }

    private static LiveChanged Solo(string rest, LiveState state)
    {
        var (index, value) = FindPart(state.Chart, rest);
        var name = state.Chart.Parts[index].Name;
        var solo = OnOff(value, !state.Solo.Contains(name));
        var all = solo ? state.Solo.Add(name) : state.Solo.Remove(name);
        return new LiveChanged(
            state with { Solo = all },
            all.IsEmpty ? "everybody plays" : string.Join(" and ", all) + " alone",
            LiveMoment.Now);
    }

    private static LiveChanged OtherRole(string rest, LiveState state)
    {
        var (index, value) = FindPart(state.Chart, rest);
        if (!Roles.TryParse(value, out var role))
        {
            throw new LiveRefusal($"'{value}' is no role; pulse, roll, bass, sustain, tune and count are");
        }

        var part = state.Chart.Parts[index];
        if (part.Instrument.Unpitched || role == Role.Count)
        {
            throw new LiveRefusal("clicks count, and nobody else does");
        }

        var (lowest, highest) = state.Instruments.Register(part.Instrument, role);
        return new LiveChanged(
            WithPart(state, index, player => player with { Role = role, Settings = RoleSettings.For(role), Lowest = lowest, Highest = highest }),
            $"{part.Name} plays the {role.Name()}",
            LiveMoment.BarLine);
    }

    private static LiveChanged OtherInstrument(string rest, LiveState state)
    {
        var (index, value) = FindPart(state.Chart, rest);
        var part = state.Chart.Parts[index];
        if (!state.Instruments.TryFind(value, out var instrument) || instrument.Unpitched != part.Instrument.Unpitched)
        {
            throw new LiveRefusal(NoInstrument(value, part.Role, state));
        }

        var (lowest, highest) = state.Instruments.Register(instrument, part.Role);
        return new LiveChanged(
            WithPart(state, index, player => player with { Instrument = instrument, Lowest = lowest, Highest = highest }),
            $"{part.Name} on {instrument.Name}",
            LiveMoment.BarLine);
    }

    private static string NoInstrument(string name, Role role, LiveState state)
    {
        const int Told = 8;
        var known = state.Instruments.All.Where(other => other.Unpitched == (role == Role.Count) && state.Instruments.Suits(other, role))
            .Select(other => other.Name).ToList();
        return $"there is no '{name}'; for the {role.Name()} there are {string.Join(", ", known.Take(Told))}"
            + (known.Count > Told ? $" and {known.Count - Told} more" : string.Empty);
    }

    private static LiveChanged Add(string rest, LiveState state)
    {
        const int MostPlayers = 16;
        var words = rest.Split(' ', 2, StringSplitOptions.TrimEntries);
        if (!Roles.TryParse(words[0], out var role) || role == Role.Count)
        {
            throw new LiveRefusal($"'{words[0]}' is no role to add; pulse, roll, bass, sustain and tune are");
        }

        if (state.Chart.Parts.Count >= MostPlayers)
        {
            throw new LiveRefusal($"{MostPlayers} players are enough");
        }

        var instrument = state.Instruments.Default(role);
        if (words.Length > 1 && (!state.Instruments.TryFind(words[1], out instrument!) || instrument.Unpitched))
        {
            throw new LiveRefusal(NoInstrument(words[1], role, state));
        }

        var player = HouseBand.Part(role, instrument, state.Instruments);
        var name = player.Name;
        for (var number = 2; state.Chart.Parts.Any(part => part.Name == name); number++)
        {
            name = $"{player.Name} {number}";
        }

        // Where only some of the band play, whoever comes in plays with those of the same role.
        var chart = state.Chart;
        var joins = chart.Sections.Select(section => section.Playing is { } playing && playing.Any(part => chart.Parts[part].Role == role)
            ? section with { Playing = [.. playing, chart.Parts.Count] }
            : section);
        return new LiveChanged(
            state with { Chart = chart with { Parts = [.. chart.Parts, player with { Name = name }], Sections = [.. joins] } },
            $"{name} plays the {role.Name()} too",
            LiveMoment.BarLine);
    }

    private static LiveChanged Removed(string rest, LiveState state)
    {
        var (index, more) = FindPart(state.Chart, rest);
        var chart = state.Chart;
        var name = chart.Parts[index].Name;
        if (more.Length > 0)
        {
            throw new LiveRefusal($"one player at a time: remove {name}");
        }

        if (chart.Parts.Count == 1)
        {
            throw new LiveRefusal($"{name} is the only player left; m makes it silent");
        }

        var sections = chart.Sections.Select(section => section.Playing is not { } playing ? section : section with
        {
            Playing = [.. playing.Where(part => part != index).Select(part => part > index ? part - 1 : part)],
        });
        return new LiveChanged(
            state with
            {
                Chart = chart with { Parts = [.. chart.Parts.Where((_, part) => part != index)], Sections = [.. sections] },
                Muted = state.Muted.Remove(name),
                Solo = state.Solo.Remove(name),
            },
            $"{name} leaves the band",
            LiveMoment.BarLine);
    }

    private static LiveChanged Count(string rest, LiveState state)
    {
        var on = rest.ToLowerInvariant() switch
        {
            "felt" or "on" or "beats" => CountOn.Felt,
            "units" => CountOn.Units,
            "groups" => CountOn.Groups,
            "bars" => CountOn.Bars,
            "off" or "nothing" => CountOn.Nothing,
            "" => CountPart(state.Chart) is { } counter && ((CountSettings)counter.Settings).On != CountOn.Nothing ? CountOn.Nothing : CountOn.Felt,
            _ => throw new LiveRefusal($"'{rest}' cannot be counted; felt, units, groups, bars and off are accepted"),
        };
        var says = on switch
        {
            CountOn.Felt => "count on the beats you feel",
            CountOn.Units => "count every unit",
            CountOn.Groups => "count the groups",
            CountOn.Bars => "count the bars",
            _ => "no count",
        };
        var parts = CountPart(state.Chart) is null
            ? [.. state.Chart.Parts, HouseBand.Part(Role.Count, state.Instruments.Default(Role.Count), state.Instruments)]
            : state.Chart.Parts;
        var chart = state.Chart with
        {
            Parts = [.. parts.Select(part => part.Role == Role.Count ? part with { Settings = new CountSettings { On = on } } : part)],
        };
        return new LiveChanged(state with { Chart = chart }, says, LiveMoment.BarLine);
    }

    private static Part? CountPart(Chart chart) => chart.Parts.FirstOrDefault(part => part.Role == Role.Count);

    private static LiveChanged WithSettings<T>(string rest, LiveState state, Func<string, string> says, Func<T, string, RoleSettings> change)
        where T : RoleSettings
    {
        var (index, value) = FindPart(state.Chart, rest);
        var part = state.Chart.Parts[index];
        return part.Settings is T settings
            ? new LiveChanged(
                WithPart(state, index, player => player with { Settings = change(settings, value.ToLowerInvariant()) }),
                $"{part.Name}: {says(value.ToLowerInvariant())}",
                LiveMoment.BarLine)
            : throw new LiveRefusal($"{part.Name} plays the {part.Role.Name()}; only a roll has that");
    }

    private static string CrossingWords(string word) => word switch
    {
        "follow" => "with the groups",
        "free" => "across the groups",
        _ => "across the groups, home every bar group",
    };

    private static Crossing Crossing(string word) => word switch
    {
        "follow" => Music.Band.Crossing.Follow,
        "free" => Music.Band.Crossing.Free,
        "land" => Music.Band.Crossing.Land,
        _ => throw new LiveRefusal($"'{word}' is no way to cross; follow, free and land are"),
    };

    private static LiveChanged Density(string rest, LiveState state, LivePlace place)
    {
        var bar = BarNow(state, place);

        // A hand that is allowed so few notes thins the roll as far.
        var sixteenth = Sounding(state, bar, place.Ordinal).Seconds(bar.Meter.Unit / 2).ToDouble() * 1000;
        return WithSettings<RollSettings>(rest, state, word => word == "full" ? "every note" : $"{(word == "half" ? "half" : "a quarter of")} the notes", (roll, word) => roll with
        {
            HandLimitMs = word switch
            {
                "full" => null,
                "half" => (int)Math.Clamp((sixteenth * 1.1) + 1, 40, 400),
                "quarter" => (int)Math.Clamp((sixteenth * 2.2) + 1, 40, 400),
                _ => throw new LiveRefusal($"'{word}' is no density; full, half and quarter are"),
            },
        });
    }

    private static LiveChanged LaidBack(string rest, LiveState state)
    {
        var (index, value) = FindPart(state.Chart, rest);
        var back = value.ToLowerInvariant() switch
        {
            "none" or "off" => LayBack.None,
            "half" => LayBack.Half,
            "unit" => LayBack.Unit,
            _ => throw new LiveRefusal($"'{value}' is no way to lay back; none, half and unit are"),
        };
        var says = $"{state.Chart.Parts[index].Name} " + (back switch
        {
            LayBack.None => "in time",
            LayBack.Half => "half a unit behind",
            _ => "a unit behind",
        });
        return state.Chart.Parts[index].Settings switch
        {
            SustainSettings sustain => new LiveChanged(
                WithPart(state, index, part => part with { Settings = sustain with { LaidBack = back } }), says, LiveMoment.BarLine),
            TuneSettings tune => new LiveChanged(
                WithPart(state, index, part => part with { Settings = tune with { LaidBack = back } }), says, LiveMoment.BarLine),
            _ => throw new LiveRefusal("the tune and the sustain can lay back, the others keep time"),
        };
    }

    private static LiveChanged Master(string rest, LiveState state)
    {
        var level = rest.StartsWith('+')
            ? state.MasterDecibels + Number(rest[1..], 0, 92, "a step in dB")
            : rest.StartsWith("--", StringComparison.Ordinal)
                ? state.MasterDecibels - Number(rest[2..], 0, 92, "a step in dB")
                : Number(rest, -80, 12, "a level in dB");
        level = Math.Clamp(level, -80, 12);
        return new LiveChanged(
            state with { MasterDecibels = level },
            string.Create(CultureInfo.InvariantCulture, $"the whole at {level:+0.#;-0.#;0} dB"),
            LiveMoment.Now);
    }

    // ---- harmony ----

    private static LiveChanged OtherKey(string rest, LiveState state)
    {
        if (!Key.TryParse(rest, out var key, out var problem))
        {
            throw new LiveRefusal(problem);
        }

        return new LiveChanged(state with { Chart = state.Chart.Transposed(state.Chart.Key.To(key)) }, $"in {key}", LiveMoment.BarLine);
    }

    private static LiveChanged Up(string rest, LiveState state)
    {
        var steps = Whole(rest, -12, 12, "a number of half steps");
        var chart = steps == 0 ? state.Chart : state.Chart.Transposed(state.Chart.Key.IntervalUp(steps));
        return new LiveChanged(state with { Chart = chart }, $"in {chart.Key}", LiveMoment.BarLine);
    }

    private static LiveChanged Chords(string rest, LiveState state)
    {
        var section = state.Chart.Sections.Where(section => rest.StartsWith(section.Name + " ", StringComparison.OrdinalIgnoreCase))
            .OrderByDescending(section => section.Name.Length).FirstOrDefault()
            ?? throw new LiveRefusal("say a section and its chords: chords verse | Am | G |");
        var written = rest[section.Name.Length..].Trim();
        var read = ChartReader.ReadChords(state.Chart, section, written, state.Instruments);
        if (!read.IsChart)
        {
            throw new LiveRefusal($"{read.Problems[0].What}; {read.Problems[0].Accepted}");
        }

        var bars = read.Chart.Sections.First(other => other.Name == section.Name).Bars;
        return new LiveChanged(
            state with
            {
                Chart = state.Chart with
                {
                    Sections = [.. state.Chart.Sections.Select(other => ReferenceEquals(other, section) ? other with { Bars = bars } : other)],
                },
            },
            $"new chords in {section.Name}",
            LiveMoment.BarLine);
    }

    // ---- the form ----

    private static LiveRoute Route(LiveState state, LivePlace place) => new(state, Math.Max(-1, place.Index));

    private static int FirstBarOf(string name, LiveState state, int after)
    {
        var plan = Plan(state);
        for (var bar = Math.Max(0, after); bar < Math.Max(0, after) + (2 * plan.BarsInPass); bar++)
        {
            var run = plan.BarAt(bar).Run;
            if (run.FirstBar == bar && string.Equals(run.Section.Name, name, StringComparison.OrdinalIgnoreCase))
            {
                return bar;
            }
        }

        throw new LiveRefusal($"there is no section '{name}'; there are {string.Join(", ", state.Chart.Sections.Select(section => section.Name))}");
    }

    private static LiveChanged ToSection(string rest, LiveState state, LivePlace place)
    {
        var target = FirstBarOf(rest, state, place.Index + 1);
        var run = BarNow(state, place).Run;
        var free = With(state, orders => Plain(orders) with { Released = orders.Released.Add(run.Number) });
        var last = Route(free, place).OrdinalBefore(run.EndBar, place.Index, Math.Max(0, place.Ordinal))
            ?? throw new LiveRefusal("this section does not end");

        // A line that is too near is missed: then the section is played on from its next end.
        last = Math.Max(last, place.Next - 1);
        var next = With(free, orders => orders with { Jumps = orders.Jumps.Clear().Add(last, target) });
        return new LiveChanged(next, $"{rest} next", LiveMoment.Later, last + 1);
    }

    private static LiveChanged Jump(string rest, LiveState state, LivePlace place) =>
        new(With(state, Plain), $"to {rest}", LiveMoment.BarLine, JumpTo: FirstBarOf(rest, state, place.Index + 1));

    private static LiveChanged Loop(string rest, LiveState state, LivePlace place)
    {
        var plan = Plan(state);
        var now = BarNow(state, place);
        var lap = Math.Max(0, place.Index) / plan.BarsInPass * plan.BarsInPass;
        var words = rest.ToLowerInvariant().Split(' ', StringSplitOptions.RemoveEmptyEntries);
        switch (words)
        {
            case ["off"]:
                return new LiveChanged(With(state, orders => orders with { Loop = null, LoopName = string.Empty }), "no loop", LiveMoment.BarLine);
            case [] or ["section"]:
                return Looped(state, now.Run.FirstBar, now.Run.EndBar, now.Run.Section.Name);
            case ["seam"]:
                // The seam that is nearest: behind in the first half of a section, ahead in the second.
                var ahead = now.IndexInRun * 2 >= now.Run.Bars || now.Run.FirstBar == 0;
                var seam = ahead ? now.Run.EndBar : now.Run.FirstBar;
                var (left, right) = (plan.BarAt(seam - 1).Run, plan.BarAt(seam).Run);
                return Looped(
                    state,
                    Math.Max(left.FirstBar, seam - 2),
                    Math.Min(right.EndBar, seam + 2),
                    $"the seam {left.Section.Name} - {right.Section.Name}");
            case [var first, var last]:
                var from = Whole(first, 1, plan.BarsInPass, "a bar");
                var to = Whole(last, from, plan.BarsInPass, "the last bar of the loop");
                return Looped(state, lap + from - 1, lap + to, from == to ? $"bar {from}" : $"bars {from}-{to}");
            default:
                throw new LiveRefusal("say loop 5 8, loop section, loop seam or loop off");
        }
    }

    private static LiveChanged Looped(LiveState state, int from, int end, string name) =>
        new(With(state, orders => Plain(orders) with { Loop = (from, end), LoopName = name }), $"round and round: {name}", LiveMoment.BarLine);

    private static LiveChanged Vamp(LiveState state, LivePlace place)
    {
        var run = BarNow(state, place).Run;
        return Looped(state, run.FirstBar, run.EndBar, run.Section.Name) with { Says = $"vamp on {run.Section.Name} until go on" };
    }

    private static LiveChanged GoOn(LiveState state, LivePlace place)
    {
        var orders = state.Orders;
        if (orders.HoldFrom is not null)
        {
            return new LiveChanged(With(state, held => held with { HoldFrom = null }), "on from the hold", LiveMoment.BarLine);
        }

        if (orders.Break is { } broken && broken.End > place.Next)
        {
            return new LiveChanged(With(state, held => held with { Break = null }), "the band is back", LiveMoment.BarLine);
        }

        var route = Route(state, place);
        if (orders.Loop is { } loop)
        {
            var free = With(state, held => held with { Loop = null, LoopName = string.Empty });
            var last = Route(free, place).OrdinalBefore(loop.End, place.Index, Math.Max(0, place.Ordinal));
            return new LiveChanged(free, $"on after {orders.LoopName}", LiveMoment.Later, last + 1);
        }

        if (place.Index >= 0 && route.VampOf(place.Index) is { } run)
        {
            var free = With(state, held => held with { Released = held.Released.Add(run.Number) });
            var last = Route(free, place).OrdinalBefore(run.EndBar, place.Index, place.Ordinal);
            return new LiveChanged(free, $"on after {run.Section.Name}", LiveMoment.Later, last + 1);
        }

        throw new LiveRefusal("nothing holds the band: it goes on by itself");
    }

    private static LiveChanged LastTime(LiveState state, LivePlace place)
    {
        var end = EndOfRound(state, place);
        var next = With(state, orders => Plain(orders) with { EndBar = end });
        if (state.Orders.Loop is { } loop && (place.Index < loop.From || place.Index >= loop.End))
        {
            // A loop that has not begun is played the once.
            var (from, at) = (loop.From, place.Next);
            return new LiveChanged(next, $"{state.Orders.LoopName} once, and the end", LiveMoment.Later, at + end - from, from);
        }

        var last = Route(next, place).OrdinalBefore(end, place.Index, Math.Max(0, place.Ordinal));
        return new LiveChanged(next, "last time", LiveMoment.Later, last + 1);
    }

    // The bar after the last one of what goes round now.
    private static int EndOfRound(LiveState state, LivePlace place)
    {
        if (state.Orders.Loop is { } loop)
        {
            return loop.End;
        }

        var route = Route(state, place);
        var index = Math.Max(0, place.Index);
        return state.Orders.EndBar
            ?? (route.VampOf(index) is { } run ? run.EndBar : ((index / route.Plan.BarsInPass) + 1) * route.Plan.BarsInPass);
    }

    private static LiveChanged Tag(string rest, LiveState state, LivePlace place)
    {
        var bars = rest.Length == 0 ? 4 : Whole(rest, 1, 16, "a number of bars");
        var ended = LastTime(state, place).State;
        var end = ended.Orders.EndBar!.Value;
        bars = Math.Min(bars, end);
        var last = Route(ended, place).OrdinalBefore(end, place.Index, Math.Max(0, place.Ordinal))
            ?? throw new LiveRefusal("there is no end to add a tag to");
        last = Math.Max(last, place.Next - 1);
        var next = With(ended, orders => orders with
        {
            Jumps = orders.Jumps.Clear().Add(last, end - bars).Add(last + bars, end - bars),
        });
        return new LiveChanged(next, $"last time, the last {bars} bars three times", LiveMoment.Later, last + 1);
    }

    private static LiveChanged Break(string rest, LiveState state, LivePlace place)
    {
        var bars = rest.Length == 0 ? 1 : Whole(rest, 1, 16, "a number of bars");
        var next = With(state, orders => orders with { Break = (place.Next, place.Next + bars), HoldFrom = null });
        return new LiveChanged(next, bars == 1 ? "a bar of break" : $"{bars} bars of break", LiveMoment.Later, place.Next);
    }
}
