using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Performance;

/// <summary>The words of all changes: "meter 7/8 2+2+3", "level bass -3", "tempo by 4", "go-on". A number sets a value; a number after
/// <c>by</c> adds, or subtracts with a minus. Keys, pedals, the command line on the screen, drills and the log all use these
/// words.</summary>
public static class ChangeWords
{
    private const string By = "by";

    /// <summary>All kinds of change, in help order.</summary>
    public static IReadOnlyList<ChangeForm> All { get; } =
    [
        SetTempo.Form, RampTempo.Form, SetMeter.Form, SetGrouping.Form, SetFeel.Form,
        SetLevel.Form, SetPan.Form, Mute.Form, Solo.Form, SetRole.Form, SetInstrument.Form, AddPart.Form, RemovePart.Form,
        SetCount.Form, SetCrossing.Form, SetDensity.Form, SetLaidBack.Form,
        PlayWithout.Form, SetRegister.Form, RenamePart.Form, SetStrokes.Form, SetDamped.Form, SetVoices.Form, SetShare.Form, SetStrum.Form,
        SetHandLimit.Form, SetApproaches.Form, SetRing.Form, SetOctaves.Form, SetConsonants.Form,
        SetKey.Form, Transpose.Form, Transpose.DownForm, GoToSection.Form, JumpToSection.Form, LoopBars.Form, VampSection.Form, GoOn.Form, LastTime.Form, HoldDownbeat.Form,
        PlayTag.Form, BreakOff.Form, Restart.Form, RepeatSection.Form, SetCountIn.Form, SetRound.Form, SetChords.Form, SetRhythm.Form, SetEnding.Form, SetMaster.Form,
        OnlyHere.Form, Undo.Form, Redo.Form, KeepSide.Form, HearSide.Form, KeepVersion.Form, RecallVersion.Form,
    ];

    /// <summary>Reads a change.</summary>
    /// <param name="words">The words.</param>
    /// <param name="state">The current state, for its names.</param>
    /// <exception cref="ChangeRefusedException">They are not a change; the message says what is accepted.</exception>
    public static Change Read(string words, PerformanceState state)
    {
        var body = words.Trim();
        var gap = body.IndexOf(' ');
        var (verb, rest) = gap < 0 ? (body, string.Empty) : (body[..gap], body[(gap + 1)..].Trim());
        var form = All.FirstOrDefault(known => string.Equals(known.Verb, verb, StringComparison.OrdinalIgnoreCase));
        return form is null ? throw new ChangeRefusedException(Unknown(verb, []))
            : rest.Length == 0 && !form.StandsAlone ? throw new ChangeRefusedException($"incomplete; usage: {form.Usage}")
            : rest.Length > 0 && form.Usage == form.Verb
                ? throw new ChangeRefusedException($"'{form.Verb}' takes no arguments; leave out {Words.Quote(rest)}")
            : form.Read(rest, state);
    }

    /// <summary>The message for an unknown command, with a suggestion.</summary>
    /// <param name="verb">The word.</param>
    /// <param name="others">Other known commands.</param>
    public static string Unknown(string verb, IEnumerable<string> others) =>
        $"unknown command {Words.Quote(verb)}; "
        + (Words.Nearest(verb, All.Select(form => form.Verb).Concat(others)) is { } meant ? $"did you mean {meant}? " : string.Empty)
        + "press ? for the list";

    // ---- shared by the readers ----

    /// <summary>The part with that name or role, with that number on the screen, or with that word in its name, and the text after it.</summary>
    /// <exception cref="ChangeRefusedException">There is none, or more than one has that word in its name.</exception>
    internal static (string Part, string Left) PartIn(string words, PerformanceState state)
    {
        Part? meant = null;
        var length = 0;
        foreach (var part in state.Chart.Parts)
        {
            foreach (var name in new[] { part.Name, part.Role.Name() })
            {
                var whole = words.Length == name.Length || (words.Length > name.Length && words[name.Length] == ' ');
                if (whole && words.StartsWith(name, StringComparison.OrdinalIgnoreCase) && name.Length > length)
                {
                    (meant, length) = (part, name.Length);
                }
            }
        }

        return meant is not null ? (meant.Name, words[length..].Trim()) : PartByNumberOrWord(words, state);
    }

