using GrooveLab.Exchange.Charts;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Performance;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>What can complete a typed line.</summary>
/// <param name="From">Where the completed word or name begins.</param>
/// <param name="Words">The words and names that fit; empty for none.</param>
internal readonly record struct Completions(int From, IReadOnlyList<string> Words)
{
    /// <summary>The text that all of them begin with, in the letters of the first.</summary>
    public string Common
    {
        get
        {
            var first = Words[0];
            var length = first.Length;
            foreach (var word in Words)
            {
                var same = 0;
                while (same < Math.Min(length, word.Length) && char.ToLowerInvariant(word[same]) == char.ToLowerInvariant(first[same]))
                {
                    same++;
                }

                length = same;
            }

            return first[..length];
        }
    }
}

/// <summary>Completes the typed line with the program's words and the chart's names.</summary>
internal static class TypedCompletion
{
    private const int MostFiles = 500;

    private static readonly string[] CommonKeys = ["C", "G", "D", "A", "E", "B", "F", "Bb", "Eb", "Ab", "Db", "F#"];
    private static readonly string[] Here = ["here"];
    private static readonly string[] Limits = ["here", "in"];
    private static readonly string[] HowToRecast = ["by", "add-beat"];

    /// <summary>The words and names that fit at the end of a text.</summary>
    /// <param name="typed">The text before the caret.</param>
    /// <param name="history">The performance, for its names.</param>
    /// <param name="set">The songs; null without a set.</param>
    public static Completions Of(string typed, PerformanceHistory history, SetList? set)
    {
        var gap = typed.IndexOf(' ', StringComparison.Ordinal);
        if (gap < 0)
        {
            return Fitting(0, typed, ChangeWords.All.Select(form => form.Verb).Concat(ScreenActions.Forms.Select(form => form.Verb)));
        }

        var verb = typed[..gap].ToLowerInvariant();
        var at = gap + 1;
        if (verb is "open" or "save")
        {
            var files = Files(typed[at..]);
            return new Completions(at, verb == "save" && "anyway".StartsWith(typed[at..], StringComparison.OrdinalIgnoreCase) ? [.. files, "anyway"] : files);
        }

        if (verb == "loop" && typed[at..].Split(' ', StringSplitOptions.RemoveEmptyEntries) is [var first, var end, ..] && IsNumber(first) && IsNumber(end))
        {
            at = typed.LastIndexOf(" in ", StringComparison.OrdinalIgnoreCase) is > 0 and var link ? link + " in ".Length : typed.Length;
            return Fitting(at, typed[at..], at < typed.Length || typed.EndsWith(" in ", StringComparison.OrdinalIgnoreCase) ? SectionsOf(history) : []);
        }

        if (verb == "recast" && typed.LastIndexOf(' ') is var last && last > gap)
        {
            return Recasting(typed, last + 1, history);
        }

        foreach (var names in Slots(verb, history, set))
        {
            var rest = typed[at..];
            var whole = names.Where(name => rest.StartsWith(name + " ", StringComparison.OrdinalIgnoreCase)).MaxBy(name => name.Length);
            if (whole is null)
            {
                return Fitting(at, rest, names);
            }

            at += whole.Length + 1;
        }

        return new Completions(at, []);
    }

    // Behind the meter: what becomes a bar, and the section.
    private static Completions Recasting(string typed, int at, PerformanceHistory history)
    {
        const string In = " in ";
        if (typed.IndexOf(In, StringComparison.OrdinalIgnoreCase) is > 0 and var link)
        {
            return Fitting(link + In.Length, typed[(link + In.Length)..], SectionsOf(history));
        }

        var before = typed[..at].Split(' ', StringSplitOptions.RemoveEmptyEntries)[1..];
        return Fitting(
            at,
            typed[at..],
            before.Length == 0 ? [] : before[^1] == "by" ? RecastSong.Spans.Select(span => span.Word)
            : before[^1] == "add-beat" ? [] : before.Contains("by") || before.Contains("add-beat") ? Limits : Limits.Concat(HowToRecast));
    }

