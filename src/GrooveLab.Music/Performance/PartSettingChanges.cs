using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Performance;

/// <summary>Changes the register of a part.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Lowest">The lowest MIDI key; 0 with <paramref name="Highest"/> 0 for the usual register of instrument and role.</param>
/// <param name="Highest">The highest MIDI key, at least an octave above.</param>
public sealed record SetRegister(string Part, int Lowest, int Highest) : PartChange(Part)
{
    private const int Octave = 12;

    internal static ChangeForm Form { get; } = new("register", "register PART G3-E5 | usual", "its lowest and highest note", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        if (string.Equals(left, PartSettings.Usual, StringComparison.OrdinalIgnoreCase))
        {
            return new SetRegister(part, 0, 0);
        }

        return left.Split('-', StringSplitOptions.TrimEntries) is [var low, var high] && Pitch.TryParse(low, out var lowest) && Pitch.TryParse(high, out var highest)
            ? new SetRegister(part, lowest.Midi, highest.Midi)
            : throw new ChangeRefusedException($"{ChangeWords.NotThis(left, "a register")}; write two pitches such as G3-E5, or {PartSettings.Usual}");
    });

    private bool IsUsual => (Lowest, Highest) == (0, 0);

    /// <inheritdoc/>
    public override string Words => $"register {Part} " + (IsUsual ? PartSettings.Usual : Range);

    private string Range => $"{Pitch.FromMidi(Lowest)}-{Pitch.FromMidi(Highest)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        var instrument = part.Instrument;
        if (instrument.Unpitched)
        {
            throw new ChangeRefusedException($"{instrument.Name} have no register");
        }

        if (!IsUsual && (Lowest < instrument.Lowest || Highest > instrument.Highest || Highest - Lowest < Octave))
        {
            throw new ChangeRefusedException(
                $"the {instrument.Name} goes from {Pitch.FromMidi(instrument.Lowest)} to {Pitch.FromMidi(instrument.Highest)}; a register is at least an octave inside it");
        }

        var (lowest, highest) = IsUsual ? state.Instruments.Register(instrument, part.Role) : (Lowest, Highest);
        return new ChangeResult(
            With(state, index, player => player with { Lowest = lowest, Highest = highest }),
            $"{part.Name} from {Pitch.FromMidi(lowest)} to {Pitch.FromMidi(highest)}",
            ChangeMoment.BarLine);
    }
}

/// <summary>Gives a part another name.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Name">The new name; no other part may have it.</param>
public sealed record RenamePart(string Part, string Name) : PartChange(Part)
{
    private const string To = "to ";

    internal static ChangeForm Form { get; } = new("rename", "rename PART to second fiddle", "give a part another name", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return left.StartsWith(To, StringComparison.OrdinalIgnoreCase)
            ? new RenamePart(part, left[To.Length..].Trim())
            : throw new ChangeRefusedException($"give the new name: rename {part} to second fiddle");
    });

    /// <inheritdoc/>
    public override string Words => $"rename {Part} to {Name}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        if (!Band.Part.IsName(Name))
        {
            throw new ChangeRefusedException(string.Equals(Name, Band.Part.Nobody, StringComparison.OrdinalIgnoreCase)
                ? $"{Wording.Words.Quote(Name)} means nobody in a chart; give the part another name"
                : $"{Wording.Words.Quote(Name)} cannot be a part's name; use at most {Band.Part.LongestName} letters, digits, spaces and hyphens");
        }

        if (state.Chart.Parts.Where((_, i) => i != index).Any(other => string.Equals(other.Name, Name, StringComparison.OrdinalIgnoreCase)))
        {
            throw new ChangeRefusedException($"another part is called {Wording.Words.Quote(Name)}");
        }

        var renamed = With(state, index, player => player with { Name = Name });
        return new ChangeResult(
            renamed with
            {
                Muted = state.Muted.Contains(part.Name) ? state.Muted.Remove(part.Name).Add(Name) : state.Muted,
                Solo = state.Solo.Contains(part.Name) ? state.Solo.Remove(part.Name).Add(Name) : state.Solo,
                MovedParts = state.MovedParts.TryGetValue(part.Name, out var moved) ? state.MovedParts.Remove(part.Name).SetItem(Name, moved) : state.MovedParts,
            },
            $"{part.Name} is now {Name}",
            ChangeMoment.BarLine);
    }
}

