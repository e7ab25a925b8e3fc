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

    // A change has fewer words than this before others that are too many.
    private const int MostKept = 20;

    /// <summary>All kinds of change, in help order.</summary>
    public static IReadOnlyList<ChangeForm> All { get; } =
    [
        SetTempo.Form, RampTempo.Form, SetMeter.Form, SetGrouping.Form, RecastSong.Form, SetFeel.Form,
        SetLevel.Form, SetPan.Form, Mute.Form, Solo.Form, SetRole.Form, SetInstrument.Form, AddPart.Form, RemovePart.Form,
        SetCount.Form, SetCrossing.Form, SetDensity.Form, SetLaidBack.Form,
        PlayWithout.Form, SetRegister.Form, RenamePart.Form, SetStrokes.Form, SetDamped.Form, SetVoices.Form, SetShare.Form, SetStrum.Form,
        SetHandLimit.Form, SetApproaches.Form, SetRing.Form, SetOctaves.Form, SetConsonants.Form, SetPhrasing.Form,
        SetKey.Form, Transpose.Form, Transpose.DownForm, GoToSection.Form, JumpToSection.Form, LoopBars.Form, VampSection.Form, GoOn.Form, LastTime.Form, HoldDownbeat.Form,
        PlayTag.Form, BreakOff.Form, Restart.Form, RepeatSection.Form, SetCountIn.Form, SetRound.Form, SetChords.Form, SetRhythm.Form, SetEnding.Form, SetArrangement.Form, SetMaster.Form,
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
            : ReadAs(form, rest, state);
    }

    private static Change ReadAs(ChangeForm form, string rest, PerformanceState state)
    {
        try
        {
            return form.Read(rest, state);
        }
        catch (ChangeRefusedException refused) when (!Words.HasMeant(refused.Message))
        {
            throw Surplus(form, rest, state, refused.Message) is { } surplus ? new ChangeRefusedException(surplus)
                : Misspelt(form, rest, state, refused.Message) is { } misspelt ? new ChangeRefusedException(misspelt)
                : refused;
        }
    }

    // What stands behind a change that is complete without it, unless the reader has named it.
    private static string? Surplus(ChangeForm form, string rest, PerformanceState state, string refusal)
    {
        var words = rest.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        for (var kept = Math.Min(words.Length - 1, MostKept); kept > 0; kept--)
        {
            var (shorter, extra) = (string.Join(' ', words[..kept]), words[kept..]);
            if (!IsRead(form, shorter, state))
            {
                continue;
            }

            var isNamed = Enumerable.Range(0, extra.Length).Any(from => refusal.Contains(Words.Quote(string.Join(' ', extra[from..])), StringComparison.Ordinal));

            // A grouping that does not fit its meter is none too many.
            return isNamed || extra[0].Contains('+') ? null
                : $"unexpected {Words.Quote(string.Join(' ', extra))} after {Words.Quote($"{form.Verb} {shorter}")}; "
                    + $"{Words.Meant(Words.Nearest(extra[0], VocabularyOf(form)))}usage: {form.Usage}";
        }

        return null;
    }

    private static bool IsRead(ChangeForm form, string rest, PerformanceState state)
    {
        try
        {
            form.Read(rest, state);
            return true;
        }
        catch (ChangeRefusedException)
        {
            return false;
        }
    }

    // A word like one of the usage that is none of it.
    private static string? Misspelt(ChangeForm form, string rest, PerformanceState state, string refusal)
    {
        var vocabulary = VocabularyOf(form);
        var names = state.Chart.Parts.Select(part => part.Name).Concat(state.Chart.Sections.Select(section => section.Name))
            .SelectMany(name => name.Split(' ')).ToHashSet(StringComparer.OrdinalIgnoreCase);
        foreach (var word in rest.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            if (word.All(char.IsAsciiLetter) && !vocabulary.Contains(word, StringComparer.OrdinalIgnoreCase) && !names.Contains(word)
                && Words.Nearest(word, vocabulary) is { } meant)
            {
                var at = refusal.IndexOf("; ", StringComparison.Ordinal);
                return refusal.Contains(Words.Quote(word), StringComparison.Ordinal) && at >= 0
                    ? refusal.Insert(at + 2, Words.Meant(meant))
                    : $"{Words.Quote(word)} is not accepted here; {Words.Meant(meant)}usage: {form.Usage}";
            }
        }

        return null;
    }

    // The words of a usage that are not examples of names or numbers.
    private static List<string> VocabularyOf(ChangeForm form) =>
        [.. form.Usage.Split(' ').Skip(1).Where(word => word.Length > 1 && word.All(letter => char.IsAsciiLetterLower(letter) || letter == '-')).Distinct()];

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
            [] => throw new ChangeRefusedException(NoPartIn(words, state)),
            [var only] when MisspeltName(only.Name, words) is { } misspelt => throw new ChangeRefusedException(NoPart(misspelt, state)),
            [var only] => (only.Name, left),
            _ => throw new ChangeRefusedException(
                $"several parts are called {Words.Quote(word)}: {string.Join(", ", found.Select(part => $"{Plain(parts.ToList().IndexOf(part) + 1)} {part.Name}"))}; give the number or the whole name"),
        };
    }

    // The words in the place of a name of several words, if they resemble it; null for others.
    private static string? MisspeltName(string name, string words)
    {
        var count = name.Split(' ').Length;
        var named = string.Join(' ', words.Split(' ', StringSplitOptions.RemoveEmptyEntries).Take(count));
        return count > 1 && named.Split(' ').Length == count && Words.Nearest(named, [name]) is not null ? named : null;
    }

    // A value may follow the name: as many words as the name that is probably meant has, or else the first.
    private static string NoPartIn(string words, PerformanceState state)
    {
        var given = words.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        var names = NamesOfParts(state);
        for (var count = given.Length; count > 0; count--)
        {
            var named = string.Join(' ', given[..count]);
            if (Words.Nearest(named, names.Where(name => name.Split(' ').Length == count)) is not null)
            {
                return NoPart(named, state);
            }
        }

        return NoPart(given.Length == 0 ? words : given[0], state);
    }

    private static string NoPart(string named, PerformanceState state) =>
        $"no part called {Words.Quote(named)}; {Words.Meant(Words.Nearest(named, NamesOfParts(state)))}parts: {string.Join(", ", state.Chart.Parts.Select(part => part.Name))}";

    // The whole names first, then what else names a part.
    private static List<string> NamesOfParts(PerformanceState state)
    {
        var parts = state.Chart.Parts;
        return [.. parts.Select(part => part.Name).Concat(parts.Select(part => part.Role.Name())).Concat(parts.SelectMany(part => part.Name.Split(' '))).Distinct(StringComparer.OrdinalIgnoreCase)];
    }

    /// <summary>The message for an unknown section before a bar line, or for a misspelt word after a known one; null for neither.</summary>
    /// <param name="text">A section, perhaps one of the words and a number, and then a bar line.</param>
    /// <param name="state">The current state.</param>
    /// <param name="words">The words that may follow the section.</param>
    internal static string? NoSectionBefore(string text, PerformanceState state, params ReadOnlySpan<string> words)
    {
        var bar = text.IndexOf('|', StringComparison.Ordinal);
        var named = (bar < 0 ? text : text[..bar]).Trim();
        var names = state.Chart.Sections.Select(section => section.Name).ToList();
        if (Words.Beginning(named, names) is { } begun)
        {
            var word = begun.Left.Split(' ')[0];
            return Words.Nearest(word, words.ToArray()) is { } meant && word.All(char.IsAsciiLetterLower) && meant != word
                ? $"{Words.Quote(word)} is not accepted after {begun.Name}; {Words.Meant(meant)}".TrimEnd()
                : null;
        }

        foreach (var word in words)
        {
            named = (named + " ").IndexOf($" {word} ", StringComparison.OrdinalIgnoreCase) is > 0 and var at ? named[..at] : named;
        }

        return named.Length == 0 || names.Contains(named, StringComparer.OrdinalIgnoreCase) ? null : Words.Unknown("section", named, names);
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
        if (text.Equals(By, StringComparison.OrdinalIgnoreCase))
        {
            throw new ChangeRefusedException("give a step in dB after 'by', such as by 2 or by -2");
        }

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
            : throw new ChangeRefusedException(string.Create(CultureInfo.InvariantCulture, $"{NotThis(text, what)}; accepted: {lowest} to {highest}"));
    }

    /// <summary>What is wrong with a text: it is not what it should be, or it is missing.</summary>
    internal static string NotThis(string text, string what) => text.Length == 0 ? $"give {what}" : $"{Words.Quote(text)} is not {what}";

    internal static int Whole(string text, int lowest, int highest, string what) =>
        int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var value) && value >= lowest && value <= highest
            ? value
            : throw new ChangeRefusedException(string.Create(CultureInfo.InvariantCulture, $"{NotThis(text, what)}; accepted: {lowest} to {highest}"));

    /// <summary>On, off, or null to switch.</summary>
    internal static bool? OnOff(string text) => text.ToLowerInvariant() switch
    {
        "" => null,
        "on" => true,
        "off" => false,
        _ => throw new ChangeRefusedException(
            $"{Words.Quote(text)} is not accepted here; {Words.Meant(Words.Nearest(text, ["on", "off"]))}use on or off, or nothing to switch"),
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

        throw new ChangeRefusedException($"{NotThis(text, what)}; {Words.Meant(Words.Nearest(text, words))}accepted: {Words.Or(words)}");
    }

    internal static string Plain(double number) => number.ToString("R", CultureInfo.InvariantCulture);

    internal static string Plain(int number) => number.ToString(CultureInfo.InvariantCulture);

    // As a decimal if exact.
    internal static string Plain(Rational number) =>
        Decimals.Exact(number) ?? number.ToString();

    internal static string Decibels(double level) => string.Create(CultureInfo.InvariantCulture, $"{level:+0.#;-0.#;0} dB");

    internal static string Step(string verb, double by) => $"{verb} {By} {Plain(by)}";
}