    private static (string Part, string Left) PartByNumberOrWord(string words, PerformanceState state)
    {
        var parts = state.Chart.Parts;
        var (word, left) = words.Split(' ', 2, StringSplitOptions.TrimEntries) is [var first, var rest] ? (first, rest) : (words, string.Empty);
        if (int.TryParse(word, NumberStyles.None, CultureInfo.InvariantCulture, out var number))
        {
            return number >= 1 && number <= parts.Count ? (parts[number - 1].Name, left) : throw new ChangeRefusedException(NoPart(word, state));
        }

        var found = parts.Where(part => part.Name.Split(' ').Contains(word, StringComparer.OrdinalIgnoreCase)).ToList();
        return found switch
        {
            [] => throw new ChangeRefusedException(NoPart(words, state)),
            [var only] => (only.Name, left),
            _ => throw new ChangeRefusedException(
                $"several parts are called {Words.Quote(word)}: {string.Join(", ", found.Select(part => $"{Plain(parts.ToList().IndexOf(part) + 1)} {part.Name}"))}; give the number or the whole name"),
        };
    }

    private static string NoPart(string named, PerformanceState state)
    {
        var parts = state.Chart.Parts.Select(part => part.Name).ToList();

        // A value may follow the name.
        var meant = Words.Nearest(named, parts) ?? Words.Nearest(named.Split(' ')[0], parts);
        return $"no part called {Words.Quote(named)}; {Words.Meant(meant)}parts: {string.Join(", ", parts)}";
    }

    /// <summary>The index of the part named by a change.</summary>
    internal static int IndexOf(string part, PerformanceState state)
    {
        for (var i = 0; i < state.Chart.Parts.Count; i++)
        {
            if (string.Equals(state.Chart.Parts[i].Name, part, StringComparison.OrdinalIgnoreCase))
            {
                return i;
            }
        }

        return state.Chart.Parts.Count == 0 ? -1 : throw new ChangeRefusedException(NoPart(part, state));
    }

    /// <summary>A value, or a step after <c>by</c>.</summary>
    internal static (double Value, bool IsStep) Amount(string text, double lowest, double highest, string what)
    {
        var step = StepIn(text);
        var range = highest - lowest;
        return step is not null ? (Number(step, -range, range, "a step in dB"), true) : (Number(text, lowest, highest, what), false);
    }

    /// <summary>The text after <c>by</c>; null without it.</summary>
    internal static string? StepIn(string text) =>
        text.StartsWith(By + " ", StringComparison.OrdinalIgnoreCase) ? text[(By.Length + 1)..].Trim() : null;

    internal static double Number(string text, double lowest, double highest, string what)
    {
        var plain = text.EndsWith("db", StringComparison.OrdinalIgnoreCase) ? text[..^2].Trim() : text;
        return double.TryParse(plain, NumberStyles.Float, CultureInfo.InvariantCulture, out var value) && value >= lowest && value <= highest
            ? value
            : throw new ChangeRefusedException(
                string.Create(CultureInfo.InvariantCulture, $"{Words.Quote(text)} is not {what}; accepted: {lowest} to {highest}"));
    }

    internal static int Whole(string text, int lowest, int highest, string what) =>
        int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var value) && value >= lowest && value <= highest
            ? value
            : throw new ChangeRefusedException(
                string.Create(CultureInfo.InvariantCulture, $"{Words.Quote(text)} is not {what}; accepted: {lowest} to {highest}"));

    /// <summary>On, off, or null to switch.</summary>
    internal static bool? OnOff(string text) => text.ToLowerInvariant() switch
    {
        "" => null,
        "on" => true,
        "off" => false,
        _ => throw new ChangeRefusedException($"{Words.Quote(text)} is not accepted here; use on or off, or nothing to switch"),
    };

    internal static string Switched(string words, bool? on) => on is { } said ? $"{words} {(said ? "on" : "off")}" : words;

    /// <summary>One of a few words.</summary>
    internal static T Choice<T>(string text, string what, params ReadOnlySpan<(string Word, T Meaning)> choices)
    {
        var words = new List<string>();
        foreach (var (word, meaning) in choices)
        {
            if (string.Equals(word, text, StringComparison.OrdinalIgnoreCase))
            {
                return meaning;
            }

            words.Add(word);
        }

        throw new ChangeRefusedException($"{Words.Quote(text)} is not {what}; accepted: {Words.Or(words)}");
    }

    internal static string Plain(double number) => number.ToString("R", CultureInfo.InvariantCulture);

    internal static string Plain(int number) => number.ToString(CultureInfo.InvariantCulture);

    // As a decimal if exact.
    internal static string Plain(Rational number) =>
        Decimals.Exact(number) ?? number.ToString();

    internal static string Decibels(double level) => string.Create(CultureInfo.InvariantCulture, $"{level:+0.#;-0.#;0} dB");

    internal static string Step(string verb, double by) => $"{verb} {By} {Plain(by)}";
}