/// <summary>Makes a part silent as the chart says it, or lets it play: unlike <see cref="Mute"/>, it is saved.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="On">True to play without it; false to play with it again.</param>
public sealed record PlayWithout(string Part, bool On = true) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("without", "without PART | PART off", "play without a part; unlike mute, it is saved", (rest, state) =>
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return new PlayWithout(part, ChangeWords.OnOff(left) ?? true);
    });

    /// <inheritdoc/>
    public override string Words => $"without {Part}" + (On ? string.Empty : " off");

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) => new(
        With(state, index, player => player with { Silent = On }) with { Muted = On ? state.Muted.Add(part.Name) : state.Muted.Remove(part.Name) },
        On ? $"without {part.Name}" : $"with {part.Name} again",
        ChangeMoment.Now);
}

/// <summary>The values of a setting, each once: its word and how it is said to the player.</summary>
/// <param name="what">The setting, for messages.</param>
/// <param name="values">The values.</param>
internal sealed class NamedValues<T>(string what, params (string Word, T Value, string Says)[] values)
    where T : struct, Enum
{
    /// <summary>"alternate | heavy | down".</summary>
    public string Usage => string.Join(" | ", values.Select(value => value.Word));

    /// <exception cref="ChangeRefusedException">The text is none of the words.</exception>
    public T Read(string text) => ChangeWords.Choice(text, what, [.. values.Select(value => (value.Word, value.Value))]);

    public string WordOf(T value) => Of(value).Word;

    public string SaysOf(T value) => Of(value).Says;

    private (string Word, T Value, string Says) Of(T value) => Array.Find(values, one => EqualityComparer<T>.Default.Equals(one.Value, value));
}

internal static class PartSettings
{
    /// <summary>The word for a value that instrument, role or feel decides.</summary>
    public const string Usual = "usual";

    /// <summary>A part and the text after it.</summary>
    public static T Read<T>(string rest, PerformanceState state, Func<string, string, T> read)
    {
        var (part, left) = ChangeWords.PartIn(rest, state);
        return read(part, left);
    }

    public static ChangeRefusedException Only(Part part, string has) => new($"{part.Name} plays the {part.Role.Name()}; {has}");

    public static ChangeResult Set(PerformanceState state, int index, Part part, RoleSettings settings, string says) =>
        new(PartChange.With(state, index, player => player with { Settings = settings }), $"{part.Name}: {says}", ChangeMoment.BarLine);

    public static bool IsUsual(string text) => string.Equals(text, Usual, StringComparison.OrdinalIgnoreCase);
}

/// <summary>Changes the order of a pulse's strokes.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Strokes">The order.</param>
public sealed record SetStrokes(string Part, StrokeOrder Strokes) : PartChange(Part)
{
    private static readonly NamedValues<StrokeOrder> Orders = new(
        "strokes",
        ("alternate", StrokeOrder.Alternate, "alternate strokes"), ("heavy", StrokeOrder.Heavy, "heavy strokes"), ("down", StrokeOrder.Down, "all strokes down"));

    internal static ChangeForm Form { get; } = new("strokes", $"strokes PART {Orders.Usage}", "the directions of the strokes", (rest, state) =>
        PartSettings.Read(rest, state, (part, left) => new SetStrokes(part, Orders.Read(left))));

    /// <inheritdoc/>
    public override string Words => $"strokes {Part} {Orders.WordOf(Strokes)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is PulseSettings pulse
            ? PartSettings.Set(state, index, part, pulse with { Strokes = Strokes }, Orders.SaysOf(Strokes))
            : throw PartSettings.Only(part, "only a pulse has strokes");
}

/// <summary>Changes which units a pulse plays.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Share">The units.</param>
public sealed record SetShare(string Part, PulseShare Share) : PartChange(Part)
{
    private static readonly NamedValues<PulseShare> Shares = new(
        "units to share",
        ("all", PulseShare.All, "all units"), ("starts", PulseShare.Starts, "only where groups start"), ("between", PulseShare.Between, "only between group starts"));

    internal static ChangeForm Form { get; } = new("share", $"share PART {Shares.Usage}", "which units the pulse plays", (rest, state) =>
        PartSettings.Read(rest, state, (part, left) => new SetShare(part, Shares.Read(left))));

    /// <inheritdoc/>
    public override string Words => $"share {Part} {Shares.WordOf(Share)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is PulseSettings pulse
            ? PartSettings.Set(state, index, part, pulse with { Share = Share }, Shares.SaysOf(Share))
            : throw PartSettings.Only(part, "only a pulse has units to share");
}