    private static bool IsNumber(string text) => text.All(char.IsAsciiDigit);

    private static List<string> SectionsOf(PerformanceHistory history) => [.. history.State.Chart.Sections.Select(section => section.Name)];

    private static Completions Fitting(int from, string typed, IEnumerable<string> names) => new(
        from,
        [.. names.Where(name => name.StartsWith(typed, StringComparison.OrdinalIgnoreCase)).Distinct(StringComparer.OrdinalIgnoreCase).Order(StringComparer.OrdinalIgnoreCase)]);

    // What each place after the verb accepts, as its usage says: names where it has capitals, otherwise its words.
    private static List<IReadOnlyList<string>> Slots(string verb, PerformanceHistory history, SetList? set)
    {
        var state = history.State;
        var parts = state.Chart.Parts.Select(part => part.Name).Concat(state.Chart.Parts.Select(part => part.Role.Name())).Distinct().ToList();
        var sections = SectionsOf(history);
        var roles = Enum.GetValues<Role>().Select(role => role.Name()).ToList();
        var instruments = state.Instruments.All.Select(instrument => instrument.Name).ToList();
        switch (verb)
        {
            case "role":
                return [parts, roles];
            case "instrument":
                return [parts, instruments];
            case "add":
                return [roles, instruments];
            case "start":
                return [[.. ScreenActions.StartPlaces, .. sections, .. ScreenActions.CountIns], ScreenActions.CountIns];
            case "recall" or "version":
                return [[.. history.Versions.Keys]];
            case "song":
                return [[.. set?.Songs.Select(song => song.Title) ?? []]];
            case "key":
                return [CommonKeys, Here];
            case "loop":
                return [[.. sections, "section", "seam", "off"]];
            case "feel":
                return [["unit", "group", "bar", "bar-group", "wider", "narrower", "other"]];
        }

        var usage = ChangeWords.All.Where(form => form.Verb == verb).Select(form => form.Usage)
            .Concat(ScreenActions.Forms.Where(form => form.Verb == verb).Select(form => form.Usage)).FirstOrDefault();
        if (usage is null)
        {
            return [];
        }

        var slots = new List<IReadOnlyList<string>>();
        var choices = usage.Split(" | ");
        var first = choices[0].Split(' ')[1..];
        for (var i = 0; i < first.Length; i++)
        {
            var takesOthers = i == first.Length - 1 || (i == 0 && first[0] != "PART");
            var others = choices[1..].Where(_ => takesOthers).Select(choice => choice.Split(' ')[0]);
            slots.Add(first[i] switch
            {
                "PART" => parts,
                "SECTION" or "NAME" => [.. sections, .. others.Where(IsWord)],
                var word => [.. others.Prepend(word).Where(IsWord)],
            });
        }

        return slots;
    }

    // Not an example of a number, a meter or a chord.
    private static bool IsWord(string text) => text.Length > 0 && text.All(letter => char.IsAsciiLetterLower(letter) || letter == '-') && char.IsAsciiLetter(text[0]);

    private static List<string> Files(string typed)
    {
        var slash = typed.LastIndexOfAny(['/', Path.DirectorySeparatorChar]);
        var (folder, name) = (typed[..(slash + 1)], typed[(slash + 1)..]);
        try
        {
            var real = folder.Length == 0 ? "." : UserFolders.Typed(folder);
            return
            [
                .. new DirectoryInfo(real).EnumerateFileSystemInfos()
                    .Where(entry => entry.Name.StartsWith(name, StringComparison.Ordinal) && (name.Length > 0 || entry.Name[0] != '.'))
                    .Where(entry => entry is DirectoryInfo || entry.Extension == ".toml")
                    .Take(MostFiles)
                    .Select(entry => folder + entry.Name + (entry is DirectoryInfo ? "/" : string.Empty))
                    .Order(StringComparer.Ordinal),
            ];
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException or ArgumentException or System.Security.SecurityException)
        {
            // What cannot be listed completes nothing.
            return [];
        }
    }
}