/// <summary>Damps the strokes of a pulse between felt beats, or lets them ring.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="On">True to damp. Null to switch.</param>
public sealed record SetDamped(string Part, bool? On = null) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("damped", "damped PART on | off", "damp the strokes between felt beats", (rest, state) =>
        PartSettings.Read(rest, state, (part, left) => new SetDamped(part, ChangeWords.OnOff(left))));

    /// <inheritdoc/>
    public override string Words => ChangeWords.Switched($"damped {Part}", On);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is PulseSettings pulse
            ? PartSettings.Set(state, index, part, pulse with { Damped = On ?? !pulse.Damped }, On ?? !pulse.Damped ? "damped between beats" : "all strokes ring")
            : throw PartSettings.Only(part, "only a pulse is damped");
}

/// <summary>Changes the spread of a pulse's strums.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Milliseconds">From string to string, 0 to 14.</param>
public sealed record SetStrum(string Part, int Milliseconds) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("strum-ms", "strum-ms PART 9", "milliseconds from string to string", (rest, state) => PartSettings.Read(rest, state, (part, left) =>
        new SetStrum(part, ChangeWords.Whole(left, 0, 14, "a number of milliseconds"))));

    /// <inheritdoc/>
    public override string Words => $"strum-ms {Part} {ChangeWords.Plain(Milliseconds)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is PulseSettings pulse
            ? PartSettings.Set(state, index, part, pulse with { StrumMs = Milliseconds }, $"{Milliseconds} ms from string to string")
            : throw PartSettings.Only(part, "only a pulse strums");
}

/// <summary>Changes how many notes a pulse or a sustain sounds at once.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Voices">1 to 6 for a pulse, 1 or 2 for a sustain.</param>
public sealed record SetVoices(string Part, int Voices) : PartChange(Part)
{
    private const int MostOfPulse = 6;
    private const int MostOfSustain = 2;

    internal static ChangeForm Form { get; } = new("voices", "voices PART 2", "notes at once in the pulse or the sustain", (rest, state) =>
        PartSettings.Read(rest, state, (part, left) => new SetVoices(part, ChangeWords.Whole(left, 1, MostOfPulse, "a number of voices"))));

    /// <inheritdoc/>
    public override string Words => $"voices {Part} {ChangeWords.Plain(Voices)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) => PartSettings.Set(
        state,
        index,
        part,
        part.Settings switch
        {
            PulseSettings pulse => pulse with { Voices = Voices },
            SustainSettings when Voices > MostOfSustain => throw new ChangeRefusedException("a sustain has 1 or 2 voices"),
            SustainSettings sustain => sustain with { Voices = Voices },
            _ => throw PartSettings.Only(part, "only a pulse and a sustain have voices"),
        },
        Wording.Words.Count(Voices, "voice"));
}

/// <summary>Changes the shortest time between two notes of a roll.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Milliseconds">40 to 400; null for that of the instrument.</param>
public sealed record SetHandLimit(string Part, int? Milliseconds) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("hand-limit-ms", "hand-limit-ms PART 90 | usual", "the shortest time between two notes of a roll", (rest, state) => PartSettings.Read(rest, state, (part, left) =>
        new SetHandLimit(part, PartSettings.IsUsual(left) ? null : ChangeWords.Whole(left, 40, 400, "a number of milliseconds"))));

    /// <inheritdoc/>
    public override string Words => $"hand-limit-ms {Part} {(Milliseconds is { } said ? ChangeWords.Plain(said) : PartSettings.Usual)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is RollSettings roll
            ? PartSettings.Set(state, index, part, roll with { HandLimitMs = Milliseconds }, Milliseconds is { } limit ? $"at least {limit} ms between notes" : "as fast as the instrument allows")
            : throw PartSettings.Only(part, "only a roll has a hand limit");
}

/// <summary>Changes how often a bass approaches a chord change by step.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Share">0 to 0.5.</param>
public sealed record SetApproaches(string Part, double Share) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("approaches", "approaches PART 0.4", "share of chord changes approached by step", (rest, state) => PartSettings.Read(rest, state, (part, left) =>
        new SetApproaches(part, ChangeWords.Number(left, 0, 0.5, "a share of the chord changes"))));

    /// <inheritdoc/>
    public override string Words => $"approaches {Part} {ChangeWords.Plain(Share)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is BassSettings bass
            ? PartSettings.Set(state, index, part, bass with { Approaches = Share }, $"approaches {ChangeWords.Plain(Share)} of the chord changes")
            : throw PartSettings.Only(part, "only a bass approaches chords");
}

/// <summary>Changes how long the notes of a bass sound.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Share">Share of the time to the next note, 0.2 to 1; null to follow the felt level.</param>
public sealed record SetRing(string Part, double? Share) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("ring", "ring PART 0.6 | usual", "how long the bass sounds, 0.2 to 1", (rest, state) => PartSettings.Read(rest, state, (part, left) =>
        new SetRing(part, PartSettings.IsUsual(left) ? null : ChangeWords.Number(left, 0.2, 1, "a share of the time to the next note"))));

    /// <inheritdoc/>
    public override string Words => $"ring {Part} {(Share is { } said ? ChangeWords.Plain(said) : PartSettings.Usual)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is BassSettings bass
            ? PartSettings.Set(state, index, part, bass with { Ring = Share }, Share is { } ring ? $"rings for {ChangeWords.Plain(ring)} of the time to the next note" : "rings as the beat needs")
            : throw PartSettings.Only(part, "only a bass has a ring");
}

/// <summary>Moves the tune of a part by octaves.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="Octaves">-3 to 3; 0 for as written.</param>
public sealed record SetOctaves(string Part, int Octaves) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("octaves", "octaves PART 1 | -1", "move the tune by octaves", (rest, state) => PartSettings.Read(rest, state, (part, left) =>
        new SetOctaves(part, ChangeWords.Whole(left, -3, 3, "a number of octaves"))));

    /// <inheritdoc/>
    public override string Words => $"octaves {Part} {ChangeWords.Plain(Octaves)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part)
    {
        var whole = state.WithRestingTunes();
        if (part.Settings is TuneSettings now && whole.CanPlayTune(part))
        {
            foreach (var (section, line) in whole.LinesBeyond(part with { Settings = now with { Octaves = Octaves } }))
            {
                throw new ChangeRefusedException($"{TunePlayers.NameOf(section, line)} of {section.Name} would leave the range of the {part.Instrument.Name}; use another instrument");
            }
        }

        return part.Settings is TuneSettings tune
            ? PartSettings.Set(state with { MovedParts = state.MovedParts.Remove(part.Name) }, index, part, tune with { Octaves = Octaves }, Octaves == 0 ? "as written" : Octaves > 0 ? $"{Wording.Words.Count(Octaves, "octave")} up" : $"{Wording.Words.Count(-Octaves, "octave")} down")
            : throw PartSettings.Only(part, "only a tune moves by octaves");
    }
}

/// <summary>Sings the tune in phrases (repeated notes parted, phrase ends shortened, louder towards the middle and for high notes), or plays it plainly.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="On">True for phrases. Null to switch.</param>
public sealed record SetPhrasing(string Part, bool? On = null) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("phrasing", "phrasing PART on | off", "the tune sung in phrases, or played plainly", (rest, state) =>
        PartSettings.Read(rest, state, (part, left) => new SetPhrasing(part, ChangeWords.OnOff(left))));

    /// <inheritdoc/>
    public override string Words => ChangeWords.Switched($"phrasing {Part}", On);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is TuneSettings tune
            ? PartSettings.Set(state, index, part, tune with { Phrasing = On ?? !tune.Phrasing }, On ?? !tune.Phrasing ? "sung in phrases" : "played plainly")
            : throw PartSettings.Only(part, "only a tune has phrases");
}

/// <summary>Marks the first consonant of a syllable with a grace note, or stops doing so.</summary>
/// <param name="Part">The part's name.</param>
/// <param name="On">True to mark. Null to switch.</param>
public sealed record SetConsonants(string Part, bool? On = null) : PartChange(Part)
{
    internal static ChangeForm Form { get; } = new("consonants", "consonants PART on | off", "a grace note for the consonant before the beat", (rest, state) =>
        PartSettings.Read(rest, state, (part, left) => new SetConsonants(part, ChangeWords.OnOff(left))));

    /// <inheritdoc/>
    public override string Words => ChangeWords.Switched($"consonants {Part}", On);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place, int index, Part part) =>
        part.Settings is TuneSettings tune
            ? PartSettings.Set(state, index, part, tune with { Consonants = On ?? !tune.Consonants }, On ?? !tune.Consonants ? "consonants before the beat" : "no consonants")
            : throw PartSettings.Only(part, "only a tune has consonants");
}
